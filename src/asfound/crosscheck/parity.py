"""The parity vector: all that the balances say against the readings, as independent numbers of variance 1.

Every test of this room is plain geometry here. With no gross error the vector is normal with unit variance in each of
its ``degrees`` directions; its squared length is the global test. An error of a reading moves it along that reading's
mark. What lies along a mark speaks for that error, what stands across speaks against it; two marks with one direction
cannot be told apart by any size of the error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.readings import Flags, Readings
from asfound.quantities.typing import Array

NOT_CHECKED = 1e-6
"""Below this share of its uncertainty a reading is not adjusted at all: nothing checks it. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Parity:
    """Parity vector and marks of the readings."""

    vector: Array
    """Shape (degrees,)."""
    marks: Array
    """What an error of one `scale` in each reading adds to the vector, shape (degrees, n)."""
    readings: Readings

    @property
    def degrees(self) -> int:
        """Number of independent checks."""
        return self.vector.size

    @property
    def chi_squared(self) -> float:
        """Squared length of the vector."""
        return float(self.vector @ self.vector)

    def of(self, effects: Array) -> Array:
        """Return marks of errors with these effects on the readings (n, k), in the readings' units: (degrees, k)."""
        marks: Array = self.marks @ (effects / self.readings.scale[:, None])
        return marks

    @property
    def detectability(self) -> Array:
        """How much of each reading's uncertainty the balances see: u of the adjustment over u, 0 to 1, shape (n,)."""
        moved = self.marks @ self.readings.correlation
        return np.asarray(np.linalg.norm(moved, axis=0))

    @property
    def noticed(self) -> Flags:
        """Whether the balances see an error of each reading at all, shape (n,)."""
        return np.asarray(np.linalg.norm(self.marks, axis=0) > NOT_CHECKED)

    def without(self, effects: Array) -> Parity:
        """Return what is left when errors with these effects (n, k) are released: they explain what they can."""
        directions = orthonormal(self.of(effects))
        vector = self.vector - directions @ (directions.T @ self.vector)
        marks = self.marks - directions @ (directions.T @ self.marks)
        basis = complement(directions)
        return Parity(basis @ vector, basis @ marks, self.readings)


def orthonormal(columns: Array) -> Array:
    """Return an orthonormal basis of the columns (d, k), shape (d, rank)."""
    if columns.size == 0:
        return np.zeros((len(columns), 0))
    sizes = np.linalg.norm(columns, axis=0)
    scaled = columns[:, sizes > NOT_CHECKED] / sizes[sizes > NOT_CHECKED]
    if scaled.size == 0:
        return np.zeros((len(columns), 0))
    left, found, _ = np.linalg.svd(scaled, full_matrices=False)
    return left[:, found > 1e-7 * found[0]]


def complement(directions: Array) -> Array:
    """Return an orthonormal basis of what is orthogonal to orthonormal directions (d, k), shape (d - k, d)."""
    d, k = directions.shape
    if k == 0:
        return np.eye(d)
    return np.linalg.qr(directions, mode="complete")[0][:, k:].T
