"""Words for what is due: days, spans, hours, minutes, intervals, reasons."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from asfound.quantities.days import MONTHS
from asfound.report.ticks import tick_text
from asfound.sources.register import sources

if TYPE_CHECKING:
    from asfound.upkeep.due import Interval
    from asfound.upkeep.durations import Duration
    from asfound.upkeep.engine_due import TaskDue

STATE_WORDS: Mapping[str, str] = {
    "overdue": "Overdue",
    "due": "Due now",
    "soon": "Soon",
    "ok": "In time",
    "condition": "By condition",
    "unknown": "Never noted as done",
}
STATE_SEVERITY: Mapping[str, str] = {
    "overdue": "stop",
    "due": "visit",
    "soon": "soon",
    "ok": "note",
    "condition": "note",
    "unknown": "note",
}
"""Sign beside the word; an overdue task is not the sign of a stop: see `sign_of`."""
REASON_WORDS = {"hours": "by hours", "calendar": "by the calendar", "condition": "by condition"}
SET_BY_WORDS = {"plan": "set for this engine", "company": "company's list", "generic": "span of the trade, not set"}


def sign_of(state: str) -> str:
    """Return the severity whose sign stands beside a state: a hand is needed this visit, next visit, or not."""
    return {"overdue": "visit", "due": "visit", "soon": "soon"}.get(state, "note")


def day_text(day: date, *, year: bool = False) -> str:
    """Return ``8 July``, with the year where it is asked for.

    >>> day_text(date(2032, 7, 8)), day_text(date(2032, 7, 8), year=True)
    ('8 July', '8 July 2032')
    """
    said = f"{day.day} {MONTHS[day.month - 1]}"
    return f"{said} {day.year}" if year else said


def span_text(low: date | None, high: date | None, today: date) -> str:
    """Return the ends of a due day: ``16 to 19 July``; empty where there is no doubt.

    >>> span_text(date(2032, 7, 16), date(2032, 8, 2), date(2032, 7, 8))
    '16 July to 2 August'
    """
    if low is None:
        return ""
    if high is None:
        return f"from {near_text(low, today)}"
    if low == high:
        return ""
    if (low.year, low.month) == (high.year, high.month):
        return f"{low.day} to {near_text(high, today)}"
    return f"{near_text(low, today) if low.year != high.year else day_text(low)} to {near_text(high, today)}"


def near_text(day: date, today: date) -> str:
    """Return a day, with its year where it is not soon."""
    return day_text(day, year=day.year != today.year)


def hours_text(value: float) -> str:
    """Return hours with thousands.

    >>> hours_text(1437.4)
    '1,437 h'
    """
    return f"{thousands(value)} h"


def minutes_text(value: float) -> str:
    """Return minutes as people say them; from ten hours on in whole hours.

    >>> minutes_text(45), minutes_text(95), minutes_text(5730)
    ('45 min', '1 h 35 min', '96 h')
    """
    whole = round(value)
    if whole < 60:
        return f"{whole} min"
    if whole >= 600:
        return f"{round(whole / 60)} h"
    return f"{whole // 60} h" + (f" {whole % 60:02d} min" if whole % 60 else "")


def every_text(duration: Duration) -> str:
    """Return a calendar interval in words."""
    months, days = duration.months, duration.days
    parts = []
    if months and months % 12 == 0:
        parts.append("year" if months == 12 else f"{months // 12} years")
    elif months:
        parts.append("month" if months == 1 else f"{months} months")
    if days:
        parts.append("day" if days == 1 else f"{days} days")
    return " and ".join(parts)


def interval_text(one: TaskDue) -> str:
    """Return what brings the task round, whichever comes first."""
    interval = one.interval
    parts = [] if interval is None else _parts(one, interval)
    if one.task.condition:
        parts.append(f"by condition: {one.task.condition}")
    return ", or ".join(parts)


def _parts(one: TaskDue, interval: Interval) -> list[str]:
    if one.set_by == "generic":
        parts = []
        if one.task.hours:
            parts.append(f"{thousands(one.task.hours[0])} to {hours_text(one.task.hours[1])}")
        if one.task.days:
            low, high = one.task.days
            parts.append(f"{low:.0f} days" if low == high else f"{low:.0f} to {high:.0f} days")
        return parts
    parts = []
    if interval.hours is not None:
        grace = f" (grace {hours_text(interval.grace_hours)})" if interval.grace_hours else ""
        parts.append(f"every {hours_text(interval.hours)}{grace}")
    if interval.calendar is not None:
        grace = f" (grace {interval.grace_days} days)" if interval.grace_days else ""
        parts.append(f"every {every_text(interval.calendar)}{grace}")
    if interval.permit:
        parts[-1] += " (permit: no grace)"
    return parts


def left_text(one: TaskDue, today: date) -> str:
    """Return what is left, or by how much it is over."""
    said = []
    if one.hours_left is not None:
        left = one.hours_left
        said.append(f"{hours_text(left)} left" if left >= 0 else f"{hours_text(-left)} over")
    if one.due is not None and one.due.day_by_calendar is not None:
        left_days = (one.due.day_by_calendar - today).days
        said.append(
            f"{days(left_days)} left" if left_days > 0 else "today" if left_days == 0 else f"{days(-left_days)} over"
        )
    return ", ".join(said)


def days(number: int) -> str:
    """Return a number of days."""
    return f"{number} day" if number == 1 else f"{number} days"


def when_text(one: TaskDue, today: date) -> str:
    """Return when it is due, in one line."""
    if one.state == "unknown":
        return "no note of when it was done last"
    if one.day is None:
        return "no date"
    if one.state in ("overdue", "due") and one.day <= today:
        return f"since {near_text(one.day, today)}"
    return f"{'about ' if one.earliest != one.latest else ''}{near_text(one.day, today)}"


def because_text(one: TaskDue) -> str:
    """Return what governs: hours, calendar or a condition with its value and limit."""
    if one.reason == "condition" and one.condition is not None:
        seen = one.condition
        way = "limit" if seen.reached else "expected at its limit of"
        return f"by condition: {seen.what.lower()} {value(seen.value)}, {way} {value(seen.limit)} {seen.unit}"
    return REASON_WORDS.get(one.reason or "", "")


def value(number: float) -> str:
    """Return a number of the laboratory with three figures at most."""
    return f"{number:.3g}"


def count(number: int, noun: str) -> str:
    """Return a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def thousands(value: float) -> str:
    """Return a whole number with thousands."""
    return tick_text(round(value), 0)


def source_words(text: str) -> str:
    """Return a source in words where it begins with a key of the register: ``cfr40_63_zzzz 63.6625(j)``."""
    key, _, clause = text.partition(" ")
    known = sources().get(key)
    if known is None:
        return text
    return f"{known.title}, {clause}" if clause else known.title
