"""Engines that are repaired and go on: do failures come faster, how often do they come, within what limits.

Times count running hours of one engine from a zero that is stated. First the trend, then a mean: with a trend there is
no mean time between failures without a date.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Failures up to the time t number ``rate`` t**``growth``: growth above 1 means faster and faster."""

    rate: float
    growth: float
    failures: int
    end: float
    at_failure: bool
    """Observation ended with a failure, not at a time."""

    @property
    def intensity(self) -> float:
        """Failures per unit of time at the end."""
        return float(self.rate * self.growth * self.end ** (self.growth - 1.0))

    @property
    def mtbf(self) -> float:
        """Mean time between failures at the end."""
        return 1.0 / self.intensity

    @property
    def growth_unbiased(self) -> float:
        """Growth corrected for its bias: (n - 1)/n, or (n - 2)/n where observation ended with a failure."""
        return self.growth * (self.failures - (2 if self.at_failure else 1)) / self.failures

    def expected(self, time: Array | float) -> Array:
        """Return failures to be expected up to ``time``; nan below 0."""
        at = np.asarray(time, dtype=float)
        count: Array = self.rate * np.power(np.where(at >= 0.0, at, np.nan), self.growth)
        return count

    def time_to(self, mtbf: float) -> float | None:
        """Return the time at which the mean time between failures is ``mtbf``; None where the law never gets there."""
        return (
            None if self.growth == 1.0 else float((1.0 / (self.rate * self.growth * mtbf)) ** (1 / (self.growth - 1)))
        )

    def mtbf_limits(self, level: float = 0.9) -> tuple[float, float]:
        """Return limits for the mean time between failures at the end of an observation that ended at a time."""
        if self.at_failure:
            raise InputError("end", f"{self.end:g}", "is a failure", allowed="an observation that ended at a time")
        lower, upper = mtbf_factors(self.failures, level)
        return lower * self.mtbf, upper * self.mtbf


def fit_power_law(times: Sequence[float], end: float) -> PowerLaw:
    """Return the most likely power law of one engine's failures, observed from 0 to ``end`` (not corrected for bias).

    Source: MIL-HDBK-189 (1981), appendix C. ``end`` equal to the last failure means that observation ended with it.
    """
    at = _sorted_times(times, end)
    spread = float(np.log(end / at).sum())
    if spread == 0.0:
        raise InputError("times", "all at the end", "give no law", allowed="failures before the end")
    growth = len(at) / spread
    return PowerLaw(len(at) / end**growth, growth, len(at), end, bool(at[-1] == end))


def cramer_von_mises(times: Sequence[float], end: float, growth: float) -> float:
    """Return the Cramer-von Mises distance of failures from a power law; a failure that ends it is left out."""
    at = _sorted_times(times, end)
    at = at[:-1] if at[-1] == end else at
    place = (2.0 * np.arange(1, len(at) + 1) - 1.0) / (2.0 * len(at))
    return 1.0 / (12.0 * len(at)) + float((((at / end) ** growth - place) ** 2).sum())


def mtbf_factors(failures: int, level: float = 0.9) -> tuple[float, float]:
    """Return factors on the mean time between failures at the end of an observation that ended at a time.

    Given the sum of ln(end/t), the count follows a law of Bessel type; equal tails. Agrees with Crow 1982.
    """
    if failures < 1 or not 0.0 < level < 1.0:
        raise InputError("failures", str(failures), "give no limits", allowed="1 or more, level between 0 and 1")
    from scipy.optimize import brentq  # costs over a second at the start of a program that never asks
    from scipy.special import gammaln

    count = np.arange(1, 20 * failures + 400)
    fixed = gammaln(count + 1) + gammaln(count)

    def tails(mean: float) -> tuple[float, float]:
        weights = count * math.log(mean) - fixed
        weights = np.exp(weights - weights.max())
        weights /= weights.sum()
        return float(weights[:failures].sum()), float(weights[failures - 1 :].sum())

    tail, top = (1.0 - level) / 2.0, 400.0 * failures**2 + 400.0
    high = brentq(lambda mean: tails(mean)[0] - tail, 1e-9, top)
    low = brentq(lambda mean: tails(mean)[1] - tail, 1e-9, top)
    return failures**2 / float(high), failures**2 / float(low)


def fit_power_law_grouped(ends: Sequence[float], counts: Sequence[int]) -> PowerLaw:
    """Return the most likely power law where only the failures per interval are known.

    ``ends`` are the ends of the intervals, the first beginning at 0. Source: MIL-HDBK-189 (1981), grouped data.
    """
    edges, number = np.concatenate([[0.0], np.asarray(ends, dtype=float)]), np.asarray(counts, dtype=float)
    if len(number) < 2 or len(number) != len(ends) or (np.diff(edges) <= 0).any() or number.sum() < 2:
        raise InputError("ends", str(len(ends)), "give no law", allowed="rising ends, 2 or more intervals and failures")
    from scipy.optimize import brentq  # costs over a second at the start of a program that never asks

    u = edges / edges[-1]
    logs = np.log(np.where(u > 0.0, u, 1.0))

    def balance(growth: float) -> float:
        power = np.where(u > 0.0, u**growth, 0.0)
        return float((number * (np.diff(power * logs) / np.diff(power))).sum())

    growth = float(brentq(balance, 0.02, 20.0, xtol=1e-13))
    return PowerLaw(float(number.sum() / edges[-1] ** growth), growth, int(number.sum()), float(edges[-1]), False)


@dataclass(frozen=True, slots=True)
class Duane:
    """Time over failures so far, a straight line of logarithms: time**``slope`` / ``scale``."""

    slope: float
    scale: float
    end: float

    @property
    def mtbf_so_far(self) -> float:
        """Time over failures at the end, by the line."""
        return float(self.end**self.slope / self.scale)

    @property
    def mtbf(self) -> float:
        """Mean time between failures at the end, by the line."""
        return self.mtbf_so_far / (1.0 - self.slope)

    def time_to(self, mtbf_so_far: float) -> float:
        """Return the time at which the mean so far reaches a value."""
        return float((mtbf_so_far * self.scale) ** (1.0 / self.slope))


def fit_duane(times: Sequence[float]) -> Duane:
    """Return the line of Duane by least squares; a quick look, the power law is the estimate to use."""
    at = _sorted_times(times, max(times, default=0.0))
    if len(at) < 3:
        raise InputError("times", str(len(at)), "give no line", allowed="3 or more failures")
    slope, level = np.polyfit(np.log(at), np.log(at / np.arange(1, len(at) + 1)), 1)
    return Duane(float(slope), float(math.exp(-level)), float(at[-1]))


TREND = 1.959963984540054  # of the normal distribution: two-sided 5 %


def laplace(times: Sequence[float], end: float) -> float:
    """Return Laplace's u of failures from 0 to ``end``: above 1.96 they come faster, below -1.96 slower, at 5 %.

    A failure that ends the observation is left out, for it does not fall at random in it.
    """
    at = _sorted_times(times, end)
    at = at[:-1] if at[-1] == end else at
    if len(at) == 0:
        raise InputError("times", "1", "shows no trend", allowed="2 or more failures")
    return (float(at.mean()) - end / 2.0) / (end * math.sqrt(1.0 / (12.0 * len(at))))


@dataclass(frozen=True, slots=True)
class MtbfLimits:
    """Mean time between failures at a constant rate; None for what no failure leaves open."""

    mtbf: float | None
    lower: float
    upper: float | None
    lower_one_sided: float


def mtbf_limits(total: float, failures: int, *, level: float = 0.9, at_failure: bool = False) -> MtbfLimits:
    """Return limits for the mean time between failures of a constant rate, by chi-square.

    An observation that ended at a time has two degrees of freedom more below, so that no failure yet
    gives a lower limit too.
    Source: NIST/SEMATECH e-Handbook 8.4.5.1 (from memory); checked with a textbook's example.
    """
    if not total > 0.0 or failures < (1 if at_failure else 0) or not 0.0 < level < 1.0:
        raise InputError("failures", str(failures), "give no limits", allowed="time above 0, level between 0 and 1")
    from scipy.special import chdtri  # costs over a second at the start of a program that never asks

    tail, more = (1.0 - level) / 2.0, 0 if at_failure else 2
    return MtbfLimits(
        mtbf=total / failures if failures else None,
        lower=2.0 * total / float(chdtri(2 * failures + more, tail)),
        upper=2.0 * total / float(chdtri(2 * failures, 1.0 - tail)) if failures else None,
        lower_one_sided=2.0 * total / float(chdtri(2 * failures + more, 1.0 - level)),
    )


def mean_cumulative(histories: Sequence[tuple[Sequence[float], float]]) -> tuple[Array, Array]:
    """Return times and the mean number of failures per engine up to them (Nelson); each history has its own end."""
    ends = np.array([end for _, end in histories], dtype=float)
    events = np.sort(np.array([time for times, _ in histories for time in times], dtype=float))
    seen = (ends[None, :] >= events[:, None]).sum(axis=1)
    if (seen == 0).any():
        raise InputError("times", "a failure", "lies after the end of every observation", allowed="up to the end")
    return events, np.cumsum(1.0 / seen)


def _sorted_times(times: Sequence[float], end: float) -> Array:
    at = np.sort(np.asarray(times, dtype=float))
    if len(at) == 0 or not (np.isfinite(at).all() and at[0] > 0.0 and at[-1] <= end < math.inf):
        raise InputError("times", str(len(at)), "are no times of failures", allowed="above 0, up to the end")
    return at
