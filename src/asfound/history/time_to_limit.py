"""When a drifting value reaches a limit: three dates, or that it does not at this rate.

Inverse prediction by draws from the joint distribution of level and slope (and bend) of a drift, multivariate t with
the effective degrees of freedom; for a straight line the interval is Fieller's (1954, J. R. Stat. Soc. B 16, 175) up to
the count of draws. Draws that go away from the limit never reach it: their share is the probability of never, and the
interval is open above when it is more than the tail.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.drift import Drift
from asfound.history.estimate import LEVEL
from asfound.history.timeline import seconds
from asfound.quantities.typing import Array

DRAWS = 20_000
FAR = 2.0
"""An answer further ahead than this many times the data's own length is told as far beyond the data."""


@dataclass(frozen=True, slots=True)
class TimeToLimit:
    """Hours run from now until the limit; inf is never."""

    hours: float
    """Median; inf when more than half of what may be goes away from the limit."""
    low: float
    high: float
    never: float
    """Probability that it never reaches the limit at this rate."""
    reached: float
    """Probability that it is there already."""
    reach: float
    """Median over the length of the data, both in hours run: how far beyond the data the answer lies."""
    words: str


def time_to_limit(
    value: Array, covariance: Array, limit: float, *, freedom: float = math.inf, above: bool | None = None,
    data_hours: float = math.nan, level: float = LEVEL, seed: int = 1,
) -> TimeToLimit:  # fmt: skip
    """Return the hours run until a limit.

    Parameters
    ----------
    value : array of shape (2,) or (3,)
        Level now, slope per 1,000 h, and for a bent drift the coefficient of (1,000 h)^2.
    covariance : array of shape (2, 2) or (3, 3)
    limit : float
        Unit of the level.
    freedom : float
        Degrees of freedom.
    above : bool, optional
        True where values above the limit are bad; without it, from which side the level comes now.
    data_hours : float
        Hours run that the data cover.
    """
    above = bool(limit >= value[0]) if above is None else above
    sign = 1.0 if above else -1.0
    random = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(np.asarray(covariance, dtype=float))
    drawn = random.standard_normal((DRAWS, len(value))) @ (vectors * np.sqrt(np.clip(values, 0.0, None))).T
    if freedom < 1e5:
        drawn /= np.sqrt(random.chisquare(freedom, DRAWS) / freedom)[:, None]
    drawn += value
    ahead = sign * (limit - drawn[:, 0])
    slope = sign * drawn[:, 1]
    hours = _straight(ahead, slope) if len(value) == 2 else _bent(ahead, slope, sign * drawn[:, 2])
    hours = 1000.0 * np.where(ahead <= 0.0, 0.0, hours)
    tail = 0.5 - level / 2.0
    ordered = np.sort(hours)
    low, middle, high = (float(ordered[round(q * (DRAWS - 1))]) for q in (tail, 0.5, 1.0 - tail))
    never, there = float(np.isinf(hours).mean()), float((ahead <= 0.0).mean())
    reach = middle / data_hours if data_hours > 0.0 else math.nan
    return TimeToLimit(middle, low, high, never, there, reach, _words(middle, low, high, never, there, reach))


def of_drift(found: Drift, limit: float, *, above: bool | None = None, level: float = LEVEL) -> TimeToLimit:
    """Return the hours run until the value of a drift, at its reference, reaches a limit.

    Where the shortest description has no drift, the slope's own interval beside the level decides: mostly 'never'.
    """
    if found.trend:
        value, covariance = found.joint
    else:
        value = np.array([found.level.value, found.slope.value])
        covariance = np.diag([found.level.error**2, found.slope.error**2])
    return time_to_limit(
        value, covariance, limit, freedom=found.fit.freedom, above=above, data_hours=found.hours, level=level
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Crossed:
    """When a value went beyond its limit within the data; inf where it did not."""

    time: float
    """s."""
    earliest: float
    latest: float
    probability: float
    """That it went beyond at all."""


def crossed(
    time: npt.ArrayLike, hours: Array, found: Drift, limit: float, *, above: bool = True, level: float = LEVEL
) -> Crossed:
    """Return when the fitted value at the reference first went beyond a limit, with its interval from draws.

    Parameters
    ----------
    time, hours : array of shape (n,)
        Times of the log and hours run, as given to `drift`.
    found : Drift
    limit : float
        Unit of the signal.
    above : bool
        Whether values above the limit are bad.
    """
    at = seconds(time)
    value, columns = found.path(at, hours)
    pick = np.unique(np.linspace(0, at.size - 1, min(at.size, 4000)).astype(int))
    names = [found.fit.names.index(name) for name in found.path_names]
    random = np.random.default_rng(1)
    values, vectors = np.linalg.eigh(found.fit.covariance[np.ix_(names, names)])
    drawn = random.standard_normal((500, len(names))) @ (vectors * np.sqrt(np.clip(values, 0.0, None))).T
    paths = value[pick] + drawn @ columns[pick].T
    beyond = paths > limit if above else paths < limit
    first = np.where(beyond.any(axis=1), at[pick[beyond.argmax(axis=1)]], np.inf)
    tail = 0.5 - level / 2.0
    ordered = np.sort(first)
    low, high = (float(ordered[round(q * (ordered.size - 1))]) for q in (tail, 1.0 - tail))
    best = np.flatnonzero(value > limit if above else value < limit)
    return Crossed(float(at[best[0]]) if best.size else math.inf, low, high, float(np.isfinite(first).mean()))


def fieller(level_now: float, slope: float, covariance: Array, limit: float, factor: float) -> tuple[float, float]:
    """Return the ends, in thousands of hours from now, of Fieller's interval; (-inf, inf) where the slope may be zero.

    ``factor`` is Student's (or the normal) half-width factor.
    """
    ahead = limit - level_now
    a = slope**2 - factor**2 * covariance[1, 1]
    b = slope * ahead + factor**2 * covariance[0, 1]
    c = ahead**2 - factor**2 * covariance[0, 0]
    if a <= 0.0:
        return -math.inf, math.inf
    root = math.sqrt(max(b * b - a * c, 0.0))
    return (b - root) / a, (b + root) / a


def _straight(ahead: Array, slope: Array) -> Array:
    found: Array = np.full(ahead.shape, np.inf)
    np.divide(ahead, slope, out=found, where=slope > 0.0)
    return found


def _bent(ahead: Array, slope: Array, bend: Array) -> Array:
    """Return the first root above 0 of bend h^2 + slope h = ahead."""
    inside = slope**2 + 4.0 * bend * ahead
    root = np.sqrt(np.maximum(inside, 0.0))
    below = slope + root  # the first crossing, in the form that has no difference of like numbers
    found: Array = np.full(ahead.shape, np.inf)
    np.divide(2.0 * ahead, below, out=found, where=(inside >= 0.0) & (below > 0.0))
    return found


def _words(middle: float, low: float, high: float, never: float, there: float, reach: float) -> str:
    if there > 0.5:
        return "The value is at the limit now."
    if never > 0.5:
        return f"Never at this rate (probability {never:.0%})."
    upper = f"{high:,.0f} h" if math.isfinite(high) else "no end that could be told"
    said = f"In about {middle:,.0f} run hours; from {low:,.0f} h to {upper}."
    if never >= 0.005:
        said += f" Never at this rate: probability {never:.0%}."
    if reach > FAR:
        said += f" That lies {reach:.1f} times the length of the data beyond them."
    return said
