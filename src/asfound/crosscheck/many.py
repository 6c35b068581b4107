"""Many visits at once with the same balances: reconciled side by side in stacked matrices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from asfound.crosscheck.balances import COMPLEX_STEP, OUTSIDE, Balances
from asfound.crosscheck.critical import chi_squared_p
from asfound.crosscheck.elimination import take_out
from asfound.crosscheck.parity import NOT_CHECKED
from asfound.crosscheck.readings import Flags, Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.tests_of_readings import measurement_tests
from asfound.quantities.typing import Array

AT_ONCE = 64
"""Visits in one stack: larger ones leave the processor's cache."""
STEPS = 25
SETTLED = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Many:
    """Answers of many visits, one in each column."""

    x: Array
    """Adjusted values, shape (n, visits)."""
    unmeasured: Array
    """Shape (p, visits); nan where a value does not follow."""
    chi_squared: Array
    """Shape (visits,)."""
    degrees: int
    test: Array
    """Signed test of each reading, nan where nothing checks it, shape (n, visits)."""
    size: Array
    """Size of the error that each reading would need alone, shape (n, visits)."""
    converged: Flags
    """Shape (visits,)."""

    @property
    def p_value(self) -> Array:
        """Probability of a chi-squared at least as large, shape (visits,)."""
        return np.asarray(chi_squared_p(self.chi_squared, self.degrees))


def reconcile_many(
    balances: Balances, readings: Readings, values: ArrayLike, *, start: Mapping[str, float] | None = None
) -> Many:
    """Return many visits reconciled: the same answers as one by one.

    Parameters
    ----------
    balances : Balances
        With a formula that takes complex columns, or with ``jacobian`` (then visits are taken one by one).
    readings : Readings
        Names and covariance, alike for all; its values are not used.
    values : array_like of shape (n, visits)
        Values of each visit in the order of ``readings``.
    start : mapping of str to float, optional
        Start values of what is unmeasured.

    Notes
    -----
    Whole Gauss-Newton steps; a visit that does not settle, or whose unmeasured values do not all follow, is taken by
    itself with `reconcile`.
    """
    if balances.linear:
        return _linear(balances, readings, np.asarray(values, dtype=float))
    given = np.asarray(values, dtype=float)
    order = [readings.names.index(name) for name in balances.readings]
    ordered, given = readings.in_order(balances.readings), given[order]
    n, visits = given.shape
    x, u = given.copy(), np.repeat(balances.starting(start)[:, None], visits, axis=1)
    chi_squared, test, size = np.full(visits, np.nan), np.full((n, visits), np.nan), np.full((n, visits), np.nan)
    settled = np.zeros(visits, dtype=bool)
    degrees = 0
    for first in range(0, visits, AT_ONCE) if balances.jacobian is None else ():
        some = slice(first, min(first + AT_ONCE, visits))
        stack = _stack(balances, ordered, given[:, some], u[:, some])
        if stack is None:
            continue
        x[:, some], u[:, some], settled[some] = stack.x, stack.u, stack.settled
        chi_squared[some], test[:, some], size[:, some] = stack.chi_squared, stack.test, stack.size
        degrees = stack.degrees
    for at in np.flatnonzero(~settled):
        alone = reconcile(balances, Readings(ordered.names, given[:, at], ordered.covariance), start=start)
        each = measurement_tests(alone.parity)
        x[:, at], u[:, at], settled[at] = alone.x, alone.unmeasured, alone.converged
        chi_squared[at], test[:, at], size[:, at], degrees = alone.chi_squared, each.test, each.size, alone.degrees
    back = [balances.readings.index(name) for name in readings.names]
    return Many(
        x=x[back],
        unmeasured=u,
        chi_squared=chi_squared,
        degrees=degrees,
        test=test[back],
        size=size[back],
        converged=settled,
    )


def _linear(balances: Balances, readings: Readings, values: Array) -> Many:
    """Return visits of linear balances: one set of matrices does for all."""
    order = [readings.names.index(name) for name in balances.readings]
    back = [balances.readings.index(name) for name in readings.names]
    y, scale = values[order], readings.scale[order]
    correlation = readings.correlation[np.ix_(order, order)]
    none = np.zeros((len(balances.unmeasured), y.shape[1]))
    _, by_x, by_u = balances.linearised(y[:, 0], none[:, 0])
    checking = take_out(by_x, by_u, scale, correlation)
    parity = checking.whitened @ balances.residuals(y, none)
    along = checking.marks.T @ parity
    x = y - scale[:, None] * (correlation @ along)
    u = -checking.unmeasured_by_residual @ balances.residuals(x, none)
    u[~checking.observable] = np.nan
    squared = np.einsum("dn,dn->n", checking.marks, checking.marks)[:, None]
    squared = np.where(squared > NOT_CHECKED**2, squared, np.nan)
    return Many(
        x=x[back],
        unmeasured=u,
        chi_squared=np.einsum("dv,dv->v", parity, parity),
        degrees=checking.degrees,
        test=(along / np.sqrt(squared))[back],
        size=(along / squared * scale[:, None])[back],
        converged=np.ones(y.shape[1], dtype=bool),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Stack:
    x: Array
    u: Array
    settled: Flags
    chi_squared: Array
    test: Array
    size: Array
    degrees: int


def _stack(balances: Balances, readings: Readings, values: Array, u: Array) -> _Stack | None:
    """Return one stack of visits, or None where the matrices are not regular."""
    scale, correlation = readings.scale, readings.correlation
    x, u = values.copy(), u.copy()
    settled = np.zeros(values.shape[1], dtype=bool)
    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            f, by_x, by_u = _linearised(balances, x, u)
            a = by_x * scale
            rows = np.linalg.norm(a, axis=2)
            rows = np.where(rows > 0, rows, 1.0)
            a, b = a / rows[..., None], by_u / rows[..., None]
            columns = np.linalg.norm(b, axis=1)
            try:
                left, solve = _projection(b / columns[:, None, :])
                g = left @ a
                half = np.linalg.cholesky(g @ correlation @ g.swapaxes(1, 2))
                at_readings = f / rows + np.einsum("vmn,nv->vm", a, (values - x) / scale[:, None])
                right = np.concatenate([left @ at_readings[..., None], g], axis=2)
                whitened = np.linalg.solve(half, right)
            except np.linalg.LinAlgError:
                return None
            parity, marks = whitened[..., 0], whitened[..., 1:]
            along = np.einsum("vdn,vd->nv", marks, parity)
            ahead = values - scale[:, None] * (correlation @ along)
            off = f / rows + np.einsum("vmn,nv->vm", a, (ahead - x) / scale[:, None])
            u_step = -np.einsum("vpm,vm->pv", solve, off)
            moved = np.abs((ahead - x) / scale[:, None]).max(axis=0)
            moved = np.maximum(moved, np.abs(u_step).max(axis=0, initial=0.0))
            x, u = ahead, u + u_step / columns.T
            settled = moved < SETTLED
            if settled.all():
                break
        squared = np.einsum("vdn,vdn->nv", marks, marks)
        squared = np.where(squared > NOT_CHECKED**2, squared, np.nan)
        return _Stack(
            x=x,
            u=u,
            settled=settled,
            chi_squared=np.einsum("vd,vd->v", parity, parity),
            test=along / np.sqrt(squared),
            size=along / squared * scale[:, None],
            degrees=marks.shape[1],
        )


def _projection(b: Array) -> tuple[Array, Array]:
    """Return rows orthogonal to the unmeasured part (v, m, p) and its left inverse; LinAlgError where it has none."""
    visits, m, p = b.shape
    if p == 0:
        return np.broadcast_to(np.eye(m), (visits, m, m)), np.zeros((visits, 0, m))
    q, r = np.linalg.qr(b, mode="complete")
    top = r[:, :p]
    if p > m or np.abs(np.diagonal(top, axis1=1, axis2=2)).min() < NOT_CHECKED:
        raise np.linalg.LinAlgError
    return q[:, :, p:].swapaxes(1, 2), np.linalg.solve(top, q[:, :, :p].swapaxes(1, 2))


def _linearised(balances: Balances, x: Array, u: Array) -> tuple[Array, Array, Array]:
    """Return residuals (v, m) and derivatives (v, m, n), (v, m, p) of all visits from one call of the formula."""
    z = np.concatenate([x, u])
    size, visits = z.shape
    columns = np.repeat(z[:, :, None], size, axis=2).astype(complex)
    columns[np.arange(size), :, np.arange(size)] += 1j * COMPLEX_STEP
    flat = columns.reshape(size, visits * size)
    f = np.asarray(balances.formula(flat[: len(x)], flat[len(x) :])).reshape(-1, visits, size)
    derivatives = f.imag.transpose(1, 0, 2) / COMPLEX_STEP
    outside = np.abs(f.imag).max(axis=2, initial=0.0) > OUTSIDE
    return np.where(outside, np.nan, f[:, :, 0].real).T, derivatives[:, :, : len(x)], derivatives[:, :, len(x) :]
