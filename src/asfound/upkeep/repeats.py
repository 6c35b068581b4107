"""Days of a repeat rule of RFC 5545: every second Tuesday, the first Friday, the third to the last day of a month.

Of the rule's parts those that a maintenance calendar uses are known; any other part is refused, not passed over. A day
that a month does not have is left out, as the RFC asks: for work that is due use `durations.same_day_each`.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from asfound.errors import InputError

_WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_FREQUENCIES = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
_PARTS = ("FREQ", "INTERVAL", "COUNT", "UNTIL", "BYDAY", "BYMONTHDAY", "BYMONTH", "BYWEEKNO", "WKST")
_EMPTY_PERIODS = 3000  # so many periods without a day: the rule names none (30 February)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A repeat rule, its days counted from the day it starts with."""

    frequency: str
    interval: int = 1
    count: int | None = None
    until: date | None = None
    days: tuple[tuple[int, int], ...] = ()
    """(place, weekday): place 0 is every one, 1 the first, -1 the last of the month or year; Monday is 0."""
    month_days: tuple[int, ...] = ()
    months: tuple[int, ...] = ()
    weeks: tuple[int, ...] = ()
    week_start: int = 0

    @classmethod
    def parse(cls, text: str) -> Rule:
        """Return the rule of ``FREQ=MONTHLY;BYDAY=1FR;COUNT=10``; InputError for what is not known."""
        parts: dict[str, str] = {}
        for part in text.removeprefix("RRULE:").upper().split(";"):
            name, equals, value = part.partition("=")
            if not equals or not value or name not in _PARTS or name in parts:
                raise InputError("rule", part, "is no part of a repeat rule known here", allowed=", ".join(_PARTS))
            parts[name] = value
        if parts.get("FREQ") not in _FREQUENCIES:
            raise InputError("rule", text, "does not say how often", allowed="FREQ=" + ", ".join(_FREQUENCIES))
        if "BYWEEKNO" in parts and (parts["FREQ"] != "YEARLY" or parts.get("WKST", "MO") != "MO"):
            raise InputError("rule", text, "numbers weeks", allowed="with FREQ=YEARLY and weeks that begin on Monday")
        try:
            return cls(
                frequency=parts["FREQ"],
                interval=_positive(parts.get("INTERVAL", "1")),
                count=_positive(parts["COUNT"]) if "COUNT" in parts else None,
                until=datetime.strptime(parts["UNTIL"][:8], "%Y%m%d").date() if "UNTIL" in parts else None,
                days=tuple((int(day[:-2] or 0), _WEEKDAYS.index(day[-2:])) for day in _listed(parts, "BYDAY")),
                month_days=tuple(int(day) for day in _listed(parts, "BYMONTHDAY")),
                months=tuple(int(month) for month in _listed(parts, "BYMONTH")),
                weeks=tuple(int(week) for week in _listed(parts, "BYWEEKNO")),
                week_start=_WEEKDAYS.index(parts.get("WKST", "MO")),
            )
        except ValueError as error:
            raise InputError("rule", text, "holds a number or day that cannot be read") from error

    def dates(self, start: date) -> Iterator[date]:
        """Yield the days of the rule from ``start`` on; without COUNT or UNTIL as far as the calendar goes."""
        left = self.count
        for days in self._periods(start):
            for day in sorted(days):
                if day < start:
                    continue
                if (self.until is not None and day > self.until) or left == 0:
                    return
                yield day
                left = None if left is None else left - 1
            if left == 0 or (days and self.until is not None and max(days) > self.until):
                return

    def _periods(self, start: date) -> Iterator[set[date]]:
        empty = at = 0
        while empty < _EMPTY_PERIODS:
            try:
                days = self._days_of(start, at * self.interval)
            except (ValueError, OverflowError):
                return  # the end of the calendar
            yield days
            empty = 0 if days else empty + 1
            at += 1

    def _days_of(self, start: date, step: int) -> set[date]:
        if self.frequency == "DAILY":
            span = [start + timedelta(days=step)]
        elif self.frequency == "WEEKLY":
            first = start - timedelta(days=(start.weekday() - self.week_start) % 7) + timedelta(weeks=step)
            span = [first + timedelta(days=at) for at in range(7)]
        elif self.frequency == "MONTHLY":
            year, month = divmod(start.year * 12 + start.month - 1 + step, 12)
            span = _span(date(year, month + 1, 1), calendar.monthrange(year, month + 1)[1])
        else:
            return self._days_of_year(start, start.year + step)
        return {day for day in span if self._fits(day, span, start)}

    def _days_of_year(self, start: date, year: int) -> set[date]:
        if self.weeks:  # a week number belongs to the year of its Thursday, so a day may lie outside the year
            last = date(year, 12, 28).isocalendar().week  # that day lies in the last week of its year
            weeks = {week if week > 0 else last + 1 + week for week in self.weeks}
            days = [date.fromisocalendar(year, week, at) for week in weeks if 1 <= week <= last for at in range(1, 8)]
            return {day for day in days if self._fits(day, days, start)}
        whole = _span(date(year, 1, 1), 366 if calendar.isleap(year) else 365)
        if not (self.months or self.month_days or self.days):
            return {day for day in whole if (day.month, day.day) == (start.month, start.day)}
        days = [day for day in whole if not self.months or day.month in self.months]
        of_month = {month: [day for day in days if day.month == month] for month in range(1, 13)}
        return {day for day in days if self._fits(day, of_month[day.month] if self.months else days, start)}

    def _fits(self, day: date, span: list[date], start: date) -> bool:
        """Whether a day meets every part of the rule; ``span`` is what a numbered weekday is counted in."""
        if self.months and day.month not in self.months:
            return False
        if self.month_days:
            last = calendar.monthrange(day.year, day.month)[1]
            if day.day not in self.month_days and day.day - last - 1 not in self.month_days:
                return False
        if self.days:
            return any(self._is_weekday(day, span, place, weekday) for place, weekday in self.days)
        if self.month_days or self.frequency == "DAILY":
            return True
        if self.frequency == "WEEKLY" or self.weeks:
            return day.weekday() == start.weekday()
        return day.day == start.day

    @staticmethod
    def _is_weekday(day: date, span: list[date], place: int, weekday: int) -> bool:
        if day.weekday() != weekday:
            return False
        alike = [one for one in span if one.weekday() == weekday]
        return place == 0 or (abs(place) <= len(alike) and alike[place - 1 if place > 0 else place] == day)


def _span(first: date, days: int) -> list[date]:
    return [first + timedelta(days=at) for at in range(days)]


def _listed(parts: dict[str, str], name: str) -> list[str]:
    return parts[name].split(",") if name in parts else []


def _positive(text: str) -> int:
    if int(text) < 1:
        raise ValueError(text)
    return int(text)
