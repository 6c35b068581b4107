"""The time axis of a log, from years to minutes: where ticks stand and what they say, at the place's own clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from asfound.quantities.days import MONTHS

SECOND = 1_000_000
DAY = 86_400 * SECOND
SHORT_MONTHS = ("Jan.", "Feb.", "March", "April", "May", "June", "July", "Aug.", "Sept.", "Oct.", "Nov.", "Dec.")
CLEAR = 14.0
"""Room kept between two dates on an axis. [px]"""
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
SMALL_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720)
"""Minutes."""
DAY_STEPS = (1, 2, 7, 14)


@dataclass(frozen=True, slots=True)
class TimeTick:
    """One tick: microseconds UTC, and what stands under it."""

    time: int
    text: str


def moment(time: int, zone: tzinfo = UTC) -> datetime:
    """Return a time of a log on the clock of a place."""
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(time))).astimezone(zone)


def microseconds(when: datetime) -> int:
    """Return a moment as microseconds UTC."""
    return (when - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def day_said(time: int, zone: tzinfo = UTC, *, year: bool = True) -> str:
    """Return the day of a time: ``8 July 2032``."""
    when = moment(time, zone)
    return f"{when.day} {MONTHS[when.month - 1]}" + (f" {when.year}" if year else "")


def time_said(time: int, zone: tzinfo = UTC) -> str:
    """Return day and time of day: ``8 July 2032, 09:52``."""
    return f"{day_said(time, zone)}, {moment(time, zone):%H:%M}"


def span_said(start: int, end: int, zone: tzinfo = UTC) -> str:
    """Return two times as a span, what they share said once: ``12 April to 28 May 2031``.

    >>> span_said(0, 26 * DAY), span_said(0, DAY // 2)
    ('1 to 27 January 1970', '1 January 1970, 00:00 to 12:00')
    """
    first, last = moment(start, zone), moment(end, zone)
    if first.date() == last.date():
        to = f" to {last:%H:%M}" if f"{first:%H:%M}" != f"{last:%H:%M}" else ""
        return f"{day_said(start, zone)}, {first:%H:%M}{to}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_said(end, zone)}"
    return f"{day_said(start, zone, year=first.year != last.year)} to {day_said(end, zone)}"


def time_ticks(
    start: int, end: int, *, room: float, measure: Callable[[str], float], zone: tzinfo = UTC
) -> tuple[TimeTick, ...]:
    """Return ticks of the finest step whose words stand clear of each other.

    Parameters
    ----------
    start, end : int
        Microseconds UTC.
    room : float
        Length of the axis. [px]
    measure : callable
        Width of a text. [px]
    """
    scale = room / (end - start)
    best: tuple[TimeTick, ...] = ()
    for whens, words in _steps(start, end, zone, room):
        found: list[TimeTick] = []
        reached = -1e9
        before: datetime | None = None
        for when in whens:
            time = microseconds(when)
            text = words(when, before)
            at = (time - start) * scale
            if at < reached + CLEAR or at + measure(text) > room + 40:
                if at < reached + CLEAR:
                    found = []
                    break
                continue
            found.append(TimeTick(time, text))
            reached, before = at + measure(text), when
        if len(found) >= 2:
            return tuple(found)
        best = best or tuple(found)
    return best


def _steps(
    start: int, end: int, zone: tzinfo, room: float
) -> Iterator[tuple[list[datetime], Callable[[datetime, datetime | None], str]]]:
    """Give the moments of each step, from fine to coarse, with what says them."""
    first, most = moment(start, zone), max(int(room / 30), 3)
    minutes = (end - start) / (60 * SECOND)
    for step in SMALL_STEPS:
        if minutes / step <= most:
            begins = first.replace(second=0, microsecond=0, minute=first.minute if step < 60 else 0)
            begins = begins.replace(minute=begins.minute // step * step if step < 60 else 0)
            begins = begins.replace(hour=begins.hour // (step // 60) * (step // 60)) if step >= 60 else begins
            yield _counted(begins, timedelta(minutes=step), start, end, most), _of_clock
    for days in DAY_STEPS:
        if minutes / (1440 * days) <= most:
            begins = first.replace(hour=0, minute=0, second=0, microsecond=0)
            if days >= 7:
                begins -= timedelta(days=begins.weekday())
            yield _counted(begins, timedelta(days=days), start, end, most), _of_day
    for months in MONTH_STEPS:
        if minutes / (43_200 * months) <= most:
            yield _months(first, months, start, end), _of_month if months < 12 else _of_year


def _counted(begins: datetime, step: timedelta, start: int, end: int, most: int) -> list[datetime]:
    found: list[datetime] = []
    when = begins
    while microseconds(when) <= end and len(found) <= 2 * most:
        if microseconds(when) >= start:
            found.append(when)
        when += step
    return found


def _months(first: datetime, step: int, start: int, end: int) -> list[datetime]:
    found: list[datetime] = []
    count = (first.year * 12 + first.month - 1) // step * step
    while True:
        when = datetime(count // 12, count % 12 + 1, 1, tzinfo=first.tzinfo)
        if microseconds(when) > end:
            return found
        if microseconds(when) >= start:
            found.append(when)
        count += step


def _of_clock(when: datetime, before: datetime | None) -> str:
    if before is None or before.date() != when.date():
        return f"{when.day} {SHORT_MONTHS[when.month - 1]} {when:%H:%M}" if before is None else _of_day(when, before)
    return f"{when:%H:%M}"


def _of_day(when: datetime, before: datetime | None) -> str:
    year = f" {when.year}" if before is None or before.year != when.year else ""
    return f"{when.day} {SHORT_MONTHS[when.month - 1]}{year}"


def _of_month(when: datetime, before: datetime | None) -> str:
    return SHORT_MONTHS[when.month - 1] + (f" {when.year}" if before is None or before.year != when.year else "")


def _of_year(when: datetime, _before: datetime | None) -> str:
    return str(when.year)
