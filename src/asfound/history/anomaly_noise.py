"""A signal that moves more, or less, from sample to sample than it ever did: noisier, swinging, frozen.

The mean root of the differences between neighbours over some hours, as a logarithm, against its own past: without the
two largest, so that a switch or one wild reading within the window does not count; the past, so that a signal that is
lively by day and still by night is judged by both. Over one such window, and over four of them, as what lasts longer
may be smaller.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from asfound.quantities.typing import Array

FEWEST = 12
"""Samples of a window; an eighth of a day where that is more."""
PAST = 28
"""Days."""
TAIL = 0.98
FEWEST_POINTS = 24
LEAST = 0.05
"""Of the usual move, below which a move counts as this: what is frozen, or stands between two digits."""
BATCH = 2000
LARGEST = 2
"""Moves of a window that are left out."""
LONGER = 4
"""Windows that are judged together."""
FEW = 4.0
"""A spread from n points is taken 1 + FEW / sqrt(n) times as large."""


def noise_score(x: Array, slots: int) -> Array:
    """Return how far the noise is from what it was, in standard deviations of its past.

    Parameters
    ----------
    x : array of shape (n,)
        In order, evenly spaced but for gaps, without nan.
    slots : int
        Samples in a day.

    Returns
    -------
    array of shape (n,)
        Never negative; 0 while learning.
    """
    found = np.zeros(x.size)
    window = max(slots // 8, FEWEST)
    if x.size < FEWEST_POINTS * window:
        return found
    moves = np.sqrt(np.abs(np.diff(x)))
    usual = float(np.median(moves[: FEWEST_POINTS * window]))
    if not usual > 0.0:
        return found
    size = _trimmed(np.maximum(moves, LEAST * usual), window)  # of the moves up to sample window + k
    found[window:] = _beside_past(np.log(size), window, slots)
    longer = np.mean([size[k * window : size.size - (LONGER - 1 - k) * window] for k in range(LONGER)], axis=0)
    first = LONGER * window
    found[first:] = np.maximum(found[first:], _beside_past(np.log(longer), first, slots))
    return found


def _trimmed(moves: Array, window: int) -> Array:
    """Return the means of each window without its largest moves. Shape (n - window + 1,)."""
    total = np.concatenate([[0.0], np.cumsum(moves)])
    found = total[window:] - total[:-window]
    windows = np.lib.stride_tricks.sliding_window_view(moves, window)
    for low in range(0, found.size, BATCH):
        part = np.partition(windows[low : low + BATCH], window - LARGEST, axis=1)
        found[low : low + BATCH] -= part[:, window - LARGEST :].sum(axis=1)
    return np.asarray(found / (window - LARGEST))


def _beside_past(size: Array, window: int, slots: int) -> Array:
    """Return how far each size lies from those before it that share no sample with it, in standard deviations."""
    step = max(slots // 8, 1)  # eight points a day: a daily habit is met at all its times
    points = size[::step]
    middle, spread = _past(points, max(PAST * slots // step, FEWEST_POINTS), -(-window // step))
    row = np.arange(size.size) // step
    away = np.abs(size - middle[row])
    known = spread[row] > 0.0
    return np.where(known, away / np.where(known, spread[row], 1.0), 0.0)


def _past(points: Array, length: int, late: int) -> tuple[Array, Array]:
    """Return median and spread of the points before each; 0 while there are few.

    The last ``late`` of them, which share samples with what is judged, are left out.
    """
    middle, spread = np.zeros(points.size), np.zeros(points.size)
    full = length + late
    for k in range(FEWEST_POINTS + late, min(full, points.size)):
        middle[k : k + 1], spread[k : k + 1] = _middle_and_spread(points[None, : k - late])
    windows = np.lib.stride_tricks.sliding_window_view(points, length) if points.size > full else points[:0, None]
    for low in range(full, points.size, BATCH):
        part = slice(low, min(low + BATCH, points.size))
        middle[part], spread[part] = _middle_and_spread(windows[part.start - full : part.stop - full])
    return middle, spread


def _middle_and_spread(past: Array) -> tuple[Array, Array]:
    """Return median and spread of each row: the larger of MAD and tail, wider where a row is short."""
    count = past.shape[1]
    half, far = (count - 1) // 2, min(int(TAIL * count), count - 1)
    centre = np.partition(past, half, axis=1)[:, half]
    away = np.partition(np.abs(past - centre[:, None]), [half, far], axis=1)
    wide = np.maximum(1.4826 * away[:, half], away[:, far] / NormalDist().inv_cdf(0.5 + TAIL / 2.0))
    return centre, wide * (1.0 + FEW / count**0.5)
