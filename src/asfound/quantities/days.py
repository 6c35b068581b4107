"""How a day is written everywhere: ``8 July 2032``; two days as a span, what they share said once."""

from __future__ import annotations

from datetime import date

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def day_text(day: date | str) -> str:
    """Return a day in words; what is no date stays as it is.

    >>> day_text("2032-07-08"), day_text(date(2032, 7, 8)), day_text("soon")
    ('8 July 2032', '8 July 2032', 'soon')
    """
    if isinstance(day, str):
        try:
            found = date.fromisoformat(day[:10])
        except ValueError:
            return day
        return day_text(found)
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def span_text(first: date, last: date) -> str:
    """Return two days as a span.

    >>> span_text(date(2031, 2, 24), date(2031, 3, 11)), span_text(date(2031, 2, 1), date(2031, 2, 2))
    ('24 February to 11 March 2031', '1 to 2 February 2031')
    """
    if first == last:
        return day_text(last)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_text(last)}"
    begin = day_text(first) if first.year != last.year else f"{first.day} {MONTHS[first.month - 1]}"
    return f"{begin} to {day_text(last)}"
