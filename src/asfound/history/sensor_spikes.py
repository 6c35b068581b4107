"""Single samples far off: the running median with a robust scale, known as the Hampel identifier.

F. R. Hampel (1974), J. Amer. Statist. Assoc. 69:383 for the scale by the median of distances; R. K. Pearson (2002),
IEEE Trans. Control Syst. Technol. 10:55 for the moving window on process data (both from memory).
"""

from __future__ import annotations

import numpy as np

from asfound.history.channels import Times
from asfound.history.sensor_fault import MAD, Fault, Mask, held
from asfound.quantities.typing import Array

WINDOW = 7
WIDE = 13
"""Samples over which the movement is looked at: two hours of ten-minute data; the liveliest stretch near counts."""
TIMES = 6.0
"""Scales of the movement from sample to sample that a spike stands off; of white noise 8.5 sigma."""
OF_RANGE = 0.15
"""Share of the channel's usual range (0.5 to 99.5 %) that a spike has at least: a small one harms nothing."""
RETURNS = 0.35
"""The samples beside a spike differ by less than this share of it."""


ALSO, AS_FAR = 3.0, 0.2
"""Scales by which another channel moves along with a spike, and their share of the spike's own: the engine did it."""


def departures(value: Array, window: int = WINDOW) -> Array:
    """Return each value less the median of the window about it. (n,)"""
    from scipy.ndimage import median_filter

    return np.asarray(value - median_filter(value, size=window, mode="nearest"))


def local_scale(value: Array, wide: int = WIDE) -> Array:
    """Return how far a sample usually lies from the one before, in the liveliest stretch near, or overall. (n,)"""
    from scipy.ndimage import maximum_filter1d, median_filter

    step = np.abs(np.diff(value, prepend=value[:1]))
    near = maximum_filter1d(median_filter(step, size=wide, mode="nearest"), 2 * wide + 1, mode="nearest")
    return np.asarray(MAD * np.maximum(near, float(np.median(step))))


def spikes(
    time: Times, value: Array, use: Mask, channel: str = "", *, times: float = TIMES, window: int = WINDOW
) -> tuple[Fault, ...]:
    """Return single samples, or two together, that stand far off and come back.

    Parameters
    ----------
    time : array (n,)
        [µs]
    value : array (n,)
        nan is missing and judged as the value before it.
    use : array (n,)
        Where the engine has settled; beside starts and stops nothing is a spike.
    """
    rows = np.flatnonzero(use)
    if len(rows) < 5 * window:
        return ()
    kept = held(value[rows])
    if not np.isfinite(kept).all():
        return ()
    distance = departures(kept, window)
    size = np.abs(distance)
    low, high = np.percentile(kept, [0.5, 99.5])
    far = np.flatnonzero((size > times * local_scale(kept)) & (size > OF_RANGE * (high - low)))
    if not len(far):
        return ()
    before, after = np.maximum(far - 2, 0), np.minimum(far + 2, len(kept) - 1)
    comes_back = np.abs(kept[after] - kept[before]) < RETURNS * size[far]
    return tuple(
        Fault(
            kind="spike",
            channel=channel,
            start=int(time[rows[row]]),
            end=int(time[rows[row]]),
            size=float(distance[row]),
            says="one sample far from those beside it",
        )
        for row in far[comes_back]
    )


def usual_step(value: Array) -> float:
    """Return how far a sample of a channel usually lies from the one before."""
    step = np.abs(np.diff(value))
    step = step[np.isfinite(step)]
    return MAD * float(np.median(step)) if len(step) else 0.0


def moves(value: Array, row: int, usual: float, window: int = WINDOW) -> float:
    """Return how many usual steps a channel stands off at a row from the median about it; 0 for one that stands."""
    half = window // 2
    about = value[max(row - half, 0) : row + half + 1]
    if usual <= 0 or not np.isfinite(value[row]):
        return 0.0
    return abs(float(value[row] - np.nanmedian(about))) / usual
