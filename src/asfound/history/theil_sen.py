"""A slope that a third of wild readings does not upset: the median of all slopes between two readings.

Theil 1950; interval of Sen 1968, J. Am. Stat. Assoc. 63, 1379, which supposes independent readings: give it block
means far enough apart, or widen it by the effective number.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from asfound.quantities.typing import Array

MOST_PAIRS = 2_000_000


@dataclass(frozen=True, slots=True)
class TheilSen:
    """Slope with Sen's interval; ``intercept`` is the median of y less slope times the median of x."""

    slope: float
    low: float
    high: float
    intercept: float


def theil_sen(x: Array, y: Array, level: float = 0.95, effective: float | None = None) -> TheilSen:
    """Return the median slope with its interval.

    Parameters
    ----------
    x, y : array of shape (n,)
        nan left out. Above some 2,000 readings an even choice of pairs stands for all.
    level : float
        Of the interval.
    effective : float, optional
        Effective number of readings where neighbours are alike: widens the interval by sqrt(n / effective).
    """
    good = np.isfinite(x) & np.isfinite(y)
    x, y = np.asarray(x, dtype=float)[good], np.asarray(y, dtype=float)[good]
    n = x.size
    if n < 2:
        return TheilSen(math.nan, math.nan, math.nan, math.nan)
    slopes = np.sort(_slopes(x, y))
    middle = float(np.median(slopes))
    ties_x, ties_y = (np.unique(values, return_counts=True)[1] for values in (x, y))
    spread = n * (n - 1) * (2 * n + 5)
    spread -= sum(int((k * (k - 1) * (2 * k + 5)).sum()) for k in (ties_x, ties_y))
    sigma = math.sqrt(max(spread / 18.0, 0.0)) * math.sqrt(n / effective if effective else 1.0)
    sigma *= slopes.size / (0.5 * n * (n - 1))
    z = NormalDist().inv_cdf(0.5 + level / 2.0)
    upper = min(round((slopes.size + z * sigma) / 2.0), slopes.size - 1)
    lower = max(round((slopes.size - z * sigma) / 2.0) - 1, 0)
    return TheilSen(
        middle, float(slopes[lower]), float(slopes[upper]), float(np.median(y) - middle * np.median(x))
    )  # fmt: skip


def _slopes(x: Array, y: Array) -> Array:
    n = x.size
    if n * (n - 1) // 2 <= MOST_PAIRS:
        i, j = np.triu_indices(n, 1)
    else:
        gaps = np.unique(np.geomspace(1, n - 1, MOST_PAIRS // n).astype(int))
        i = np.concatenate([np.arange(n - gap) for gap in gaps])
        j = np.concatenate([np.arange(gap, n) for gap in gaps])
    across = x[j] - x[i]
    apart = across != 0.0
    found: Array = (y[j] - y[i])[apart] / across[apart]
    return found
