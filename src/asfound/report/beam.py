"""Sensor or cylinder: one line between two ends with a mark for each event, the bar is what is neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asfound.report.axis import BAR, SIGNS, State
from asfound.report.ink import Picture

STEP, PAPER_STEP = 52.0, 44.0
EDGE = 10.0
ENDS = ("the temperature sensor", "the cylinder")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaning:
    """What was to be believed at one event. Probabilities 0 to 1."""

    sensor: float
    cylinder: float
    state: State
    text: str
    """Date or state, with the verdict."""

    @property
    def place(self) -> float:
        """Where the mark stands: 0 the sensor, 1 the cylinder."""
        both = self.sensor + self.cylinder
        return self.cylinder / both if both > 0 else 0.5


def beam(events: Sequence[Leaning], *, label: str, width: float = 350, paper: bool = False) -> str:
    """Draw what was to be believed at each event between two ends.

    Parameters
    ----------
    events : sequence of Leaning
        The oldest first. The bar goes from the probability of the cylinder to one less that of the sensor: it is as
        long as what is neither, or both.
    label : str
        The sentence that says what it shows.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    line = picture.size_of("tx-b") + 4
    left, right = EDGE, width - EDGE
    for kind, x, word in (("tx-b", left - 8, ENDS[0]), ("tx-b e", right + 8, ENDS[1])):
        picture.text(kind, x, line - 4, word)
    step = PAPER_STEP if paper else STEP
    y = line + 18
    for i, one in enumerate(events):
        at = y + i * step
        picture.line("axisline", left, at, right, at)
        for quarter in range(5):
            x = left + quarter / 4 * (right - left)
            picture.line("axisline", x, at - 5, x, at + 5)
        bar, sign, radius = SIGNS[one.state]
        a, b = (left + share * (right - left) for share in (one.cylinder, 1 - one.sensor))
        if b - a > 1:
            picture.rect(bar, a, at - BAR / 2, b - a, BAR)
        x = left + one.place * (right - left)
        picture.circle(sign, x, at, radius)
        wide = picture.width_of("tx", one.text)
        start = min(max(x - wide / 2, 0.0), max(width - wide, 0.0))
        picture.text("tx", start, at + line + 8, one.text)
    picture.height = y + (len(events) - 1) * step + line + 14
    return picture.svg()
