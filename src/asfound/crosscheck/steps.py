"""Steps to the reconciled values: Gauss-Newton on the Karush-Kuhn-Tucker conditions, shortened where needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.elimination import Checking, take_out
from asfound.crosscheck.parity import NOT_CHECKED
from asfound.crosscheck.readings import Flags, Readings
from asfound.quantities.typing import Array

STEPS = 100
SETTLED = 1e-7
"""Last step of every value, in units of its standard uncertainty. [1]"""
CLOSED = 1e-7
"""What may be left of a balance, in units of its standard uncertainty. [1]"""
NEAR = 1e-6
"""A step this small is taken as it is: it moves the merit by rounding only. [1]"""
SHORTEST = 2.0**-20
REMEMBERED = 4
"""A step may be worse than the last, not worse than all of the last few: curved balances need that near the end."""


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """Values on the way: readings (n,), unmeasured values (p,), sizes of released errors (k,)."""

    x: Array
    u: Array
    q: Array

    def towards(self, other: Point, share: float) -> Point:
        """Return the point on the way to another."""
        if share == 1.0:
            return other
        x, u, q = (a + share * (b - a) for a, b in ((self.x, other.x), (self.u, other.u), (self.q, other.q)))
        return Point(x, u, q)


@dataclass(frozen=True, slots=True, eq=False)
class Release:
    """Errors that may take any size, in units of the readings' scale."""

    directions: Array
    """Effects on the readings, shape (n, k)."""
    marks: Array
    """Shape (degrees, k)."""
    solve: Array
    """Sizes from a parity vector, shape (k, degrees)."""
    rank: int
    told: Flags
    """Whether the balances tell the size of each, shape (k,)."""

    @property
    def covariance(self) -> Array:
        """Covariance of the sizes, nan where the balances do not tell them, shape (k, k)."""
        found = self.solve @ self.solve.T
        found[~self.told, :] = np.nan
        found[:, ~self.told] = np.nan
        return found

    @classmethod
    def of(cls, marks: Array, directions: Array) -> Release:
        """Return the release of errors with these marks (degrees, k)."""
        k = marks.shape[1]
        long = np.linalg.norm(marks, axis=0) if k else np.zeros(0)
        seen = long > NOT_CHECKED
        if not seen.any():
            return cls(directions, marks, np.zeros((k, len(marks))), 0, np.zeros(k, dtype=bool))
        size = np.where(seen, long, 1.0)
        left, found, right = np.linalg.svd(np.where(seen, marks / size, 0.0), full_matrices=False)
        rank = int((found > 1e-7 * found[0]).sum())
        solve = (right[:rank].T / found[:rank] / size[:, None]) @ left[:, :rank].T
        resolved = np.einsum("ij,ij->j", right[:rank], right[:rank]) > 1 - NOT_CHECKED
        return cls(directions, marks, solve, rank, seen & resolved)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """Where the steps ended, with the balances linearised there."""

    point: Point
    linear: Linear
    chi_squared: float
    residual: float
    """Largest balance left, in units of its standard uncertainty. [1]"""
    iterations: int
    said: str
    """Why it did not settle; empty when it did."""


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """Balances linearised at a point: residuals (m,), derivatives (m, n) and (m, p)."""

    f: Array
    by_x: Array
    by_u: Array

    @classmethod
    def at(cls, balances: Balances, point: Point) -> Linear:
        """Return the balances at a point; nan where a formula has no value there."""
        with np.errstate(all="ignore"):
            return cls(*balances.linearised(point.x, point.u))


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """A whole step from a point, and what it would be worth."""

    to: Point
    pull: Array
    """x = y - F q - scale variance pull there, shape (n,)."""
    chi_squared: float
    multiplier: float
    """Largest multiplier of a balance, in units of its uncertainty."""
    moved: float
    """Largest change of a value in units of its uncertainty."""
    exact: float
    """Largest balance that no uncertain reading can close."""


def settle(
    balances: Balances,
    readings: Readings,
    begin: Point,
    directions: Array,
    *,
    variance: Array | None = None,
    at_most: int = STEPS,
    linear: Linear | None = None,
    settled: float = SETTLED,
) -> End:
    """Step until nothing moves.

    Parameters
    ----------
    begin : Point
        Start; its ``q`` may be empty.
    directions : array of shape (n, k)
        Released errors in units of the readings' scale.
    variance : array of shape (n, n), optional
        Covariance in units of scale; that of the readings when left out.
    linear : Linear, optional
        The balances at the start, where they are known already.
    settled : float
        Last step of every value, in units of its standard uncertainty.
    """
    variance = readings.correlation if variance is None else variance
    point = begin if begin.q.size == directions.shape[1] else Point(begin.x, begin.u, np.zeros(directions.shape[1]))
    pull = _pull(readings, point, directions, variance)
    linear = linear or Linear.at(balances, point)
    if not (np.isfinite(linear.f).all() and np.isfinite(linear.by_x).all() and np.isfinite(linear.by_u).all()):
        return _end(point, linear, np.nan, np.inf, 0, "the balances have no value at the start")
    penalty, merits = 0.0, [np.inf] * REMEMBERED
    chi_squared = residual = np.inf
    for count in range(1, at_most + 1):
        checking = take_out(linear.by_x, linear.by_u, readings.scale, variance)
        whole = _whole(readings, checking, linear, point, directions, variance)
        penalty = max(penalty, 1.5 * whole.multiplier)
        share, merit = 1.0, np.inf
        while True:
            tried, tried_pull = point.towards(whole.to, share), pull + share * (whole.pull - pull)
            ahead = Linear.at(balances, tried)
            left = np.abs(ahead.f / checking.row_scale)
            merit = 0.5 * float(tried_pull @ variance @ tried_pull) + penalty * float(left.sum())
            if balances.linear or whole.moved < NEAR or (merit <= max(merits) and np.isfinite(ahead.by_x).all()):
                break
            share /= 2
            if share < SHORTEST:
                return _end(point, linear, whole.chi_squared, residual, count, "no shorter step helped")
        point, pull, linear, chi_squared = tried, tried_pull, ahead, whole.chi_squared
        merits = [*merits[1:], merit]
        residual = float(left.max(initial=0.0))
        if share == 1.0 and (balances.linear or whole.moved < settled):
            return _end(point, linear, chi_squared, residual, count, _left(whole, residual))
    return _end(point, linear, chi_squared, residual, at_most, f"not settled after {at_most} steps")


def _whole(
    readings: Readings, checking: Checking, linear: Linear, point: Point, directions: Array, variance: Array
) -> _Whole:
    """Return the step to the solution of the linearised balances."""
    scale = readings.scale
    at_readings = linear.f + linear.by_x @ (readings.values - point.x)
    parity = checking.whitened @ at_readings
    release = Release.of(checking.marks @ directions, directions)
    q = release.solve @ parity
    parity = parity - release.marks @ q
    pull = checking.marks.T @ parity
    x = readings.values - scale * (directions @ q + variance @ pull)
    u_step = -checking.unmeasured_by_residual @ (linear.f + linear.by_x @ (x - point.x))
    moved_x, moved_u = np.abs(x - point.x) / scale, np.abs(u_step) * checking.unmeasured_scale
    return _Whole(
        to=Point(x, point.u + u_step, q),
        pull=pull,
        chi_squared=float(parity @ parity),
        multiplier=float(np.abs((checking.whitened.T @ parity) * checking.row_scale).max(initial=0.0)),
        moved=max(float(moved_x.max(initial=0.0)), float(moved_u.max(initial=0.0))),
        exact=float(np.abs(checking.exact @ at_readings).max(initial=0.0)),
    )


def _pull(readings: Readings, point: Point, directions: Array, variance: Array) -> Array:
    """Return the pull that leads from the readings to a point, least squares where the covariance is singular."""
    adjusted = (readings.values - point.x) / readings.scale - directions @ point.q
    if not adjusted.any():
        return adjusted
    if readings.independent_errors:
        uncertain = np.diag(variance) > 0
        return np.where(uncertain, adjusted / np.where(uncertain, np.diag(variance), 1.0), 0.0)
    return np.asarray(np.linalg.lstsq(variance, adjusted, rcond=1e-12)[0])


def _left(whole: _Whole, residual: float) -> str:
    """Say why a point at which nothing moves is no solution; empty when it is one."""
    if whole.exact > CLOSED:
        return "balances between values without uncertainty do not close"
    return "" if residual < CLOSED else "nothing moves, and the balances do not close"


def _end(point: Point, linear: Linear, chi_squared: float, residual: float, count: int, said: str) -> End:
    return End(point=point, linear=linear, chi_squared=chi_squared, residual=residual, iterations=count, said=said)
