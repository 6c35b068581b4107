"""The best set of change points at a price for each: exact, and quick where there are changes.

Optimal partitioning (Jackson et al. 2005, IEEE Signal Processing Letters 12, 105) with the pruning of Killick,
Fearnhead and Eckley 2012, J. Am. Stat. Assoc. 107, 1590. Costs are squared errors about a level or a straight line per
segment, from running sums, so that one step over all starts is a few array operations.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from asfound.quantities.typing import Array

Index = npt.NDArray[np.int64]
Cost = Callable[[Index, int], Array]


def level_cost(x: Array) -> Cost:
    """Return the squared error about the mean of x[start:end], for starts (k,) and one end.

    Shape (n,) for one series, (n, d) for several that change together.
    """
    two = (x[:, None] if x.ndim == 1 else x) - np.mean(x, axis=0)
    first = np.vstack([np.zeros(two.shape[1]), np.cumsum(two, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum((two * two).sum(axis=1))])
    if two.shape[1] == 1:
        one = first[:, 0]

        def single(starts: Index, end: int) -> Array:
            total = one[end] - one[starts]
            found: Array = squares[end] - squares[starts] - total * total / (end - starts)
            return found

        return single

    def several(starts: Index, end: int) -> Array:
        total = first[end] - first[starts]
        found: Array = squares[end] - squares[starts] - (total * total).sum(axis=1) / (end - starts)
        return found

    return several


def trend_cost(x: Array) -> Cost:
    """Return the squared error about the least-squares line through x[start:end], for starts (k,) and one end."""
    y = x - np.mean(x)
    n = y.size
    t = np.arange(n) - 0.5 * (n - 1)
    sums = [np.concatenate([[0.0], np.cumsum(part)]) for part in (y, t * y, y * y)]

    def cost(starts: Index, end: int) -> Array:
        size = (end - starts).astype(float)
        middle = 0.5 * (starts + end - 1) - 0.5 * (n - 1)
        one, cross, square = (part[end] - part[starts] for part in sums)
        spread = size * (size * size - 1.0) / 12.0
        across = cross - middle * one
        found: Array = square - one * one / size - np.where(spread > 0.0, across**2 / np.maximum(spread, 1e-300), 0.0)
        return np.maximum(found, 0.0)

    return cost


def pelt(cost: Cost, number: int, penalty: float, min_size: int = 1) -> list[int]:
    """Return the change points (index of the first sample of each new segment) of least cost plus penalty.

    Parameters
    ----------
    cost : callable
        Of segments by their starts (k,) and one end; splitting a segment must not raise its cost.
    number : int
        Samples.
    penalty : float
        For each change, in the unit of the cost.
    min_size : int
        Fewest samples of a segment.
    """
    best = np.full(number + 1, np.inf)
    best[0] = -penalty
    came = np.zeros(number + 1, dtype=np.int64)
    starts = np.zeros(number + 1, dtype=np.int64)  # those still alive stand in starts[:alive]
    # a start that cannot win any more goes only when the start that beats it is far enough back to be used itself
    goes = np.full(number + 1, number + 1, dtype=np.int64)
    alive = 1
    for end in range(min_size, number + 1):
        if end >= 2 * min_size:
            starts[alive] = end - min_size
            goes[alive] = number + 1
            alive += 1
        tried = starts[:alive]
        total = best[tried] + cost(tried, end)
        at = int(total.argmin())
        best[end] = total[at] + penalty
        came[end] = tried[at]
        beaten = total > best[end]
        if beaten.any():
            np.minimum(goes[:alive], np.where(beaten, end + min_size - 1, number + 1), out=goes[:alive])
        stays = goes[:alive] > end
        if not stays.all():
            left = int(stays.sum())
            starts[:left], goes[:left] = tried[stays], goes[:alive][stays]
            alive = left
    found, end = [], number
    while end > 0:
        end = int(came[end])
        if end > 0:
            found.append(end)
    return found[::-1]
