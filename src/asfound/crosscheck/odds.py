"""Odds between explanations: nobody lies, one error, two errors, each with plausible sizes.

The parity vector is normal about zero when nobody lies, about marks times sizes otherwise. With normal sizes the
evidence for each explanation is in closed form, for all pairs at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

DISTINCT = 0.005
"""1 - |cosine| of two marks above which they can stand together in an explanation. [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """Posterior probabilities of nobody, of each error alone, of each two; they sum to 1.

    Kept as logarithms of the odds against nobody: a plain lie makes them larger than a float holds.
    """

    log_one: Array
    """Shape (k,)."""
    log_two: Array
    """Upper triangle, -inf elsewhere, shape (k, k)."""

    def log_total(self, errors: int) -> float:
        """Return the logarithm of all odds with no more errors than this, nobody among them."""
        of_two = self.log_two[np.isfinite(self.log_two)] if errors > 1 else self.log_one[:0]
        return _log_sum(np.concatenate([[0.0], self.log_one, of_two]))

    @property
    def nobody(self) -> float:
        """Probability that nobody lies."""
        return float(np.exp(-self.log_total(2)))

    @property
    def one(self) -> Array:
        """Probability of each error alone, shape (k,)."""
        return np.asarray(np.exp(self.log_one - self.log_total(2)))

    @property
    def two(self) -> Array:
        """Probability of each pair, upper triangle, shape (k, k)."""
        return np.asarray(np.exp(self.log_two - self.log_total(2)))

    @property
    def involved(self) -> Array:
        """Probability of each error to be there, alone or with another, shape (k,)."""
        two = self.two
        return np.asarray(self.one + two.sum(axis=0) + two.sum(axis=1))

    def among(self, sets: Sequence[tuple[int, ...]], errors: int) -> float:
        """Return the probability of any of these sets of errors among all with no more errors than ``errors``."""
        logs = [self.log_one[at[0]] if len(at) == 1 else self.log_two[min(at), max(at)] for at in sets]
        return float(np.exp(_log_sum(np.array(logs)) - self.log_total(errors)))


def _log_sum(logs: Array) -> float:
    """Return the logarithm of a sum given by logarithms; nan where one is nan."""
    top = float(logs.max())
    return top if not np.isfinite(top) else top + float(np.log(np.exp(logs - top).sum()))


def odds(vector: Array, marks: Array, log_prior: Array, size: Array, spread: Array, at_most: int = 2) -> Odds:
    """Return the odds of all explanations with up to two errors.

    Parameters
    ----------
    vector : array of shape (d,)
        Parity vector.
    marks : array of shape (d, k)
        What one unit of each error adds to it. A column of zeros is an error that the balances do not see: it keeps
        the odds that it had.
    log_prior, size, spread : arrays of shape (k,)
        Before the balances are looked at: logarithm of the odds of each error, mean and standard deviation of its size.
    at_most : int
        1 or 2 errors.
    """
    gram, along, precision = marks.T @ marks, marks.T @ vector, 1.0 / np.square(spread)
    squared = np.diag(gram)
    lean = along - squared * size
    total = precision + squared
    alone = size * along - 0.5 * size**2 * squared + 0.5 * lean**2 / total - 0.5 * np.log(total / precision)
    if at_most > 1:
        return Odds(log_prior + alone, _together(gram, along, precision, size, total, log_prior))
    return Odds(log_prior + alone, np.full((len(size), len(size)), -np.inf))


def _together(gram: Array, along: Array, precision: Array, size: Array, total: Array, prior: Array) -> Array:
    """Return the log odds of each pair against nobody, upper triangle."""
    squared = np.diag(gram)
    long = np.sqrt(np.where(squared > 0, squared, 1.0))
    distinct = np.triu(np.abs(gram) / long[:, None] / long < 1.0 - DISTINCT, 1)
    determinant = np.where(distinct, total[:, None] * total - gram**2, total[:, None] * total)
    first = (along - squared * size)[:, None] - gram * size  # leaning of the row's error, the column's being there
    second = first.T
    fit = (first**2 * total + second**2 * total[:, None] - 2 * first * second * gram) / determinant
    known = size * along - 0.5 * size**2 * squared
    pairs = prior[:, None] + prior + known[:, None] + known - size[:, None] * size * gram + 0.5 * fit
    pairs -= 0.5 * np.log(determinant / (precision[:, None] * precision))
    return np.where(distinct, pairs, -np.inf)
