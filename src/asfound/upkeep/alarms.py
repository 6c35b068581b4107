"""Alarm limits of a measurand from samples of the engine's own group.

Two ways (scope of ASTM D7720): mean and standard deviations for a bell-shaped set in control, percentages of the
cumulative distribution else. Samples are to be of one engine family, oil, gas and range of hours on oil.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array

Between = Literal["linear", "weibull", "inverted_cdf"]
"""How a percentage between two samples is read: on the line between them, at rank/(n + 1), at the sample itself."""
MAD_TO_SIGMA = 1.4826  # of a normal distribution
FEW = 30  # samples below which a point far out in the tail is an extrapolation: common practice, no source
_MOST_SKEW = 1.0  # beyond it a set is not bell-shaped: engineering judgement


@dataclass(frozen=True, slots=True)
class AlarmLimits:
    """What a set of samples says of itself."""

    values: Array
    mean: float
    deviation: float
    median: float
    robust: float
    """Median distance from the median, scaled to a standard deviation: one wild sample hardly moves it."""
    skew: float

    @property
    def few(self) -> bool:
        """Whether the set is too small for a limit far out."""
        return len(self.values) < FEW

    @property
    def lopsided(self) -> bool:
        """Whether the set is so lopsided that percentages, not standard deviations, are to be used."""
        return abs(self.skew) > _MOST_SKEW

    def above_mean(self, deviations: float) -> float:
        """Return mean plus so many standard deviations: a wild sample can hide itself below it."""
        return self.mean + deviations * self.deviation

    def above_median(self, deviations: float) -> float:
        """Return median plus so many robust deviations."""
        return self.median + deviations * self.robust

    def percentage(self, per_cent: float, between: Between = "linear") -> float:
        """Return the value that so many per cent of the samples do not pass; say which way when it is quoted."""
        return float(np.percentile(self.values, per_cent, method=between))


def alarm_limits(values: Sequence[float]) -> AlarmLimits:
    """Return the figures of a set of samples, three or more."""
    at = np.sort(np.asarray(values, dtype=float))
    if len(at) < 3 or not np.isfinite(at).all():
        raise InputError("values", str(len(at)), "give no limits", allowed="3 or more samples")
    median, n = float(np.median(at)), len(at)
    centred = at - at.mean()
    deviation = float(at.std(ddof=1))
    spread = float((centred**2).mean())
    skew = float((centred**3).mean()) / spread**1.5 * np.sqrt(n * (n - 1.0)) / (n - 2.0) if spread > 0.0 else 0.0
    robust = MAD_TO_SIGMA * float(np.median(abs(at - median)))
    return AlarmLimits(at, float(at.mean()), deviation, median, robust, float(skew))
