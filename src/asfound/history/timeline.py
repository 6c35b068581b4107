"""Time of a log as numbers: seconds, and hours run."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from asfound.quantities.typing import Array

Mask = npt.NDArray[np.bool_]
HOUR = 3600.0
DAY = 86400.0


def seconds(time: npt.ArrayLike) -> Array:
    """Return time as float seconds, shape (n,).

    Parameters
    ----------
    time : array of shape (n,)
        Whole numbers are microseconds UTC, datetime64 is what it is, floats are seconds already.
    """
    given: npt.NDArray[Any] = np.asarray(time)
    if np.issubdtype(given.dtype, np.datetime64):
        given = given.astype("datetime64[us]").astype(np.int64)
    if np.issubdtype(given.dtype, np.integer):
        found: Array = given * 1e-6
        return found
    return given.astype(float)


def run_hours(time: npt.ArrayLike, running: Mask, longest_step: float = 2.0 * HOUR) -> Array:
    """Return hours run since the first sample, shape (n,).

    A step between two samples counts while the engine ran at its beginning; one longer than ``longest_step`` seconds
    is a gap in the log and counts that long at the most, so that a gap never makes hours that nobody saw.
    """
    step = np.diff(seconds(time))
    counted = np.where(np.asarray(running, dtype=bool)[:-1], np.clip(step, 0.0, longest_step), 0.0)
    return np.concatenate([[0.0], np.cumsum(counted)]) / HOUR


def blocks(time: npt.ArrayLike, length: float = DAY) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return which block each sample lies in (0, 1, 2 ... without holes) and the number of the block on the clock.

    Parameters
    ----------
    time : array of shape (n,)
        In order.
    length : float
        Of a block, s.
    """
    on_clock = np.floor(seconds(time) / length).astype(np.int64)
    found, which = np.unique(on_clock, return_inverse=True)
    return which.astype(np.int64), found


def block_means(which: npt.NDArray[np.int64], values: Array) -> Array:
    """Return means by block, nan left out. Values (n,) or (n, k) give (blocks,) or (blocks, k); empty blocks nan."""
    two = values[:, None] if values.ndim == 1 else values
    number = int(which.max()) + 1 if which.size else 0
    found = np.full((number, two.shape[1]), np.nan)
    for k in range(two.shape[1]):
        good = np.isfinite(two[:, k])
        count = np.bincount(which[good], minlength=number)
        total = np.bincount(which[good], weights=two[good, k], minlength=number)
        np.divide(total, count, out=found[:, k], where=count > 0)
    return found[:, 0] if values.ndim == 1 else found
