"""The upkeep of an engine as plain data for programs: dates ISO 8601, hours in h, minutes in min."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import because_text, interval_text

if TYPE_CHECKING:
    from asfound.upkeep.engine_due import ConditionSeen, EngineDue, TaskDue
    from asfound.upkeep.oil_of_engine import OilMarkSeen, OilOfEngine


def due_data(due: EngineDue) -> dict[str, Any]:
    """Return everything about an engine's upkeep as JSON holds it."""
    pace, hours, stops = due.pace, due.hours, due.stops
    return {
        "engine": due.tag,
        "today": due.today.isoformat(),
        "hours": None if hours is None else {"value": hours.value, "low": hours.low, "high": hours.high},
        "pace": None
        if pace is None
        else {
            "hours_a_day": pace.per_day,
            "low": pace.low,
            "high": pace.high,
            "since": pace.since.isoformat(),
            "until": pace.until.isoformat(),
            "stretches": pace.stretches,
        },
        "exchanges": [
            {"date": one.day.isoformat(), "last_of_old": one.last_of_old, "first_of_new": one.first_of_new}
            for one in due.exchanges
        ],
        "readings": [
            {"date": one.day.isoformat(), "shown": one.shown, "true": one.true, "source": one.source}
            for one in due.readings
        ],
        "faults": [one.says for one in due.faults],
        "tasks": [_task(one) for one in due.tasks],
        "not_applying": [{"title": title, "why": why} for title, why in due.not_applying],
        "stops": []
        if stops is None
        else [
            {
                "date": one.day.isoformat(),
                "tasks": [each.id for each in one.tasks],
                "minutes": one.minutes,
                "engine_must_be": one.state_needed,
                "fixed_by": one.driver.id,
                "parts": [{"what": part.what, "number": part.number, "task": part.task} for part in one.parts],
                "cautions": list(one.tags),
            }
            for one in stops.stops
        ],
        "minutes_saved": None if stops is None else stops.saved,
        "best": None if stops is None else stops.best,
        "oil": None if due.oil is None else _oil(due.oil),
        "problems": list(due.problems),
    }


def _task(one: TaskDue) -> dict[str, Any]:
    last = one.last
    return {
        "task": one.id,
        "title": one.title,
        "state": one.state,
        "due": _iso(one.day),
        "earliest": _iso(one.earliest),
        "latest": _iso(one.latest),
        "grace_ends": _iso(one.window_to),
        "reason": one.reason,
        "because": because_text(one),
        "hours_left": one.hours_left,
        "interval": interval_text(one),
        "set_by": one.set_by,
        "source": one.source,
        "why": one.why,
        "last": None
        if last is None
        else {"date": last.day.isoformat(), "shown": last.shown, "true": last.true, "by": last.by, "note": last.note},
        "condition": None if one.condition is None else _condition(one.condition),
        "minutes": one.task.minutes,
        "engine_must_be": one.task.state,
        "cautions": list(one.task.tags),
    }


def _condition(one: ConditionSeen) -> dict[str, Any]:
    return {
        "what": one.what,
        "value": one.value,
        "limit": one.limit,
        "unit": one.unit,
        "date": one.day.isoformat(),
        "reached": one.reached,
        "expected": _iso(one.expected),
        "earliest": _iso(one.expected_low),
        "latest": _iso(one.expected_high),
    }


def _oil(oil: OilOfEngine) -> dict[str, Any]:
    return {
        "samples": [
            {"date": one.day.isoformat(), "hours_on_oil": one.hours_on_oil, "values": dict(one.values),
             "topped_up": one.topped_up}
            for one in oil.samples
        ],
        "new": dict(oil.new),
        "charge": len(oil.charge),
        "changed_since": oil.changed_since,
        "marks": [_mark(one) for one in oil.marks],
        "made": [
            {"property": one.property, "per_1000_h": one.per_1000_h, "plain_per_1000_h": one.plain_per_1000_h,
             "alert": one.alert, "act": one.act}
            for one in oil.made
        ],
    }  # fmt: skip


def _mark(one: OilMarkSeen) -> dict[str, Any]:
    return {
        "property": one.property,
        "unit": one.unit,
        "value": one.value,
        "limit": one.limit,
        "side": "lower" if one.falling else "upper",
        "own": one.own,
        "source": one.source,
        "passed": one.passed,
        "per_1000_h": one.per_1000_h,
        "bent": one.bent,
        "expected": _iso(one.expected),
        "earliest": _iso(one.expected_low),
        "latest": _iso(one.expected_high),
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
