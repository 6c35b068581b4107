"""Which of drift, steps, both or neither a daily series shows beside its load and ambient.

The effects of load, ambient and speed stay in the model while steps are sought, so that a step that came with a change
of load is not taken for one of the engine. Steps are added one by one where they help most (as in the step-indicator
method of Castle, Doornik, Hendry and Pretis 2015, Econometrics 3, 240), taken away again where they do not pay, and
each model is judged by its description length with noise that remembers (`changes`). A step at a known visit has no
place to be sought and costs less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.changes import MEMORY, STRONG
from asfound.history.normal_equations import orthonormal, rest
from asfound.quantities.typing import Array

MOST_STEPS = 8
ENDS = 5
"""Samples that must lie before the first step, between two, and after the last."""


@dataclass(frozen=True, slots=True)
class Model:
    """One description of the daily series."""

    length: float
    trend: int
    """0 no trend, 1 a straight one, 2 a bent one."""
    steps: tuple[int, ...]
    onset: int | None
    """Where a straight trend began, when not before the data."""


def time_columns(x: Array, trend: int, steps: Sequence[int], onset: int | None = None) -> Array:
    """Return the columns of a model in time: trend over x (0 at its end), steps (-1 before, 0 after). Shape (n, k)."""
    n = x.size
    # a ramp ends at 0, as a trend does
    ramp = [] if onset is None else [np.maximum(x, x[onset]) - x[-1]]
    parts = ramp or [x**power for power in range(1, trend + 1)]
    parts += [-(np.arange(n) < one).astype(float) for one in steps]
    return np.stack(parts, axis=1) if parts else np.zeros((n, 0))


def choose(y: Array, base: Array, x: Array, visits: Sequence[int]) -> tuple[Model, dict[str, float]]:
    """Return the shortest description and the odds of none, drift, step and both.

    Parameters
    ----------
    y : array of shape (n,)
        Daily values.
    base : array of shape (n, p)
        Ones, load, ambient ... of the same days.
    x : array of shape (n,)
        Hours run before the last day (0 at the end), in thousands.
    visits : sequence of int
        First index after each known visit.
    """
    shortest = max(ENDS, y.size // 100)
    tried: dict[tuple[int, tuple[int, ...], int | None], Model] = {}

    def describe(trend: int, steps: tuple[int, ...], onset: int | None = None) -> Model:
        key = (trend, steps, onset)
        if key not in tried:
            tried[key] = Model(_length(y, base, x, key, visits), *key)
        return tried[key]

    for trend in (0, 1, 2):
        steps: tuple[int, ...] = ()
        describe(trend, steps)
        for _ in range(MOST_STEPS):
            place = _best_place(y, np.hstack([base, time_columns(x, trend, steps)]), steps, shortest)
            if place is None:
                break
            near = [v for v in visits if abs(v - place) <= 3 and all(abs(v - s) >= shortest for s in steps)]
            steps = tuple(sorted({*steps, min(near, key=lambda v: abs(v - place)) if near else place}))
            describe(trend, steps)
        for visit in visits:
            if shortest <= visit <= y.size - shortest:
                describe(trend, (visit,))
        _thin_out(min((m for m in tried.values() if m.trend == trend), key=lambda m: m.length), describe)
    best = min(tried.values(), key=lambda m: m.length)
    onset = _best_onset(y, base, x, best.steps, shortest) if best.trend else None
    if onset is not None:
        _thin_out(describe(1, best.steps, onset), describe)
    least = min(m.length for m in tried.values())
    # what does not pay by strong evidence stays out: the simplest of those that are nearly as short
    simple = [m for m in tried.values() if m.length <= least + STRONG]
    return min(simple, key=_parts_and_length), _odds(list(tried.values()), least)


def _parts_and_length(m: Model) -> tuple[int, float]:
    return m.trend + 2 * len(m.steps) + 2 * (m.onset is not None), m.length


def _thin_out(best: Model, describe: Callable[[int, tuple[int, ...], int | None], Model]) -> None:
    while True:
        without = [describe(best.trend, tuple(s for s in best.steps if s != one), best.onset) for one in best.steps]
        better = [m for m in without if m.length < best.length]
        if not better:
            return
        best = min(better, key=lambda m: m.length)


def _odds(models: Sequence[Model], least: float) -> dict[str, float]:
    odds = dict.fromkeys(("none", "drift", "step", "both"), 0.0)
    for m in models:
        kind = ("both" if m.steps else "drift") if m.trend else ("step" if m.steps else "none")
        odds[kind] = max(odds[kind], math.exp(-0.5 * (m.length - least)))
    total = sum(odds.values())
    return {kind: value / total for kind, value in odds.items()}


def _length(
    y: Array, base: Array, x: Array, key: tuple[int, tuple[int, ...], int | None], visits: Sequence[int]
) -> float:
    trend, steps, onset = key
    n = y.size
    columns = np.hstack([base, time_columns(x, trend, steps, onset)])
    left = rest(columns, y)
    sought = sum(1 for s in steps if s not in visits) + (onset is not None)
    known = len(steps) - (sought - (onset is not None))
    length: float = columns.shape[1] * math.log(n) + 2.0 * sought * math.log(n)
    length += 2.0 * known * math.log(1.0 + len(visits))
    later = left[MEMORY:]
    before = np.stack([left[MEMORY - lag : n - lag] for lag in range(1, MEMORY + 1)], axis=1)
    best = math.inf
    for order in range(MEMORY + 1):
        e = rest(before[:, :order], later)
        spread = 3.0 * 1.4826 * float(np.median(np.abs(e)))
        variance = float((np.clip(e, -spread, spread) ** 2).mean()) if spread > 0.0 else float((e * e).mean())
        best = min(best, n * math.log(max(variance, 1e-300)) + order * math.log(n))
    return length + best


def _best_place(y: Array, columns: Array, steps: tuple[int, ...], shortest: int) -> int | None:
    """Return where one more step takes away most of the squared error (all places at once)."""
    n = y.size
    q = orthonormal(columns)
    left = y - q @ (q.T @ y)
    spread = 4.0 * 1.4826 * float(np.median(np.abs(left)))
    left = np.clip(left, -spread, spread) if spread > 0.0 else left
    before = np.cumsum(left)[:-1]
    shared = np.cumsum(q, axis=0)[:-1]
    free = np.arange(1.0, n) - (shared**2).sum(axis=1)
    allowed = free > 1e-6 * n
    places = np.arange(1, n)
    for edge in (0, n, *steps):
        allowed &= np.abs(places - edge) >= shortest
    if not allowed.any():
        return None
    gain = np.where(allowed, before**2 / np.maximum(free, 1e-9), -1.0)
    return int(places[gain.argmax()])


def _best_onset(y: Array, base: Array, x: Array, steps: tuple[int, ...], shortest: int) -> int | None:
    errors, places = onset_profile(y, np.hstack([base, time_columns(x, 0, steps)]), x, shortest)
    return int(places[errors.argmin()]) if places.size else None


def onset_profile(y: Array, columns: Array, x: Array, shortest: int) -> tuple[Array, npt.NDArray[np.int64]]:
    """Return the squared error left for each place where a straight trend may begin, and the places.

    Parameters
    ----------
    y, columns, x : arrays
        Daily values (n,), the rest of the model (n, p), thousands of hours run (n,).
    """
    n = y.size
    places = np.arange(shortest, n - 2 * shortest, max(1, n // 400))
    q = orthonormal(columns)
    left = y - q @ (q.T @ y)
    ramp = np.maximum(x[:, None] - x[places], 0.0)
    ramp -= q @ (q.T @ ramp)
    size = (ramp * ramp).sum(axis=0)
    across = left @ ramp
    errors: Array = float(left @ left) - np.where(size > 1e-12, across**2 / np.maximum(size, 1e-12), 0.0)
    return errors, places.astype(np.int64)
