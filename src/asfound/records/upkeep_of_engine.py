"""The upkeep of an engine, gathered from everything its record holds: entries between visits and readings of visits.

For a visit that is sealed only what had been written by then counts, so that its due list stays what it was.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError, InputError
from asfound.quantities.register import quantity
from asfound.quantities.units import from_si
from asfound.records.emission_read import CHECK, EMISSION_TEXTS, EMISSIONS, read_but_no_check
from asfound.records.fold import fold
from asfound.upkeep.durations import Duration, interval_of
from asfound.upkeep.engine_due import ConditionSeen, Done, EngineDue, TaskPlan, engine_due
from asfound.upkeep.meter_seen import MeterSeen, metered
from asfound.upkeep.meters import MeterExchange, MeterReading, true_hours
from asfound.upkeep.oil_of_engine import OilLimit, OilOfEngine, OilSample, condition_of, limits_of_marks, oil_of_engine
from asfound.upkeep.stops_of_engine import HORIZON, SETUP, stops_of
from asfound.upkeep.task_list import TaskList, generic_tasks, read_tasks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

HOURS = "engine_hours"
TASK_FILE = "tasks.yaml"
"""File in the home with a company's own tasks; see docs/upkeep.md."""
BY_PRESSURE_DROP = {"air_filter": "air_filter_pressure_drop", "catalyst": "catalyst_pressure_drop"}
"""Tasks that a reading asks for where the engine has a limit of it."""
OF_TASKS = tuple(f'"quantity":"{name}"' for name in (HOURS, *BY_PRESSURE_DROP.values()))
QUANTITIES_READ = (*OF_TASKS, *EMISSION_TEXTS)
ALL_VERDICTS = ('"verdict":',)
READ_BY_UPKEEP = {"reading": QUANTITIES_READ, "reading_judged": ALL_VERDICTS}
"""Texts by which the store finds what upkeep reads from visits; see `Known.standing_with`."""
READ_BY_TASKS = {"reading": OF_TASKS, "reading_judged": ALL_VERDICTS}
"""The same without what only remarks are made of."""
AHEAD = 50
"""Engines whose entries are read in one statement."""
Read = tuple[date, float, str]
"""Day, value in SI and entry of a reading at a visit."""
OIL_CHANGE, OIL_SAMPLE, METER = "oil_change", "oil_sample", "meter_exchanged"


@dataclass(frozen=True, slots=True)
class _Seen:
    """What the upkeep of an engine rests on: a reading typed on a visit moves nothing of it but the hours."""

    standing: tuple[Entry, ...]
    """Of the engine outside its visits."""
    read: Mapping[str, Sequence[Read]]
    emissions: Sequence[Entry]

    @property
    def key(self) -> tuple[Any, ...]:
        own, emissions = (tuple(one.id for one in some) for some in (self.standing, self.emissions))
        return own, emissions, tuple((name, *found) for name, some in self.read.items() for found in some)


def upkeep_of(
    records: Records,
    engine: EngineRecord,
    day: date | None = None,
    *,
    until: str | None = None,
    remarks: bool = True,
) -> EngineDue:
    """Return the upkeep of an engine on a day.

    Parameters
    ----------
    day : date, optional
        The day from which it is seen; today by the clock of the home.
    until : str, optional
        Identifier of the last entry that counts (a seal).
    remarks : bool
        With what was read and does not count as a task done; a line in a list of engines has no room for it.
    """
    today = day or records.clock.now().date()
    tasks, company, problem = tasks_of(records)
    seen = _seen(records, engine, today, until, remarks=remarks)
    key = ("due", today, until, engine.entry.id, tasks, problem, seen.key)

    def work() -> EngineDue:
        return _gathered(engine, today, seen, tasks, company, problem)

    found: EngineDue = records.remembered(key, work, slot=("due", engine.id, day, until, remarks))
    return found


def _seen(records: Records, engine: EngineRecord, today: date, until: str | None, *, remarks: bool) -> _Seen:
    texts = QUANTITIES_READ if remarks else OF_TASKS
    by_visit = records.standing_with(engine.id, "reading", texts)
    return _Seen(
        standing=_standing(records, engine.id, until),
        read=_of_visits(records, engine, by_visit, today, until),
        emissions=_emissions(by_visit, until),
    )


def fleet(records: Records, day: date | None = None) -> list[tuple[EngineRecord, EngineDue]]:
    """Return the upkeep of every engine of the home."""
    with records.steady():
        engines = records.engines()
        found = upkeep_of_each(records, engines, day)
    return [(one, found[one.id]) for one in engines]


def upkeep_of_each(
    records: Records, engines: Sequence[EngineRecord], day: date | None = None, *, remarks: bool = True
) -> dict[str, EngineDue]:
    """Return the upkeep of some engines by identifier, their entries read ahead; arguments as of `upkeep_of`."""
    found: dict[str, EngineDue] = {}
    for at in range(0, len(engines), AHEAD):
        some = engines[at : at + AHEAD]
        records.ready_for(some, READ_BY_UPKEEP if remarks else READ_BY_TASKS)
        found |= {one.id: upkeep_of(records, one, day, remarks=remarks) for one in some}
    return found


def of_kind(
    records: Records, engine: str, kind: str, day: date | None = None, *, until: str | None = None
) -> tuple[Entry, ...]:
    """Return the entries of a kind of upkeep that stand, by their date; those after a day left out."""
    found = [one for one in _standing(records, engine, until) if one.kind == kind]
    if day is not None:
        found = [one for one in found if str(one.content.get("date", "")) <= day.isoformat()]
    return tuple(sorted(found, key=_by_date))


def _by_date(entry: Entry) -> tuple[str, str]:
    return str(entry.content.get("date", "")), entry.id


def _standing(records: Records, engine: str, until: str | None) -> tuple[Entry, ...]:
    """Return the entries of an engine outside its visits that stand, or stood when an entry was written."""
    if until is None:
        return records.fold(engine).current
    return fold([one for one in records.own_of(engine) if one.id <= until]).current


def tasks_of(records: Records) -> tuple[TaskList, frozenset[str], str]:
    """Return the tasks that hold in this home, those of them that the company wrote, and what is wrong with its file.

    A task of the company's file takes the place of the generic one of its name; the others stay.
    """
    generic = generic_tasks()
    path = records.home.folder / TASK_FILE
    try:
        stamp = path.stat()
    except OSError:
        return generic, frozenset(), ""

    def read() -> tuple[TaskList, frozenset[str], str]:
        try:
            own = read_tasks(path.read_text(encoding="utf-8"), file=str(path))
        except (AsFoundError, OSError, UnicodeDecodeError) as fault:
            return generic, frozenset(), f"The company's tasks were left out: {fault}"
        theirs = {one.property for one in own.oil_marks}
        marks = (*own.oil_marks, *(one for one in generic.oil_marks if one.property not in theirs))
        both = TaskList({**generic.tasks, **own.tasks}, (*own.intervals, *generic.intervals), marks)
        return both, frozenset(own.tasks), ""

    key = ("tasks", str(path), stamp.st_mtime_ns, stamp.st_size)
    found: tuple[TaskList, frozenset[str], str] = records.remembered(key, read, slot=("tasks", str(path)))
    return found


def _gathered(
    engine: EngineRecord,
    today: date,
    seen: _Seen,
    tasks: TaskList,
    company: frozenset[str],
    problem: str,
) -> EngineDue:
    read = seen.read
    by_kind: dict[str, list[Entry]] = {}
    for each in seen.standing:
        if str(each.content.get("date", "")) <= today.isoformat():
            by_kind.setdefault(each.kind, []).append(each)

    def kept(kind: str) -> tuple[Entry, ...]:
        return tuple(sorted(by_kind.get(kind, ()), key=_by_date))

    problems = [problem] if problem else []
    exchanges = [
        MeterExchange(_day(one), float(one.content["last_of_old"]), float(one.content.get("first_of_new", 0.0)))
        for one in kept(METER)
    ]
    meter = metered(_meter_readings(read[HOURS], kept, exchanges))
    done, unknown = _done(kept("task_done"), exchanges, tasks)
    _sampled(kept("oil_sample"), exchanges, done)
    problems += unknown
    whole, plans, wrong = _plans(kept("upkeep_plan"))
    problems += wrong
    problems += [meter.refused] if meter.refused else []
    oil = _oil(kept("oil_sample"), kept("oil_limit"), kept("task_done"), tasks, meter.pace, whole.get("sump"))
    conditions = _conditions(seen.standing, read)
    if (asks := condition_of(oil)) is not None:
        conditions[OIL_CHANGE] = asks
    found = engine_due(
        engine.tag, today, tasks=tasks.tasks, company=company, plans=plans, done=done, readings=meter,
        exchanges=exchanges, conditions=conditions, oil=oil, problems=problems,
    )  # fmt: skip
    stops = stops_of(
        found, engine.content, setup=float(whole.get("setup_minutes", SETUP)), horizon=HORIZON,
        most_minutes=whole.get("most_minutes"),
    )  # fmt: skip
    return replace(found, stops=stops, remarks=_remarks(seen.emissions, found))


def _emissions(by_visit: Mapping[str, Sequence[Entry]], until: str | None) -> list[Entry]:
    """Return the emissions read at the engine's visits."""
    read = [one for some in by_visit.values() for one in some if one.content["quantity"] in EMISSIONS]
    return [one for one in read if until is None or one.id <= until]


def _remarks(emissions: Sequence[Entry], found: EngineDue) -> tuple[str, ...]:
    task = found.task(CHECK)
    if task is None:
        return ()
    since = task.last.day if task.last else None
    said = read_but_no_check(emissions, since, found.today)
    return (said,) if said else ()


def _day(entry: Entry) -> date:
    return date.fromisoformat(str(entry.content["date"]))


def _meter_readings(
    read: Iterable[Read], kept: Callable[[str], tuple[Entry, ...]], exchanges: Sequence[MeterExchange]
) -> list[MeterSeen]:
    """Return every reading of the hour meter, wherever it was written down."""
    found: list[MeterSeen] = []

    def add(day: date, shown: float, source: str, entry: str, *, old: bool = False) -> None:
        true = true_hours(MeterReading(day, shown, old), exchanges)
        found.append(MeterSeen(day=day, shown=shown, true=true, source=source, entry=entry))

    for kind in ("task_done", "oil_sample", "work_order", "failure"):
        for one in kept(kind):
            if one.content.get("hours") is not None and not one.content.get("new_oil"):
                add(_day(one), float(one.content["hours"]), kind, one.id, old=bool(one.content.get("old_meter")))
    for one in kept(METER):
        add(_day(one), float(one.content["last_of_old"]), METER, one.id, old=True)
        add(_day(one), float(one.content.get("first_of_new", 0.0)), METER, one.id)
    for day, value, entry in read:
        add(day, value / 3600.0, "visit", entry)
    return found


def _of_visits(
    records: Records, engine: EngineRecord, read: Mapping[str, Sequence[Entry]], today: date, until: str | None
) -> dict[str, list[Read]]:
    """Return by quantity every reading at the engine's visits that upkeep looks at, unless judged false."""
    found: dict[str, list[Read]] = {name: [] for name in (HOURS, *BY_PRESSURE_DROP.values())}
    verdicts = records.standing_with(engine.id, "reading_judged", ALL_VERDICTS)
    for visit in records.visits(engine.id) if read else ():
        judged = {str(one.content["about"]): one.content["verdict"] for one in verdicts.get(visit.id, ())}
        for one in read.get(visit.id, ()):
            rows = found.get(str(one.content["quantity"]))
            if rows is None or one.content.get("value") is None:
                continue
            day = date.fromisoformat(str(one.content["time"])[:10])
            if day <= today and (until is None or one.id <= until) and judged.get(one.id) != "false":
                rows.append((day, float(one.content["value"]), one.id))
    return found


def _done(
    entries: Iterable[Entry], exchanges: Sequence[MeterExchange], tasks: TaskList
) -> tuple[dict[str, Done], list[str]]:
    """Return the last time of each task, and in words what names a task that no list has."""
    found: dict[str, Done] = {}
    unknown: list[str] = []
    for one in entries:
        content = one.content
        name, day, shown = str(content["task"]), _day(one), float(content["hours"])
        if name not in tasks.tasks:
            unknown.append(f"{content['date']}: '{name}' is noted as done, and no task of that name is on the list.")
            continue
        true = true_hours(MeterReading(day, shown, bool(content.get("old_meter"))), exchanges)
        found[name] = Done(
            day=day, shown=shown, true=true, by=str(content.get("by") or one.who), note=str(content.get("note", "")),
            entry=one.id,
        )  # fmt: skip
    return found, unknown


def _sampled(samples: Iterable[Entry], exchanges: Sequence[MeterExchange], done: dict[str, Done]) -> None:
    """Count a sample of used oil as its task done: nobody notes it twice."""
    for one in samples:
        if one.content.get("new_oil") or one.content.get("hours") is None:
            continue
        day, shown = _day(one), float(one.content["hours"])
        if OIL_SAMPLE not in done or done[OIL_SAMPLE].day <= day:
            true = true_hours(MeterReading(day, shown), exchanges)
            done[OIL_SAMPLE] = Done(day=day, shown=shown, true=true, by=one.who, entry=one.id)


def _plans(entries: Iterable[Entry]) -> tuple[dict[str, Any], dict[str, TaskPlan], list[str]]:
    """Return what holds for the engine's stops as a whole, the plan of each task (the last said holds), what is wrong.

    An interval that leads out of the calendar can stand in a record that was written elsewhere: it is told and passed
    over, so that the page on which it is taken back still opens.
    """
    wrong: list[str] = []
    whole: dict[str, Any] = {}
    plans: dict[str, TaskPlan] = {}
    for one in entries:
        content = one.content
        whole |= {name: content[name] for name in ("sump", "setup_minutes", "most_minutes") if name in content}
        if content.get("task"):
            calendar: Duration | None = None
            try:
                calendar = interval_of(str(content["calendar"])) if content.get("calendar") else None
            except InputError as refused:
                wrong.append(f"Interval of {content['task']}: {refused}")
            plans[str(content["task"])] = TaskPlan(
                applies=bool(content.get("applies", True)),
                hours=content.get("hours"),
                calendar=calendar,
                grace_hours=float(content.get("grace_hours", 0.0)),
                grace_days=int(content.get("grace_days", 0)),
                permit=bool(content.get("permit", False)),
                why=str(content.get("why", "")),
                source=str(content.get("source", "")),
                entry=one.id,
            )
    return whole, plans, wrong


def _oil(
    samples: Sequence[Entry],
    limits: Sequence[Entry],
    done: Sequence[Entry],
    tasks: TaskList,
    speed: Any,
    sump: float | None,
) -> OilOfEngine | None:
    new: dict[str, float] = {}
    used: list[OilSample] = []
    for one in samples:
        content = one.content
        if content.get("new_oil"):
            new |= content["values"]
            continue
        used.append(
            OilSample(
                day=_day(one),
                hours_on_oil=float(content["hours_on_oil"]),
                values=dict(content["values"]),
                true=None,
                topped_up=content.get("topped_up"),
                laboratory=str(content.get("laboratory", "")),
                note=str(content.get("note", "")),
                entry=one.id,
            )
        )
    own = [
        OilLimit(
            property=str(one.content["property"]),
            low=one.content.get("low"),
            high=one.content.get("high"),
            rule=str(one.content.get("rule", "value")),
            source=str(one.content["source"]),
            own=True,
        )
        for one in limits
    ]
    changes = [_day(one) for one in done if one.content["task"] == OIL_CHANGE]
    return oil_of_engine(
        used, new=new, limits=[*own, *limits_of_marks(tasks.oil_marks)], pace=speed, changes=changes, sump=sump
    )


def _conditions(standing: Iterable[Entry], read: Mapping[str, Sequence[Read]]) -> dict[str, ConditionSeen]:
    """Return what a reading of the visits asks for, where the engine has a limit of it."""
    walls = {str(one.content["quantity"]): float(one.content["value"]) for one in standing if one.kind == "limit"}
    found = {}
    for task, name in BY_PRESSURE_DROP.items():
        if name not in walls:
            continue
        last = max(read[name], default=None)
        if last is None:
            continue
        known = quantity(name)
        unit = known.si_display

        def shown(value: float, unit: str = unit) -> float:
            return float(from_si(value, unit, difference=True))

        found[task] = ConditionSeen(
            what=known.title, value=shown(last[1]), limit=shown(walls[name]), unit=unit, day=last[0]
        )
    return found
