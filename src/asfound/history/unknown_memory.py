"""A difference in a short series whose noise remembers, for every memory that may be.

Some dozen blocks on either side of a visit say little of how long their noise remembers, and an interval from the one
memory that fits best is too narrow. So generalised least squares are done for a grid of memories (white noise beside an
autoregression of first order), each weighed by its restricted likelihood (Patterson and Thompson 1971, Biometrika 58,
545), and Student's distributions of all are mixed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.history.estimate import Estimate
from asfound.quantities.typing import Array

SLOW = (0.3, 0.5, 0.65, 0.8, 0.88, 0.94, 0.97, 0.985)
"""Memory from block to block of what wanders."""
LONG = 1.0
"""Beforehand a memory weighs (1 - memory) to the power of minus this: a long one is hard to see in a short series, and
does most harm."""
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
"""Of what wanders, in the variance of a usual block."""


@dataclass(frozen=True, slots=True)
class Mixture:
    """Student's distributions of one difference, with their weights."""

    weights: Array
    values: Array
    errors: Array
    freedom: float

    def below(self, threshold: float) -> float:
        """Return the probability that the difference lies below a threshold."""
        from scipy.special import stdtr  # costs at the start of a program that never asks

        return float(self.weights @ stdtr(self.freedom, (threshold - self.values) / self.errors))

    def estimate(self, level: float) -> Estimate:
        """Return mean, standard deviation and the interval with equal tails."""
        mean = float(self.weights @ self.values)
        wide = self.freedom / (self.freedom - 2.0) if self.freedom > 2.0 else 3.0
        spread = math.sqrt(float(self.weights @ (self.errors**2 * wide + (self.values - mean) ** 2)))
        tail = 0.5 - level / 2.0
        return Estimate(mean, spread, self._quantile(tail, mean, spread), self._quantile(1.0 - tail, mean, spread))

    def _quantile(self, share: float, mean: float, spread: float) -> float:
        low, high = mean - 30.0 * spread, mean + 30.0 * spread
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.below(middle) < share else (low, middle)
        return 0.5 * (low + high)


def mixed_over_memory(y: Array, design: Array, column: int, when: Array, number: Array, known: float = 0.0) -> Mixture:
    """Return the distribution of one coefficient over all memories that may be.

    Parameters
    ----------
    y : array of shape (n,)
        Means of blocks.
    design : array of shape (n, p)
    column : int
        Of the coefficient.
    when : array of shape (n,)
        Number of each block on the clock: memory fades over gaps.
    number : array of shape (n,)
        Samples in each block.
    known : float
        A standard error that is added: of what was taken off before.
    """
    n, p = design.shape
    apart = np.abs(when[:, None] - when)
    white = np.median(number) / number
    logs, values, errors = [], [], []
    for slow, share in [(0.0, 0.0), *((a, b) for a in SLOW for b in SHARES)]:
        lower = np.linalg.cholesky((1.0 - share) * np.diag(white) + share * slow**apart + 1e-9 * np.eye(n))
        both = np.linalg.solve(lower, np.column_stack([design, y]))
        q, r = np.linalg.qr(both[:, :p])
        left = both[:, p] - q @ (q.T @ both[:, p])
        size = float(left @ left)
        inverse = np.linalg.inv(r)
        values.append(float(inverse[column] @ (q.T @ both[:, p])))
        errors.append(math.sqrt(size / (n - p) * float(inverse[column] @ inverse[column])))
        # white noise alone weighs as much beforehand as one memory with all its shares
        prior = math.log(len(SHARES)) if share == 0.0 else -LONG * math.log(1.0 - slow)
        likely = -float(np.log(np.diag(lower)).sum()) - float(np.log(np.abs(np.diag(r))).sum())
        logs.append(prior + likely - 0.5 * (n - p) * math.log(max(size, 1e-300)))
    weights = np.exp(np.array(logs) - max(logs))
    return Mixture(
        weights / weights.sum(), np.array(values), np.hypot(np.maximum(errors, 1e-300), known), float(n - p)
    )  # fmt: skip
