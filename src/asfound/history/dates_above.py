"""Rows without a date, in logs that write it once a day: they take the date of the row above them.

Only as long as the clock goes on: where it goes back a new day may have begun, and which one nobody can know, so rows
are refused from there to the next date.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import SECOND, Times
from asfound.history.clock_columns import time_of_day
from asfound.history.ledger import Ledger
from asfound.history.log_form import LogForm
from asfound.history.numbers_in import Mask
from asfound.history.split_lines import Rows
from asfound.history.times_in import NO_TIME, NO_TIME_WRITTEN

FROM_ABOVE = "no date: taken from the row above that has one"
CLOCK_WENT_BACK = "no date, and the clock went back since the last one"
_DAY = 86400 * SECOND
Read: TypeAlias = tuple[Times, NDArray[np.int64] | None, NDArray[np.object_] | None]
"""What the clock showed, its offset, why a row has no time: what ``clock_columns.wall_of`` gives."""


@dataclass(frozen=True, slots=True)
class Above:
    """The last row with a time: the day that it was, and the time of day, microseconds."""

    day: int
    clock: int


@dataclass(frozen=True, slots=True)
class Dated:
    """Rows with the dates of those above: which rows took one, and the last row for those that follow."""

    read: Read
    taken: Mask | None
    above: Above | None

    def tell(self, ledger: Ledger, name: str, rows: Rows, form: LogForm) -> None:
        """Put a trace of each row that took a date from above into the ledger."""
        if self.taken is None:
            return
        head = next(column.head for column in form.columns if column.role == "date")
        for line in rows.lines[self.taken].tolist():
            ledger.cell(name, head, int(line), "", FROM_ABOVE, kind="date from above")


def dated(rows: Rows, form: LogForm, read: Read, above: Above | None) -> Dated:
    """Return the times of rows (n,), those without a date with that of the row above; ``above`` ends the rows before.

    Rows keep their time or their refusal where the log has no column of dates beside one of the clock.
    """
    wall, offset, why = read
    column = {one.role: at for at, one in enumerate(form.columns)}
    if "date" not in column or "clock" not in column or not len(wall):
        return Dated(read, None, above)
    if why is None or not np.any(why == NO_TIME_WRITTEN):
        good = wall[wall != NO_TIME]
        return Dated(read, None, _last(good) if len(good) else above)
    of_day, readable, _ = time_of_day(rows, column["clock"])
    has_date = wall != NO_TIME
    without = (why == NO_TIME_WRITTEN) & readable
    at = np.flatnonzero(has_date | without)
    clock = np.where(has_date, np.where(has_date, wall, 0) % _DAY, of_day)[at]
    day, broken = _days(wall[at] // _DAY * _DAY, clock, has_date[at], above)
    take = without[at] & (day != NO_TIME) & ~broken
    wall, why = wall.copy(), why.copy()
    wall[at[take]], why[at[take]] = day[take] + clock[take], ""
    why[at[without[at] & (day != NO_TIME) & broken]] = CLOCK_WENT_BACK
    taken = np.zeros(len(wall), bool)
    taken[at[take]] = True
    if len(at):
        above = None if broken[-1] or day[-1] == NO_TIME else Above(int(day[-1]), int(clock[-1]))
    return Dated((wall, offset, why if np.any(why != "") else None), taken if take.any() else None, above)


def _days(day: Times, clock: Times, has_date: Mask, above: Above | None) -> tuple[Times, Mask]:
    """Return the day of the last date at or above each row (NO_TIME: none), and whether the clock went back since."""
    last = np.maximum.accumulate(np.where(has_date, np.arange(len(day)), -1))
    found = np.where(last >= 0, day[np.maximum(last, 0)], above.day if above else NO_TIME)
    before = np.concatenate(([above.clock if above else -1], clock[:-1]))
    back = np.cumsum(~has_date & (clock < before))
    at_date = np.where(last >= 0, back[np.maximum(last, 0)], 0)
    return found, np.asarray(back > at_date)


def _last(wall: Times) -> Above:
    return Above(int(wall[-1]) // _DAY * _DAY, int(wall[-1]) % _DAY)
