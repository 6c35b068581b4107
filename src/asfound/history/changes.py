"""Where the level of a series changes for good, and how sure that is.

Kinds are tried and the shortest description wins (minimum description length, Davis, Lee and Rodriguez-Yam 2006, J. Am.
Stat. Assoc. 101, 223): levels that step; levels that step on one common slope (drift and repairs); joined straight
lines, where a growth or a drift begins or ends; and, only when asked for, straight lines that break. For levels and
broken lines the exact best segments are found over a range of prices (`pelt`; a range of prices as Haynes, Eckley and
Fearnhead 2017, J. Comput. Graph. Stat. 26, 134) as if noise had no memory; then each is bettered with the memory of
what is left (`changes_beside_memory`). Each answer is judged with noise that remembers, an autoregression of order 0 to
3 whose innovations may have long tails but are never free (`noise_length`): a wandering series without steps gets none,
and memory alone does not explain a step away. In a short series the parameters cost more (McQuarrie 1999, Stat. Prob.
Letters 44, 79). What grows in per cent and what is counted is tried on a scale of its own (`change_scales`); changes
of the spread are sought in what the changes of the level leave (`change_spread`).

What does not last `min_size` samples is an outlier, not a change: a running median of twice that width bounds it first
(Davies and Gather 1993, J. Am. Stat. Assoc. 88, 782). A passage from one level to another is one change.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.history.change_lengths import WIDTHS, Description, describe, passing
from asfound.history.change_scales import ROOT, Scale, scales_of
from asfound.history.change_segments import Kind, bound, fit_segments
from asfound.history.change_sizes import Change, sized
from asfound.history.change_spread import spread_changes
from asfound.history.changes_beside_memory import bettered, filtered, turns_without_memory
from asfound.history.correlated import difference_sigma
from asfound.history.noise_length import MEMORY
from asfound.history.pelt import level_cost, pelt, trend_cost
from asfound.quantities.typing import Array

Asked = Literal["level", "slope", "joined", "trend", "spread"]
"""A kind of `change_segments.Kind`, or changes of the spread beside them."""
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
MOST_PASSED = 4
"""Sets of steps of which passages are tried."""
PASSAGE = 2
"""Samples beyond the fewest of a segment that a passage from one level to another may last."""


@dataclass(frozen=True, slots=True)
class Changes:
    """The changes of a series, under the kind of model that describes it shortest."""

    kind: Kind
    changes: tuple[Change, ...]
    fitted: Array
    """Level (with slope) at each sample, shape (n,)."""
    slope: float
    """Per sample, common to all segments, on ``scale``; 0 for kind ``level``, nan for lines with changes."""
    memory: tuple[float, ...]
    """Coefficients of the noise's autoregression."""
    sigma: float
    """Standard deviation of the noise's innovations, on ``scale``."""
    gain: float
    """Description length saved against the best description without change; at least `STRONG` where there is one."""
    scale: str = "plain"
    """``plain``, ``logarithm`` or ``root``: on which the series is described shortest."""

    @property
    def at(self) -> list[int]:
        """Index of the first sample of each new segment."""
        return [one.at for one in self.changes]


@dataclass(frozen=True, slots=True)
class _Best:
    """The description that is taken on one scale, beside the best without change, and where the spread changes."""

    scale: Scale
    taken: Description
    length: float
    without: float
    """Length of the best without change."""
    spread: tuple[int, ...]

    @property
    def number(self) -> int:
        """How many changes."""
        return len(self.taken.at) + len(self.spread)


def change_points(
    x: Array, kinds: Sequence[Asked] = ("level", "slope", "joined", "spread"), *, min_size: int | None = None
) -> Changes:  # fmt: skip
    """Return the changes of a series of evenly spaced samples.

    Parameters
    ----------
    x : array of shape (n,)
        nan is left out; indices count all samples. Daily or hourly means of normalised residuals, not raw readings.
    kinds : sequence of {"level", "slope", "joined", "trend", "spread"}
        Which descriptions may win; at least one beside "spread".
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
    fewest = max(smallest // each, 2 if each > 1 else 1)
    best, *others = (_best(good, scale, kinds, each, fewest) for scale in scales_of(good))
    for other in others:  # a logarithm is there to make it simpler; a count has its own spread in any case
        if other.length < best.length and (other.scale is ROOT or other.number <= best.number):
            best = other
    close = bound(best.scale.to(good), smallest)
    at, spread = [k * each for k in best.taken.at], [k * each for k in best.spread]
    if each > 1:
        at = _looked_at_closely(close, at, best.taken.kind, each)
    at = _without_passages(close, at, best.taken.kind, smallest)
    fitted, slope = fit_segments(close, at, best.taken.kind)
    shown = sized(close, fitted, at, best.taken.kind, best.scale, [k for k in spread if _apart(k, at, 2 * smallest)])
    whole_fit = np.interp(np.arange(x.size), place, best.scale.back(fitted))
    changes = tuple(
        Change(int(place[one.at]), int(place[one.earliest]), int(place[one.latest]), one.size, one.of) for one in shown
    )  # fmt: skip
    return Changes(
        best.taken.kind, changes, whole_fit, slope, tuple(float(c) for c in best.taken.memory),
        math.sqrt(best.taken.variance), float(best.without - best.length), best.scale.name,
    )  # fmt: skip


def _apart(one: int, others: Sequence[int], least: int) -> bool:
    return all(abs(one - other) >= least for other in others)


def _best(good: Array, scale: Scale, kinds: Sequence[Asked], each: int, fewest: int) -> _Best:
    """Return the description that is taken on a scale; its length counts in the unit of the series."""
    y = scale.to(good)
    whole = y.size // each * each
    coarse = y[:whole].reshape(-1, each).mean(axis=1) if each > 1 else y
    y = bound(coarse, fewest)
    stretched = y.size * float(scale.stretch(y)[MEMORY:].mean())  # the first samples only teach the memory
    found = [one for kind in kinds if kind != "spread" for one in _candidates(y, kind, fewest)]
    none = min((one for one in found if not one.at), key=lambda one: one.length)
    least = min(one.length for one in found)
    # each change has to pay by strong evidence: the fewest of those that are nearly as short
    taken = min((one for one in found if one.length <= least + STRONG), key=lambda one: (len(one.at), one.length))
    if "spread" not in kinds:
        return _Best(scale, taken, taken.length + stretched, none.length + stretched, ())
    tried = []
    for one in (none, taken) if taken.at else (none,):
        left = filtered((y - fit_segments(y, one.at, one.kind)[0])[:, None], one.memory)[:, 0]
        at, saved = spread_changes(left, 2 * fewest)
        if saved < STRONG:
            at, saved = (), 0.0
        at = tuple(k + y.size - left.size for k in at)
        tried.append(_Best(scale, one, one.length - saved + stretched, none.length + stretched, at))
    return min(tried, key=lambda one: (one.length, one.number))


def _nothing(x: Array, good: Array) -> Changes:
    level = float(np.median(good)) if good.size else math.nan
    return Changes("level", (), np.full(x.size, level), 0.0, (), float(good.std()) if good.size else math.nan, 0.0)


def _candidates(x: Array, kind: Kind, smallest: int) -> list[Description]:
    if kind == "joined":
        smallest *= 2  # a turn is told from a step by a line on either side
    sets = turns_without_memory(x, smallest) if kind == "joined" else _sets(x, kind, smallest)
    found = {at: describe(x, at, kind) for at in sets}
    if kind == "trend":
        return list(found.values())

    def length_of(at: tuple[int, ...]) -> tuple[float, Array]:
        if at not in found:
            found[at] = describe(x, at, kind)
        return found[at].length, found[at].memory

    starts = {(): None, min(found, key=lambda at: found[at].length): None}
    for at in starts:
        bettered(x, at, kind, smallest, length_of)
    if kind != "level":
        return list(found.values())
    stepped = sorted((one for one in found.values() if one.at), key=lambda one: one.length)[:MOST_PASSED]
    return [*found.values(), *(passing(x, one.at, width) for one in stepped for width in WIDTHS)]


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


def _without_passages(x: Array, at: list[int], kind: Kind, smallest: int) -> list[int]:
    """Return the changes with two steps the same way, hardly apart, put into one where the error is least."""
    if kind not in ("level", "slope"):
        return at
    k = 0
    while k < len(at) - 1:
        first, last = at[k], at[k + 1]
        fitted, slope = fit_segments(x, at, kind)
        same = (fitted[first] - fitted[first - 1] - slope) * (fitted[last] - fitted[last - 1] - slope) > 0.0
        if last - first > smallest + PASSAGE or not same:
            k += 1
            continue
        others = at[:k] + at[k + 2 :]
        tried = [sorted([*others, one]) for one in range(first, last + 1)]
        errors = [float(((x - fit_segments(x, one, kind)[0]) ** 2).sum()) for one in tried]
        at = tried[int(np.argmin(errors))]
    return at
