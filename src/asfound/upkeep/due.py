"""What is due: by running hours, by the calendar, by condition, whichever comes first.

Rules in plain words: soon (within the warning), due (a limit is reached), overdue (limit and grace passed). Grace is
for planning and never moves the next date of a task that follows a plan. A test that a permit asks for has no grace
unless the permit gives it. Intervals are those of the manual of the engine; the rules: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from asfound.errors import InputError
from asfound.upkeep.durations import Duration
from asfound.upkeep.meters import DIGIT, MeterExchange, MeterReading, true_hours

STATES = ("ok", "soon", "due", "overdue")
State = Literal["ok", "soon", "due", "overdue"]
Reason = Literal["calendar", "condition", "hours"]
REASONS: tuple[Reason, ...] = ("calendar", "condition", "hours")  # a tie is told in this order
_LAST_DAY = date.max


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """When a task comes round again: hours, a calendar duration, or both; warnings before and grace after."""

    hours: float | None = None
    calendar: Duration | None = None
    warn_hours: float | None = None
    warn_days: int | None = None
    grace_hours: float = 0.0
    grace_days: int = 0
    permit: bool = False
    """The interval stands in a permit or rule: grace must be in it too, so none is taken here."""

    def __post_init__(self) -> None:
        if self.hours is not None and not (math.isfinite(self.hours) and self.hours > 0.0):
            raise InputError("hours", f"{self.hours:g}", "is no interval", allowed="more than 0 h")
        for field, value in (("grace_hours", self.grace_hours), ("grace_days", self.grace_days)):
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(field, f"{value:g}", "cannot be", allowed="0 or more")
            if self.permit and value > 0.0:
                raise InputError(
                    field, f"{value:g}", "is given to an interval of a permit", allowed="0",
                    try_next="Where the permit itself allows more, write the longer interval.",
                )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A quantity that asks for the task once it reaches a limit, and the day on which it was read."""

    value: float
    limit: float
    day: date
    falling: bool = False
    """The limit is a lowest value (base number, compression)."""

    @property
    def reached(self) -> bool:
        """Whether the value is at the limit or beyond it; never for nan."""
        return self.value <= self.limit if self.falling else self.value >= self.limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """When a task is due and why; ``day`` is None where nothing gives a date."""

    state: State
    day: date | None
    reason: Reason | None
    hours_since: float
    hours_left: float | None
    day_by_hours: date | None
    day_by_calendar: date | None


def due(
    interval: Interval,
    *,
    done: MeterReading,
    now: MeterReading,
    hours_per_day: float,
    exchanges: Sequence[MeterExchange] = (),
    condition: Condition | None = None,
) -> Due:
    """Return when a task is due that was last done at one reading, seen from another.

    Parameters
    ----------
    done, now : MeterReading
        Day and meter reading of the work done last and of today.
    hours_per_day : float
        Running hours a day to be expected, 0 to 24; from the log, see `meters.hours_per_day`. 0: no date by hours.
    exchanges : sequence of MeterExchange
        Meters exchanged or set back, of any day.
    condition : Condition, optional
        What was read last of the quantity that governs the task.
    """
    if not 0.0 <= hours_per_day <= 24.0:
        raise InputError("hours_per_day", f"{hours_per_day:g}", "no day has", allowed="0 to 24 h")
    since = true_hours(now, exchanges) - true_hours(done, exchanges)  # a digit is lost across large readings
    if since < -DIGIT or now.day < done.day:
        raise InputError(
            "done", f"{done.hours:g}", "lies after today's reading", allowed="a reading and day before it",
            try_next="Look for a meter that was exchanged or set back, and note its last and the new first reading.",
        )  # fmt: skip
    candidates: list[tuple[date, int, Reason]] = []
    reached = over = soon = False
    left = by_hours = by_calendar = None
    if interval.hours is not None:
        left = interval.hours - since
        by_hours = _day_by_hours(now.day, left, hours_per_day)
        reached, over = left <= 0.0, left < -interval.grace_hours
        soon = interval.warn_hours is not None and left <= interval.warn_hours
        candidates.append((by_hours or _LAST_DAY, 2, "hours"))
    if interval.calendar is not None:
        by_calendar = interval.calendar.after(done.day)
        reached |= now.day >= by_calendar
        over |= now.day > by_calendar + timedelta(days=interval.grace_days)
        soon |= interval.warn_days is not None and now.day >= by_calendar - timedelta(days=interval.warn_days)
        candidates.append((by_calendar, 0, "calendar"))
    if condition is not None and condition.reached:
        reached = True
        candidates.append((condition.day, 1, "condition"))
    day, _, reason = min(candidates, default=(_LAST_DAY, 0, None))
    state: State = "overdue" if over else "due" if reached else "soon" if soon else "ok"
    return Due(
        state=state, day=None if day == _LAST_DAY else day, reason=reason, hours_since=since, hours_left=left,
        day_by_hours=by_hours, day_by_calendar=by_calendar,
    )  # fmt: skip


def _day_by_hours(today: date, left: float, per_day: float) -> date | None:
    """Return the last whole day that can be run before the limit; a limit that is passed lies in the past."""
    if per_day == 0.0:
        return None
    days = left / per_day
    if days > (_LAST_DAY - today).days:
        return None
    return today + timedelta(days=math.floor(max(days, (date.min - today).days)))


def next_due(done: float, interval: float, *, planned: float | None = None) -> float:
    """Return the hours at which a task is due again after work at ``done``, h.

    Without ``planned`` the interval floats: it counts from the work. With the hours planned for this work the plan is
    fixed: the next place of the plan that lies after the work, however early or late the work was.
    """
    if not (math.isfinite(interval) and interval > 0.0):
        raise InputError("interval", f"{interval:g}", "is no interval", allowed="more than 0 h")
    if planned is None:
        return done + interval
    return planned + interval * max(1, math.floor((done - planned) / interval) + 1)
