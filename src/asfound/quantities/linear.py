"""The law of propagation of uncertainty (JCGM 100:2008 clause 5): first order, correlated inputs, second order."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from asfound.quantities.typing import Array

STEP = 1e-3
"""Step of the derivatives in standard uncertainties; five points, so their error is of its fourth power."""
WIDE_STEP = 0.05
"""Step of the second and third derivatives, which lose more to rounding."""

Formula = Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Linear:
    """What the law of propagation gives for one formula."""

    y: float
    """Formula at the best values."""
    u: float
    """Combined standard uncertainty; of second order where that was asked for."""
    u_first_order: float
    sensitivities: tuple[float, ...]
    """Derivative of the formula by each input."""
    contributions: tuple[float, ...]
    """Sensitivity times standard uncertainty, with its sign. [unit of y]"""
    nu_eff: float | None
    """Effective degrees of freedom (Welch-Satterthwaite); infinite where all inputs' are, None where it does not
    apply: with correlated inputs."""

    def coverage_factor(self, probability: float = 0.95) -> float:
        """Return k: from t with the effective degrees of freedom cut down to an integer (G.4.1), else from the normal.

        Raises
        ------
        InputError
            The probability is not between 0 and 1, or less than 1 degree of freedom is left.
        """
        if not 0.0 < probability < 1.0:
            raise InputError("probability", f"{probability:g}", "is no coverage probability", allowed="between 0 and 1")
        if self.nu_eff is None or math.isinf(self.nu_eff):
            return NormalDist().inv_cdf(0.5 + 0.5 * probability)
        whole = math.floor(self.nu_eff + 1e-9)
        if whole < 1:
            raise InputError("nu", f"{self.nu_eff:.2g}", "leaves no degree of freedom", allowed="1 or more")
        from scipy.stats import t

        return float(t.ppf(0.5 + 0.5 * probability, whole))

    def expanded(self, probability: float = 0.95) -> float:
        """Return the expanded uncertainty U = k u."""
        return self.coverage_factor(probability) * self.u

    def interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Return y - U and y + U."""
        half = self.expanded(probability)
        return self.y - half, self.y + half


def linear(
    f: Formula,
    values: Sequence[float],
    u: Sequence[float],
    correlation: ArrayLike | None = None,
    nu: Sequence[float | None] | None = None,
    *,
    second_order: bool = False,
) -> Linear:
    """Propagate standard uncertainties through a formula.

    It is good for a formula that is nearly straight over the inputs' uncertainties; where a sensitivity vanishes it
    answers far too little. Compare with Monte Carlo when in doubt (`propagate.compare`).

    Parameters
    ----------
    f : function
        Takes arrays of equal shape positionally, one for each input, and answers an array.
    values, u : sequence of float
        Best values and standard uncertainties.
    correlation : array_like of shape (k, k), optional
        Correlation coefficients.
    nu : sequence of float or None, optional
        Degrees of freedom of each ``u``; None or infinite where it is taken as exact.
    second_order : bool
        Add the terms of second order (note to 5.1.2), for independent normal inputs.

    Raises
    ------
    InputError
        Lengths differ, an uncertainty is negative, the matrix is no correlation, or second order is asked for
        correlated inputs.

    References
    ----------
    .. [1] u^2 = sum sum c_i c_j u(x_i, x_j): JCGM 100:2008 Equations (13), (16); note to 5.1.2; G.4, Equation (G.2b).

    Examples
    --------
    >>> found = linear(lambda v, i: v / i, [6.0, 2.0], [0.06, 0.02])
    >>> f"{found.y:.3f} {found.u:.4f}"
    '3.000 0.0424'
    """
    x, spread = _inputs(values, u)
    matrix = _correlation(correlation, x.size)
    correlated = bool(np.any(matrix != np.eye(x.size)))
    y, slopes = _slopes(f, x, _steps(x, spread))
    parts = slopes * spread
    first = math.sqrt(max(float(parts @ matrix @ parts), 0.0))
    combined = first
    if second_order:
        if correlated:
            raise InputError(
                "second_order", "True", "is for independent inputs", allowed="False with a correlation",
                try_next="Use Monte Carlo.",
            )  # fmt: skip
        combined = math.sqrt(first**2 + max(_second_order(f, x, spread), 0.0))
    return Linear(
        y=y,
        u=combined,
        u_first_order=first,
        sensitivities=tuple(map(float, slopes)),
        contributions=tuple(map(float, parts)),
        nu_eff=None if correlated else effective_degrees(parts, nu),
    )


def linear_many(
    f: Formula, values: Sequence[float], u: Sequence[float], correlation: ArrayLike | None = None
) -> tuple[Array, Array]:
    """Propagate through a formula with several answers: return them and their covariance (JCGM 102:2011 6.2).

    Parameters
    ----------
    f : function
        Answers a tuple of arrays.
    values, u, correlation
        As in `linear`.

    Returns
    -------
    tuple of array
        Answers, shape (m,), and covariance, shape (m, m).
    """
    x, spread = _inputs(values, u)
    matrix = _correlation(correlation, x.size)
    step = _steps(x, spread)
    answers = len(f(*(np.asarray([one]) for one in x)))
    found = [_slopes(lambda *args, at=at: f(*args)[at], x, step) for at in range(answers)]
    parts = np.stack([slopes for _, slopes in found]) * spread
    covariance: Array = parts @ matrix @ parts.T
    return np.asarray([y for y, _ in found]), covariance


def effective_degrees(contributions: ArrayLike, nu: Sequence[float | None] | None) -> float:
    """Return the effective degrees of freedom u^4 / sum(u_i^4 / nu_i) of independent contributions.

    >>> round(effective_degrees([3.0, 4.0], [9, 16]), 1)
    25.0
    """
    parts = np.asarray(contributions, dtype=float)
    if nu is None:
        return math.inf
    if len(nu) != parts.size:
        raise InputError("nu", str(len(nu)), "are not as many as inputs", allowed=str(parts.size))
    if any(one is not None and not one > 0 for one in nu):
        raise InputError("nu", str(list(nu)), "cannot be degrees of freedom", allowed="more than 0, or None")
    weight = sum(float(part) ** 4 / one for part, one in zip(parts, nu, strict=True) if one is not None)
    return float(np.sum(parts**2)) ** 2 / weight if weight > 0.0 else math.inf


def _inputs(values: Sequence[float], u: Sequence[float]) -> tuple[Array, Array]:
    x, spread = np.asarray(values, dtype=float), np.asarray(u, dtype=float)
    if x.ndim != 1 or x.shape != spread.shape or x.size == 0:
        raise InputError("u", f"{spread.size} uncertainties", f"do not go with {x.size} values", allowed="one each")
    if not (np.isfinite(x).all() and np.isfinite(spread).all() and (spread >= 0.0).all()):
        raise InputError("u", str(list(u)), "cannot be standard uncertainties", allowed="finite, 0 or more")
    return x, spread


def _correlation(given: ArrayLike | None, size: int) -> Array:
    if given is None:
        return np.eye(size)
    matrix = np.asarray(given, dtype=float)
    if matrix.shape != (size, size) or not np.allclose(matrix, matrix.T) or not np.allclose(np.diag(matrix), 1.0):
        raise InputError(
            "correlation", f"shape {matrix.shape}", "is no correlation matrix", allowed="symmetric, 1 on it"
        )
    if np.linalg.eigvalsh(matrix).min() < -1e-9:
        raise InputError("correlation", str(matrix.tolist()), "contradicts itself: a sum would have negative variance")
    return matrix


def _steps(x: Array, spread: Array) -> Array:
    """Return the step for each input: a part of its uncertainty, or of its size where it has none."""
    return np.where(spread > 0.0, STEP * spread, STEP * np.where(x != 0.0, np.abs(x), 1.0))


def _slopes(f: Formula, x: Array, step: Array) -> tuple[float, Array]:
    """Return the formula's value and its derivatives by five points an input, all in one call of the formula."""
    shifts = np.concatenate([shift * np.diag(step) for shift in (-2.0, -1.0, 1.0, 2.0)])
    points = np.concatenate([x[None, :], x + shifts])
    answers = np.broadcast_to(np.asarray(f(*points.T), dtype=float), points.shape[:1])
    two_down, down, up, two_up = answers[1:].reshape(4, x.size)
    slopes: Array = (8.0 * (up - down) - (two_up - two_down)) / (12.0 * step)
    return float(answers[0]), slopes


def _second_order(f: Formula, x: Array, spread: Array) -> float:
    """Return sum sum (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2, with differences in units of the uncertainties."""
    used = np.flatnonzero(spread > 0.0)
    k, h = used.size, WIDE_STEP

    def at(moves: Array) -> Array:
        points = np.repeat(x[None, :], len(moves), axis=0)
        points[:, used] += h * moves * spread[used]
        return np.broadcast_to(np.asarray(f(*points.T), dtype=float), points.shape[:1])

    one = np.eye(k)
    middle = float(at(np.zeros((1, k)))[0])
    two_down, down, up, two_up = at(np.concatenate([-2 * one, -one, one, 2 * one])).reshape(4, k)
    slope = (8 * (up - down) - (two_up - two_down)) / (12 * h)
    curve = (16 * (up + down) - (two_up + two_down) - 30 * middle) / (12 * h**2)
    third = (two_up - 2 * up + 2 * down - two_down) / (2 * h**3)
    total = float(np.sum(0.5 * curve**2 + slope * third))
    for i in range(k):
        for j in range(i + 1, k):
            corners = at(np.stack([a * one[i] + b * one[j] for a in (1, -1) for b in (1, -1)]))
            both_up, i_up, j_up, both_down = map(float, corners)
            cross = (both_up - i_up - j_up + both_down) / (4 * h**2)
            ijj = ((both_up - 2 * up[i] + i_up) - (j_up - 2 * down[i] + both_down)) / (2 * h**3)
            jii = ((both_up - 2 * up[j] + j_up) - (i_up - 2 * down[j] + both_down)) / (2 * h**3)
            total += float(cross**2 + slope[i] * ijj + slope[j] * jii)  # both orders of i and j
    return total
