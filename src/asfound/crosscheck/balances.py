"""Balances that readings must satisfy, f(x, u) = 0, with their derivatives at a point."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from asfound.errors import InputError
from asfound.quantities.typing import Array

Formula = Callable[[Any, Any], Any]
"""Residuals (m, k) of true values x (n, k) and unmeasured values u (p, k): k columns are k points at once."""
Jacobian = Callable[[Array, Array], tuple[Array, Array]]
"""Derivatives at one point x (n,), u (p,): by the readings (m, n) and by the unmeasured values (m, p)."""
COMPLEX_STEP = 1e-30
OUTSIDE = 1e-12
"""An imaginary part larger than this is no derivative: a root or logarithm was taken of a negative number."""
CENTRAL_STEP = 6e-6
"""Cube root of the spacing of floats near 1: errors of truncation and of rounding are alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balances:
    """What must be zero if every value were true.

    The formula works on columns: x of shape (n, k), u of shape (p, k) give residuals of shape (m, k). Written with
    analytic NumPy functions alone (no abs, max, comparison of x), it is also its own derivative: one call with a tiny
    imaginary part in each column gives residuals and Jacobian exact to rounding (Squire and Trapp 1998). Where that
    cannot be, ``derivative="central"`` takes differences, with 10 digits, or ``jacobian`` gives the derivatives.
    """

    readings: tuple[str, ...]
    formula: Formula
    names: tuple[str, ...]
    unmeasured: tuple[str, ...] = ()
    jacobian: Jacobian | None = None
    derivative: Literal["complex", "central"] = "complex"
    linear: bool = False
    """One step is exact."""

    def residuals(self, x: Array, u: Array) -> Array:
        """Return what is left of the balances, shape (m,) at one point, (m, k) at k points."""
        if x.ndim == 1:
            return np.asarray(self.formula(x[:, None], u[:, None]), dtype=float)[:, 0]
        return np.asarray(self.formula(x, u), dtype=float)

    def linearised(self, x: Array, u: Array) -> tuple[Array, Array, Array]:
        """Return residuals (m,), derivatives by the readings (m, n) and by the unmeasured values (m, p)."""
        if self.jacobian is not None:
            by_x, by_u = self.jacobian(x, u)
            return self.residuals(x, u), by_x, by_u
        f, both = (complex_step if self.derivative == "complex" else central_differences)(self.formula, x, u)
        return f, both[:, : x.size], both[:, x.size :]

    def starting(self, start: Mapping[str, float] | None) -> Array:
        """Return start values of what is unmeasured, shape (p,); 1 where nothing is given."""
        given = dict(start or {})
        for name in given:
            if name not in self.unmeasured:
                raise InputError(
                    "start", name, "is not among the unmeasured values", allowed=", ".join(self.unmeasured)
                )
        return np.array([given.get(name, 1.0) for name in self.unmeasured], dtype=float)

    def of(self, names: Sequence[str]) -> Balances:
        """Return only the balances of these names."""
        rows = [self.names.index(name) for name in names]
        formula, jacobian = self.formula, self.jacobian

        def some(x: Any, u: Any) -> Any:
            return np.asarray(formula(x, u))[rows]

        def some_derivatives(x: Array, u: Array) -> tuple[Array, Array]:
            by_x, by_u = jacobian(x, u)  # type: ignore[misc]
            return by_x[rows], by_u[rows]

        return replace(self, formula=some, names=tuple(names), jacobian=some_derivatives if jacobian else None)


def complex_step(formula: Formula, x: Array, u: Array) -> tuple[Array, Array]:
    """Return residuals (m,), nan outside a formula's range, and derivatives (m, n + p) from one imaginary step each."""
    z = np.concatenate([x, u])
    columns = np.repeat(z[:, None], z.size, axis=1).astype(complex)
    columns[np.diag_indices(z.size)] += 1j * COMPLEX_STEP
    f = np.asarray(formula(columns[: x.size], columns[x.size :]))
    if f.shape[1:] != (z.size,):
        f = np.broadcast_to(f, (f.shape[0], z.size))
    derivatives = f.imag / COMPLEX_STEP
    outside = np.abs(f.imag).max(axis=1, initial=0.0) > OUTSIDE
    return np.where(outside, np.nan, f[:, 0].real), derivatives


def central_differences(formula: Formula, x: Array, u: Array) -> tuple[Array, Array]:
    """Return residuals (m,) and their derivatives (m, n + p) from one call with steps to both sides."""
    z = np.concatenate([x, u])
    step = CENTRAL_STEP * np.where(z == 0, 1.0, np.abs(z))
    moved = np.repeat(z[:, None], 2 * z.size + 1, axis=1)
    at = np.arange(z.size)
    moved[at, at + 1] += step
    moved[at, at + 1 + z.size] -= step
    f = np.asarray(formula(moved[: x.size], moved[x.size :]), dtype=float)
    ahead, behind = f[:, 1 : z.size + 1], f[:, z.size + 1 :]
    return f[:, 0], (ahead - behind) / (2 * step)


def linear_balances(
    coefficients: ArrayLike,
    readings: Sequence[str],
    unmeasured: Sequence[str] = (),
    *,
    constant: ArrayLike | None = None,
    names: Sequence[str] | None = None,
) -> Balances:
    """Return the balances A [x; u] + c = 0.

    Parameters
    ----------
    coefficients : array_like of shape (m, n + p)
        Columns of the readings, then those of the unmeasured values.
    readings, unmeasured : sequences of str
        Names of the columns.
    constant : array_like of shape (m,), optional
        c; zero when left out.
    names : sequence of str, optional
        Names of the balances; ``balance_1`` ... when left out.
    """
    a = np.asarray(coefficients, dtype=float)
    n, p = len(readings), len(unmeasured)
    if a.ndim != 2 or a.shape[1] != n + p:
        raise InputError("coefficients", str(a.shape), "do not fit the names", allowed=f"{n + p} columns")
    by_x, by_u = a[:, :n], a[:, n:]
    c = np.zeros(len(a)) if constant is None else np.asarray(constant, dtype=float)
    return Balances(
        readings=tuple(readings),
        unmeasured=tuple(unmeasured),
        formula=lambda x, u: by_x @ x + by_u @ u + c[:, None],
        names=tuple(names) if names else tuple(f"balance_{at + 1}" for at in range(len(a))),
        jacobian=lambda _x, _u: (by_x, by_u),
        linear=True,
    )
