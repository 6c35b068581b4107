"""Which of drift, steps, both or neither a daily series shows beside its load and ambient.

The effects of load, ambient and speed stay in the model while steps are sought, so that a step that came with a change
of load is not taken for one of the engine. Steps are added one by one where they help most (as in the step-indicator
method of Castle, Doornik, Hendry and Pretis 2015, Econometrics 3, 240) beside the memory of the noise
(`changes_beside_memory`), taken away again where they do not pay, and each model is judged by its description length
with noise that remembers (`noise_length`). No trend, a straight one, a bent one, and one that begins within the data
and takes one of several courses are each given steps of their own. A step at a known visit has no place to be sought
and costs less; an onset costs what averaging over all onsets and courses leaves of the best (`drift_onset`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from asfound.history.changes import STRONG
from asfound.history.changes_beside_memory import allowed_places, best_step
from asfound.history.drift_onset import Grid, course_column, fits_of, grid_of, onsets
from asfound.history.noise_length import Noise, noise_length
from asfound.history.normal_equations import rest
from asfound.quantities.typing import Array

MOST_STEPS = 12
PATIENCE = 2
"""Steps in a row that do not help before the search ends: a fault that comes and goes needs two."""
UNLIKELY = 0.02
"""Probability below which a rival is not looked at."""
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
    """Where a drift began, when not before the data."""
    shape: int = 0
    """Of the course since then (`drift_courses.SHAPES`); 0 is straight."""
    memory: Array = field(default_factory=lambda: np.zeros(0), compare=False)
    """Autoregression of the noise."""


Key = tuple[int, tuple[int, ...], int | None, int]
"""Trend, steps, onset, shape."""


def time_columns(x: Array, trend: int, steps: Sequence[int], onset: int | None = None, shape: int = 0) -> Array:
    """Return the columns of a model in time: trend over x (0 at its end), steps (-1 before, 0 after). Shape (n, k)."""
    n = x.size
    # a course ends at 0, as a trend does
    parts = [x**power for power in range(1, trend + 1)] if onset is None else [course_column(x, onset, shape) - 1.0]
    parts += [-(np.arange(n) < one).astype(float) for one in steps]
    return np.stack(parts, axis=1) if parts else np.zeros((n, 0))


@dataclass(frozen=True, slots=True)
class Choice:
    """The shortest description, the odds of none, drift, step and both, and the rival of a drift from the start."""

    model: Model
    odds: dict[str, float]
    rival: Model | None
    """The shortest with an onset, where the chosen one drifts without."""
    chance: float
    """Probability of the rival beside the chosen one."""


def choose(y: Array, base: Array, x: Array, visits: Sequence[int]) -> Choice:
    """Return the shortest description.

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
    tried: dict[Key, Model] = {}
    prices: dict[int, float] = {}
    grid = grid_of(x - x[-1], onsets(y.size, shortest))

    def describe(key: Key) -> Model:
        if key not in tried:
            length, noise = _length(y, base, x, key, visits, prices)
            tried[key] = Model(length, *key, noise.memory)
        return tried[key]

    for trend in (0, 1, 2):
        _with_steps(y, base, x, describe((trend, (), None, 0)), describe, visits)
        for visit in visits:
            if shortest <= visit <= y.size - shortest:
                describe((trend, (visit,), None, 0))
    for steps in dict.fromkeys([(), min(tried.values(), key=lambda m: m.length).steps]):
        found = _with_onset(y, base, x, steps, np.zeros(0), describe, prices, grid)
        if found is None:
            continue
        found = _with_steps(y, base, x, found, describe, visits)
        again = _with_onset(y, base, x, found.steps, found.memory, describe, prices, grid)
        if again is not None and again.length < found.length:
            _thin_out(again, describe)
    best = min(tried.values(), key=lambda m: m.length)
    for number in range(len(best.steps)):  # the last steps may be one course in pieces
        _with_onset(y, base, x, best.steps[:number], best.memory, describe, prices, grid)
    least = min(m.length for m in tried.values())
    # what does not pay by strong evidence stays out: the simplest of those that are nearly as short
    simple = [m for m in tried.values() if m.length <= least + STRONG]
    best = min(simple, key=_parts_and_length)
    begun = [m for m in tried.values() if m.onset is not None] if best.trend and best.onset is None else []
    rival = min(begun, key=lambda m: m.length, default=None)
    chance = 1.0 / (1.0 + math.exp(min(0.5 * (rival.length - best.length), 700.0))) if rival is not None else 0.0
    return Choice(best, _odds(list(tried.values()), least), rival if chance > UNLIKELY else None, chance)


def _parts_and_length(m: Model) -> tuple[int, float]:
    trend = 3 if m.trend == 2 or m.onset is not None else m.trend  # a step goes before a course that is nearly one
    return trend + 2 * len(m.steps), m.length


def _with_steps(
    y: Array, base: Array, x: Array, model: Model, describe: Callable[[Key], Model], visits: Sequence[int]
) -> Model:  # fmt: skip
    """Return the shortest with steps added one by one, as long as one of the last made it shorter, and thinned."""
    shortest = max(ENDS, y.size // 100)
    best, last = model, 0
    while last < PATIENCE and len(model.steps) < MOST_STEPS:
        columns = np.hstack([base, time_columns(x, model.trend, model.steps, model.onset, model.shape)])
        place = best_step(y, columns, allowed_places(y.size, model.steps, shortest), model.memory)
        if place is None:
            break
        near = [v for v in visits if abs(v - place) <= 3 and all(abs(v - s) >= shortest for s in model.steps)]
        new = min(near, key=lambda v: abs(v - place)) if near else place
        model = describe((model.trend, tuple(sorted({*model.steps, new})), model.onset, model.shape))
        best, last = (model, 0) if model.length < best.length else (best, last + 1)
    return _thin_out(best, describe)


def _with_onset(
    y: Array, base: Array, x: Array, steps: tuple[int, ...], memory: Array, describe: Callable[[Key], Model],
    prices: dict[int, float], grid: Grid,
) -> Model | None:  # fmt: skip
    """Return the shortest with an onset and a course beside given steps, found with the memory and with the new one."""
    columns = np.hstack([base, time_columns(x, 0, steps)])
    best: Model | None = None
    for _ in range(2):
        fits = fits_of(y, columns, grid, memory)
        if fits is None:
            return best
        place, shape = fits.best
        for one in (place, fits.best_straight):
            prices.setdefault(one, fits.price)
        both = [describe((1, steps, fits.best_straight, 0)), describe((1, steps, place, shape))]
        found = min(both, key=lambda m: m.length)
        if best is not None and found.length >= best.length:
            break
        best, memory = found, found.memory
    return best


def _thin_out(best: Model, describe: Callable[[Key], Model]) -> Model:
    while True:
        without = [
            describe((best.trend, tuple(s for s in best.steps if s != one), best.onset, best.shape))
            for one in best.steps
        ]  # fmt: skip
        better = [m for m in without if m.length < best.length]
        if not better:
            return best
        best = min(better, key=lambda m: m.length)


def _odds(models: Sequence[Model], least: float) -> dict[str, float]:
    odds = dict.fromkeys(("none", "drift", "step", "both"), 0.0)
    for m in models:
        kind = ("both" if m.steps else "drift") if m.trend else ("step" if m.steps else "none")
        odds[kind] = max(odds[kind], math.exp(-0.5 * (m.length - least)))
    total = sum(odds.values())
    return {kind: value / total for kind, value in odds.items()}


def _length(
    y: Array, base: Array, x: Array, key: Key, visits: Sequence[int], prices: dict[int, float]
) -> tuple[float, Noise]:  # fmt: skip
    trend, steps, onset, shape = key
    n = y.size
    columns = np.hstack([base, time_columns(x, trend, steps, onset, shape)])
    noise = noise_length(rest(columns, y))
    sought = sum(1 for s in steps if s not in visits)
    length: float = columns.shape[1] * math.log(n) + 2.0 * sought * math.log(n)
    length += 2.0 * (len(steps) - sought) * math.log(1.0 + len(visits))
    if onset is not None:
        length += prices.get(onset, 2.0 * math.log(n))
    return length + noise.length, noise
