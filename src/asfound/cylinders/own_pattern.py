"""The pattern that this engine always has, and what differs from it now.

A sound engine has a fixed pattern: port geometry, end cylinders, depth of the thermocouples. Taken out, a fault shows
that the bare spread hides. Each sensor's usual deviation is a straight line over load, found from the engine's own log.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.cylinders.robust import median
from asfound.cylinders.spread import FEWEST_FOR_MEDIAN, bank_index, deviation
from asfound.quantities.typing import Array, Values

FEWEST_ROWS = 20
"""Snapshots below which a sensor has no usual deviation (engineering judgement)."""
LOAD_SPAN = 0.10
"""Span of load below which no load effect is fitted, and reach beyond the loads seen. [share of rated]"""
HUBER = 1.345
"""Of Huber's weights: 95 % efficiency on normal data (Huber 1981)."""
ROUNDS = 8


@dataclass(frozen=True, slots=True)
class Pattern:
    """Usual deviation of each of n sensors from its bank's median."""

    middle: Array
    """At `load`. Shape (n,); nan for a sensor without enough history. [K]"""
    slope: Array
    """By load. Shape (n,). [K per share of rated]"""
    scatter: Array
    """Robust standard deviation of one snapshot about the line. Shape (n,). [K]"""
    error: Array
    """Standard error of the line in its middle. Shape (n,). [K]"""
    count: Array
    """Snapshots under it. Shape (n,)."""
    load: float
    """Load of `middle`; nan where no load is known. [share of rated]"""
    loads: tuple[float, float]
    """Loads that the history covers."""


def usual(
    temperatures: Array,
    load: Array | None = None,
    banks: Sequence[int] | None = None,
) -> Pattern:
    """Return the usual deviation of each sensor from a log.

    Parameters
    ----------
    temperatures : array, shape (times, n)
        Valid sensors of steady snapshots; nan where masked or stopped. [K]
    load : array, shape (times,), optional
        Share of rated load. Left out, or nearly constant: no load effect.
    banks : sequence of int, length n, optional
        As in `spread`.

    Notes
    -----
    Straight line over load by Huber's M-estimate, all sensors at once, so a week of a bad cylinder does not become
    usual unless it is most of the history. Twice: first about the median of each snapshot, then about the level that
    the pattern found leaves, because the sensor that is usually the median would seem to have no scatter, and a masked
    one would shift the middle.
    """
    given = np.asarray(temperatures, dtype=float)
    away, _ = deviation(given, banks)
    x = np.full(len(away), np.nan) if load is None else np.asarray(load, dtype=float)
    used = np.isfinite(away).any(axis=1) & (np.isfinite(x) if load is not None else True)
    known = used & np.isfinite(x)
    low, high = (float(x[known].min()), float(x[known].max())) if known.any() else (np.nan, np.nan)
    centre = float(np.median(x[known])) if known.any() else np.nan
    sloped = high - low >= LOAD_SPAN
    along = np.where(sloped, x - centre, 0.0)[used] if known.any() else np.zeros(int(used.sum()))
    middle, slope, *_ = _huber(along, away[used])
    _, level = deviation(given[used] - middle - np.outer(along, slope), banks)
    parts = bank_index(banks, given.shape[1])
    again = given[used].copy()
    for number, part in enumerate(parts):
        again[:, part] -= level[:, number, None]
    middle, slope, scatter, error, count = _huber(along, again)
    for part in parts:
        middle[part] -= median(middle[part])
    return Pattern(middle, slope, scatter, error, count, load=centre, loads=(low, high))


def _huber(x: Array, y: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Return middle, slope, scatter, error and count of a robust line for each column of y. x: (times,)."""
    there = np.isfinite(y)
    count = there.sum(axis=0)
    filled = np.where(there, y, 0.0)
    middle, slope = median(y.T), np.zeros(y.shape[1])
    scale = np.maximum(1.4826 * median(np.abs(y - middle).T), 1e-6)
    weights = there.astype(float)
    for _ in range(ROUNDS):
        rest = np.abs(filled - middle - np.outer(x, slope)) / scale
        weights = there * np.minimum(1.0, HUBER / np.maximum(rest, HUBER))
        total, wx, wxx = weights.sum(0), x @ weights, (x * x) @ weights
        wy, wxy = (weights * filled).sum(0), x @ (weights * filled)
        span = total * wxx - wx * wx
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = np.where(span > 1e-9 * total**2, (total * wxy - wx * wy) / span, 0.0)
            middle = (wy - slope * wx) / total
        residual = np.where(there, y - middle - np.outer(x, slope), np.nan)
        scale = np.maximum(1.4826 * median(np.abs(residual).T), 1e-6)
    enough = count >= FEWEST_ROWS
    with np.errstate(invalid="ignore", divide="ignore"):
        error = scale / np.sqrt(weights.sum(0))
    return (*(np.where(enough, one, np.nan) for one in (middle, slope, scale, error)), count)


def expected(pattern: Pattern, load: Values | None = None) -> Array:
    """Return the usual deviation at a load. Shape (n,) or (times, n); K.

    nan further than a tenth of rated load beyond the loads that the history covers. Without a load, or without any in
    the history, the middle of the history.
    """
    at = np.asarray(np.nan if load is None else load, dtype=float)
    if load is None or not np.isfinite(pattern.load):
        return np.broadcast_to(pattern.middle, (*at.shape, *pattern.middle.shape)).copy()
    line = pattern.middle + (at[..., None] - pattern.load) * pattern.slope
    covered = (at >= pattern.loads[0] - LOAD_SPAN) & (at <= pattern.loads[1] + LOAD_SPAN)
    found: Array = np.where(covered[..., None], line, np.nan)
    return found


def residual(
    temperatures: Array, pattern: Pattern, load: Values | None = None, banks: Sequence[int] | None = None
) -> Array:
    """Return deviation now less usual deviation at this load. Shape as given; K.

    Parameters
    ----------
    temperatures : array, shape (n,) or (times, n)
        Valid sensors; nan where masked or stopped. [K]
    pattern : Pattern
    load : float or array, shape (times,), optional
    banks : sequence of int, optional

    Notes
    -----
    The residuals are brought to a median of 0 in each bank, so that one changed cylinder, whose own move shifts which
    sensor is the middle, does not move the others.
    """
    away, _ = deviation(np.asarray(temperatures, dtype=float), banks)
    again, _ = deviation(away - expected(pattern, load), banks)
    return again


@dataclass(frozen=True, slots=True)
class SamePattern:
    """Whether two snapshots show one pattern."""

    statistic: float
    """Sum of squared differences over their variance."""
    freedom: int
    probability: float
    """Of as much or more difference if nothing changed but the readings' own scatter."""
    correlation: float
    """Between the two patterns: near 1 where the same engine shows itself again; nan when one is flat."""


def same_pattern(
    now: Array, then: Array, standard_uncertainty: float, banks: Sequence[int] | None = None
) -> SamePattern:
    """Test whether two snapshots of one engine show the same pattern.

    Parameters
    ----------
    now, then : array, shape (n,)
        Port temperatures, nan where masked. [K]
    standard_uncertainty : float
        Repeatability of one reading: scatter and steadiness, not the sensor's fixed error, which is in both. [K]
    banks : sequence of int, optional

    Notes
    -----
    Chi-squared with one degree of freedom lost to each bank's median; that median rather than the mean is taken off
    makes the test a little strict (a few per cent of the statistic).
    """
    change, _ = deviation(np.asarray(now, dtype=float) - np.asarray(then, dtype=float), banks)
    both = np.isfinite(change)
    lost = 1 if banks is None else len({banks[int(one)] for one in np.flatnonzero(both)})
    freedom = int(both.sum()) - lost
    if freedom < FEWEST_FOR_MEDIAN - 1:
        return SamePattern(np.nan, max(freedom, 0), np.nan, np.nan)
    statistic = float((change[both] ** 2).sum() / (standard_uncertainty**2))
    one, two = (deviation(np.where(both, t, np.nan), banks)[0][both] for t in (now, then))
    flat = min(np.ptp(one), np.ptp(two)) == 0.0
    correlation = np.nan if flat else float(np.corrcoef(one, two)[0, 1])
    from scipy.special import chdtrc  # late: few visits come here, and it costs a third of a second at the start

    return SamePattern(statistic, freedom, float(chdtrc(freedom, statistic)), correlation)
