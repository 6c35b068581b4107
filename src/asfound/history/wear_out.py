"""From the condition of a part that wears to its remaining life, learned from like parts that were run to the end.

One condition indicator is made of all channels: Fisher's discriminant (1936, Annals of Eugenics 7, 179) between the
first and the last tenth of the lives seen. The last stretch of the part's indicator is then laid along the whole lives
of the others; where it fits, that life tells how long it still lasted (similarity of trajectories: Wang, Yu, Siegel and
Lee 2008, Int. Conf. Prognostics and Health Management). The fits are weighted, so that an early, flat stretch gives a
wide interval and a late one a narrow one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.history.anomaly_joint_tests import shrunk_covariance
from asfound.history.charts import ewma
from asfound.history.estimate import LEVEL
from asfound.quantities.typing import Array

FEWEST_LIVES = 5
STRETCH = 50
"""Most cycles of the stretch that is laid along the other lives."""
SMOOTH = 0.2


@dataclass(frozen=True, slots=True)
class Remaining:
    """Remaining life, in the unit of the samples (cycles, days, starts)."""

    median: float
    low: float
    high: float
    mean_life: float
    """What the mean of the lives alone would give: mean life of those that lived longer than this age, less the age."""
    condition: float
    """0 as new, 1 as at the end of life, by the indicator."""
    fits: float
    """Effective number of places in other lives that fit."""


@dataclass(frozen=True, slots=True)
class Fleet:
    """What the lives of like parts say."""

    used: Array
    """Which channels move, bool, shape (channels,)."""
    centre: Array
    direction: Array
    indicators: tuple[Array, ...]
    """Smoothed indicator of each life."""
    noise: float
    level: float

    def indicator(self, history: Array) -> Array:
        """Return the smoothed indicator of a part, shape (n,): 0 as new, 1 at the end of life."""
        raw = (np.asarray(history, dtype=float)[:, self.used] - self.centre) @ self.direction
        return _smooth(raw)

    def remaining(self, history: Array) -> Remaining:
        """Return the remaining life of a part from its history since new.

        Parameters
        ----------
        history : array of shape (age, channels)
            nan rows are left out.

        Raises
        ------
        InputError
            Fewer than 5 samples.
        """
        given = np.asarray(history, dtype=float)
        age = len(given)
        mine = self.indicator(given[np.isfinite(given).all(axis=1)])
        if mine.size < 5:
            raise InputError("history", str(mine.size), "is too short to lay along other lives", allowed="5 or more")
        lives = np.array([life.size for life in self.indicators], dtype=float)
        left, away = [], []
        for life in self.indicators:
            stretch = min(mine.size, STRETCH, life.size)
            windows = np.lib.stride_tricks.sliding_window_view(life, stretch)
            away.append(((windows - mine[-stretch:]) ** 2).mean(axis=1))
            left.append(life.size - stretch - np.arange(len(windows), dtype=float))
        distance, remaining = np.concatenate(away), np.concatenate(left)
        # the best place in each life sets how well lives match at all; places much worse than that do not count
        best = np.sort([float(one.min()) for one in away])
        width = max(float(best[max(len(best) // 4, 1)]), self.noise**2)
        weight = np.exp(-0.5 * distance / width) * _alive(age + remaining, lives)
        order = np.argsort(remaining)
        total = np.cumsum(weight[order])
        if not total[-1] > 0.0:
            return Remaining(math.nan, math.nan, math.nan, _mean_left(lives, age), float(mine[-1]), 0.0)
        tail = 0.5 - self.level / 2.0
        at = np.minimum(np.searchsorted(total / total[-1], [tail, 0.5, 1.0 - tail]), order.size - 1)
        low, middle, high = (float(v) for v in remaining[order][at])
        return Remaining(
            middle, low, high, _mean_left(lives, age), float(mine[-1]), float(weight.sum() ** 2 / (weight**2).sum())
        )  # fmt: skip


def _alive(life: Array, lives: Array) -> Array:
    """Return how plausible whole lives are, from those seen: a normal shape of their logarithms, twice as wide."""
    logs = np.log(lives)
    wide = 2.0 * max(float(logs.std(ddof=1)), 0.1)
    found: Array = np.exp(-0.5 * ((np.log(np.maximum(life, 1.0)) - logs.mean()) / wide) ** 2)
    return found


def _mean_left(lives: Array, age: float) -> float:
    longer = lives[lives > age]
    return float(longer.mean() - age) if longer.size else 0.0


def fit_fleet(lives: Sequence[Array], *, level: float = LEVEL) -> Fleet:
    """Return what whole lives of like parts teach.

    Parameters
    ----------
    lives : sequence of arrays of shape (cycles, channels)
        From new to the end of life, evenly sampled; the same channels in each.
    level : float
        Of the intervals.

    Raises
    ------
    InputError
        Fewer than 5 lives, or no channel that moves with wear.
    """
    if len(lives) < FEWEST_LIVES:
        raise InputError("lives", str(len(lives)), "are too few to learn from", allowed=f"{FEWEST_LIVES} or more")
    given = [np.asarray(life, dtype=float) for life in lives]
    given = [life[np.isfinite(life).all(axis=1)] for life in given]
    new = np.vstack([life[: max(len(life) // 10, 5)] for life in given])
    worn = np.vstack([life[-max(len(life) // 10, 5) :] for life in given])
    spread = np.sqrt(0.5 * (new.var(axis=0) + worn.var(axis=0)))
    used = spread > 1e-9 * np.maximum(np.abs(new).max(axis=0), 1e-12)
    if not used.any():
        raise InputError("channels", str(spread.size), "never moved", allowed="channels that change as the part wears")
    size = spread[used]
    centre = new[:, used].mean(axis=0)
    scaled = np.vstack([(part[:, used] - part[:, used].mean(axis=0)) / size for part in (new, worn)])
    moved = (worn[:, used].mean(axis=0) - centre) / size
    direction = np.linalg.solve(shrunk_covariance(scaled), moved)
    whole = float(moved @ direction)
    if whole <= 0.0:
        raise InputError(
            "channels", str(int(used.sum())), "do not tell new from worn", allowed="channels that wear moves"
        )
    direction = direction / whole / size
    raw = [(life[:, used] - centre) @ direction for life in given]
    smooth = tuple(_smooth(one) for one in raw)
    noise = float(np.median([np.std(np.diff(one)) for one in raw])) / math.sqrt(2.0)
    return Fleet(used, centre, direction, smooth, noise * math.sqrt(SMOOTH / (2.0 - SMOOTH)), level)


def _smooth(raw: Array) -> Array:
    return ewma(raw, SMOOTH, float(raw[:5].mean())) if raw.size else raw
