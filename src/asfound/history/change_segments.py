"""Segments of a series: levels, levels on one slope, lines; what each kind fits, and wild readings bounded first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from asfound.history.correlated import difference_sigma
from asfound.history.normal_equations import solve
from asfound.quantities.typing import Array

Kind = Literal["level", "slope", "joined", "trend"]
"""Steps in a level; steps in a level on one common slope; straight lines that are joined; straight lines that break."""


def bound(x: Array, half: int, width: float = 3.0) -> Array:
    """Return the series kept within ``width`` standard deviations of its running median (Hampel's identifier).

    Parameters
    ----------
    x : array of shape (n,)
        Without nan.
    half : int
        Samples on each side; what lasts no longer than this cannot pull the median.
    width : float
        In standard deviations, from the MAD in the window or from differences of the series, whichever is larger.
    """
    half = min(half, max((x.size - 1) // 4, 1))
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(x, half, mode="reflect"), 2 * half + 1)
    middle = np.median(windows, axis=1)
    spread = 1.4826 * np.median(np.abs(windows - middle[:, None]), axis=1)
    wide = width * np.maximum(spread, difference_sigma(x))
    found: Array = np.clip(x, middle - wide, middle + wide)
    return found


def fit_segments(x: Array, at: Sequence[int], kind: Kind) -> tuple[Array, float]:
    """Return the least-squares fit of a kind with given changes, shape (n,), and the common slope per sample."""
    n = x.size
    if kind == "joined":
        columns = joined_columns(n, at)
        coefficients = solve(columns, x)
        return columns @ coefficients, (float(coefficients[1]) if not len(at) else math.nan)
    edges = np.array([0, *at, n])
    sizes = np.diff(edges)
    which = np.repeat(np.arange(sizes.size), sizes)

    def middle(values: Array) -> Array:
        found: Array = np.add.reduceat(values, edges[:-1]) / sizes
        return found[which]

    levels = middle(x)
    if kind == "level":
        return levels, 0.0
    t = np.arange(n, dtype=float)
    t -= middle(t)
    if kind == "slope":
        below = float(t @ t)
        slope = float(t @ x) / below if below > 0.0 else 0.0
        return levels + slope * t, slope
    below_each = np.add.reduceat(t * t, edges[:-1])
    each = np.add.reduceat(t * x, edges[:-1]) / np.where(below_each > 0.0, below_each, 1.0)
    return levels + each[which] * t, (float(each[0]) if sizes.size == 1 else math.nan)


def joined_columns(n: int, at: Sequence[int]) -> Array:
    """Return the columns of joined straight lines: level, slope, and what each change adds to it. Shape (n, k)."""
    t = np.arange(n, dtype=float)
    return np.stack([np.ones(n), t - 0.5 * (n - 1), *(np.maximum(t - one, 0.0) for one in at)], axis=1)


def columns_of(n: int, at: Sequence[int], kind: Kind) -> Array:
    """Return the columns of a kind with given changes, shape (n, k)."""
    if kind == "joined":
        return joined_columns(n, at)
    t = np.arange(n, dtype=float)
    slope = [t - 0.5 * (n - 1)] if kind == "slope" else []
    return np.stack([np.ones(n), *slope, *((t >= one).astype(float) for one in at)], axis=1)
