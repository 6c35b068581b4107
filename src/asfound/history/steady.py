"""When an engine ran steadily: running, warm, and load and speed settled.

A sample counts when, in the time before it, the engine ran without a stop for the warm-up time, and load and speed kept
within a band (spread test) without a slope (rate test) for the settling time. The settings are settings, not constants
(common practice, no source); they are kept with the result. `variance_ratio` is the filtered test of Cao and Rhinehart
1995, J. Process Control 5, 363, for signals without a natural band.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from asfound.history.timeline import HOUR, Mask, seconds
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class SteadySettings:
    """What counts as steady."""

    warm_up: float = 3.0 * HOUR
    """Time of running after a start before anything counts, s."""
    settle: float = 0.5 * HOUR
    """Time for which load and speed must have kept still, s."""
    load_band: float = 0.05
    """Full width of the band of load, as a share of its 95 % value."""
    speed_band: float = 0.01
    """Full width of the band of speed, as a share of its median while running."""
    longest_gap: float = 2.0 * HOUR
    """A longer gap in the log counts as a stop, s."""


@dataclass(frozen=True, slots=True)
class Steady:
    """Which samples count, and why the others do not."""

    counts: Mask
    running: Mask
    warm: Mask
    settled: Mask
    """Load and speed within their bands and without slope."""
    windows: npt.NDArray[np.int64]
    """First and last-but-one index of each stretch that counts, shape (k, 2)."""
    settings: SteadySettings

    @property
    def why_not(self) -> dict[str, int]:
        """Samples left out, by the first reason that holds."""
        return {
            "stopped": int((~self.running).sum()),
            "not warm": int((self.running & ~self.warm).sum()),
            "not settled": int((self.running & self.warm & ~self.settled).sum()),
        }


def steady(
    time: npt.ArrayLike,
    running: Mask,
    load: Array,
    speed: Array | None = None,
    settings: SteadySettings | None = None,
) -> Steady:
    """Return which samples are steady.

    Parameters
    ----------
    time : array of shape (n,)
        In order; see `seconds`.
    running : bool array of shape (n,)
    load, speed : array of shape (n,)
        Any unit; nan is not settled.
    settings : SteadySettings, optional
    """
    chosen = settings or SteadySettings()
    at, runs = seconds(time), np.asarray(running, dtype=bool)
    warm = runs & (at - started(at, runs, chosen.longest_gap) >= chosen.warm_up)
    settled = np.ones(at.size, dtype=bool)
    for values, band in ((load, chosen.load_band), (speed, chosen.speed_band)):
        if values is None:
            continue
        used = np.asarray(values, dtype=float)
        good = used[runs & np.isfinite(used)]
        if not good.size:
            settled[:] = False
            continue
        typical = float(np.quantile(np.abs(good), 0.95 if values is load else 0.5))
        settled &= still(at, used, chosen.settle, band * typical)
    counts = warm & settled
    edge = np.flatnonzero(np.diff(np.concatenate([[False], counts, [False]]).astype(np.int8)))
    return Steady(counts, runs, warm, settled, edge.reshape(-1, 2), chosen)


def started(at: Array, running: Mask, longest_gap: float = 2.0 * HOUR) -> Array:
    """Return when the stretch of running that holds each sample began, s; inf where stopped.

    A log that opens with a running engine counts as started there: what ran before is not known.
    """
    fresh = running & ~np.concatenate([[False], running[:-1]])
    fresh[1:] |= running[1:] & (np.diff(at) > longest_gap)
    last = np.maximum.accumulate(np.where(fresh, np.arange(at.size), -1))
    found: Array = np.where(running & (last >= 0), at[np.maximum(last, 0)], np.inf)
    return found


def still(at: Array, x: Array, length: float, band: float) -> Mask:
    """Return where x kept within a band and without slope over the time before, in one pass of running sums.

    Spread: 4 standard deviations of the window within the band (what a range of a dozen samples is of normal noise).
    Rate: the window's own least-squares slope moves x by no more than half the band. A window of one sample is judged
    by its distance from the sample before.

    Parameters
    ----------
    at : array of shape (n,)
        Times, s, rising.
    x : array of shape (n,)
    length : float
        Of the window that ends at each sample, s.
    band : float
        Full width, unit of x.
    """
    n = x.size
    good = np.isfinite(x)
    middle = float(np.median(x[good])) if good.any() else 0.0
    y = np.where(good, x - middle, 0.0)
    first = np.searchsorted(at, at - length - 1e-6)
    end = np.arange(1, n + 1)
    first = np.minimum(first, np.maximum(end - 2, 0))
    count = (end - first).astype(float)

    def over(values: Array) -> Array:
        total = np.concatenate([[0.0], np.cumsum(values)])
        found: Array = total[end] - total[first]
        return found

    t = (at - at[0]) / HOUR
    mean_t, mean_y = over(t) / count, over(y) / count
    var_t = np.maximum(over(t * t) / count - mean_t**2, 0.0)
    var_y = np.maximum(over(y * y) / count - mean_y**2, 0.0)
    both = over(t * y) / count - mean_t * mean_y
    slope = np.divide(both, var_t, out=np.zeros(n), where=var_t > 1e-12)
    spread = 4.0 * np.sqrt(var_y)
    moved = np.abs(slope) * (t - t[first])
    few = count < 4
    quiet = np.where(few, 2.0 * np.sqrt(var_y) <= band, (spread <= band) & (moved <= 0.5 * band))
    found: Mask = quiet & (over(good.astype(float)) >= count) & (count > 1)
    return found


def variance_ratio(x: Array, of_mean: float = 0.2, of_spread: float = 0.1, of_steps: float = 0.1) -> Array:
    """Return Cao and Rhinehart's ratio R of two estimates of the variance; about 1 when steady, 2 and more when not.

    Parameters
    ----------
    x : array of shape (n,)
        Evenly spaced, without nan.
    of_mean, of_spread, of_steps : float
        Weights of the three filters.
    """
    from scipy.signal import lfilter  # costs at the start of a program that never asks

    def smooth(values: Array, weight: float) -> Array:
        found: Any = lfilter([weight], [1.0, weight - 1.0], values, zi=[(1.0 - weight) * values[0]])
        return np.asarray(found[0], dtype=float)

    before = np.concatenate([[x[0]], smooth(x, of_mean)[:-1]])
    steps = np.diff(x, prepend=x[0])
    spread, short = smooth((x - before) ** 2, of_spread), smooth(steps**2, of_steps)
    found: Array = np.divide((2.0 - of_mean) * spread, short, out=np.full(x.size, np.nan), where=short > 0.0)
    return found


@dataclass(frozen=True, slots=True)
class Bins:
    """Samples by load and speed."""

    code: npt.NDArray[np.int64]
    """Number of the bin of each sample, load first; -1 outside."""
    counts: npt.NDArray[np.int64]
    """Samples in each, shape (load bins, speed bins)."""


def load_speed_bins(
    load: Array, speed: Array | None, counts: Mask, load_edges: Array, speed_edges: Array | None = None
) -> Bins:  # fmt: skip
    """Return the bin of each sample; edges belong to the bin above, the last edge to the last bin."""
    one, many = _bin(load, load_edges)
    two, wide = (np.zeros(load.size, dtype=np.int64), 1) if speed is None or speed_edges is None else _bin(
        speed, speed_edges
    )  # fmt: skip
    code = np.where(counts & (one >= 0) & (two >= 0), one * wide + two, -1)
    found = np.bincount(code[code >= 0], minlength=many * wide).reshape(many, wide)
    return Bins(code.astype(np.int64), found.astype(np.int64))


def _bin(values: Array, edges: Array) -> tuple[npt.NDArray[np.int64], int]:
    at = np.searchsorted(edges, values, "right") - 1
    at = np.where(values == edges[-1], edges.size - 2, at)
    inside = np.isfinite(values) & (at >= 0) & (at < edges.size - 1)
    return np.where(inside, at, -1).astype(np.int64), edges.size - 1
