"""What the record tells of work on an engine, as reasons of the stops and steps that its log shows.

A failure with its hours down is a forced stop at those hours; a work order, a task or a visit on which the engine was
stopped is maintenance of that day. A day without hours is counted whole, by the clock of the site.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from asfound.quantities.days import day_text
from asfound.records.site_zone import zone_of
from asfound.records.upkeep_of_engine import of_kind

if TYPE_CHECKING:
    from datetime import tzinfo

    from asfound.history.look_facts import StopFact, WorkFact
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

FORCED, MAINTENANCE = "forced", "maintenance"
STANDS = ("stopped", "isolated")
REPAIRED = ("cured", "fails")
"""Outcomes of a step that was a repair."""
LONGEST = 90
"""Characters of an order that a sentence quotes."""
MOST_MINUTES = 60 * 24 * 60.0
"""A stop longer than 60 days is a slip of the pen, not a reason."""


def microseconds(when: datetime) -> int:
    """Return a time in microseconds UTC."""
    return round(when.timestamp()) * 1_000_000


def works_of(records: Records, engine: EngineRecord, day: str | None = None) -> tuple[WorkFact, ...]:
    """Return what was done to an engine outside its visits, or was seen to fail, by day."""
    from asfound.history.look_facts import WorkFact

    zone, until = zone_of(engine), date.fromisoformat(day) if day else None
    found = []
    for kind in ("work_order", "failure", "task_done", "meter_exchanged"):
        for one in of_kind(records, engine.id, kind, until):
            content = one.content
            if content.get("state") in ("open", "cancelled"):  # ordered, not done
                continue
            when = str(content.get("closed") or content["date"])
            start, end = _of_day(when, zone)
            found.append(WorkFact(start=start, end=end, says=_says(kind, content, when)))
    return tuple(sorted(found, key=lambda one: (one.start, one.says)))


def short_works(records: Records, engine: EngineRecord) -> tuple[tuple[int, str], ...]:
    """Return the same for a line of time: noon of the day, and one or two words; what belongs to an order is one."""
    zone = zone_of(engine)
    found: dict[tuple[str, str], tuple[int, str]] = {}
    for kind in ("task_done", "failure", "work_order", "meter_exchanged"):
        for one in of_kind(records, engine.id, kind):
            content = one.content
            if content.get("state") in ("open", "cancelled"):
                continue
            when = str(content.get("closed") or content["date"])
            start, end = _of_day(when, zone)
            text = {"task_done": str(content.get("task", "")).replace("_", " "), "failure": "failure",
                    "work_order": str(content.get("number", "")), "meter_exchanged": "hour meter"}[kind]  # fmt: skip
            found[when, str(content.get("work_order") or content.get("number") or text)] = ((start + end) // 2, text)
    return tuple(sorted(found.values()))


def stops_of(
    records: Records, engine: EngineRecord, visits: Sequence[VisitRecord], day: str | None = None
) -> tuple[StopFact, ...]:
    """Return the stops that the record gives a reason for; those that are told by the hour come first."""
    zone, until = zone_of(engine), date.fromisoformat(day) if day else None
    exact = [
        *(stop for one in of_kind(records, engine.id, "failure", until) if (stop := _failed(one.content))),
        *(stop for visit in visits for stop in _stood(records, visit)),
    ]
    whole = [
        _by_day(one.kind, one.content, zone)
        for kind in ("work_order", "task_done")
        for one in of_kind(records, engine.id, kind, until)
        if _stopped(one.content)
    ]
    return (*exact, *whole)


def done_at(records: Records, visit: VisitRecord) -> str:
    """Return what was changed on a visit, as whoever was there wrote it down; that a repair was tried counts too."""
    entries = records.fold(visit.engine, visit.id).current
    said = [
        str(one.content.get("says", "")).strip().rstrip(".")
        for one in entries
        if one.kind == "visit_state" and one.content.get("event") == "changed" and one.content.get("says")
    ]
    if not said and any(one.kind == "trouble_step" and one.content.get("says") in REPAIRED for one in entries):
        said = ["a repair"]
    if not said and any(one.kind == "setting" and one.content.get("state") == "as_left" for one in entries):
        said = ["settings"]
    return _short("; ".join(said))


def _of_day(day: str, zone: tzinfo) -> tuple[int, int]:
    start = datetime.combine(date.fromisoformat(day), datetime.min.time(), zone)
    return microseconds(start), microseconds(start + timedelta(days=1))


def _says(kind: str, content: Mapping[str, Any], when: str) -> str:
    at = day_text(when)
    if kind == "work_order":
        return f"work order {content['number']} of {at}: {_short(str(content['text']))}"
    if kind == "failure":
        return f"failure of {at}: {_short(str(content['text']))}"
    if kind == "meter_exchanged":
        return f"hour meter exchanged on {at}"
    note = f": {_short(str(content['note']))}" if content.get("note") else ""
    return f"task {str(content['task']).replace('_', ' ')} on {at}{note}"


def _short(text: str) -> str:
    text = " ".join(text.split()).rstrip(".")
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1].rsplit(' ', 1)[0]} ..."


def _stopped(content: Mapping[str, Any]) -> bool:
    """Tell whether an order or a task says that the engine stood for it."""
    return content.get("state", "done") == "done" and float(content.get("minutes_down") or 0.0) > 0.0


def _by_day(kind: str, content: Mapping[str, Any], zone: tzinfo) -> StopFact:
    from asfound.history.look_facts import StopFact

    when = str(content["date"])
    start, _ = _of_day(when, zone)
    _, end = _of_day(str(content.get("closed") or when), zone)
    return StopFact(start=start, end=end, state=MAINTENANCE, says=_says(kind, content, when))


def _failed(content: Mapping[str, Any]) -> StopFact | None:
    from asfound.history.look_facts import StopFact

    if not (content.get("down_from") and content.get("down_until")):
        return None
    start, end = (datetime.fromisoformat(str(content[name])) for name in ("down_from", "down_until"))
    if not timedelta(0) < end - start <= timedelta(minutes=MOST_MINUTES):
        return None
    state = MAINTENANCE if content.get("category") == "preventive" else FORCED
    says = _says("failure", content, str(content["date"]))
    return StopFact(start=microseconds(start), end=microseconds(end), state=state, says=says)


def _stood(records: Records, visit: VisitRecord) -> Iterator[StopFact]:
    """Yield the times of a visit at which the engine was stopped for it."""
    from asfound.history.look_facts import StopFact

    events = sorted(
        (datetime.fromisoformat(str(one.content["time"])), str(one.content["engine_state"]))
        for one in records.fold(visit.engine, visit.id).current
        if one.kind == "visit_state" and one.content.get("engine_state")
    )
    for (start, state), (end, _) in pairwise(events):
        if state in STANDS and end > start:
            yield StopFact(
                start=microseconds(start), end=microseconds(end), state=MAINTENANCE, says=f"the visit {visit.name}"
            )
