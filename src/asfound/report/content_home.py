"""What the home page puts on its ruler for one engine: stops, work that needs none, open points with a date."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import count
from asfound.report.ruler import Due

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.upkeep.engine_due import EngineDue, TaskDue

MOST = 4
"""Bars of one engine; what lies later is on its own page."""


def on_ruler(due: EngineDue, points: Iterable[Any], today: date, *, days: int, most: int = MOST) -> tuple[Due, ...]:
    """Return what falls due within the ruler, the first first; a stop stands for all that it serves.

    Parameters
    ----------
    points : iterable of mapping
        Contents of open points.
    """
    found = [*_stops(due), *(_bar(one, due.today) for one in due.tasks if _alone(one, due))]
    return with_points(found, points, today, days=days, most=most)


def with_points(
    bars: Iterable[Due], points: Iterable[Any], today: date, *, days: int, most: int = MOST
) -> tuple[Due, ...]:
    """Return bars and open points within the ruler, the first first; so many of each as could be among the first."""
    found = [*bars, *_points(points, today)]
    there = [one for one in found if (max(one.low or one.middle, today) - today).days <= days]
    there.sort(key=lambda one: (one.middle, one.text))
    return tuple(there[:most])


def _stops(due: EngineDue) -> list[Due]:
    stops = []
    for one in due.stops.stops if due.stops else ():
        more = len(one.tasks) - 1
        first = _small(one.driver)
        text = f"stop: {first} and {more} more" if more else f"stop: {first}"
        low, high = one.driver.earliest or one.day, one.driver.latest or one.day
        limit = one.driver.reason == "condition"
        stops.append(Due(text, one.day, min(low, one.day), max(high, one.day), limit=limit))
    return stops


def _alone(one: TaskDue, due: EngineDue) -> bool:
    """Tell whether a task stands on the ruler by itself: it needs no stop, and presses or is asked for by a permit."""
    if one.day is None or one.needs_stop:
        return False
    permit = one.interval is not None and one.interval.permit
    return permit or one.state in ("overdue", "due", "soon") or not (due.stops and due.stops.stops)


def _bar(one: TaskDue, today: date) -> Due:
    assert one.day is not None
    limit = one.reason == "condition" or bool(one.interval and one.interval.permit)
    late = (today - one.day).days
    text = _small(one) + (f", {count(late, 'day')} over" if late > 0 else "")
    day = max(one.day, today)
    low = max(one.earliest, today) if one.earliest else None
    return Due(text, day, low, max(one.latest, day) if one.latest else None, limit=limit)


def _points(points: Iterable[Any], today: date) -> list[Due]:
    """Return the open points that have a date; what is overdue lies at the beginning."""
    return [
        Due(
            str(one["says"]),
            max(date.fromisoformat(str(one["due"])), today),
            limit=one["severity"] in {"stop", "visit"},
        )
        for one in points
        if one.get("due") and not one.get("done")
    ]


def _small(one: TaskDue) -> str:
    """Return a title as it stands inside a sentence, without what follows a comma."""
    title = one.title.split(",")[0]
    return f"{title[:1].lower()}{title[1:]}"
