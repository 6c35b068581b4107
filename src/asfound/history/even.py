"""A log on an even grid, as spectra, correlations and profiles by time of day want it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asfound.history.timeline import seconds
from asfound.quantities.typing import Array


def step_of(at: Array) -> float:
    """Return the usual step of a log, s."""
    gaps = np.diff(at)
    gaps = gaps[gaps > 0.0]
    return float(np.median(gaps)) if gaps.size else 1.0


def even(time: npt.ArrayLike, x: Array, *, longest_fill: int = 3) -> tuple[Array, Array, float]:
    """Return grid times, values and step, s: holes of up to ``longest_fill`` steps filled straight, longer ones nan."""
    at = seconds(time)
    good = np.isfinite(x)
    at, values = at[good], np.asarray(x, dtype=float)[good]
    step = step_of(at)
    if at.size < 2:
        return at, values, step
    grid = at[0] + step * np.arange(round((at[-1] - at[0]) / step) + 1)
    filled = np.interp(grid, at, values)
    behind = np.clip(np.searchsorted(at, grid, "right") - 1, 0, at.size - 2)
    hole = (at[behind + 1] - at[behind] > (longest_fill + 0.5) * step) & (grid > at[behind] + 0.5 * step)
    hole &= grid < at[behind + 1] - 0.5 * step
    return grid, np.where(hole, np.nan, filled), step


def longest_stretch(x: Array) -> slice:
    """Return the longest stretch without nan in any column. Shape (n,) or (n, k)."""
    there = np.isfinite(x) if x.ndim == 1 else np.isfinite(x).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8))).reshape(-1, 2)
    if not edges.size:
        return slice(0, 0)
    low, high = edges[(edges[:, 1] - edges[:, 0]).argmax()]
    return slice(int(low), int(high))
