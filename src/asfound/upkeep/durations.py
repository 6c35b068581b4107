"""Calendar intervals: ISO 8601 durations added to dates, and days that a month does not have.

Source: W3C XML Schema part 2 (2nd edition, 2004), appendix E: years and months first, the day cut to the end of the
month, then weeks, days and time.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal, TypeVar

from asfound.errors import InputError

_FORM = re.compile(
    r"(?P<sign>[+-]?)P(?:(?P<years>\d+)Y)?(?:(?P<months>\d+)M)?(?:(?P<weeks>\d+)W)?(?:(?P<days>\d+)D)?"
    r"(?P<time>T(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+(?:[.,]\d+)?)S)?)?"
)
Day = TypeVar("Day", date, datetime)
Missing = Literal["omit", "last", "next"]
"""What becomes of a day that the month does not have: left out, the month's last day, the first of the next month."""


@dataclass(frozen=True, slots=True)
class Duration:
    """A calendar interval; months and days are kept apart because no month has a fixed number of days."""

    months: int = 0
    days: int = 0
    seconds: float = 0.0

    @classmethod
    def parse(cls, text: str) -> Duration:
        """Return the duration of ISO 8601 text: ``P1Y``, ``P6M``, ``P2W``, ``-P3M``, ``P1DT12H``; InputError else."""
        found = _FORM.fullmatch(text.strip())
        if found is None or not any(value for name, value in found.groupdict().items() if name not in ("sign", "time")):
            raise InputError(
                "interval",
                text,
                "is no duration",
                allowed="as P1Y, P6M, P2W or P30D",
                try_next="Write P, then the number.",
            )
        if found["time"] == "T":
            raise InputError(
                "interval", text, "ends with T", allowed="as P1DT12H", try_next="Give hours, or leave T out."
            )
        sign = -1 if found["sign"] == "-" else 1

        def number(name: str) -> int:
            return sign * int(found[name] or 0)

        seconds = sign * float((found["seconds"] or "0").replace(",", "."))
        return cls(
            months=12 * number("years") + number("months"),
            days=7 * number("weeks") + number("days"),
            seconds=3600 * number("hours") + 60 * number("minutes") + seconds,
        )

    def after(self, start: Day, times: int = 1) -> Day:
        """Return the day this long after ``start``, ``times`` over, always counted from ``start``.

        The n-th repeat of a yearly task of 29 February is therefore again the 29th in the next leap year; adding year
        by year would leave it on the 28th for ever.
        """
        moved = _months_later(start, times * self.months)
        try:
            return moved + timedelta(days=times * self.days, seconds=times * self.seconds)
        except OverflowError:
            raise InputError(
                "interval", f"{times * self.days} days", "leads out of the calendar", allowed="the years 1 to 9999"
            ) from None


LONGEST = 100
"""Years: no work on an engine comes round more seldom."""


def interval_of(text: str) -> Duration:
    """Return the interval at which work comes round, a day to a hundred years; InputError else."""
    try:
        found = Duration.parse(text.strip().upper())
    except InputError as refused:
        raise InputError("calendar", text, refused.because, allowed="as P1Y, P6M, P2W or P30D") from None
    days = found.months * 30.4375 + found.days
    if min(found.months, found.days) < 0 or days < 1 or days > LONGEST * 365.25:
        raise InputError(
            "calendar",
            text,
            "is no interval of work",
            allowed=f"P1D (a day) to P{LONGEST}Y (years)",
            try_next="Write P1Y for each year, P6M for six months, P30D for thirty days.",
        )
    return found


def _months_later(start: Day, months: int) -> Day:
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    if not 1 <= year <= 9999:
        raise InputError("interval", f"{months} months", "leads out of the calendar", allowed="the years 1 to 9999")
    return start.replace(year=year, month=month + 1, day=min(start.day, calendar.monthrange(year, month + 1)[1]))


def same_day_each(start: date, months: int, missing: Missing = "last") -> Iterator[date]:
    """Yield ``start`` and the same day every so many months on, without end.

    ``missing`` says what becomes of the 31st of a month of 30 days. Calendar files (RFC 5545) leave it out, which would
    lose a due date: the last day is the rule for work that is due.
    """
    if months < 1:
        raise InputError("months", str(months), "cannot be repeated", allowed="1 or more")
    at = 0
    while True:
        day = _months_later(start, at * months)
        at += 1
        if day.day == start.day or missing == "last":
            yield day
        elif missing == "next":
            yield day + timedelta(days=1)
