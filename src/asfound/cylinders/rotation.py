"""Which way the crank turns, with the end it is seen from: one word without the viewpoint says nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from asfound.cylinders.numbering import ENDS, End

Turn = Literal["clockwise", "counterclockwise"]
OPPOSITE: dict[Turn, Turn] = {"clockwise": "counterclockwise", "counterclockwise": "clockwise"}


@dataclass(frozen=True, slots=True)
class Rotation:
    """A sense of turning as somebody sees it."""

    turn: Turn
    seen_from: End = "driving_end"

    def from_end(self, end: End) -> Turn:
        """Return the sense as seen from an end.

        >>> Rotation("clockwise", "free_end").from_end("driving_end")
        'counterclockwise'
        """
        return self.turn if end == self.seen_from else OPPOSITE[self.turn]

    @property
    def other_view(self) -> Rotation:
        """The same rotation seen from the other end."""
        return Rotation(OPPOSITE[self.turn], ENDS[self.seen_from])

    @property
    def iso_1204(self) -> str:
        """Words of ISO 1204 (from memory): as seen facing the coupling end."""
        return self.from_end("driving_end")

    @property
    def sae_j824(self) -> str:
        """Words of SAE J824: standard is counterclockwise seen from the principal output end."""
        return "standard" if self.from_end("driving_end") == "counterclockwise" else "opposite"

    @property
    def first_row(self) -> Literal["left", "right"]:
        """Row, seen from the driving end, whose cylinder a common crankpin brings to top first."""
        return "left" if self.from_end("driving_end") == "clockwise" else "right"
