"""Robust regression in several dimensions, with intervals that know that neighbours in time are alike.

Iteratively reweighted least squares: Huber 1964 to start, then Tukey's biweight with c = 4.685 (95 % of the efficiency
of least squares on normal noise) about a scale from the median of absolute residuals (Holland and Welsch 1977). The
covariance is the sandwich of an M-estimate (Huber 1967) with the long-run covariance of its scores in the middle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.correlated import long_run_covariance
from asfound.history.estimate import LEVEL, Estimate
from asfound.quantities.typing import Array

Method = Literal["tukey", "huber", "least_squares"]
HUBER, TUKEY = 1.345, 4.685
SAME = 1e-13
"""Least eigenvalue of the scaled columns' mean products, below which columns say the same."""
SETTLED = 1e-5
"""Largest move of any fitted value, in standard deviations of the noise, at which the iteration ends."""
FEWEST_BLOCKS = 30
_TO_SIGMA = 1.4826


@dataclass(frozen=True, slots=True)
class RobustFit:
    """A fitted linear model y = design @ coefficients."""

    names: tuple[str, ...]
    coefficients: Array
    covariance: Array
    scale: float
    """Standard deviation of the noise about the model, outliers apart."""
    weights: Array
    """0 (left out) to 1 of each sample used, shape (n,); nan where the sample was missing."""
    number: int
    effective: float
    """Independent samples that would say as much."""
    iterations: int

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the intervals."""
        return max(self.effective - len(self.names), 1.0)

    def coefficient(self, name: str, level: float = LEVEL) -> Estimate:
        """Return a coefficient with its interval."""
        at = self.names.index(name)
        return Estimate.of(
            float(self.coefficients[at]), math.sqrt(max(self.covariance[at, at], 0.0)), self.freedom, level
        )

    def at(self, row: Array, level: float = LEVEL) -> Estimate:
        """Return the model's value for one row of the design, with the interval of the mean there."""
        return Estimate.of(
            float(row @ self.coefficients), math.sqrt(max(float(row @ self.covariance @ row), 0.0)), self.freedom, level
        )

    def predict(self, design: Array) -> Array:
        """Return the model's values, shape (n,)."""
        found: Array = np.asarray(design) @ self.coefficients
        return found


def robust_fit(
    design: Array,
    y: Array,
    names: Sequence[str] | None = None,
    *,
    method: Method = "tukey",
    correlated: bool = True,
    block: npt.NDArray[np.int64] | None = None,
) -> RobustFit:
    """Return the robust regression of y on the columns of the design.

    Parameters
    ----------
    design : array of shape (n, p)
        Columns, with one of ones for the intercept; rows with nan are left out.
    y : array of shape (n,)
        In order of time.
    names : sequence of str, optional
        Of the columns.
    method : {"tukey", "huber", "least_squares"}
        The first forgets wild readings wholly.
    correlated : bool
        Whether the covariance allows for correlation in time; without it the classical one.
    block : array of int, shape (n,), optional
        Block (day) of each sample, rising: scores are summed by block first, so that memory of days counts in a log of
        minutes. Used where there are 30 blocks or more.

    Raises
    ------
    InputError
        Fewer readings than twice the columns and one more, or columns that say the same.
    """
    design, y = np.asarray(design, dtype=float), np.asarray(y, dtype=float)
    names = tuple(names) if names is not None else tuple(f"x{i}" for i in range(design.shape[1]))
    good = np.isfinite(y) & np.isfinite(design).all(axis=1)
    a, b = design[good], y[good]
    n, p = a.shape
    if n <= p:
        raise InputError("readings", str(n), "are too few for this model", allowed=f"more than {p}")
    size = np.sqrt((a * a).mean(axis=0))
    scaled = a / np.where(size > 0.0, size, 1.0)
    if (size == 0.0).any() or float(np.linalg.eigvalsh(scaled.T @ scaled / n)[0]) < SAME:
        raise InputError(
            "design", ", ".join(names), "holds columns that say the same", allowed="columns that move apart",
            try_next="Leave out what never changed in this time.",
        )  # fmt: skip
    a = scaled
    coefficients, weights, scale, rounds = _iterate(a, b, method)
    residual = b - a @ coefficients
    inside = block[good] if block is not None else None
    covariance, effective = _covariance(a, residual, weights, scale, method, correlated, inside)
    whole = np.full(len(y), np.nan)
    whole[good] = weights
    return RobustFit(
        names, coefficients / size, covariance / np.outer(size, size), scale, whole, n, effective, rounds
    )  # fmt: skip


def _iterate(a: Array, b: Array, method: Method) -> tuple[Array, Array, float, int]:
    n, p = a.shape
    found, weights = _solve(a, b, np.ones(n)), np.ones(n)
    if method == "least_squares":
        return found, weights, math.sqrt(float(((b - a @ found) ** 2).sum()) / (n - p)), 1
    scale, rounds = 0.0, 0
    residual = b - a @ found
    for kind in ("huber",) if method == "huber" else ("huber", "tukey"):
        for _ in range(50):
            rounds += 1
            scale = mad_scale(residual, p)
            if scale <= 1e-12 * (float(np.abs(b).max()) + 1e-300):
                return found, (np.abs(residual) <= scale * TUKEY).astype(float), scale, rounds
            weights = _weights(residual / scale, kind)
            new = _solve(a, b, weights)
            left = b - a @ new
            moved = float(np.abs(left - residual).max())
            found, residual = new, left
            if moved < SETTLED * scale:
                break
    return found, weights, scale, rounds


def mad_scale(residual: Array, used: int = 0) -> float:
    """Return 1.4826 times the median of absolute residuals, the ``used`` smallest left out (those that a fit owes)."""
    n = residual.size
    least = min(used, n - 1)
    middle = [least + (n - least - 1) // 2, least + (n - least) // 2]
    ordered = np.partition(np.abs(residual), middle)
    correction = math.sqrt((n - used / 2.0) / n) if n > used else 1.0
    return _TO_SIGMA * 0.5 * float(ordered[middle[0]] + ordered[middle[1]]) * correction


def _weights(u: Array, kind: str) -> Array:
    size = np.abs(u)
    if kind == "huber":
        found: Array = HUBER / np.maximum(size, HUBER)
    else:
        found = np.where(size < TUKEY, (1.0 - (u / TUKEY) ** 2) ** 2, 0.0)
    return found


def _solve(a: Array, b: Array, weights: Array) -> Array:
    weighted = a * weights[:, None]
    try:
        found = np.asarray(np.linalg.solve(weighted.T @ a, weighted.T @ b), dtype=float)
    except np.linalg.LinAlgError:
        found = np.asarray(np.linalg.lstsq(weighted.T @ a, weighted.T @ b, rcond=None)[0], dtype=float)
    if np.abs(a.T @ a).max() < 1e14 and len(b) < 1000:  # small and exact matters more than quick: refine once
        root = np.sqrt(weights)
        again = np.linalg.lstsq(a * root[:, None], root * (b - a @ found), rcond=None)[0]
        found = found + np.asarray(again, dtype=float)
    return found


def _covariance(
    a: Array,
    residual: Array,
    weights: Array,
    scale: float,
    method: Method,
    correlated: bool,
    block: npt.NDArray[np.int64] | None,
) -> tuple[Array, float]:
    """Return the covariance of the coefficients, and how many independent samples would give it."""
    n, p = a.shape
    u = residual / scale if scale > 0.0 else np.zeros(n)
    psi = weights * residual
    bread = np.linalg.inv(a.T @ a * max(float(_slope_of_psi(u, method).mean()), 1e-3))
    plain = bread @ (float((psi**2).sum()) / (n - p) * (a.T @ a)) @ bread
    if not correlated:
        return plain, float(n)
    scores, count = a * psi[:, None], n
    if block is not None:
        starts = np.flatnonzero(np.diff(block, prepend=block[0] - 1))
        if starts.size >= FEWEST_BLOCKS:
            scores, count = np.add.reduceat(scores, starts, axis=0), starts.size
    wide = bread @ (long_run_covariance(scores) * count * count / max(count - p, 1)) @ bread
    # a long-run variance below the plain one is taken as chance: intervals are never narrower than white noise gives
    ratio = np.maximum(np.diag(wide) / np.maximum(np.diag(plain), 1e-300), 1e-12)
    stretch = np.sqrt(np.maximum(1.0, 1.0 / ratio))
    return wide * np.outer(stretch, stretch), float(np.clip(n / np.max(np.maximum(ratio, 1.0)), 1.0, n))


def _slope_of_psi(u: Array, method: Method) -> Array:
    if method == "least_squares":
        return np.ones(u.size)
    if method == "huber":
        return (np.abs(u) <= HUBER).astype(float)
    inside = 1.0 - (u / TUKEY) ** 2
    found: Array = np.where(np.abs(u) < TUKEY, inside * (1.0 - 5.0 * (u / TUKEY) ** 2), 0.0)
    return found
