"""Reconcile readings: the smallest adjustment, weighed by their covariance, that makes all balances hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.classify import Classes, classes_of
from asfound.crosscheck.critical import chi_squared_p
from asfound.crosscheck.elimination import Checking, take_out
from asfound.crosscheck.marks import Mark, matrix
from asfound.crosscheck.parity import Parity
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.steps import SETTLED, Linear, Point, Release, settle
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reconciled:
    """Readings adjusted so that the balances hold, with all that the tests need.

    Where ``converged`` is false the values are the last that were tried, ``said`` tells why, and no test of them means
    anything.
    """

    balances: Balances
    readings: Readings
    x: Array
    """Adjusted values, shape (n,)."""
    unmeasured: Array
    """Unmeasured values, nan where they do not follow from the readings, shape (p,)."""
    released: tuple[Mark, ...]
    sizes: Array
    """Sizes of what was released, shape (k,)."""
    chi_squared: float
    degrees: int
    converged: bool
    iterations: int
    said: str
    """Why it did not converge, or which released error cannot be told; empty when all is well."""
    residual: float
    """Largest balance that is left, in units of its own standard uncertainty. [1]"""
    parity: Parity
    """Of the readings as they are, with nothing released."""
    classes: Classes
    point: Point
    """Where the balances are linearised: a start for the next solution."""
    checking: Checking
    linear: Linear
    """The balances there."""
    release: Release

    @property
    def p_value(self) -> float:
        """Probability of a chi-squared at least as large when nothing but the stated uncertainties is at work."""
        return float(chi_squared_p(self.chi_squared, self.degrees))

    @property
    def adjustment(self) -> Array:
        """Adjusted less read, shape (n,)."""
        return self.x - self.readings.values

    @property
    def covariance(self) -> Array:
        """Covariance of the adjusted values, shape (n, n)."""
        readings, marks = self.readings, self.parity.marks
        pull = readings.correlation @ marks.T
        covariance = readings.correlation - pull @ pull.T
        if self.released:
            open_ = self.release.directions - pull @ self.release.marks
            covariance += open_ @ self.release.covariance @ open_.T
        return covariance * readings.scale[:, None] * readings.scale

    @property
    def u(self) -> Array:
        """Standard uncertainties of the adjusted values, shape (n,)."""
        return np.sqrt(np.clip(np.diag(self.covariance), 0.0, None))

    @property
    def by_x(self) -> Array:
        """How each unmeasured value follows the adjusted readings, shape (p, n)."""
        return -self.checking.unmeasured_by_residual @ self.linear.by_x

    @property
    def covariance_unmeasured(self) -> Array:
        """Covariance of the unmeasured values; nan where they do not follow, shape (p, p)."""
        found = self.by_x @ self.covariance @ self.by_x.T
        lost = ~self.checking.observable
        found[lost, :] = np.nan
        found[:, lost] = np.nan
        return found

    @property
    def u_unmeasured(self) -> Array:
        """Standard uncertainties of the unmeasured values, shape (p,)."""
        return np.sqrt(np.clip(np.diag(self.covariance_unmeasured), 0.0, None))

    @property
    def u_sizes(self) -> Array:
        """Standard uncertainties of the sizes of what was released, shape (k,)."""
        return np.sqrt(np.diag(self.release.covariance))

    @property
    def adjustability(self) -> Array:
        """1 - u adjusted / u read: what reconciliation wins for each reading, shape (n,)."""
        u = self.readings.u
        return np.where(u > 0, 1.0 - self.u / np.where(u > 0, u, 1.0), 0.0)

    @property
    def detectability(self) -> Array:
        """Uncertainty of the adjustment over that of the reading: 0 where nothing checks the reading, shape (n,)."""
        return self.parity.detectability

    def value(self, name: str) -> float:
        """Return the adjusted or unmeasured value of that name."""
        if name in self.balances.unmeasured:
            return float(self.unmeasured[self.balances.unmeasured.index(name)])
        return float(self.x[self.readings.at(name)])

    def standard_uncertainty(self, name: str) -> float:
        """Return the standard uncertainty of the adjusted or unmeasured value of that name."""
        if name in self.balances.unmeasured:
            return float(self.u_unmeasured[self.balances.unmeasured.index(name)])
        return float(self.u[self.readings.at(name)])


def reconcile(
    balances: Balances,
    readings: Readings,
    *,
    start: Mapping[str, float] | None = None,
    released: Sequence[Mark] = (),
    point: Point | None = None,
    linear: Linear | None = None,
    settled: float = SETTLED,
) -> Reconciled:
    """Return the readings adjusted to the balances: weighted least squares, linear in one step, else by Gauss-Newton.

    Minimises (y - F q - x)' V^-1 (y - F q - x) subject to f(x, u) = 0 over the true values x, what is unmeasured u,
    and the sizes q of released errors. Steps are shortened as long as they make things worse.

    Parameters
    ----------
    balances : Balances
        What must hold.
    readings : Readings
        Values with covariance; those of the balances, in any order.
    start : mapping of str to float, optional
        Start values of unmeasured quantities; 1 where nothing is given. For a reading whose value cannot be a
        start (a slip of the pen), name it here too.
    released : sequence of Mark
        Errors that may take any size: these readings check nothing any more.
    point : Point, optional
        Where to start instead: ``point`` of another solution, or that of `robust.robust_start` for readings far apart.
    linear : Linear, optional
        The balances at ``point``, where they are known already.
    settled : float
        Last step of every value, in units of its standard uncertainty.

    References
    ----------
    .. [1] Kuehn and Davidson, Chem. Eng. Prog. 57 (6) (1961) 44; VDI 2048 part 1. Step control: exact penalty of
       sequential quadratic programming, Nocedal and Wright, chapter 18.
    """
    readings = readings.in_order(balances.readings)
    effects = matrix(released, readings) / readings.scale[:, None]
    begin = starting_point(balances, readings, start) if point is None else point
    end = settle(balances, readings, begin, effects, linear=linear, settled=settled)
    by_x, by_u = (np.nan_to_num(one) for one in (end.linear.by_x, end.linear.by_u))
    checking = take_out(by_x, by_u, readings.scale, readings.correlation)
    at_readings = end.linear.f + end.linear.by_x @ (readings.values - end.point.x)
    release = Release.of(checking.marks @ effects, effects)
    untold = "" if release.rank == len(released) else "the balances cannot tell the size of every released error"
    return Reconciled(
        balances=balances,
        readings=readings,
        x=end.point.x,
        unmeasured=np.where(checking.observable, end.point.u, np.nan),
        released=tuple(released),
        sizes=end.point.q,
        chi_squared=end.chi_squared,
        degrees=checking.degrees - release.rank,
        converged=not end.said,
        iterations=end.iterations,
        said=end.said or untold,
        residual=end.residual,
        parity=Parity(checking.whitened @ at_readings, checking.marks, readings),
        classes=classes_of(checking, end.linear.by_x, balances),
        point=end.point,
        checking=checking,
        linear=end.linear,
        release=release,
    )


def starting_point(balances: Balances, readings: Readings, start: Mapping[str, float] | None) -> Point:
    """Return the readings as they are, with start values of the rest."""
    given = dict(start or {})
    x = readings.values.copy()
    for name in [one for one in given if one in readings.names]:
        x[readings.at(name)] = given.pop(name)
    return Point(x, balances.starting(given), np.zeros(0))


def parity_at(balances: Balances, readings: Readings, point: Point, linear: Linear | None = None) -> Parity:
    """Return the parity of the readings with the balances linearised at a point, which need not be their solution."""
    readings = readings.in_order(balances.readings)
    at = linear or Linear.at(balances, point)
    checking = take_out(np.nan_to_num(at.by_x), np.nan_to_num(at.by_u), readings.scale, readings.correlation)
    return Parity(checking.whitened @ (at.f + at.by_x @ (readings.values - point.x)), checking.marks, readings)
