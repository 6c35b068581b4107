"""Take what is unmeasured out of linearised balances: what is left checks the readings (Crowe's projection)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.readings import Flags
from asfound.quantities.typing import Array

UNMEASURED_RANK = 1e-9
"""Singular values of the unmeasured part below this share of the largest count as zero. [1]"""
VARIANCE_RANK = 1e-12
"""Eigenvalues of the variance of what is left below this share of the largest, or of 1, count as zero. [1]"""
PLAIN = 1e-9
"""Pivots of that variance above this share of the largest: every combination of balances is uncertain. [1]"""
IN_NULL_SPACE = 1e-6
"""An unmeasured value whose row in the null space is larger than this cannot be told by the balances. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Checking:
    """Linearised balances without the unmeasured values, in units of the readings' scale.

    ``whitened`` turns the residuals of the balances (m,) into independent numbers of variance 1 (degrees,): the
    *parity vector* of the fault-detection literature. ``marks`` (degrees, n) says what an error of one `scale` in each
    reading does to it.
    """

    whitened: Array
    """Shape (degrees, m)."""
    marks: Array
    """Shape (degrees, n)."""
    exact: Array
    """Shape (e, m): combinations of balances in which no uncertain reading stands; they must be zero as they are."""
    row_scale: Array
    """What each balance is divided by: about its own standard uncertainty, shape (m,)."""
    unmeasured_by_residual: Array
    """Minus this times the residuals is what the unmeasured values change by, shape (p, m)."""
    unmeasured_scale: Array
    """Times a change of an unmeasured value gives it in units of the balances' uncertainties, shape (p,)."""
    observable: Flags
    """Whether each unmeasured value follows from the balances, shape (p,)."""
    redundant_structure: Array
    """How much of each reading's column survives the projection, from 0 (nothing checks it) to 1, shape (n,)."""

    @property
    def degrees(self) -> int:
        """Number of independent checks."""
        return len(self.marks)


def take_out(by_readings: Array, by_unmeasured: Array, scale: Array, correlation: Array) -> Checking:
    """Project the unmeasured values out of linearised balances and whiten what is left.

    Balances and unmeasured values are scaled first, so that a unit changes neither rank nor answer.

    Parameters
    ----------
    by_readings, by_unmeasured : arrays of shape (m, n), (m, p)
        Derivatives of the balances.
    scale : array of shape (n,)
        Scale of each reading, its standard uncertainty.
    correlation : array of shape (n, n)
        Covariance in units of the scale.

    References
    ----------
    .. [1] Crowe, Garcia Campos, Hrymak, AIChE J. 29 (1983) 881: matrix projection. By QR: Swartz 1989; by singular
       values here, which also tell the rank. Parity vector and marks: Potter and Suman 1977.
    """
    a = by_readings * scale
    rows = _row_scale(a, by_unmeasured)
    a = a / rows[:, None]
    left, solve, columns, observable = _without_unmeasured(by_unmeasured / rows[:, None])
    g = left @ a
    turn, exact = _whitening(g @ correlation @ g.T)
    total = np.linalg.norm(a, axis=0)
    return Checking(
        whitened=(turn @ left) / rows,
        marks=turn @ g,
        exact=(exact @ left) / rows,
        row_scale=rows,
        unmeasured_by_residual=solve / rows,
        unmeasured_scale=columns,
        observable=observable,
        redundant_structure=np.linalg.norm(g, axis=0) / np.where(total > 0, total, 1.0),
    )


def _whitening(variance: Array) -> tuple[Array, Array]:
    """Return what turns numbers with this variance (k, k) into independent ones, and what of them has no variance."""
    try:  # the usual case, in a fifth of the time
        half = np.linalg.cholesky(variance)
        pivots = np.square(np.diag(half))
        if pivots.min(initial=1.0) > PLAIN * pivots.max(initial=1.0):
            return np.linalg.inv(half), np.zeros((0, len(variance)))
    except np.linalg.LinAlgError:
        pass
    values, vectors = np.linalg.eigh(variance)
    keep = values > VARIANCE_RANK * values.max(initial=1.0)  # balances come with a variance of about 1
    return (vectors[:, keep] / np.sqrt(values[keep])).T, vectors[:, ~keep].T


def _row_scale(a: Array, by_unmeasured: Array) -> Array:
    """Return the standard uncertainty of each balance; where no reading stands in it, the size of its unmeasured."""
    rows = np.linalg.norm(a, axis=1)
    if (rows == 0).any():
        rows = np.where(rows > 0, rows, np.linalg.norm(by_unmeasured, axis=1))
    return np.where(rows > 0, rows, 1.0)


def _without_unmeasured(b: Array) -> tuple[Array, Array, Array, Flags]:
    """Return rows orthogonal to the unmeasured part, its pseudo-inverse, its column scale, what is observable."""
    m, p = b.shape
    if p == 0:
        return np.eye(m), np.zeros((0, m)), np.zeros(0), np.zeros(0, dtype=bool)
    columns = np.linalg.norm(b, axis=0)
    columns = np.where(columns > 0, columns, 1.0)
    left, sizes, right = np.linalg.svd(b / columns, full_matrices=True)
    rank = int((sizes > UNMEASURED_RANK * max(sizes[0], 1e-300)).sum())
    solve = (right[:rank].T / sizes[:rank]) @ left[:, :rank].T / columns[:, None]
    observable = np.abs(right[rank:]).max(axis=0, initial=0.0) < IN_NULL_SPACE
    return left[:, rank:].T, solve, columns, observable
