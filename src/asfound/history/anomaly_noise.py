"""A signal that moves more, or less, from sample to sample than it ever did: noisier, swinging, frozen.

The mean root of the differences between neighbours over some hours, as a logarithm, against its own past: a root, so
that a switch within the window counts little; the past, so that a signal that is lively by day and still by night is
judged by both.
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
    total = np.cumsum(np.maximum(moves, LEAST * usual))
    size = np.log((total[window:] - total[:-window]) / window)  # of the moves up to sample window + 1 + k
    step = max(slots // 8, 1)  # eight points a day: a daily habit is met at all its times
    points = size[::step]
    middle, spread = _past(points, max(PAST * slots // step, FEWEST_POINTS), -(-window // step))
    row = np.arange(size.size) // step
    away = np.abs(size - middle[row])
    known = spread[row] > 0.0
    found[window + 1 :] = np.where(known, away / np.where(known, spread[row], 1.0), 0.0)
    return found


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
