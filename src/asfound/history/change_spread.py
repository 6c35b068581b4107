"""Where the spread of noise changes: the exact best segments of a Gaussian likelihood, over a range of prices.

Judged by description length against one spread with normal innovations or with long tails, so that a few wild readings
are no change. Cost of a segment: its number times the logarithm of its mean square (Chen and Gupta 1997, J. Am. Stat.
Assoc. 92, 739).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from asfound.history.noise_length import normal_fit, tailed_fit
from asfound.history.pelt import Cost, Index, pelt
from asfound.quantities.typing import Array

PRICES = (3.0, 5.0, 9.0, 16.0, 30.0)
"""Times log n."""
MOST_SHARE = 20
"""At most one change in so many samples."""


def spread_cost(left: Array) -> Cost:
    """Return number times logarithm of the mean square of left[start:end], for starts (k,) and one end."""
    squares = np.concatenate([[0.0], np.cumsum(left * left)])
    least = max(1e-6 * float(squares[-1]) / max(left.size, 1), 1e-300)

    def cost(starts: Index, end: int) -> Array:
        size = (end - starts).astype(float)
        found: Array = size * np.log(np.maximum((squares[end] - squares[starts]) / size, least))
        return found

    return cost


def spread_changes(left: Array, smallest: int) -> tuple[tuple[int, ...], float]:
    """Return where the spread changes, and how much shorter that makes the description; none and 0 without.

    Parameters
    ----------
    left : array of shape (n,)
        Innovations of mean zero, without memory.
    smallest : int
        Fewest samples of a segment.
    """
    n = left.size
    if n < 4 * smallest or not left.any():
        return (), 0.0
    none = left[:, None][:, :0]
    fits = [fit[0] for fit in (normal_fit(none, left), tailed_fit(none, left)) if fit is not None]
    usual = n * min(fits)
    cost = spread_cost(left)
    best: tuple[tuple[int, ...], float] = (), 0.0
    for price in PRICES:
        at = pelt(cost, n, price * math.log(n), smallest)
        if not at:
            break
        if len(at) > n // MOST_SHARE:
            continue
        edges = [0, *at, n]
        sizes = np.diff(edges)
        length = n * (math.log(2.0 * math.pi) + 1.0)
        length += sum(float(cost(np.array([a]), b)[0]) for a, b in pairwise(edges))
        length += 2.0 * len(at) * math.log(n) + float(np.log(sizes).sum()) - math.log(n)
        if usual - length > best[1]:
            best = tuple(at), usual - length
    return best
