"""From what a clock showed to UTC: an offset in the row, a fixed offset, or a time zone with daylight saving.

In the hour that a clock goes through twice the order of the file decides: the second time begins where the clock
steps back. A file whose newest row stands first is taken from its end, block by block. In the hour that a clock
leaves out there is no time: such a row is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.history.channels import SECOND, Times
from asfound.history.numbers_in import Mask
from asfound.history.times_in import NO_TIME

MISSING_HOUR = "this local time does not exist: clocks went forward"
_FIXED = re.compile(r"(?:UTC|GMT)?\s*([+-])(\d{1,2}):?(\d{2})?$", re.IGNORECASE)
_MINUTE = 60 * SECOND
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Change:
    """A change of the clocks: at ``at`` UTC from an offset to another, in microseconds."""

    at: int
    before: int
    after: int

    @property
    def wall(self) -> tuple[int, int]:
        """The local times that occur twice or not at all, from and until."""
        return self.at + min(self.before, self.after), self.at + max(self.before, self.after)


@dataclass(slots=True)
class ToUTC:
    """Turns local times into UTC in the order of the file; remembers where it was between blocks."""

    zone: str
    step: float = 60.0
    """Usual seconds between rows."""
    last: int = NO_TIME
    """Local time of the row before."""
    folded: bool = False
    """The repeated hour is being passed for the second time."""
    passes: dict[int, int] | None = None
    """Change (UTC) -> how often the repeated hour was seen to be passed."""

    def __post_init__(self) -> None:
        check_zone(self.zone)
        self.passes = {} if self.passes is None else self.passes

    def __call__(self, wall: Times) -> tuple[Times, Mask]:
        """Return UTC of local times in the order of the file, and which of them do not exist. NO_TIME stays."""
        known = wall != NO_TIME
        fixed = fixed_offset(self.zone)
        if fixed is not None:
            return np.where(known, wall - fixed, NO_TIME), np.zeros(len(wall), bool)
        if not known.any():
            return wall.copy(), np.zeros(len(wall), bool)
        steps = np.diff(wall[known])
        if (steps < 0).sum() > (steps > 0).sum():
            self.last = NO_TIME
            utc, missing = self._forwards(wall[::-1], known[::-1], backwards=True)
            self.last = NO_TIME
            return utc[::-1], missing[::-1]
        return self._forwards(wall, known)

    def _forwards(self, wall: Times, known: Mask, *, backwards: bool = False) -> tuple[Times, Mask]:
        """Return UTC of rows in the order of time; ``backwards``: the block before this one was later."""
        utc = wall.copy()
        changes = changes_between(self.zone, int(wall[known].min()) - 2 * 86400 * SECOND, int(wall[known].max()))
        edges = np.array([change.at + change.after for change in changes], np.int64)
        offsets = np.array([offset_at(self.zone, int(wall[known].min()) - 2 * 86400 * SECOND)]
                           + [change.after for change in changes], np.int64)  # fmt: skip
        utc[known] -= offsets[np.searchsorted(edges, wall[known], side="right")]
        missing = np.zeros(len(wall), bool)
        for change in changes:
            low, high = change.wall
            inside = known & (wall >= low) & (wall < high)
            if not inside.any():
                continue
            if change.after > change.before:
                missing |= inside
            else:
                self._twice(wall, utc, inside, change, backwards=backwards)
        self.last = int(wall[known][-1])
        return utc, missing

    def _twice(self, wall: Times, utc: Times, inside: Mask, change: Change, *, backwards: bool) -> None:
        """Decide rows of a repeated hour by the order of the file."""
        lap = change.before - change.after
        passes = self.passes if self.passes is not None else {}
        folded = passes.get(change.at, 0) == 2 and not backwards
        passes.setdefault(change.at, 1)
        step = self.step * SECOND
        previous = -1
        for row in np.flatnonzero(inside):
            before = self.last if row == 0 else int(wall[row - 1]) if wall[row - 1] != NO_TIME else previous
            if before not in (NO_TIME, -1) and not folded:
                moved = int(wall[row]) - before
                folded = abs(moved + lap - step) < abs(moved - step)
            if folded:
                passes[change.at] = 2
            utc[row] = wall[row] - (change.after if folded else change.before)
            previous = int(wall[row])
        self.passes = passes


def check_zone(zone: str) -> None:
    """InputError when no time zone is called so."""
    if fixed_offset(zone) is not None:
        return
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            "zone", zone, "is no time zone", allowed="UTC, +05:30, or a name such as Europe/Berlin",
            try_next="Ask at the station what its panel's clock follows, and whether it changes in spring and autumn.",
        ) from None  # fmt: skip


def fixed_offset(zone: str) -> int | None:
    """Return the microseconds of a zone without changes: ``UTC``, ``+05:30``, ``UTC-6``; None for a named one."""
    if zone.upper() in ("UTC", "Z", "GMT"):
        return 0
    found = _FIXED.match(zone)
    if not found:
        return None
    minutes = int(found[2]) * 60 + int(found[3] or 0)
    return (1 if found[1] == "+" else -1) * minutes * _MINUTE


def offset_at(zone: str, utc: int) -> int:
    """Return local less UTC, in microseconds, at a moment."""
    moment = (_EPOCH + timedelta(microseconds=utc)).astimezone(ZoneInfo(zone))
    return int((moment.utcoffset() or timedelta(0)) / timedelta(microseconds=1))


def changes_between(zone: str, start: int, end: int) -> list[Change]:
    """Return the changes of the clocks between two moments: looked for day by day, then to the second."""
    found = []
    day = 86400 * SECOND
    edges = list(range(start, end + 3 * day, day))
    offsets = [offset_at(zone, at) for at in edges]
    for low, high, before, after in zip(edges, edges[1:], offsets, offsets[1:], strict=False):
        if before == after:
            continue
        left, right = low, high
        while right - left > SECOND:
            middle = (left + right) // 2 // SECOND * SECOND
            middle = middle if middle > left else left + SECOND
            left, right = (middle, right) if offset_at(zone, middle) == before else (left, middle)
        found.append(Change((right // SECOND) * SECOND, before, after))
    return found


def by_offset(wall: Times, offset: NDArray[np.int64]) -> tuple[Times, Mask]:
    """Return UTC of times that say their offset in minutes, and which of them do not say it."""
    without = offset == NO_TIME
    return np.where((wall == NO_TIME) | without, NO_TIME, wall - np.where(without, 0, offset) * _MINUTE), without
