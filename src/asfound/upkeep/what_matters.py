"""Which assumption matters, at which value the answer turns round, and how far the answer spreads.

Works on any function of named numbers; the functions are to take arrays, so that all draws go through in one call.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Protocol

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array, Values

Answer = Callable[..., Values]


class Drawn(Protocol):
    """What a doubtful input must be able to do."""

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One input at the ends of its range, all others at their best values."""

    name: str
    at_low: float
    at_high: float
    turns: bool
    """The answer has another sign at one end than at the other."""

    @property
    def width(self) -> float:
        """How far the answer moves."""
        return abs(self.at_high - self.at_low)


def bars(answer: Answer, best: Mapping[str, float], ranges: Mapping[str, tuple[float, float]]) -> list[Bar]:
    """Return the inputs by how far each moves the answer alone, widest first."""
    found = []
    for name, (low, high) in ranges.items():
        if name not in best:
            raise InputError(name, "a range", "belongs to no input", allowed=", ".join(best))
        ends = float(answer(**{**best, name: low})), float(answer(**{**best, name: high}))
        found.append(Bar(name, *ends, turns=min(ends) < 0.0 < max(ends)))
    return sorted(found, key=lambda bar: -bar.width)


def turning_points(
    answer: Answer, best: Mapping[str, float], name: str, low: float, high: float, *, steps: int = 400
) -> list[float]:
    """Return the values of one input in a range at which the answer is nothing; more than one is possible.

    The range is searched in even steps: two points closer than a step can be missed.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise InputError(name, f"{low:g} to {high:g}", "is no range", allowed="low below high")
    at = np.linspace(low, high, steps + 1)
    values = [float(answer(**{**best, name: float(x)})) for x in at]
    found = [float(x) for x, value in zip(at, values, strict=True) if value == 0.0]
    for a, b, left, right in zip(at, at[1:], values, values[1:], strict=False):
        if left * right < 0.0:
            found.append(_halved(lambda x: float(answer(**{**best, name: x})), float(a), float(b), left))
    return sorted(found)


def _halved(answer: Callable[[float], float], low: float, high: float, at_low: float) -> float:
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if answer(middle) * at_low > 0.0 else (low, middle)
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True)
class Spread:
    """What many draws give; show the number of draws and the seed with it."""

    p10: float
    p50: float
    p90: float
    mean: float
    chance_below_zero: float
    draws: int
    seed: int
    by_input: tuple[tuple[str, float], ...]
    """Rank correlation of each doubtful input with the answer, strongest first."""


def spread(
    answer: Answer, best: Mapping[str, float], doubtful: Mapping[str, Drawn], *, draws: int = 100_000, seed: int = 1
) -> Spread:
    """Return how far the answer spreads with the doubtful inputs drawn, the others at their best values."""
    random = np.random.default_rng(seed)
    drawn = {name: one.draw(random, draws) for name, one in doubtful.items()}
    values = np.broadcast_to(np.asarray(answer(**{**best, **drawn}), dtype=float), (draws,))
    ranks = _ranks(values)
    by_input = sorted(((name, _correlation(_ranks(x), ranks)) for name, x in drawn.items()), key=lambda r: -abs(r[1]))
    p10, p50, p90 = (float(p) for p in np.percentile(values, (10, 50, 90)))
    below = float((values < 0.0).mean())
    return Spread(p10, p50, p90, float(values.mean()), below, draws, seed, tuple(by_input))


def _ranks(values: Array) -> Array:
    ranks = np.empty(len(values))
    ranks[np.argsort(values, kind="stable")] = np.arange(len(values), dtype=float)
    return ranks


def _correlation(a: Array, b: Array) -> float:
    a, b = a - a.mean(), b - b.mean()
    scale = math.sqrt(float((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / scale if scale else 0.0


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A factor that is as likely twice as half of its median: given by the median and the 90 % value over it."""

    median: float
    p90_over_median: float

    def __post_init__(self) -> None:
        if not (self.median > 0.0 and self.p90_over_median >= 1.0):
            raise InputError(
                "median", f"{self.median:g}", "gives no factor", allowed="above 0, the 90 % value not below"
            )

    @property
    def log_spread(self) -> float:
        """Standard deviation of the logarithm."""
        return math.log(self.p90_over_median) / NormalDist().inv_cdf(0.9)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        return self.median * np.exp(self.log_spread * random.standard_normal(number))


@dataclass(frozen=True, slots=True)
class LowLikelyHigh:
    """A triangle over the lowest, likeliest and highest value."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.high - self.low) and self.low <= self.likely <= self.high):
            raise InputError("likely", f"{self.likely:g}", "does not lie between", allowed="low, likely, high rising")

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        if self.low == self.high:
            return np.full(number, self.low)
        return random.triangular(self.low, self.likely, self.high, number)

    @property
    def moments(self) -> tuple[float, float, float]:
        """Mean, variance, third central moment."""
        a, c, b = self.low, self.likely, self.high
        third = (a + b - 2 * c) * (2 * a - b - c) * (a - 2 * b + c) / 270.0
        return (a + b + c) / 3.0, (a * a + b * b + c * c - a * b - a * c - b * c) / 18.0, third


def product_of(factors: Sequence[LogNormal]) -> tuple[float, float, float, float]:
    """Return P10, P50, P90 and mean of a product of independent factors, exactly: what draws are tested with."""
    s = math.sqrt(math.fsum(one.log_spread**2 for one in factors))
    median, z = math.prod(one.median for one in factors), NormalDist().inv_cdf(0.9)
    return median * math.exp(-z * s), median, median * math.exp(z * s), median * math.exp(s * s / 2.0)


def sum_of(parts: Sequence[LowLikelyHigh]) -> tuple[float, float, float]:
    """Return mean, standard deviation and skewness of a sum of independent triangles, exactly."""
    mean, variance, third = (math.fsum(one) for one in zip(*(part.moments for part in parts), strict=True))
    return mean, math.sqrt(variance), third / variance**1.5 if variance else 0.0
