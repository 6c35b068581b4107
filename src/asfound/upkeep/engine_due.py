"""All upkeep of one engine from what its record holds: true hours, pace, what is due and when, with doubt.

Nothing here reads a record: `records.upkeep_of_engine` gathers what is kept and calls `engine_due`. Intervals come from
the engine's own plan, else from the company's list, else from the generic spans, which say where intervals lie and
never when to work: between the two ends of a span a task is `soon`, past it `due`, and never `overdue`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Literal

from asfound.upkeep.due import Condition, Due, Interval, due
from asfound.upkeep.durations import Duration
from asfound.upkeep.meter_seen import HoursNow, Metered, MeterFault, MeterSeen, hours_on, metered
from asfound.upkeep.meters import MeterExchange, MeterReading
from asfound.upkeep.pace import Pace

if TYPE_CHECKING:
    from asfound.upkeep.oil_of_engine import OilOfEngine
    from asfound.upkeep.stops_of_engine import Stops
    from asfound.upkeep.task_list import GenericTask

TaskState = Literal["overdue", "due", "soon", "ok", "condition", "unknown"]
TASK_STATES: tuple[TaskState, ...] = ("overdue", "due", "soon", "ok", "condition", "unknown")
SetBy = Literal["plan", "company", "generic"]
WARN = 0.1  # of an interval: from there on a task counts as soon due; engineering judgement
WARN_DAYS = 21  # and never more days ahead than this, so that a long interval does not warn for months
_STEP_DOWN: Mapping[str, TaskState] = {"overdue": "due", "due": "soon", "soon": "ok", "ok": "ok"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """The last time that a task was noted as done."""

    day: date
    shown: float
    true: float
    by: str = ""
    note: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionSeen:
    """A quantity that asks for a task: what was read last, its limit, and when a rising one is expected there."""

    what: str
    value: float
    limit: float
    unit: str
    day: date
    falling: bool = False
    expected: date | None = None
    expected_low: date | None = None
    expected_high: date | None = None

    @property
    def reached(self) -> bool:
        """Whether the value is at the limit or beyond it."""
        return Condition(value=self.value, limit=self.limit, day=self.day, falling=self.falling).reached


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskPlan:
    """What the record says of a task of this engine: another interval, with its reason, or that it does not apply."""

    applies: bool = True
    hours: float | None = None
    calendar: Duration | None = None
    grace_hours: float = 0.0
    grace_days: int = 0
    permit: bool = False
    why: str = ""
    source: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskDue:
    """A task of this engine and when it is due; ``day`` is expected, ``earliest`` to ``latest`` hold it 95 in 100."""

    task: GenericTask
    set_by: SetBy
    interval: Interval | None
    """None where nothing but a condition asks for it."""
    state: TaskState
    why: str = ""
    source: str = ""
    last: Done | None = None
    due: Due | None = None
    day: date | None = None
    earliest: date | None = None
    latest: date | None = None
    window_to: date | None = None
    """Last day of the grace, where there is one."""
    reason: str | None = None
    condition: ConditionSeen | None = None
    plan_entry: str = ""

    @property
    def id(self) -> str:
        """Identifier of the task."""
        return self.task.id

    @property
    def title(self) -> str:
        """Name of the task."""
        return self.task.title

    @property
    def hours_left(self) -> float | None:
        """Hours that may still be run; negative past the limit. [h]"""
        return None if self.due is None else self.due.hours_left

    @property
    def needs_stop(self) -> bool:
        """Whether the engine must stand."""
        return self.task.state != "running"


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineDue:
    """All upkeep of one engine on a day."""

    tag: str
    today: date
    hours: HoursNow | None
    pace: Pace | None
    exchanges: tuple[MeterExchange, ...]
    readings: tuple[MeterSeen, ...]
    faults: tuple[MeterFault, ...]
    tasks: tuple[TaskDue, ...]
    """The most pressing first; those never noted as done last."""
    not_applying: tuple[tuple[str, str], ...] = ()
    """Tasks that the plan of this engine leaves out, with the reason."""
    stops: Stops | None = None
    oil: OilOfEngine | None = None
    problems: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    """What was read and does not count as a task done, with the reason."""

    def columns(self) -> dict[str, list[Any]]:
        """Return the tasks by columns; dates as ISO 8601, hours as numbers."""
        from asfound.upkeep.due_columns import due_columns

        return due_columns(self)

    def frame(self) -> Any:
        """Return the tasks as a ``pandas.DataFrame``, where pandas is installed."""
        from asfound.quantities.columns import frame

        return frame(self.columns())

    def _repr_html_(self) -> str:
        """Return what a notebook shows."""
        from asfound.upkeep.due_columns import due_html

        return due_html(self)

    def in_state(self, *states: str) -> tuple[TaskDue, ...]:
        """Return the tasks in these states, in the order of the list."""
        return tuple(one for one in self.tasks if one.state in states)

    def task(self, name: str) -> TaskDue | None:
        """Return a task by its identifier; None where this engine has none of that name."""
        return next((one for one in self.tasks if one.id == name), None)


def engine_due(
    tag: str,
    today: date,
    *,
    tasks: Mapping[str, GenericTask],
    company: frozenset[str] = frozenset(),
    plans: Mapping[str, TaskPlan] | None = None,
    done: Mapping[str, Done] | None = None,
    readings: Sequence[MeterSeen] | Metered = (),
    exchanges: Sequence[MeterExchange] = (),
    conditions: Mapping[str, ConditionSeen] | None = None,
    oil: OilOfEngine | None = None,
    problems: Sequence[str] = (),
) -> EngineDue:
    """Return what is due on an engine.

    Parameters
    ----------
    tasks : mapping of str to GenericTask
        The list that holds for this engine.
    company : set of str
        Tasks of the list that the company wrote: a span whose ends are alike is an interval.
    plans, done, conditions : mapping
        By task: its own interval, the last time done, the quantity that asks for it.
    readings : sequence of MeterSeen, or Metered
        In any order; ``true`` must be worked out (`meters.true_hours`).
    """
    meter = readings if isinstance(readings, Metered) else metered(readings)
    speed = meter.pace
    now = hours_on(meter.readings, speed, today)
    found: list[TaskDue] = []
    left_out: list[tuple[str, str]] = []
    for task in tasks.values():
        plan = (plans or {}).get(task.id, TaskPlan())
        if not plan.applies:
            left_out.append((task.title, plan.why))
            continue
        last = (done or {}).get(task.id)
        seen = (conditions or {}).get(task.id)
        found.append(_task(task, plan, task.id in company, last, seen, now, speed, today))
    found.sort(key=lambda one: (TASK_STATES.index(one.state), one.day or date.max, one.title))
    return EngineDue(
        tag=tag, today=today, hours=now, pace=speed, exchanges=tuple(exchanges), readings=meter.readings,
        faults=meter.faults, tasks=tuple(found), not_applying=tuple(left_out), oil=oil, problems=tuple(problems),
    )  # fmt: skip


def _interval(task: GenericTask, plan: TaskPlan, company: bool, speed: Pace | None) -> tuple[Interval | None, SetBy]:
    """Return the interval that holds and who set it."""
    hours, calendar, by = plan.hours, plan.calendar, "plan"
    grace_hours, grace_days = plan.grace_hours, plan.grace_days
    if hours is None and calendar is None:
        by = "company" if company else "generic"
        if task.hours is not None:
            hours, grace_hours = task.hours[0], task.hours[1] - task.hours[0]
        if task.days is not None:
            calendar, grace_days = Duration(days=int(task.days[0])), int(task.days[1] - task.days[0])
    if hours is None and calendar is None:
        return None, by  # type: ignore[return-value]
    days = (calendar.after(date(2001, 1, 1)) - date(2001, 1, 1)).days if calendar else None
    interval = Interval(
        hours=hours, calendar=calendar,
        warn_hours=None if hours is None else min(WARN * hours, WARN_DAYS * (speed.per_day if speed else 24.0)),
        warn_days=None if days is None else min(math.ceil(WARN * days), WARN_DAYS),
        grace_hours=grace_hours, grace_days=grace_days,
        permit=plan.permit,
    )  # fmt: skip
    return interval, by  # type: ignore[return-value]


def _task(
    task: GenericTask,
    plan: TaskPlan,
    company: bool,
    last: Done | None,
    seen: ConditionSeen | None,
    now: HoursNow | None,
    speed: Pace | None,
    today: date,
) -> TaskDue:
    """Return one task and when it is due."""
    interval, by = _interval(task, plan, company, speed)
    made = TaskDue(
        task=task, set_by=by, interval=interval, state="unknown", why=plan.why, source=plan.source or task.source,
        last=last, condition=seen, plan_entry=plan.entry,
    )  # fmt: skip
    if interval is None or last is None or now is None or last.day > today:
        return _by_condition(made, seen)
    found = due(
        interval,
        done=MeterReading(last.day, last.true),
        now=MeterReading(today, max(now.value, last.true)),
        hours_per_day=0.0 if speed is None else speed.per_day,
        condition=_condition(seen),
    )
    state: TaskState = found.state
    if by == "generic" and not (seen and seen.reached):
        state = _STEP_DOWN[found.state]
    early, late = _ends(interval, last, now, speed, today, span=by == "generic")
    grace = None
    if by != "generic" and found.day and found.reason != "condition" and (interval.grace_days or interval.grace_hours):
        more = interval.grace_hours / speed.per_day if speed and speed.per_day > 0.0 else 0.0
        grace = found.day + timedelta(days=int(more) if found.reason == "hours" else interval.grace_days)
    made = replace(
        made, due=found, state=state, day=found.day, reason=found.reason, earliest=early, latest=late, window_to=grace,
    )  # fmt: skip
    return _expected(made, seen)


def _condition(seen: ConditionSeen | None) -> Condition | None:
    if seen is None:
        return None
    return Condition(value=seen.value, limit=seen.limit, day=seen.day, falling=seen.falling)


def _by_condition(made: TaskDue, seen: ConditionSeen | None) -> TaskDue:
    """Return a task that nothing dates but its condition."""
    state: TaskState = "condition" if made.interval is None else "unknown"
    if seen is not None and seen.reached:
        return replace(made, state="due", day=seen.day, earliest=seen.day, latest=seen.day, reason="condition")
    return _expected(replace(made, state=state), seen)


def _expected(made: TaskDue, seen: ConditionSeen | None) -> TaskDue:
    """Put the day at which a condition is expected first, where it comes before hours and calendar."""
    if seen is None:
        return made
    if seen.reached:
        return replace(made, earliest=seen.day, latest=seen.day) if made.reason == "condition" else made
    if seen.expected is None or (made.day is not None and made.day <= seen.expected):
        return made
    state: TaskState = "soon" if made.state in ("ok", "condition", "unknown") else made.state
    return replace(
        made, day=seen.expected, earliest=seen.expected_low, latest=seen.expected_high, reason="condition", state=state,
        window_to=None,
    )  # fmt: skip


def _ends(
    interval: Interval, last: Done, now: HoursNow, speed: Pace | None, today: date, *, span: bool
) -> tuple[date | None, date | None]:
    """Return the early and the late end of the due day; of a generic span from its early to its late end."""
    early: list[date] = []
    late: list[date | None] = []
    if interval.hours is not None and speed is not None:
        behind = now.value - speed.hours_in(max(0, (today - speed.until).days))[1]
        first = speed.days_for(last.true + interval.hours - behind)
        second = speed.days_for(last.true + interval.hours + interval.grace_hours - behind) if span else first
        passed = last.true + interval.hours <= now.low
        if not passed or span:
            early.append(speed.until + timedelta(days=math.floor(min(first.early, 36500.0))))
            late.append(
                None if second.late is None else speed.until + timedelta(days=math.floor(min(second.late, 36500.0)))
            )
    if interval.calendar is not None:
        day = interval.calendar.after(last.day)
        early.append(day)
        late.append(day + timedelta(days=interval.grace_days) if span else day)
    known = [one for one in late if one is not None]
    return min(early, default=None), min(known, default=None)
