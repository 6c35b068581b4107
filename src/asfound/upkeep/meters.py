"""Hour meters that were exchanged or reset: true running hours from what the meter shows.

The record of an exchange is the last reading of the old meter and the first of the new one; a new meter need not start
at zero. Rule worked out here: true hours = reading + sum of (last old - first new) over the exchanges before it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from asfound.errors import InputError

DIGIT = 1e-6  # h: what the sum of large readings may lose


@dataclass(frozen=True, slots=True)
class MeterExchange:
    """A meter taken out (or set back) on a day: what the old one showed last, what the new one showed first, h."""

    day: date
    last_of_old: float
    first_of_new: float = 0.0

    def __post_init__(self) -> None:
        for field, value in (("last_of_old", self.last_of_old), ("first_of_new", self.first_of_new)):
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(field, f"{value:g}", "cannot be shown by an hour meter", allowed="0 h or more")

    @property
    def offset(self) -> float:
        """Hours to add to a reading of the new meter because of this exchange."""
        return self.last_of_old - self.first_of_new


@dataclass(frozen=True, slots=True)
class MeterReading:
    """Hours read on a day; ``old_meter`` on the day of an exchange says that the meter taken out was read."""

    day: date
    hours: float
    old_meter: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.hours) and self.hours >= 0.0):
            raise InputError("hours", f"{self.hours:g}", "cannot be shown by an hour meter", allowed="0 h or more")


def true_hours(reading: MeterReading, exchanges: Sequence[MeterExchange] = ()) -> float:
    """Return running hours since the zero of the first meter, h."""
    before = (one for one in exchanges if one.day < reading.day or (one.day == reading.day and not reading.old_meter))
    return reading.hours + math.fsum(one.offset for one in before)


def hours_between(first: MeterReading, second: MeterReading, exchanges: Sequence[MeterExchange] = ()) -> float:
    """Return running hours from the first reading to the second, h.

    Raises
    ------
    InputError
        The hours fall, or more hours ran than the days between have: an exchange is missing from the record, or a
        reading is wrong.
    """
    ran = true_hours(second, exchanges) - true_hours(first, exchanges)
    days = (second.day - first.day).days
    if days < 0:
        raise InputError("day", second.day.isoformat(), f"lies before {first.day.isoformat()}", allowed="a later day")
    if not -DIGIT <= ran <= 24.0 * (days + 1):
        raise InputError(
            "hours",
            f"{second.hours:g}",
            f"makes {ran:g} running hours in {days} days",
            allowed=f"0 to {24 * (days + 1)} h",
            try_next="Look for a meter that was exchanged or set back, and note its last and the new first reading.",
        )
    return max(ran, 0.0)


def hours_per_day(first: MeterReading, second: MeterReading, exchanges: Sequence[MeterExchange] = ()) -> float:
    """Return the mean running hours a day between two readings, h; the window is part of what a forecast states."""
    days = (second.day - first.day).days
    if days < 1:
        raise InputError("day", second.day.isoformat(), "gives no mean by day", allowed="a day after the first reading")
    return min(hours_between(first, second, exchanges) / days, 24.0)
