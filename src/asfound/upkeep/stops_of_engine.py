"""The next stops of an engine: what one stop serves, how long it takes, which parts must lie ready.

The cost that is kept least is counted in minutes: each stop takes its set-up (travel, isolation, starting again), and
work done early throws away the share of its own minutes that was still to run. Money is another matter (`money.py`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.upkeep.due import Due, Interval
from asfound.upkeep.meters import MeterReading
from asfound.upkeep.stop_plan import DueList, EngineTask, Listed, StopPlan, stop_plan

if TYPE_CHECKING:
    from asfound.upkeep.engine_due import EngineDue, TaskDue

SETUP = 240.0
"""Minutes that a stop takes beside its work where the plan of the engine does not say: engineering judgement. [min]"""
HORIZON = 90
"""Days ahead that are planned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNeeded:
    """A part that must lie ready: how many of it, and for which task."""

    what: str
    number: int | None
    """None where the engine's layout does not tell how many."""
    task: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A stop: its day, its tasks in order of urgency, minutes of work, the most that must be done to the engine."""

    day: date
    tasks: tuple[TaskDue, ...]
    minutes: float
    state_needed: str
    parts: tuple[PartNeeded, ...]
    also: tuple[TaskDue, ...] = ()
    """Work inside its span of the trade: could be done in this stop, nothing asks for it yet."""

    @property
    def driver(self) -> TaskDue:
        """The task that fixes the day: the first that falls due."""
        return min(self.tasks, key=lambda one: (one.day or date.max, one.title))

    @property
    def tags(self) -> tuple[str, ...]:
        """Words of the register of cautions that its tasks bring."""
        found = dict.fromkeys(tag for one in self.tasks for tag in one.task.tags)
        return (*found, *(("loto",) if self.state_needed == "isolated" else ()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """The stops within the horizon, and what they save against a stop for each task."""

    stops: tuple[Stop, ...]
    running: tuple[TaskDue, ...]
    """Work within the horizon that needs no stop."""
    setup: float
    horizon: int
    most_minutes: float | None
    cost: float
    apart: float
    best: bool

    @property
    def saved(self) -> float:
        """Minutes saved against a stop for each task. [min]"""
        return self.apart - self.cost


def stops_of(
    due: EngineDue,
    engine: Mapping[str, Any],
    *,
    setup: float = SETUP,
    horizon: int = HORIZON,
    most_minutes: float | None = None,
) -> Stops:
    """Return the stops of an engine: with the least minutes, no task late.

    Parameters
    ----------
    due : EngineDue
        The due list.
    engine : mapping
        The engine's own entry, for how many of a part it has (layout, turbochargers).
    """
    dated = [one for one in due.tasks if (one.day is not None and one.set_by != "generic") or one.state == "due"]
    listed = _as_list(due, [one for one in dated if one.needs_stop])
    plan: StopPlan = stop_plan(listed, setup=setup, horizon=horizon, most_minutes=most_minutes or math.inf)
    by_name = {one.id: one for one in due.tasks}
    stops = tuple(
        _stop(one.day, [by_name[name] for name in one.tasks], one.minutes, engine, due, first=at == 0)
        for at, one in enumerate(plan.stops)
    )
    running = [one for one in dated if not one.needs_stop and one.day and (one.day - due.today).days <= horizon]
    return Stops(
        stops=stops, running=tuple(running), setup=setup, horizon=horizon, most_minutes=most_minutes,
        cost=plan.cost, apart=plan.apart, best=plan.best,
    )  # fmt: skip


def _as_list(due: EngineDue, tasks: list[TaskDue]) -> DueList:
    """Return tasks as the planner takes them; the cost of doing one early is the share of its minutes thrown away."""
    now = due.hours.value if due.hours else 0.0
    listed = []
    for one in tasks:
        engine_task = EngineTask(
            name=one.id, interval=one.interval or Interval(), done=MeterReading(due.today, now),
            minutes=one.task.minutes, cost=one.task.minutes,
        )  # fmt: skip
        listed.append(Listed(engine_task, _planned(one)))
    return DueList(MeterReading(due.today, now), due.pace.per_day if due.pace else 0.0, tuple(listed))


def _planned(one: TaskDue) -> Due:
    return Due(
        state="due" if one.state in ("due", "overdue") else "ok", day=one.day, reason=None, hours_since=0.0,
        hours_left=None, day_by_hours=None, day_by_calendar=None,
    )  # fmt: skip


def _stop(
    day: date, tasks: list[TaskDue], minutes: float, engine: Mapping[str, Any], due: EngineDue, *, first: bool
) -> Stop:
    order = sorted(tasks, key=lambda one: (one.day or date.max, one.title))
    needed = "isolated" if any(one.task.state == "isolated" for one in tasks) else "stopped"
    parts = tuple(part for one in order for part in parts_of(one, engine))
    taken = {one.id for one in tasks}
    also = [one for one in due.tasks if first and one.needs_stop and one.state == "soon" and one.id not in taken
            and one.set_by == "generic"]  # fmt: skip
    return Stop(day=day, tasks=tuple(order), minutes=minutes, state_needed=needed, parts=parts, also=tuple(also))


def parts_of(one: TaskDue, engine: Mapping[str, Any]) -> tuple[PartNeeded, ...]:
    """Return the parts of a task, counted by the layout of the engine."""
    layout = engine.get("layout") or {}
    turbochargers = engine.get("turbochargers") or {}
    of = {
        "engine": 1,
        "cylinder": layout.get("cylinders"),
        "row": {"inline": 1, "vee": 2}.get(str(layout.get("form"))),
        "turbocharger": turbochargers.get("count"),
    }
    found = []
    for part in one.task.parts:
        each = of[part.per]
        found.append(PartNeeded(what=part.what, number=None if each is None else part.number * int(each), task=one.id))
    return tuple(found)
