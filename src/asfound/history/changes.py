"""Where the level of a series changes for good, and how sure that is.

Kinds are tried and the shortest description wins (minimum description length, Davis, Lee and Rodriguez-Yam 2006, J. Am.
Stat. Assoc. 101, 223): levels that step; levels that step on one common slope (drift and repairs); joined straight
lines, where a growth or a drift begins or ends; and, only when asked for, straight lines that break. For levels and
broken lines the exact best segments are found over a range of prices (`pelt`; a range of prices as Haynes, Eckley and
Fearnhead 2017, J. Comput. Graph. Stat. 26, 134) as if noise had no memory; then each is bettered with the memory of
what is left (`changes_beside_memory`). Each answer is judged with noise that remembers, an autoregression of order 0 to
3 whose innovations may have long tails but are never free (`noise_length`): a wandering series without steps gets none,
and memory alone does not explain a step away.

What does not last `min_size` samples is an outlier, not a change: a running median of twice that width bounds it first
(Davies and Gather 1993, J. Am. Stat. Assoc. 88, 782).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.history.changes_beside_memory import bettered, filtered
from asfound.history.correlated import difference_sigma, long_run_variance
from asfound.history.estimate import UNKNOWN, Estimate
from asfound.history.noise_length import noise_length
from asfound.history.normal_equations import rest, solve
from asfound.history.pelt import level_cost, pelt, trend_cost
from asfound.quantities.typing import Array

Kind = Literal["level", "slope", "joined", "trend"]
"""Steps in a level; steps in a level on one common slope; straight lines that are joined; straight lines that break."""
REFITS = 3
FEWEST = 5
SHARE = 0.01
"""A segment holds at least this share of the samples, and at least `FEWEST`."""
PRICES = np.geomspace(2.0, 250.0, 8)
"""Times sigma^2 log n."""
MOST = 2000
"""A longer series is searched in means of so many blocks, then looked at closely about each change."""
STRONG = 6.0
"""Description length that changes must save, on the scale of twice the logarithm of the odds: strong evidence by Kass
and Raftery 1995, J. Am. Stat. Assoc. 90, 773."""
LOCATION = -2.0 * math.log(1.0 - math.sqrt(0.95))
"""How far the squared error over the long-run variance may rise in the 95 % set of a change's place: 7.35 (Eo and
Morley 2015, Quantitative Economics 6, 463)."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change: index of the first sample after it, with the 95 % set of that index, and its size.

    The size is the step of the level; for joined lines, which have none, the change of the slope per sample.
    """

    at: int
    earliest: int
    latest: int
    size: Estimate


@dataclass(frozen=True, slots=True)
class Changes:
    """The changes of a series, under the kind of model that describes it shortest."""

    kind: Kind
    changes: tuple[Change, ...]
    fitted: Array
    """Level (with slope) at each sample, shape (n,)."""
    slope: float
    """Per sample, common to all segments; 0 for kind ``level``, nan for lines with changes."""
    memory: tuple[float, ...]
    """Coefficients of the noise's autoregression."""
    sigma: float
    """Standard deviation of the noise's innovations."""
    gain: float
    """Description length saved against the best description without change; at least `STRONG` where there is one."""

    @property
    def at(self) -> list[int]:
        """Index of the first sample of each new segment."""
        return [one.at for one in self.changes]


@dataclass(frozen=True, slots=True)
class _Description:
    length: float
    kind: Kind
    at: tuple[int, ...]
    memory: Array
    variance: float


def change_points(
    x: Array, kinds: Sequence[Kind] = ("level", "slope", "joined"), *, min_size: int | None = None
) -> Changes:  # fmt: skip
    """Return the changes of a series of evenly spaced samples.

    Parameters
    ----------
    x : array of shape (n,)
        nan is left out; indices count all samples. Daily or hourly means of normalised residuals, not raw readings.
    kinds : sequence of {"level", "slope", "joined", "trend"}
        Which descriptions may win.
    min_size : int, optional
        Fewest samples that make a segment; 1 % of the series and at least 5 without it.
    """
    x = np.asarray(x, dtype=float)
    place = np.flatnonzero(np.isfinite(x))
    good = x[place]
    n = good.size
    smallest = max(FEWEST, math.ceil(SHARE * n)) if min_size is None else max(int(min_size), 1)
    if n < 2 * smallest or np.ptp(good) == 0.0:
        return _nothing(x, good)
    each = max(1, math.ceil(n / MOST))
    whole = n // each * each
    coarse = good[:whole].reshape(-1, each).mean(axis=1) if each > 1 else good
    bounded = bound(coarse, max(smallest // each, 1))
    found = [one for kind in kinds for one in _candidates(bounded, kind, max(smallest // each, 2 if each > 1 else 1))]
    none = min((one for one in found if not one.at), key=lambda one: one.length)
    least = min(one.length for one in found)
    # each change has to pay by strong evidence: the fewest of those that are nearly as short
    best = min((one for one in found if one.length <= least + STRONG), key=lambda one: (len(one.at), one.length))
    close = bound(good, smallest)
    at = _looked_at_closely(close, [k * each for k in best.at], best.kind, each) if each > 1 else list(best.at)
    fitted, slope = fit_segments(close, at, best.kind)
    made = _sized(close, fitted, at, best.kind)
    whole_fit = np.interp(np.arange(x.size), place, fitted)
    shown = tuple(
        Change(int(place[one.at]), int(place[one.earliest]), int(place[one.latest]), one.size) for one in made
    )  # fmt: skip
    return Changes(
        best.kind, shown, whole_fit, slope, tuple(float(c) for c in best.memory), math.sqrt(best.variance),
        float(none.length - best.length),
    )  # fmt: skip


def _nothing(x: Array, good: Array) -> Changes:
    level = float(np.median(good)) if good.size else math.nan
    return Changes("level", (), np.full(x.size, level), 0.0, (), float(good.std()) if good.size else math.nan, 0.0)


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


def _candidates(x: Array, kind: Kind, smallest: int) -> list[_Description]:
    sets = [()] if kind == "joined" else _sets(x, kind, smallest)
    found = {at: _describe(x, at, kind) for at in sets}
    if kind == "trend":
        return list(found.values())

    def length_of(at: tuple[int, ...]) -> tuple[float, Array]:
        if at not in found:
            found[at] = _describe(x, at, kind)
        return found[at].length, found[at].memory

    starts = {(): None, min(found, key=lambda at: found[at].length): None}
    for at in starts:
        bettered(x, at, kind, smallest, length_of)
    return list(found.values())


def _sets(x: Array, kind: Kind, smallest: int) -> list[tuple[int, ...]]:
    """Return the best sets of changes over a range of prices, for noise without memory."""
    n = x.size
    variance = difference_sigma(x) ** 2
    if not variance > 0.0:
        variance = float(np.diff(x).var() / 2.0) or float(x.var())
    sets: dict[tuple[int, ...], None] = {(): None}
    cost = level_cost(x) if kind == "level" else trend_cost(x)
    slope: float | None = None
    for price in variance * math.log(n) * PRICES:
        if kind == "slope":
            at, slope = _on_a_slope(x, price, smallest, slope)
        else:
            at = pelt(cost, n, price, smallest)
        if len(at) <= max(10, n // 10):  # finer cuts never win
            sets[tuple(at)] = None
        if not at:  # nor does a dearer price bring any back
            break
    return list(sets)


def _on_a_slope(x: Array, price: float, smallest: int, slope: float | None) -> tuple[list[int], float]:
    """Return the best steps on a common slope, and that, taking turns: slope given steps, steps given slope."""
    lag = max(x.size // 10, 2)
    slope = float(np.median(x[lag:] - x[:-lag])) / lag if slope is None else slope
    t = np.arange(x.size)
    at: list[int] | None = None
    for _ in range(3):
        new = pelt(level_cost(x - slope * t), x.size, price, smallest)
        if new == at:
            break
        at, slope = new, fit_segments(x, new, "slope")[1]
    return at or [], slope


def _describe(x: Array, at: tuple[int, ...], kind: Kind) -> _Description:
    """Return the description length, twice the natural logarithm of the likelihood and what the model costs."""
    n = x.size
    sizes = np.diff([0, *at, n])
    length = 2.0 * len(at) * math.log(n) + (2.0 if kind == "trend" else 1.0) * float(np.log(sizes).sum())
    length += math.log(n) if kind in ("slope", "joined") else 0.0
    noise = noise_length(x - fit_segments(x, at, kind)[0])
    if at and kind != "trend":  # beside strong memory the size of a step is its jump, not a difference of means
        columns = _columns(n, at, kind)
        for _ in range(REFITS):
            if not noise.memory.size or (kind != "joined" and noise.memory[0] > 1.0):
                break  # what is smoother than a random walk has no level that could step, only slopes
            coefficients = solve(filtered(columns, noise.memory), filtered(x[:, None], noise.memory)[:, 0])
            again = noise_length(x - columns @ coefficients)
            if again.length >= noise.length:
                break
            noise = again
    return _Description(length + noise.length, kind, at, noise.memory, noise.variance)


def _columns(n: int, at: Sequence[int], kind: Kind) -> Array:
    if kind == "joined":
        return joined_columns(n, at)
    t = np.arange(n, dtype=float)
    slope = [t - 0.5 * (n - 1)] if kind == "slope" else []
    return np.stack([np.ones(n), *slope, *((t >= one).astype(float) for one in at)], axis=1)


def describe_series(x: Array, at: tuple[int, ...], kind: Kind) -> float:
    """Return the description length of one series with given changes, in twice natural logarithms."""
    return _describe(x, at, kind).length


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


def _looked_at_closely(x: Array, at: list[int], kind: Kind, reach: int) -> list[int]:
    """Return the changes moved, one after the other, to where the error is least within the coarse step."""
    moved = list(at)
    for k, one in enumerate(at):
        others = moved[:k] + moved[k + 1 :]
        low, high = max(one - 2 * reach, 1), min(one + 2 * reach, x.size - 1)
        low = max([low, *[o + 1 for o in others if o < one]])
        high = min([high, *[o - 1 for o in others if o > one]])
        errors = [
            float(((x - fit_segments(x, sorted([*others, place]), kind)[0]) ** 2).sum())
            for place in range(low, high + 1)
        ]  # fmt: skip
        moved[k] = low + int(np.argmin(errors)) if errors else one
    return sorted(moved)


def _sized(x: Array, fitted: Array, at: Sequence[int], kind: Kind) -> list[Change]:
    """Return each change with its size and the set of its place, from the samples between its neighbours."""
    noise = long_run_variance(x - fitted) if at else math.nan
    plain = float((x - fitted).var())
    noise = max(noise, plain)
    if kind == "joined":
        return _joins(x, at, noise)
    edges = [0, *at, x.size]
    found = []
    for before, one, after in zip(edges[:-2], edges[1:-1], edges[2:], strict=True):
        low, high = _place_set(x, fitted, (before, one, after), noise)
        error = math.sqrt(noise * (1.0 / (one - before) + 1.0 / (after - one)))
        if kind == "trend":
            error *= 2.0  # a line at its end is four times as uncertain, in variance, as the mean
        step = float(fitted[one] - fitted[one - 1])
        if kind == "slope" and len(fitted) > 2:
            step -= float(fitted[min(one + 1, after - 1)] - fitted[one]) if after - one > 1 else 0.0
        size = Estimate.of(step, error) if math.isfinite(error) else UNKNOWN
        found.append(Change(one, low, high, size))
    return found


def _joins(x: Array, at: Sequence[int], noise: float) -> list[Change]:
    """Return the changes of slope of joined lines, and the places whose squared error is not clearly more."""
    n = x.size
    columns = joined_columns(n, at)
    scaled = columns / np.abs(columns).max(axis=0)
    inverse = np.linalg.inv(scaled.T @ scaled) * noise
    coefficients = solve(columns, x)
    found = []
    edges = [0, *at, n]
    for k, one in enumerate(at):
        others = [place for place in at if place != one]
        tried = np.unique(
            np.linspace(edges[k] + 1, edges[k + 2] - 2, min(edges[k + 2] - edges[k] - 2, 200)).astype(int)
        )
        errors = np.array(
            [float((rest(joined_columns(n, sorted([*others, int(place)])), x) ** 2).sum()) for place in tried]
        )
        inside = tried[errors - errors.min() <= LOCATION * noise]
        error = math.sqrt(max(float(inverse[k + 2, k + 2]), 0.0)) / float(np.abs(columns[:, k + 2]).max())
        size = Estimate.of(float(coefficients[k + 2]), error) if math.isfinite(error) else UNKNOWN
        found.append(Change(one, min(int(inside[0]), one), max(int(inside[-1]), one), size))
    return found


def _place_set(x: Array, fitted: Array, edges: tuple[int, int, int], noise: float) -> tuple[int, int]:
    """Return the ends of the places whose squared error is not clearly more than the least."""
    before, one, after = edges
    step = float(fitted[one] - fitted[one - 1])
    # moving the change from `one` to k gives the samples between to the other side
    left = np.cumsum(((x - fitted - step) ** 2 - (x - fitted) ** 2)[before:one][::-1])[: one - before - 1]
    right = np.cumsum(((x - fitted + step) ** 2 - (x - fitted) ** 2)[one:after])[: after - one - 1]
    wall = LOCATION * noise
    near_left, near_right = np.flatnonzero(left <= wall), np.flatnonzero(right <= wall)
    low = one - (int(near_left.max()) + 1 if near_left.size else 0)
    high = one + (int(near_right.max()) + 1 if near_right.size else 0)
    return low, high


@dataclass(frozen=True, slots=True)
class Pettitt:
    """One change by ranks: K, samples before it, probability of as large a K without change."""

    k: float
    before: int
    probability: float


def pettitt(x: Array) -> Pettitt:
    """Return Pettitt's test for one change (1979, Applied Statistics 28, 126), for independent samples.

    p is about 2 exp(-6 K^2 / (n^3 + n^2)).
    """
    good = np.asarray(x, dtype=float)[np.isfinite(x)]
    n = good.size
    ordered = np.sort(good)
    ranks = 0.5 * (np.searchsorted(ordered, good, "left") + np.searchsorted(ordered, good, "right") + 1)
    u = 2.0 * np.cumsum(ranks) - np.arange(1, n + 1) * (n + 1.0)
    at = int(np.abs(u[:-1]).argmax())
    k = float(abs(u[at]))
    return Pettitt(k, at + 1, min(1.0, 2.0 * math.exp(-6.0 * k * k / (n**3 + n**2))))
