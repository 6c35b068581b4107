"""Life of parts that are thrown away and replaced: the Weibull distribution, fitted to failures and survivors.

Only for parts that are replaced by new ones. An engine that is repaired and goes on is a repair process: `repairs`.
Hours, or any one unit of time throughout.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.quantities.typing import Array

_FEWEST = 2  # failures; with one the shape stays open


@dataclass(frozen=True, slots=True)
class Weibull:
    """Two-parameter Weibull life: ``scale`` is the age that 36.8 % reach, ``shape`` above 1 means wear."""

    scale: float
    shape: float

    def __post_init__(self) -> None:
        for field, value in (("scale", self.scale), ("shape", self.shape)):
            if not (math.isfinite(value) and value > 0.0):
                raise InputError(field, f"{value:g}", "is no parameter of a life", allowed="more than 0")

    def reliability(self, age: Array | float) -> Array:
        """Return the share that lives longer than ``age``; nan below 0."""
        return np.exp(-self._cumulated(age))

    def failed(self, age: Array | float) -> Array:
        """Return the share that fails up to ``age``, exact for small shares too."""
        return -np.expm1(-self._cumulated(age))

    def _cumulated(self, age: Array | float) -> Array:
        at = np.asarray(age, dtype=float)
        cumulated: Array = np.power(np.where(at >= 0.0, at, np.nan) / self.scale, self.shape)
        return cumulated

    def hazard(self, age: Array | float) -> Array:
        """Return failures per unit of time among those that live at ``age``; nan below 0."""
        at = np.asarray(age, dtype=float)
        with np.errstate(divide="ignore"):
            rate: Array = self.shape / self.scale * np.power(np.where(at >= 0, at, np.nan) / self.scale, self.shape - 1)
        return rate

    def age_failed(self, share: Array | float) -> Array:
        """Return the age at which a share (0 to 1) has failed: the B10 life for 0.1."""
        at = np.asarray(share, dtype=float)
        age: Array = self.scale * np.power(-np.log1p(-np.where((at >= 0) & (at < 1), at, np.nan)), 1 / self.shape)
        return age

    @property
    def mean(self) -> float:
        """Mean life."""
        return self.scale * math.gamma(1.0 + 1.0 / self.shape)

    def mean_up_to(self, age: Array | float) -> Array:
        """Return the mean time in use of parts taken out at ``age`` at the latest: integral of the reliability."""
        from scipy.special import gammainc  # costs over a second at the start of a program that never asks

        part: Array = self.mean * gammainc(1.0 / self.shape, self._cumulated(age))
        return part


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted value with its interval."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class WeibullFit:
    """What failures and survivors say of a life, at the most likely parameters.

    The intervals come from the curvature of the likelihood on a logarithmic scale; with few failures they are too
    narrow.
    """

    life: Weibull
    failures: int
    survivors: int
    level: float
    log_likelihood: float
    variances: tuple[float, float, float]
    """Of ln scale, of ln scale with 1/shape, of 1/shape."""

    @property
    def standard_errors(self) -> tuple[float, float]:
        """Of scale and of shape."""
        return (
            self.life.scale * math.sqrt(self.variances[0]),
            self.life.shape**2 * math.sqrt(self.variances[2]),
        )

    @property
    def scale(self) -> Estimate:
        """Scale with its interval."""
        return self._about(self.life.scale, math.sqrt(self.variances[0]))

    @property
    def shape(self) -> Estimate:
        """Shape with its interval; one that holds 1 leaves open whether the part wears at all."""
        return self._about(self.life.shape, self.life.shape * math.sqrt(self.variances[2]))

    def age_failed(self, share: float) -> Estimate:
        """Return the age at which a share has failed, with its interval."""
        k = math.log(-math.log1p(-share))
        on_scale, together, on_spread = self.variances
        spread = math.sqrt(on_scale + 2.0 * k * together + k * k * on_spread)
        return self._about(float(self.life.age_failed(share)), spread)

    def _about(self, value: float, spread_of_logarithm: float) -> Estimate:
        factor = math.exp(NormalDist().inv_cdf(0.5 + self.level / 2.0) * spread_of_logarithm)
        return Estimate(value, value / factor, value * factor)


def fit_weibull(failures: Sequence[float], survivors: Sequence[float] = (), *, level: float = 0.95) -> WeibullFit:
    """Return the most likely Weibull life.

    Parameters
    ----------
    failures : sequence of float
        Ages at failure.
    survivors : sequence of float
        Ages of parts that have not failed: in use still, or taken out sound. Leaving them out makes the life too short.
    level : float
        Of the intervals.

    Raises
    ------
    InputError
        Fewer than two failures, an age that is not above 0, or all failures at one age.
    """
    ages = np.concatenate([np.asarray(failures, dtype=float), np.asarray(survivors, dtype=float)])
    count = len(failures)
    if count < _FEWEST:
        raise InputError(
            "failures", str(count), "leave the shape of the life open", allowed="2 or more",
            try_next="With none or one, give the limits of a constant rate instead (repairs.mtbf_limits).",
        )  # fmt: skip
    if not (np.isfinite(ages) & (ages > 0)).all():
        raise InputError("ages", "a value", "is no age", allowed="more than 0")
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g}", "is no level", allowed="between 0 and 1")
    logs = np.log(ages)
    failed = np.arange(len(ages)) < count
    if np.ptp(logs[failed]) == 0.0 and logs.max() <= logs[0]:
        raise InputError("failures", f"{failures[0]:g}", "is the one age of all", allowed="ages that differ")
    shape = _most_likely_shape(logs, failed)
    top = logs.max()
    scale = math.exp(top + math.log(float(np.exp(shape * (logs - top)).sum()) / count) / shape)
    return _at(Weibull(scale, shape), ages, failed, level)


def _most_likely_shape(logs: Array, failed: NDArray[np.bool_]) -> float:
    """Return the root of the likelihood equation, which rises with the shape, by halving on a logarithmic scale."""
    top, mean = logs.max(), logs[failed].mean()

    def score(shape: float) -> float:
        weights = np.exp(shape * (logs - top))
        return float((weights * logs).sum() / weights.sum()) - 1.0 / shape - float(mean)

    low, high = 1e-4, 1e4
    if score(high) <= 0.0:
        raise InputError("failures", "these ages", "lie too close together to give a shape", allowed="ages that differ")
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if score(middle) < 0.0 else (low, middle)
    return math.sqrt(low * high)


def _at(life: Weibull, ages: Array, failed: NDArray[np.bool_], level: float) -> WeibullFit:
    spread = 1.0 / life.shape
    z = (np.log(ages) - math.log(life.scale)) / spread
    e, d = np.exp(z), failed.astype(float)
    on_scale = float(e.sum()) / spread**2
    together = float((z * e + e - d).sum()) / spread**2
    on_spread = float((-d + z**2 * e + 2.0 * z * e - 2.0 * d * z).sum()) / spread**2
    scatter = np.linalg.inv(np.array([[on_scale, together], [together, on_spread]]))
    of_failed = ages[failed]
    likely = np.log(life.shape / of_failed) + life.shape * np.log(of_failed / life.scale)
    return WeibullFit(
        life=life, failures=int(failed.sum()), survivors=int((~failed).sum()), level=level,
        log_likelihood=float(likely.sum() - e.sum()),
        variances=(float(scatter[0, 0]), float(scatter[0, 1]), float(scatter[1, 1])),
    )  # fmt: skip
