"""Corrections of a logger's clock: what was moved, by how much, why, and how to undo it.

A correction is a row of pieces; each says what is added to the times of a span of the logger's own clock. Pieces are
straight lines: an offset, and a drift that grows by so many seconds in a day. The trace is the list itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from asfound.errors import InputError
from asfound.history.channels import SECOND, Times

DAY = 86400 * SECOND
_FIRST, _LAST = -(1 << 62), 1 << 62


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockPiece:
    """For times of the logger from ``start`` to before ``end``: what is added to them."""

    start: int = _FIRST
    """Microseconds as the logger's clock showed them (already UTC by its zone)."""
    end: int = _LAST
    add: float
    """Seconds added at ``about``; a clock that is fast wants less than 0."""
    drift: float = 0.0
    """Further seconds added for each day after ``about``."""
    about: int = 0
    doubt: float = 0.0
    """Standard uncertainty of ``add``, in seconds."""
    why: str = ""

    def added(self, time: Times) -> Times:
        """Return the microseconds that are added to times of this piece."""
        days = (time - self.about) / DAY if self.drift else 0.0
        return np.round((self.add + self.drift * days) * SECOND).astype(np.int64) + np.zeros(len(time), np.int64)


@dataclass(frozen=True, slots=True)
class ClockCorrection:
    """The pieces, in the order of the logger's clock; without any, nothing is moved.

    Raises
    ------
    InputError
        Pieces overlap, or a drift is so large that two times would become one.
    """

    pieces: tuple[ClockPiece, ...] = ()

    def __post_init__(self) -> None:
        for before, after in zip(self.pieces, self.pieces[1:], strict=False):
            if after.start < before.end:
                raise InputError("clock", after.why or str(after.start), "overlaps the correction before it")
        for piece in self.pieces:
            if piece.end <= piece.start or abs(piece.drift) >= 3600:
                raise InputError(
                    "clock", piece.why or str(piece.start), "is no correction",
                    allowed="end after start, drift below 3600 s a day",
                )  # fmt: skip

    @property
    def trace(self) -> tuple[str, ...]:
        """What was moved by how much and why, one sentence for each piece."""
        return tuple(map(_said, self.pieces))

    def apply(self, time: Times) -> Times:
        """Return corrected times of times that the logger's clock showed."""
        if not self.pieces:
            return time
        found = time.copy()
        for piece in self.pieces:
            inside = (time >= piece.start) & (time < piece.end)
            found[inside] += piece.added(time[inside])
        return found

    def undo(self, time: Times) -> Times:
        """Return what the logger's clock showed of corrected times: `apply` backward, to the microsecond.

        Where two pieces moved different times to one moment (a jump backward), the earlier piece is taken.
        """
        if not self.pieces:
            return time
        found, done = time.copy(), np.zeros(len(time), bool)
        for piece in self.pieces:
            shown = time - piece.added(time)
            for _ in range(4):  # the drift counts from the logger's time, which is being looked for
                shown = time - piece.added(shown)
            inside = ~done & (shown >= piece.start) & (shown < piece.end)
            found[inside], done = shown[inside], done | inside
        return found

    def as_list(self) -> list[dict[str, Any]]:
        """Return plain data."""
        return [asdict(piece) for piece in self.pieces]

    @classmethod
    def from_list(cls, given: Iterable[dict[str, Any]]) -> ClockCorrection:
        """Return the correction of plain data."""
        try:
            return cls(tuple(ClockPiece(**one) for one in given))
        except TypeError as error:
            raise InputError("clock", str(given)[:80], f"cannot be read: {error}") from error


def _said(piece: ClockPiece) -> str:
    slow = piece.add >= 0
    amount = duration(abs(piece.add), piece.doubt)
    drift = f", and {abs(piece.drift):.3g} s a day {'more' if piece.drift >= 0 else 'less'}" if piece.drift else ""
    doubt = f" (+/- {2 * piece.doubt:.3g} s)" if piece.doubt else ""
    why = f": {piece.why}" if piece.why else ""
    return f"times were moved {amount} {'later' if slow else 'earlier'}{drift}{doubt}{why}"


def duration(seconds: float, doubt: float = 0.0) -> str:
    """Return a length of time in the units people use, ``1 h 12 min``; to the minute where it is in doubt by seconds.

    >>> duration(4320), duration(0.25), duration(95)
    ('1 h 12 min', '0.25 s', '1 min 35 s')
    """
    if doubt >= 5 and seconds >= 60:
        seconds = round(seconds / 60) * 60
    if seconds < 10:
        return f"{seconds:.3g} s"
    whole = round(seconds)
    parts = ((whole // 86400, "d"), (whole // 3600 % 24, "h"), (whole // 60 % 60, "min"), (whole % 60, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count)
