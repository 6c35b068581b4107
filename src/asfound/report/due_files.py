"""The due list as files: a table (RFC 4180) and a calendar (RFC 5545).

Each task keeps its UID over all exports of one record, so that a calendar moves its entry instead of making a second.
SEQUENCE counts the entries of the engine's upkeep: it grows whenever something was written that may move a date.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from asfound.language import reader, told
from asfound.records.tables_csv import table
from asfound.report.content_due_words import (
    STATE_WORDS,
    because_text,
    count,
    day_text,
    interval_text,
    left_text,
    minutes_text,
    span_text,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from asfound.upkeep.engine_due import EngineDue, TaskDue
    from asfound.upkeep.stops_of_engine import Stop

COLUMNS = (
    "engine", "site", "task", "title", "state", "due", "earliest", "latest", "grace_ends", "because", "hours_left",
    "interval", "set_by", "source", "last_done", "last_hours_shown", "last_hours_true", "minutes", "engine_must_be",
    "stop", "hours_now", "hours_a_day",
)  # fmt: skip
Kind = Literal["event", "todo"]
FIRST = "The engine's own manual, the permit and the rules of the site come first."
LOCKED = "Isolated means: every source of energy shut off, locked and tagged by who works there, and proved dead."
"""Stands in an entry that travels without the page and its cautions."""


def due_csv(engines: Iterable[tuple[str, str, EngineDue]]) -> str:
    """Return the due list of engines as a table; dates as ISO 8601, hours as numbers.

    Parameters
    ----------
    engines : iterable of (tag, site, EngineDue)
    """
    rows = [
        _row(tag, site, one, due, served)
        for tag, site, due in engines
        for served in [{one.id: stop.day for stop in (due.stops.stops if due.stops else ()) for one in stop.tasks}]
        for one in due.tasks
    ]
    return table(COLUMNS, rows)


def _row(tag: str, site: str, one: TaskDue, due: EngineDue, served: Mapping[str, date]) -> tuple[Any, ...]:
    last = one.last
    return (
        tag, site, one.id, one.title, one.state,
        *(_iso(day) for day in (one.day, one.earliest, one.latest, one.window_to)),
        because_text(one), _whole(one.hours_left), interval_text(one), one.set_by, one.source,
        _iso(last.day if last else None), _whole(last.shown if last else None), _whole(last.true if last else None),
        _whole(one.task.minutes), one.task.state, _iso(served.get(one.id)),
        _whole(due.hours.value if due.hours else None), round(due.pace.per_day, 2) if due.pace else None,
    )  # fmt: skip


def due_calendar(engines: Sequence[tuple[str, EngineDue, int, datetime]], *, kind: Kind = "event") -> bytes:
    """Return due tasks and stops as a calendar.

    Parameters
    ----------
    engines : sequence of (identifier, EngineDue, sequence, moment)
        Identifier of the engine (part of each UID), entries written so far, and when the newest was written.
    kind : {'event', 'todo'}
        Tasks as VEVENT, which every calendar shows, or as VTODO. Stops are always events.
    """
    from icalendar import Calendar

    made = Calendar()
    made.add("prodid", f"-//asfound//due//{reader().language.upper()}")
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("method", "PUBLISH")
    for identifier, due, sequence, moment in engines:
        for one in due.tasks:
            if one.day is not None:
                made.add_component(_task(identifier, due, one, sequence, moment, kind))
        for stop in due.stops.stops if due.stops else ():
            made.add_component(_stop(identifier, due, stop, sequence, moment))
    return bytes(made.to_ical())


def _task(identifier: str, due: EngineDue, one: TaskDue, sequence: int, moment: datetime, kind: Kind) -> Any:
    from icalendar import Event, Todo

    assert one.day is not None
    part: Any = Event() if kind == "event" else Todo()
    _common(part, f"{identifier}.{one.id}@asfound", sequence, moment)
    part.add("summary", f"{due.tag}: {told(one.title)}")
    part.add("dtstart", one.day)
    if kind == "event":
        part.add("dtend", one.day + timedelta(days=1))
        part.add("transp", "TRANSPARENT")
    else:  # DUE must lie after DTSTART (RFC 5545 3.8.2.3)
        part.add("due", one.day + timedelta(days=1))
        part.add("status", "NEEDS-ACTION")
        part.add("priority", {"overdue": 1, "due": 2, "soon": 5}.get(one.state, 9))
    part.add("categories", ["upkeep", one.state])
    part.add("description", "\n".join(told(line) for line in _lines(one, due)))
    return part


def _lines(one: TaskDue, due: EngineDue) -> Iterable[str]:
    """Yield what an entry says: the window, why, how often, what was done last."""
    today, day = due.today, one.day
    assert day is not None
    yield f"{STATE_WORDS[one.state]}, {because_text(one)}."
    window = span_text(one.earliest, one.latest, today)
    yield f"Window: {day_text(day, year=True)}" + (f", {window} 95 times in 100" if window else "") + "."
    if one.window_to is not None:
        yield f"Grace ends {day_text(one.window_to, year=True)}."
    if left := left_text(one, today):
        yield f"On {day_text(today, year=True)}: {left}."
    yield f"Comes round {interval_text(one)}. Source: {one.source}."
    if one.last is not None:
        yield f"Last done {day_text(one.last.day, year=True)} at {one.last.shown:,.0f} h by the meter."
    yield f"Engine {one.task.state}, {minutes_text(one.task.minutes)}."
    if one.task.state == "isolated":
        yield LOCKED
    yield FIRST


def _stop(identifier: str, due: EngineDue, stop: Stop, sequence: int, moment: datetime) -> Any:
    from icalendar import Event

    part: Any = Event()
    _common(part, f"{identifier}.stop.{stop.driver.id}@asfound", sequence, moment)
    part.add("summary", f"{due.tag}: {told(_stop_words(stop))}")
    part.add("dtstart", stop.day)
    part.add("dtend", stop.day + timedelta(days=1))
    part.add("categories", ["upkeep", "stop"])
    part.add("description", "\n".join(_stop_lines(stop)))
    return part


def _stop_words(stop: Stop) -> str:
    return f"stop, {count(len(stop.tasks), 'task')}, {minutes_text(stop.minutes)}"


def _stop_lines(stop: Stop) -> Iterable[str]:
    """Yield what the entry of a stop says: the state needed, what it serves, what must lie ready."""
    yield told(f"Engine {stop.state_needed}.") + " " + told(f"{stop.driver.title} fixes the day.")
    yield told("Serves:")
    yield from (f"- {told(one.title)} ({told(minutes_text(one.task.minutes))})" for one in stop.tasks)
    if stop.parts:
        yield told("Must lie ready:")
        yield from (f"- {one.number if one.number is not None else '?'} x {told(one.what)}" for one in stop.parts)
    if stop.state_needed == "isolated":
        yield told(LOCKED)
    yield told(FIRST)


def _common(part: Any, uid: str, sequence: int, moment: datetime) -> None:
    part.add("uid", uid)
    part.add("dtstamp", moment)
    part.add("last-modified", moment)
    part.add("sequence", sequence)


def _iso(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def _whole(value: float | None) -> float | None:
    return None if value is None else float(round(value))
