"""A load that is held down: since when an engine carries no more than a ceiling that it used to pass.

What an engine carries is what is asked of it, so a lower mean says little. A ceiling shows in two ways at once: a level
that was passed every few days is not passed any more, and the load rests at that level instead of wandering below it.

1. For each level of a fine grid, days are told apart by whether the load passed it. Under what was before, the number
   of days from one passing to the next is geometric; with Jeffreys' prior for the chance of staying below, the chance
   of a spell as long as this one is a ratio of two beta functions (the beta-geometric law; Johnson, Kemp and Kotz,
   Univariate Discrete Distributions, 3rd ed. 2005, 6.2.3, from memory).
2. Of the hours of such a spell, a good part lies within the noise of the level, and a far larger part than before.

Both must hold. Thresholds are engineering judgement, set on simulated loads without a ceiling (tests, benchmark).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.quantities.typing import Array

Mask = npt.NDArray[np.bool_]
HOUR, DAY = 3600.0, 86_400.0
MATTERS = 0.02
"""A ceiling less than this share of rated power below what was carried before is not told."""
BAND = 0.004
"""Half width of what counts as resting at a level, at least. [share of rated power]"""
GRID = 0.004
FEWEST_DAYS, FEWEST_BEFORE, MOST_BEFORE = 14, 30, 365
LEAST_PASSED = 0.10
"""Of the days before, so many must have passed the level. [1]"""
LEAST_AT = 0.25
"""Of the hours of the spell, so many rest at the level. [1]"""
TIMES_AS_BEFORE, TIMES_AS_BELOW = 3.0, 3.0
"""They are so many times as many as rested there before, and as lie in as wide a band under it. [1]"""
MOST_CHANCE = 1e-3
"""A spell more likely than this by what was before is no ceiling, unless its hours alone show one. [1]"""
STILL_CHANCE = 1e-4
"""The same where the load was held at set points before: that it keeps still is no sign there. [1]"""
PLAIN_AT, PLAIN_TIMES, PLAIN_CHANCE = 0.6, 5.0, 0.1
"""They do where so many rest at the level, so many times as many as before and as under it, and where the load never
kept still before. What never went so low says nothing of how long it may stay there: then up to this chance. [1]"""
REST_HOURS = 48
STILL_DAYS, KEPT_STILL = 14, 0.5
"""A load of which so many hours before lay within the band about their fortnight's median was held at set points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """One ceiling; times in seconds, loads as shares of the rated power."""

    level: float
    spread: float
    """Standard deviation of the hours that rest there."""
    start: float
    """First hour of it."""
    earliest: float
    """Last hour above it."""
    latest: float
    """By then it would have been passed with 95 % had it not begun."""
    end: float
    """First hour above it again; inf: it still holds."""
    before: float
    """What the days before reached, the median of those that passed it."""
    passed: float
    """Share of the days before on which the level was passed."""
    at_level: float
    """Share of the hours of the spell that rest at the level."""
    at_level_before: float
    days: int
    chance: float
    """Of so long a spell by what was before."""


def held(time: Array, load: Array) -> tuple[Held, ...]:
    """Return the ceilings that were put on a load, in the order of time.

    Parameters
    ----------
    time : array of shape (n,)
        Seconds, in order.
    load : array of shape (n,)
        Share of rated power; nan where the engine stood, was cold, or nothing was logged.
    """
    at, hourly = hours_of(time, load)
    if at.size < 24 * (FEWEST_DAYS + FEWEST_BEFORE) // 4:
        return ()
    day = np.floor(at / DAY).astype(np.int64)
    first = np.flatnonzero(np.concatenate([[True], day[1:] != day[:-1]]))
    band = max(BAND, 3.0 * _noise(time, load))
    second = _second_highest(hourly, first)  # a single hour is a slip of a meter, not a load that was carried
    found: list[Held] = []
    for level in np.arange(math.floor(hourly.min() / GRID), math.ceil(hourly.max() / GRID)) * GRID:
        passed = second > level + 1.5 * band
        for low, high in _spells(passed):
            one = _judged(level, band, at, hourly, first, second, passed, low, high)
            if one is not None:
                found.append(one)
    return _best(found)


def hours_of(time: Array, load: Array) -> tuple[Array, Array]:
    """Return middle and mean of each hour that has values."""
    good = np.isfinite(load)
    at, kept = time[good], load[good]
    if not at.size:
        return np.zeros(0), np.zeros(0)
    hour = np.floor(at / HOUR).astype(np.int64)
    first = np.flatnonzero(np.concatenate([[True], hour[1:] != hour[:-1]]))
    number = np.diff(np.append(first, at.size))
    middle = (hour[first].astype(np.float64) + 0.5) * HOUR
    return middle, np.add.reduceat(kept, first) / number


def _noise(time: Array, load: Array) -> float:
    """Return the standard deviation of an hour's mean by the differences of neighbouring rows, the quieter half."""
    good = np.isfinite(load)
    at, kept = time[good], load[good]
    apart = np.diff(at)
    near = np.abs(np.diff(kept))[apart < 1.5 * HOUR]
    if not near.size:
        return 0.0
    rows = max(HOUR / float(np.median(apart)), 1.0)
    return float(np.quantile(near, 0.25)) / (0.3186 * math.sqrt(2.0 * rows))


def _second_highest(hourly: Array, first: npt.NDArray[np.int64]) -> Array:
    pieces = np.split(hourly, first[1:])
    return np.array([np.partition(one, -2)[-2] if one.size > 1 else one[0] for one in pieces])


def _spells(passed: Mask) -> list[tuple[int, int]]:
    """Return first and last-but-one day of each stretch without a passing that is long enough."""
    edges = np.flatnonzero(np.diff(np.concatenate([[True], passed, [True]]).astype(np.int8))).reshape(-1, 2)
    return [(int(low), int(high)) for low, high in edges if high - low >= FEWEST_DAYS and low >= FEWEST_BEFORE]


def _judged(
    level: float, band: float, at: Array, hourly: Array, first: npt.NDArray[np.int64], second: Array, passed: Mask,
    low: int, high: int,
) -> Held | None:  # fmt: skip
    early = max(low - MOST_BEFORE, 0)
    before = passed[early:low]
    share = float(before.mean())
    if share < LEAST_PASSED:
        return None
    chance = spell_chance(before, high - low)
    if chance > PLAIN_CHANCE:
        return None
    begin, stop = int(first[low]), int(first[high]) if high < first.size else at.size
    inside, outside = hourly[begin:stop], hourly[int(first[early]) : begin]
    resting = np.abs(inside - level) <= band
    at_level, at_before = float(resting.mean()), float((np.abs(outside - level) <= band).mean())
    below = float(((inside < level - band) & (inside >= level - 3.0 * band)).mean())
    reached = float(np.median(second[early:low][before]))
    middle = float(np.median(inside[resting])) if resting.any() else math.nan
    others = max(at_before, below)
    still = _kept_still(hourly, first, early, low, band) >= KEPT_STILL
    plain = at_level >= max(PLAIN_AT, PLAIN_TIMES * others) and not still
    sharp = at_level >= max(LEAST_AT, TIMES_AS_BEFORE * at_before, TIMES_AS_BELOW * below)
    if not sharp or reached - middle < MATTERS or (chance > (STILL_CHANCE if still else MOST_CHANCE) and not plain):
        return None
    above = np.flatnonzero(outside > level + 1.5 * band)
    last = begin - (outside.size - int(above[-1])) if above.size else begin - 1
    told = last + 1 + _hours_to_tell(outside > level + 1.5 * band)
    rests = begin + _rests_from(resting, at_level)
    return Held(
        level=middle, spread=float(np.std(inside[resting])), start=float(at[last + 1 if rests <= told else rests]),
        earliest=float(at[last]), latest=float(at[min(max(told, rests), at.size - 1)]),
        end=float(at[stop]) if stop < at.size else math.inf, before=reached, passed=share, at_level=at_level,
        at_level_before=at_before, days=high - low, chance=chance,
    )  # fmt: skip


def _kept_still(hourly: Array, first: npt.NDArray[np.int64], low: int, high: int, band: float) -> float:
    """Return of the hours of days the share that lie within the band about the median of their fortnight."""
    begin, end = int(first[low]), int(first[high])
    pieces = np.split(hourly[begin:end], first[low + STILL_DAYS : high : STILL_DAYS] - begin)
    middles = np.repeat([float(np.median(one)) for one in pieces], [one.size for one in pieces])
    return float((np.abs(hourly[begin:end] - middles) <= band).mean())


def _rests_from(resting: Mask, share: float) -> int:
    """Return the first hour of which the next two days rest half as much as the whole spell."""
    total = np.concatenate([[0], np.cumsum(resting)])
    ahead = np.minimum(np.arange(resting.size) + REST_HOURS, resting.size)
    ahead_share = (total[ahead] - total[:-1]) / np.maximum(ahead - np.arange(resting.size), 1)
    return int(np.argmax(resting & (ahead_share >= 0.5 * share)))


def spell_chance(passed: Mask, days: int) -> float:
    """Return the chance that a spell below lasts so many days or more, by the days before. [1]

    Staying below is counted from day to day, so that weeks at one load count as what they are.
    """
    stayed = int(np.sum(~passed[:-1] & ~passed[1:]))
    left = int(np.sum(~passed[:-1] & passed[1:]))
    a, b = stayed + 0.5, left + 0.5
    return math.exp(
        math.lgamma(a + days) - math.lgamma(a) + math.lgamma(a + b) - math.lgamma(a + b + days)
    )  # fmt: skip


def _hours_to_tell(passed: Mask) -> int:
    """Return after how many hours a passing would have been seen with 95 %, by the hours before."""
    below = ~passed[:-1]
    stay = (float(np.sum(below & ~passed[1:])) + 0.5) / (float(np.sum(below)) + 1.0)
    return math.ceil(math.log(0.05) / math.log(min(stay, 1.0 - 1e-9)))


def _best(found: list[Held]) -> tuple[Held, ...]:
    """Return one of each stretch of time: that at whose level most hours rest, less what did so before."""
    kept: list[Held] = []
    for one in sorted(found, key=lambda held: held.at_level_before - held.at_level):
        if all(one.end <= other.start or one.start >= other.end for other in kept):
            kept.append(one)
    return tuple(sorted(kept, key=lambda held: held.start))
