"""How many hours an engine runs a day, how sure that is, and when a number of hours will have been run.

Model: what is run in a day is a mean with independent scatter, so that the hours of a stretch of days scatter with the
root of its length. Mean and scatter come from the stretches between meter readings; how long L more hours take follows
from  (L - r t)^2 = k^2 s^2 (t + t^2/T)  with the mean r, the scatter s, the window T and Student's k: worked out here
(prediction of a sum with an unknown mean). No day has more than 24 hours: that bounds the early end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from asfound.errors import InputError
from asfound.upkeep.student import quantile

LEVEL = 0.95
MOST = 24.0  # h a day
WINDOW = 400  # days back that count, so that a year of seasons is in it: engineering judgement
FEWEST = 5  # readings that are kept even where they are older: engineering judgement


@dataclass(frozen=True, slots=True)
class Days:
    """Days until some hours have been run: early, expected, late; None where they may never be."""

    early: float
    middle: float | None
    late: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Running hours a day from meter readings; ``scatter`` is None where one stretch alone tells nothing of it."""

    per_day: float
    scatter: float | None
    """Standard deviation of the hours of one day. [h]"""
    stretches: int
    since: date
    until: date
    """The last reading: from here on it is a forecast."""

    @property
    def window(self) -> int:
        """Days from the first to the last reading that count."""
        return (self.until - self.since).days

    @property
    def low(self) -> float:
        """Lower end of the mean hours a day, 95 in 100; 0 where nothing is known of the scatter. [h]"""
        return max(0.0, self.per_day - self._half)

    @property
    def high(self) -> float:
        """Upper end, never above 24. [h]"""
        return min(MOST, self.per_day + self._half)

    @property
    def _half(self) -> float:
        if self.scatter is None:
            return MOST
        return quantile(LEVEL, self.stretches - 1) * self.scatter / math.sqrt(self.window)

    def hours_in(self, days: float) -> tuple[float, float, float]:
        """Return the hours run in so many days after the last reading: low, expected, high (95 in 100)."""
        middle = self.per_day * days
        if self.scatter is None:
            return 0.0, middle, MOST * days
        half = quantile(LEVEL, self.stretches - 1) * self.scatter * math.sqrt(days + days * days / self.window)
        return max(0.0, middle - half), middle, min(MOST * days, middle + half)

    def days_for(self, hours: float) -> Days:
        """Return the days after the last reading in which so many more hours are run; hours already run take none."""
        if hours <= 0.0:
            return Days(0.0, 0.0, 0.0)
        fastest = hours / MOST
        middle = max(fastest, hours / self.per_day) if self.per_day > 0.0 else None
        if self.scatter is None:
            return Days(fastest, middle, None)
        noise = (quantile(LEVEL, self.stretches - 1) * self.scatter) ** 2
        a = self.per_day**2 - noise / self.window
        b = 2.0 * hours * self.per_day + noise
        if b == 0.0:  # it stood in every stretch: nothing tells when it will run
            return Days(fastest, None, None)
        root = math.sqrt(max(0.0, b * b - 4.0 * a * hours * hours))
        early = 2.0 * hours * hours / (b + root)  # the form that loses no digits where a is near nought
        late = (b + root) / (2.0 * a) if a > 0.0 else None
        return Days(max(fastest, early), middle, None if late is None else max(late, middle or late))


def pace(readings: Sequence[tuple[date, float]]) -> Pace | None:
    """Return the hours a day from readings of true hours; None where no two days were read.

    Parameters
    ----------
    readings : sequence of (date, float)
        Day and running hours since the zero of the first meter; several of one day count as the last of them.

    Raises
    ------
    InputError
        The hours fall, or more were run than the days have: see `meters.hours_between`.
    """
    by_day = dict(sorted(readings))
    days = sorted(by_day)
    if len(days) < 2:
        return None
    start = days[-1] - timedelta(days=WINDOW)
    kept = [day for i, day in enumerate(days) if day >= start or i >= len(days) - FEWEST]
    spans = [(second - first).days for first, second in pairwise(kept)]
    ran = [by_day[second] - by_day[first] for first, second in pairwise(kept)]
    for (first, second), days_between, hours in zip(pairwise(kept), spans, ran, strict=True):
        if not 0.0 <= hours <= MOST * (days_between + 1):
            raise InputError(
                "hours", f"{by_day[second]:g}", f"makes {hours:g} running hours from {first} to {second}",
                allowed=f"0 to {MOST * (days_between + 1):g} h",
                try_next="Look for a meter that was exchanged or set back; note its last and the new first reading.",
            )  # fmt: skip
    window = sum(spans)
    mean = min(MOST, sum(ran) / window)
    scatter = None
    if len(spans) > 1:
        squares = sum((hours - mean * length) ** 2 / length for hours, length in zip(ran, spans, strict=True))
        scatter = math.sqrt(squares / (len(spans) - 1))
    return Pace(per_day=mean, scatter=scatter, stretches=len(spans), since=kept[0], until=kept[-1])
