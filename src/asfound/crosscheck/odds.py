"""Odds between explanations: nobody lies, one error, two errors, each with plausible sizes.

The parity vector is normal about zero when nobody lies, about marks times sizes otherwise. With normal sizes the
evidence for each explanation is in closed form, for all pairs at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

DISTINCT = 1e-4
"""1 - |cosine| of two marks above which they can stand together in an explanation. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """Posterior probabilities; they sum to 1 over nobody, each one, each two."""

    nobody: float
    one: Array
    """Shape (k,)."""
    two: Array
    """Upper triangle, shape (k, k)."""

    @property
    def involved(self) -> Array:
        """Probability of each error to be there, alone or with another, shape (k,)."""
        return np.asarray(self.one + self.two.sum(axis=0) + self.two.sum(axis=1))

    def up_to(self, errors: int) -> float:
        """Return the probability that there are no more errors than this."""
        return 1.0 if errors > 1 else self.nobody + float(self.one.sum())

    def of(self, at: tuple[int, ...]) -> float:
        """Return the probability of one error or of a pair."""
        if len(at) == 1:
            return float(self.one[at[0]])
        return float(self.two[min(at), max(at)])


def odds(vector: Array, marks: Array, probability: Array, size: Array, spread: Array, at_most: int = 2) -> Odds:
    """Return the odds of all explanations with up to two errors.

    Parameters
    ----------
    vector : array of shape (d,)
        Parity vector.
    marks : array of shape (d, k)
        What one unit of each error adds to it. A column of zeros is an error that the balances do not see: it keeps
        the odds that it had.
    probability, size, spread : arrays of shape (k,)
        Before the balances are looked at: probability of each error, and mean and standard deviation of its size.
    at_most : int
        1 or 2 errors.
    """
    gram, along, precision = marks.T @ marks, marks.T @ vector, 1.0 / np.square(spread)
    prior = np.log(probability) - np.log1p(-probability)
    squared = np.diag(gram)
    lean = along - squared * size
    total = precision + squared
    alone = prior + size * along - 0.5 * size**2 * squared + 0.5 * lean**2 / total - 0.5 * np.log(total / precision)
    k = len(size)
    together = np.full((k, k), -np.inf)
    if at_most > 1:
        together = _together(gram, along, precision, size, total, prior)
    top = max(0.0, float(alone.max(initial=0.0)), float(together.max(initial=0.0)))
    weights = np.exp(-top), np.exp(alone - top), np.exp(together - top)
    whole = float(weights[0] + weights[1].sum() + weights[2].sum())
    return Odds(float(weights[0]) / whole, weights[1] / whole, weights[2] / whole)


def _together(gram: Array, along: Array, precision: Array, size: Array, total: Array, prior: Array) -> Array:
    """Return the log odds of each pair against nobody, upper triangle."""
    squared = np.diag(gram)
    long = np.sqrt(np.where(squared > 0, squared, 1.0))
    distinct = np.abs(gram) / long[:, None] / long < 1.0 - DISTINCT
    determinant = total[:, None] * total - gram**2
    first = (along - squared * size)[:, None] - gram * size  # leaning of the row's error, the column's being there
    second = first.T
    fit = (first**2 * total + second**2 * total[:, None] - 2 * first * second * gram) / determinant
    known = size * along - 0.5 * size**2 * squared
    pairs = prior[:, None] + prior + known[:, None] + known - size[:, None] * size * gram + 0.5 * fit
    pairs -= 0.5 * np.log(determinant / (precision[:, None] * precision))
    return np.where(np.triu(distinct, 1), pairs, -np.inf)
