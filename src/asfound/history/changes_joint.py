"""Steps that several channels take at one time: what each shows weakly, all show together.

As `changes`, with one set of places for all channels, each with levels, slope and memory of its own: the costs add up
(exact search on the sum), the places are paid for once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.history.change_lengths import describe_series
from asfound.history.change_segments import bound, fit_segments
from asfound.history.changes import FEWEST, PRICES, SHARE, STRONG
from asfound.history.correlated import difference_sigma, long_run_variance
from asfound.history.estimate import Estimate
from asfound.history.pelt import level_cost, pelt
from asfound.quantities.typing import Array

MOST = 3000


@dataclass(frozen=True, slots=True)
class JointChange:
    """One change: index of the first sample after it, and the step of each channel."""

    at: int
    sizes: tuple[Estimate, ...]

    @property
    def moved(self) -> tuple[int, ...]:
        """Channels whose step leaves zero out."""
        return tuple(k for k, size in enumerate(self.sizes) if size.differs_from_zero)


def change_points_together(x: Array, *, min_size: int | None = None) -> tuple[JointChange, ...]:
    """Return the changes that channels make together.

    Parameters
    ----------
    x : array of shape (n, channels)
        Evenly spaced; samples with nan in any channel are left out, indices count all. Up to 3,000 samples: daily or
        hourly means.
    min_size : int, optional
        Fewest samples of a segment; 1 % of the series and at least 5 without it.

    Raises
    ------
    InputError
        More samples, or not two dimensions.
    """
    x = np.asarray(x, dtype=float)
    if x.ndim != 2 or len(x) > MOST:
        raise InputError("x", str(x.shape), "is no table of channels", allowed=f"(n, channels), n up to {MOST}")
    place = np.flatnonzero(np.isfinite(x).all(axis=1))
    good = x[place][:, np.ptp(x[place], axis=0) > 0.0] if place.size else x[:0]
    n = len(good)
    smallest = max(FEWEST, math.ceil(SHARE * n)) if min_size is None else max(int(min_size), 1)
    if n < 2 * smallest or not good.shape[1]:
        return ()
    columns = np.column_stack([bound(column, smallest) for column in good.T])
    scale = np.array([difference_sigma(column) or float(column.std()) for column in columns.T])
    columns = columns / np.where(scale > 0.0, scale, 1.0)
    lengths = {at: _length(columns, at) for at in _sets(columns, smallest)}
    least = min(lengths.values())
    best = min((at for at in lengths if lengths[at] <= least + STRONG), key=lambda at: (len(at), lengths[at]))
    if not best:
        return ()
    bounded = columns * np.where(scale > 0.0, scale, 1.0)
    sizes = [_sizes(column, best) for column in bounded.T]
    return tuple(JointChange(int(place[at]), tuple(of[k] for of in sizes)) for k, at in enumerate(best))


def _sets(columns: Array, smallest: int) -> set[tuple[int, ...]]:
    n, channels = columns.shape
    found: set[tuple[int, ...]] = {()}
    lag = max(n // 10, 2)
    slopes = np.median(columns[lag:] - columns[:-lag], axis=0) / lag
    for off in (columns, columns - np.arange(n)[:, None] * slopes):
        cost = level_cost(off)
        for price in PRICES:
            at = pelt(cost, n, price * math.log(n) * math.sqrt(channels), smallest)
            if len(at) <= max(10, n // 10):
                found.add(tuple(at))
            if not at:
                break
    return found


def _length(columns: Array, at: tuple[int, ...]) -> float:
    """Return the description length: each channel's own (with a slope where that pays), the places once."""
    places = 2.0 * len(at) * math.log(len(columns))
    own = 0.0
    for column in columns.T:
        own += min(describe_series(column, at, "level"), describe_series(column, at, "slope")) - places
    return own + places


def _sizes(column: Array, at: tuple[int, ...]) -> list[Estimate]:
    kind = "slope" if describe_series(column, at, "slope") < describe_series(column, at, "level") else "level"
    fitted, slope = fit_segments(column, at, "slope" if kind == "slope" else "level")
    noise = max(long_run_variance(column - fitted), float((column - fitted).var()))
    edges = [0, *at, column.size]
    found = []
    for before, one, after in zip(edges[:-2], edges[1:-1], edges[2:], strict=True):
        error = math.sqrt(noise * (1.0 / (one - before) + 1.0 / (after - one)))
        found.append(Estimate.of(float(fitted[one] - fitted[one - 1]) - slope, error))
    return found
