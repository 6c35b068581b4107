"""The due list of one engine, and the stops in which its work is done.

Days count from today. Work that is due already is done at the next moment, day 0; work that needs no stop is listed,
not planned into one. What early work costs is the life it throws away: cost over interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from asfound.errors import InputError
from asfound.upkeep import grouping
from asfound.upkeep.due import STATES, Condition, Due, Interval, due
from asfound.upkeep.meters import MeterExchange, MeterReading


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineTask:
    """A task of this engine with its own interval, and when it was done last."""

    name: str
    interval: Interval
    done: MeterReading
    condition: Condition | None = None
    needs_stop: bool = True
    minutes: float = 0.0
    cost: float = 0.0
    """Parts and hands of doing it once, without the stop."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A task of the list and when it is due."""

    task: EngineTask
    due: Due


@dataclass(frozen=True, slots=True)
class DueList:
    """All tasks, the most pressing first; made from one reading and one forecast of hours a day, both shown with it."""

    now: MeterReading
    hours_per_day: float
    tasks: tuple[Listed, ...]

    def in_state(self, *states: str) -> tuple[Listed, ...]:
        """Return the tasks in these states, in the order of the list."""
        return tuple(one for one in self.tasks if one.due.state in states)


def due_list(
    tasks: Sequence[EngineTask], *, now: MeterReading, hours_per_day: float, exchanges: Sequence[MeterExchange] = ()
) -> DueList:
    """Return what is due on this engine: by state, overdue first, then by day, tasks without a day last."""
    found = [
        Listed(
            task,
            due(
                task.interval, done=task.done, now=now, hours_per_day=hours_per_day, exchanges=exchanges,
                condition=task.condition,
            ),
        )
        for task in tasks
    ]  # fmt: skip
    found.sort(key=lambda one: (-STATES.index(one.due.state), one.due.day or date.max, one.task.name))
    return DueList(now, hours_per_day, tuple(found))


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """A stop on a day, its tasks and the minutes of work in it."""

    day: date
    tasks: tuple[str, ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class StopPlan:
    """Stops in order of days, what they cost, and what a stop for each task would cost."""

    stops: tuple[PlannedStop, ...]
    cost: float
    apart: float
    best: bool
    """It is known that no other grouping costs less."""
    left_out: tuple[str, ...]
    """Tasks that need a stop and have no day within the horizon."""


def stop_plan(listed: DueList, *, setup: float, horizon: int, most_minutes: float = math.inf) -> StopPlan:
    """Return the cheapest stops for all work due within ``horizon`` days.

    Parameters
    ----------
    listed : DueList
        From `due_list`.
    setup : float
        Cost of one stop, whatever is done in it: travel, isolation, output lost.
    horizon : int
        Days ahead that are planned.
    most_minutes : float
        Most minutes of work in one stop.
    """
    if horizon < 0:
        raise InputError("horizon", str(horizon), "looks back", allowed="0 days or more")
    planned, left_out = [], []
    for one in listed.tasks:
        if not one.task.needs_stop:
            continue
        days = _days_left(one.due, listed.now.day)
        if days is None or days > horizon:
            left_out.append(one.task.name)
            continue
        life = _days_between(one.task.interval, listed)
        planned.append(
            grouping.Task(
                name=one.task.name, due=days, early=one.task.cost / life if life else 0.0, minutes=one.task.minutes
            )
        )
    found = grouping.group(planned, setup, most_minutes=most_minutes)
    stops = tuple(
        PlannedStop(listed.now.day + timedelta(days=stop.at), tuple(task.name for task in stop.tasks), stop.minutes)
        for stop in found.stops
    )
    return StopPlan(stops, found.cost, found.apart, found.best, tuple(left_out))


def _days_left(found: Due, today: date) -> int | None:
    if found.state in ("due", "overdue"):
        return 0
    return None if found.day is None else max(0, (found.day - today).days)


def _days_between(interval: Interval, listed: DueList) -> float | None:
    """Return the days that one interval lasts, None where only a condition asks for the task."""
    lives = []
    if interval.hours is not None and listed.hours_per_day > 0.0:
        lives.append(interval.hours / listed.hours_per_day)
    if interval.calendar is not None:
        lives.append(float((interval.calendar.after(listed.now.day) - listed.now.day).days))
    return min(lives, default=None)
