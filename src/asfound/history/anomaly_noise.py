"""A signal that moves more, or less, from sample to sample than it ever did: noisier, swinging, frozen.

The mean root of the differences between neighbours over some hours, as a logarithm, against its own past: a root, so
that a switch within the window counts little; the past, so that a signal that is lively by day and still by night is
judged by both.
"""

from __future__ import annotations

import math
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
    step = max(window // 2, 1)
    points = size[::step]
    length = max(PAST * slots // step, FEWEST_POINTS)
    middle, spread = _past(points, length, math.ceil(window / step))
    row = np.arange(size.size) // step
    away = np.abs(size - middle[row])
    known = spread[row] > 0.0
    found[window + 1 :] = np.where(known, away / np.where(known, spread[row], 1.0), 0.0)
    return found


def _past(points: Array, length: int, apart: int) -> tuple[Array, Array]:
    """Return median and spread of the points before each, those that share samples with it left out; 0 while few."""
    n = points.size
    padded = np.concatenate([np.full(length + apart, np.nan), points])[: n + length - 1]
    windows = np.lib.stride_tricks.sliding_window_view(padded, length)
    middle, spread = np.zeros(n), np.zeros(n)
    normal = NormalDist().inv_cdf(0.5 + TAIL / 2.0)
    for low in range(0, n, BATCH):
        past = np.sort(windows[low : low + BATCH], axis=1)  # nan come last
        count = length - np.isnan(past).sum(axis=1)
        row = np.arange(len(past))
        centre = past[row, np.maximum(count - 1, 0) // 2]
        away = np.sort(np.abs(past - centre[:, None]), axis=1)
        half = away[row, np.maximum(count - 1, 0) // 2]
        far = away[row, np.minimum((TAIL * count).astype(np.int64), np.maximum(count - 1, 0))]
        wide = np.maximum(1.4826 * half, far / normal) * (1.0 + FEW / np.sqrt(np.maximum(count, 1)))
        enough = count >= FEWEST_POINTS
        middle[low : low + BATCH] = np.where(enough, centre, 0.0)
        spread[low : low + BATCH] = np.where(enough, wide, 0.0)
    return middle, spread
