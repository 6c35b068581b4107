"""Straight lines of wear over time, with their interval, and when they reach a limit; 'never' is an answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array, Values


@dataclass(frozen=True, slots=True)
class Line:
    """Least squares of each of k columns over one x. Arrays of shape (k,); nan where fewer than three points are."""

    slope: Array
    intercept: Array
    """At `centre`."""
    slope_error: Array
    """Standard error."""
    level_error: Array
    """Standard error of the intercept at the centre; uncorrelated with the slope's."""
    scatter: Array
    """Standard deviation about the line."""
    freedom: Array
    centre: Array
    """Mean x of each column's points."""

    @property
    def probability_rising(self) -> Array:
        """Return the probability that the slope is positive, by Student's t."""
        with np.errstate(divide="ignore", invalid="ignore"):
            found: Array = _student_cdf(self.slope / self.slope_error, self.freedom)
        return found

    def interval(self, probability: float = 0.95) -> tuple[Array, Array]:
        """Return the confidence interval of the slope."""
        reach = _student_quantile(0.5 + probability / 2, self.freedom) * self.slope_error
        return self.slope - reach, self.slope + reach


def lines(x: Array, y: Array) -> Line:
    """Return the least-squares line of each column.

    Parameters
    ----------
    x : array, shape (points,)
        Time or running hours, in s.
    y : array, shape (points, k) or (points,)
        What wears; nan where not read.
    """
    y = np.atleast_2d(np.asarray(y, dtype=float).T).T
    there = np.isfinite(y) & np.isfinite(x)[:, None]
    count = there.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        centre = np.where(there, x[:, None], 0.0).sum(0) / count
        level = np.where(there, y, 0.0).sum(0) / count
        dx = np.where(there, x[:, None] - centre, 0.0)
        dy = np.where(there, y - level, 0.0)
        sxx = (dx * dx).sum(0)
        slope = np.where(sxx > 0.0, (dx * dy).sum(0) / sxx, np.nan)
        freedom = np.where(count > 2, count - 2.0, np.nan)
        scatter = np.sqrt(np.where(there, (dy - slope * dx) ** 2, 0.0).sum(0) / freedom)
        return Line(slope, level, scatter / np.sqrt(sxx), scatter / np.sqrt(count), scatter, freedom, centre)


@dataclass(frozen=True, slots=True)
class Reaches:
    """When a line reaches a limit. x as of the line; infinite: never at this rate; nan: cannot be told."""

    at: Array
    earliest: Array
    latest: Array
    """Infinite where no rise, or a fall, is within the interval."""


def reaches(line: Line, limit: Values, *, probability: float = 0.95) -> Reaches:
    """Return the x at which each rising line reaches a limit, with Fieller's interval.

    Parameters
    ----------
    line : Line
    limit : float or array, shape (k,)
        Upper limit of what wears.
    probability : float
        Of the interval.

    Notes
    -----
    Exact for a ratio of normal estimates (Fieller 1954). Where the slope may be zero the latest is never; where it is
    not even likely to rise, the whole answer is never.
    """
    t = _student_quantile(0.5 + probability / 2, line.freedom)
    need = np.asarray(limit, dtype=float) - line.intercept
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.where(line.slope > 0.0, need / line.slope, np.inf)
        a = line.slope**2 - (t * line.slope_error) ** 2
        c = need**2 - (t * line.level_error) ** 2
        inside = (need * line.slope) ** 2 - a * c
        root = np.sqrt(np.maximum(inside, 0.0))
        first = (need * line.slope - root) / a
        second = (need * line.slope + root) / a
        settled = a > 0.0
        low, high = np.minimum(first, second), np.maximum(first, second)
        open_low = np.where(inside < 0.0, -np.inf, high)  # outside the two roots: the branch of a rising line
        earliest = np.where(settled & (line.slope > 0.0), low, np.where(settled, np.inf, open_low))
        latest = np.where(settled & (line.slope > 0.0), high, np.inf)
    known = np.isfinite(line.slope_error)
    return Reaches(
        np.where(np.isfinite(line.slope), at + np.where(np.isfinite(at), line.centre, 0.0), np.nan),
        np.where(known, earliest + line.centre, np.nan),
        np.where(known, latest + line.centre, np.nan),
    )


def _student_cdf(values: Values, freedom: Values) -> Array:
    """Return Student's distribution; SciPy is fetched late, for it costs a third of a second at the start."""
    from scipy.special import stdtr

    found: Array = np.asarray(stdtr(freedom, values))
    return found


def _student_quantile(probability: float, freedom: Values) -> Array:
    """Return the quantile of Student's distribution."""
    from scipy.special import stdtrit

    found: Array = np.asarray(stdtrit(freedom, probability))
    return found
