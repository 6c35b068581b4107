"""Published and proved answers of dates and of what is due, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, datetime
from itertools import islice
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep import due
from asfound.upkeep.durations import Duration, Missing, same_day_each
from asfound.upkeep.meters import MeterExchange, MeterReading
from asfound.upkeep.published import cases
from asfound.upkeep.repeats import Rule

_MISSING: dict[str, Missing] = {"omit": "omit", "backward": "last", "forward": "next"}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases(
        "dates",
        {
            "add_duration": lambda start, duration: {"result": Duration.parse(duration).after(_day(start))},
            "add_in_order": _in_order, "recurrence": _recurrence, "monthly_day": _monthly_day,
        },
    )  # fmt: skip
    yield from cases("due", {"due": _due, "due_after": _due_after})


def _day(text: str) -> date:
    return datetime.fromisoformat(text) if "T" in text else date.fromisoformat(text)


def _in_order(start: str, durations: list[str]) -> dict[str, date]:
    day = _day(start)
    for duration in durations:
        day = Duration.parse(duration).after(day)
    return {"result": day}


def _recurrence(start: str, rule: str) -> dict[str, list[datetime]]:
    at = datetime.fromisoformat(start)
    return {"dates": [datetime.combine(day, at.time()) for day in Rule.parse(rule).dates(at.date())]}


def _monthly_day(start: str, months: int, count: int, rule: str) -> dict[str, list[date]]:
    return {"dates": list(islice(same_day_each(date.fromisoformat(start), months, _MISSING[rule]), count))}


def _due(
    today: str, meter: float, last_date: str, last_meter: float, hours_per_day: float, **more: Any
) -> dict[str, Any]:
    condition = more.get("condition")
    found = due.due(
        due.Interval(
            hours=more.get("every_hours"),
            calendar=Duration.parse(more["every"]) if "every" in more else None,
            warn_hours=more.get("warn_hours"),
            grace_hours=more.get("grace_hours", 0.0),
            grace_days=more.get("grace_days", 0),
        ),
        done=MeterReading(date.fromisoformat(last_date), last_meter),
        now=MeterReading(date.fromisoformat(today), meter),
        hours_per_day=hours_per_day,
        exchanges=[MeterExchange(date.fromisoformat(day), old, new) for day, old, new in more.get("exchanges", ())],
        condition=condition
        and due.Condition(
            value=condition["value"], limit=condition["limit"], day=date.fromisoformat(condition["since"])
        ),
    )
    return asdict(found) | {
        "due": found.day, "date_by_hours": found.day_by_hours, "date_by_calendar": found.day_by_calendar,
    }  # fmt: skip


def _due_after(policy: str, interval: float, done_at: list[float], planned_at: float) -> dict[str, list[float]]:
    found, plan = [], planned_at
    for done in done_at:
        plan = due.next_due(done, interval, planned=plan if policy == "fixed" else None)
        found.append(plan)
    return {"next": found}
