"""A value with its interval, and the quantiles that intervals are made with."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

LEVEL = 0.95
"""Probability of an interval unless told otherwise."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value, its standard error and its interval, in one unit; nan throughout where nothing can be said."""

    value: float
    error: float
    low: float
    high: float

    @classmethod
    def of(cls, value: float, error: float, freedom: float = math.inf, level: float = LEVEL) -> Estimate:
        """Return the estimate with Student's interval."""
        half = student(level, freedom) * error
        return cls(value, error, value - half, value + half)

    @property
    def known(self) -> bool:
        """Whether there is an interval at all."""
        return math.isfinite(self.low) and math.isfinite(self.high)

    @property
    def differs_from_zero(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0

    def holds(self, value: float) -> bool:
        """Whether a value lies in the interval."""
        return self.low <= value <= self.high

    def shifted(self, by: float) -> Estimate:
        """Return the same about another value."""
        return Estimate(self.value + by, self.error, self.low + by, self.high + by)

    def times(self, factor: float) -> Estimate:
        """Return the same in another unit."""
        ends = sorted((self.low * factor, self.high * factor))
        return Estimate(self.value * factor, self.error * abs(factor), ends[0], ends[1])


UNKNOWN = Estimate(math.nan, math.nan, math.nan, math.nan)
"""Nothing can be said."""


def student(level: float, freedom: float) -> float:
    """Return the half-width factor of Student's interval; the normal one for many degrees of freedom."""
    if not freedom > 0.0:
        return math.nan
    if freedom > 1e5:
        return NormalDist().inv_cdf(0.5 + level / 2.0)
    from scipy.special import stdtrit  # costs over a second at the start of a program that never asks

    return float(stdtrit(freedom, 0.5 + level / 2.0))


def probability_above(value: float, error: float, freedom: float = math.inf, threshold: float = 0.0) -> float:
    """Return the probability that a quantity lies above a threshold, from its estimate, error and freedom."""
    if not error > 0.0:
        return float(value > threshold) if error == 0.0 else math.nan
    z = (value - threshold) / error
    if freedom > 1e5:
        return NormalDist().cdf(z)
    from scipy.special import stdtr

    return float(stdtr(freedom, z))
