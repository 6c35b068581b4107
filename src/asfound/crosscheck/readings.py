"""Readings with their joint uncertainty, as reconciliation takes them: names, values, covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from asfound.errors import InputError
from asfound.quantities.typing import Array

Flags: TypeAlias = npt.NDArray[np.bool_]
NOT_NEGATIVE = -1e-8
"""A correlation matrix may have eigenvalues this far below zero by rounding. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Values with their covariance, in the units of the values.

    An assumption that nobody measured (an efficiency, a loss) is a reading too: a value with its uncertainty, which
    the balances may find wrong. A covariance may be singular: two readings of one instrument share their error; a
    variance of 0 is a value that nothing moves.
    """

    names: tuple[str, ...]
    values: Array
    covariance: Array
    u: Array = field(init=False)
    """Standard uncertainties, shape (n,)."""
    scale: Array = field(init=False)
    """What each reading is divided by: its u; for a value without uncertainty a thousandth of it, shape (n,)."""
    correlation: Array = field(init=False)
    """Covariance in units of `scale`: ones on the diagonal, zero for what has no uncertainty, shape (n, n)."""
    independent_errors: bool = field(init=False)
    """Whether no two errors have anything in common."""

    def __post_init__(self) -> None:
        values, covariance = np.asarray(self.values, dtype=float), np.asarray(self.covariance, dtype=float)
        object.__setattr__(self, "names", tuple(self.names))
        object.__setattr__(self, "values", values)
        object.__setattr__(self, "covariance", covariance)
        n = len(self.names)
        if len(set(self.names)) != n:
            raise InputError("readings", ", ".join(self.names), "name a reading twice", allowed="each once")
        if values.shape != (n,) or covariance.shape != (n, n):
            shapes = f"{values.shape} and {covariance.shape}"
            raise InputError("readings", shapes, f"do not fit {n} names", allowed=f"({n},) and ({n}, {n})")
        if not (np.isfinite(values).all() and np.isfinite(covariance).all()):
            raise InputError("readings", str(values), "hold a value that is no number", allowed="finite values")
        object.__setattr__(self, "independent_errors", _check_covariance(covariance))
        u = np.sqrt(np.diag(covariance))
        scale = np.where(u > 0, u, np.where(values == 0, 1.0, np.abs(values) * 1e-3))
        object.__setattr__(self, "u", u)
        object.__setattr__(self, "scale", scale)
        object.__setattr__(self, "correlation", covariance / scale[:, None] / scale)

    @classmethod
    def independent(cls, names: Sequence[str], values: ArrayLike, u: ArrayLike) -> Readings:
        """Return readings whose errors have nothing in common; ``u`` are standard uncertainties (k = 1)."""
        return cls(tuple(names), np.asarray(values, dtype=float), np.diag(np.square(np.asarray(u, dtype=float))))

    @classmethod
    def from_draws(cls, names: Sequence[str], draws: ArrayLike) -> Readings:
        """Return readings from the draws of a visit, shape (n, number + 1); element 0 of each is its best value."""
        drawn = np.asarray(draws, dtype=float)
        return cls(tuple(names), drawn[:, 0], np.atleast_2d(np.cov(drawn[:, 1:])))

    def at(self, name: str) -> int:
        """Return the row of a reading; InputError when there is none of that name."""
        try:
            return self.names.index(name)
        except ValueError:
            raise InputError("reading", name, "is not among the readings", allowed=", ".join(self.names)) from None

    def in_order(self, names: Sequence[str]) -> Readings:
        """Return the same readings in the order of ``names``, which must be the same names."""
        if tuple(names) == self.names:
            return self
        if set(names) != set(self.names):
            apart = ", ".join(sorted(set(names) ^ set(self.names)))
            raise InputError("readings", apart, "are in the balances or in the readings, not in both")
        order = [self.names.index(name) for name in names]
        return Readings(tuple(names), self.values[order], self.covariance[np.ix_(order, order)])


def _check_covariance(covariance: Array) -> bool:
    """Refuse what is no covariance: not symmetric, a negative variance, a sum with a negative variance.

    Return whether it is diagonal.
    """
    variance = np.diag(covariance)
    if (variance < 0).any():
        raise InputError("covariance", str(variance), "holds a negative variance", allowed="0 and above")
    if np.count_nonzero(covariance) == np.count_nonzero(variance):
        return True
    if not np.allclose(covariance, covariance.T, rtol=1e-9, atol=0.0):
        raise InputError("covariance", "as given", "is not symmetric", allowed="symmetric")
    u = np.sqrt(np.where(variance > 0, variance, 1.0))
    if np.linalg.eigvalsh(covariance / u[:, None] / u)[0] < NOT_NEGATIVE:
        raise InputError("covariance", "as given", "gives a sum of readings a negative variance", allowed="positive")
    return False
