"""A signal that behaves as it never did: watched as it comes, without looking ahead, and slow to cry wolf.

Three tests, each against the signal's own past:

- *sudden*: where the signal has a daily habit, a sample against the same time of day, half an hour on either side,
  in the last 14 days; else against the median of the six samples before. Two samples in a row must be out.
- *lasting*: an EWMA over a day (NIST/SEMATECH e-Handbook 6.3.2.4) of what lies beyond the habit, or beyond the
  median of the last four weeks, against the spread of its own past, so that the memory of the signal is in the limit.
- *noise*: how much it moves from sample to sample (`anomaly_noise`): noisier, swinging, frozen.

The spread is the larger of a robust one (MAD) and one from the tail that was seen, as logs have long tails. The limits,
6, 3.3 and 4.5 of these, come from simulated years of noise, white to strongly correlated, with long tails: about one
false alarm of the lasting test in two years of a channel, of each of the others in ten. An alarm is told once: it lasts
until all tests were quiet for a day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from asfound.history.anomaly_noise import noise_score
from asfound.history.charts import ewma
from asfound.history.even import step_of
from asfound.history.timeline import DAY, Mask, seconds
from asfound.quantities.typing import Array

DAYS = 14
"""Of the past that make what is usual."""
FEWEST_DAYS = 2
BESIDE = 1800.0
"""A daily habit need not keep the minute: slots so far on either side count as the same time of day, s."""
SHORT = 6
"""Samples whose median is what is usual where there is no daily habit."""
MONTH = 28
LONG = 90
"""Days of the past of the lasting test."""
SPAN = 1.0
"""Days of the lasting test's average."""
FEW = 4.0
"""A spread from n points is taken 1 + FEW / sqrt(n) times as large."""
TAIL = 0.99
BATCH = 1000
BOUND = 5.0
"""Standard deviations to which a sample counts in the lasting test: what lasts shows in all, not in a few wild ones."""
FEWEST_POINTS = 16
"""Eighths of days before the lasting test speaks."""
SUDDEN = 6.0
LASTING = 3.3
NOISE = 4.5
_TO_SIGMA = 1.4826


@dataclass(frozen=True, slots=True)
class Event:
    """One stretch in alarm."""

    start: float
    """s."""
    end: float
    largest: float
    """Of the score."""
    kind: str
    """``sudden``, ``lasting`` or ``noise``: which test raised it."""


@dataclass(frozen=True, slots=True)
class Watched:
    """How unusual each sample was at its time."""

    score: Array
    """Largest of the tests, each over its limit: above 1 is an alarm. Shape (n,); 0 while learning."""
    alarm: Mask
    expected: Array
    """What the sample should have been; nan while learning."""
    events: tuple[Event, ...]
    daily: bool
    """Whether the signal has a daily habit."""


def watch(
    time: npt.ArrayLike,
    x: Array,
    *,
    sudden: float = SUDDEN,
    lasting: float = LASTING,
    noise: float = NOISE,
    days: int = DAYS,
) -> Watched:
    """Return how unusual a signal is at each time, from what went before only.

    Parameters
    ----------
    time : array of shape (n,)
        In order; see `seconds`.
    x : array of shape (n,)
        A reading, better the residual of a baseline; nan left out.
    sudden, lasting, noise : float
        Limits in standard deviations.
    days : int
        Of the past.
    """
    at, x = seconds(time), np.asarray(x, dtype=float)
    there = np.flatnonzero(np.isfinite(x))
    empty = Watched(np.zeros(x.size), np.zeros(x.size, dtype=bool), np.full(x.size, np.nan), (), False)
    if there.size < 50:
        return empty
    step = max(step_of(at[there]), 1.0)
    slots = max(round(DAY / step), 1)
    table, row, slot = _table(at[there], x[there], DAY / slots, slots)
    usual, spread = _past(table, days, max(round(BESIDE / step), 1))
    place = row * slots + slot
    short, month = _short_past(x[there]), _month_past(table)[row]
    daily = _has_habit(x[there], usual.reshape(-1)[place], short)
    expected = usual.reshape(-1)[place] if daily else short
    off = x[there] - expected
    wide = spread.reshape(-1)[place] if daily else _own_past(off, days * slots, max(slots // 8, 1), 0.995)
    known = np.isfinite(off) & np.isfinite(wide) & (wide > 0.0)
    z = np.where(known, off / np.where(known, wide, 1.0), 0.0)
    quick = np.minimum(np.abs(z), np.concatenate([[0.0], np.abs(z[:-1])])) / sudden
    slow = _lasting(off if daily else x[there] - month, slots) / lasting
    moves = noise_score(x[there], slots) / noise
    score = np.zeros(x.size)
    score[there] = np.maximum(np.maximum(quick, slow), moves)
    alarm = np.zeros(x.size, dtype=bool)
    events = _events(at[there], {"sudden": quick, "lasting": slow, "noise": moves})
    for one in events:
        alarm |= (at >= one.start) & (at <= one.end)
    fully = np.full(x.size, np.nan)
    fully[there] = expected
    return Watched(score, alarm, fully, events, daily)


def _table(
    at: Array, x: Array, step: float, slots: int
) -> tuple[Array, npt.NDArray[np.int64], npt.NDArray[np.int64]]:  # fmt: skip
    """Return the samples by day and slot, nan where there is none."""
    number = np.floor((at - at[0]) / step + 1e-6).astype(np.int64)
    row, slot = number // slots, number % slots
    table = np.full((int(row[-1]) + 1, slots), np.nan)
    table[row, slot] = x
    return table, row, slot


def _past(table: Array, days: int, beside: int) -> tuple[Array, Array]:
    """Return median and spread of the same slots in the days before, shape (days, slots)."""
    wide = np.concatenate([table[:, -beside:], table, table[:, :beside]], axis=1) if table.shape[1] > 2 else table
    padded = np.vstack([np.full((days, wide.shape[1]), np.nan), wide[:-1]])
    size = (days, 2 * beside + 1) if table.shape[1] > 2 else (days, 1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, size)
    middle, spread = np.full(table.shape, np.nan), np.full(table.shape, np.nan)
    for day in range(FEWEST_DAYS, len(table)):  # day by day: the windows of all days at once would fill the memory
        past = windows[day].reshape(table.shape[1], -1)
        middle[day] = _row_medians(past)
        away = np.sort(np.abs(past - middle[day][:, None]), axis=1)
        spread[day] = _spread_of_sorted(away, 0.975)
    return middle, _no_less_than_usual(spread)


def _short_past(x: Array) -> Array:
    """Return the median of the six samples before each. Shape (n,)."""
    found = np.full(x.size, np.nan)
    if x.size > SHORT:
        windows = np.lib.stride_tricks.sliding_window_view(x[:-1], SHORT)
        found[SHORT:] = np.median(windows, axis=1)
    return found


def _month_past(table: Array) -> Array:
    """Return the median of the four weeks before each day, from medians of days. Shape (days,)."""
    of_days = _row_medians(table)
    padded = np.concatenate([np.full(MONTH, np.nan), of_days[:-1]])
    return _row_medians(np.lib.stride_tricks.sliding_window_view(padded, MONTH), 2)


def _own_past(off: Array, length: int, each: int, tail: float) -> Array:
    """Return the spread of the ``length`` samples before each, renewed every ``each`` samples. Shape (n,)."""
    found = np.full(off.size, np.nan)
    for low in range(2 * length // DAYS, off.size, each):
        past = np.abs(off[max(0, low - length) : low])
        past = np.sort(past[np.isfinite(past)])
        if past.size >= 20:
            found[low : low + each] = _spread_of_sorted(past[None, :], tail)[0]
    return found


def _spread_of_sorted(away: Array, tail: float) -> Array:
    """Return the larger of the MAD and the tail's quantile, each as a standard deviation; rows sorted, nan last."""
    count = away.shape[1] - np.isnan(away).sum(axis=1)
    row = np.arange(len(away))
    middle = away[row, np.maximum(count - 1, 0) // 2]
    far = away[row, np.minimum((tail * count).astype(np.int64), np.maximum(count - 1, 0))]
    normal = NormalDist().inv_cdf(0.5 + tail / 2.0)
    found: Array = np.where(count >= 4, np.maximum(_TO_SIGMA * middle, far / normal), np.nan)
    return found


def _row_medians(rows: Array, fewest: int = 4) -> Array:
    """Return row medians without nan; nan where fewer values are left."""
    ordered = np.sort(rows, axis=1)
    count = rows.shape[1] - np.isnan(ordered).sum(axis=1)
    row = np.arange(len(rows))
    low, high = np.maximum(count - 1, 0) // 2, np.minimum(count // 2, rows.shape[1] - 1)
    found: Array = np.where(count >= fewest, 0.5 * (ordered[row, low] + ordered[row, high]), np.nan)
    return found


def _no_less_than_usual(spread: Array) -> Array:
    """Return spreads no smaller than half the median of those so far: a slot that was quiet by chance is no measure."""
    flat = spread.reshape(-1)
    known = np.where(np.isfinite(flat), flat, 0.0)
    total, count = np.cumsum(known), np.cumsum(np.isfinite(flat))
    usual = np.divide(total, count, out=np.full(flat.size, np.nan), where=count > 0)
    found: Array = np.maximum(flat, 0.5 * usual).reshape(spread.shape)
    return found


def _has_habit(flat: Array, by_slot: Array, by_level: Array) -> bool:
    """Return whether the same time of day tells more than the day before, in the first weeks."""
    both = np.isfinite(flat) & np.isfinite(by_slot) & np.isfinite(by_level)
    first = np.flatnonzero(both)[: max(int(0.3 * both.sum()), 50)]
    if first.size < 20:
        return True
    one, two = (float(np.abs(flat[first] - guess[first]).mean()) for guess in (by_slot, by_level))
    return one <= two


def _lasting(off: Array, slots: int) -> Array:
    """Return the EWMA over a day in standard deviations of its own past, shape (n,)."""
    known = np.flatnonzero(np.isfinite(off))
    if known.size < 4 * slots:
        return np.zeros(off.size)
    first = int(known[0])
    typical = _TO_SIGMA * float(np.median(np.abs(off[known][: 4 * slots])))
    weight = 2.0 / (SPAN * slots + 1.0)
    smooth = ewma(np.clip(np.nan_to_num(off), -BOUND * typical, BOUND * typical) if typical > 0.0 else off, weight, 0.0)
    each = max(slots // 8, 1)
    points = smooth[first + slots :: each]
    spread = _spread_of_past(np.abs(points))
    wide = np.full(off.size, np.inf)
    held = np.repeat(np.where(spread > 0.0, spread, np.inf), each)[: off.size - first - slots]
    wide[first + slots : first + slots + held.size] = held
    found: Array = np.abs(smooth) / wide
    return found


def _spread_of_past(points: Array) -> Array:
    """Return the spread of the points before each, what came in the last half day left out; nan while few. Shape (n,).

    A short past knows its own spread badly, so it counts wider.
    """
    length, late = 8 * LONG - 4, 4
    spread = np.full(points.size, np.nan)
    for k in range(FEWEST_POINTS, min(length + late, points.size)):
        spread[k : k + 1] = _spread_of_rows(points[None, : k - late])
    if points.size > length + late:
        windows = np.lib.stride_tricks.sliding_window_view(points, length)
        for low in range(length + late, points.size, BATCH):
            part = slice(low, min(low + BATCH, points.size))
            spread[part] = _spread_of_rows(windows[part.start - length - late : part.stop - length - late])
    return spread


def _spread_of_rows(past: Array) -> Array:
    count = past.shape[1]
    half, far = (count - 1) // 2, min(int(TAIL * count), count - 1)
    ordered = np.partition(past, [half, far], axis=1)
    wide = np.maximum(_TO_SIGMA * ordered[:, half], ordered[:, far] / NormalDist().inv_cdf(0.5 + TAIL / 2.0))
    return np.asarray(wide * (1.0 + FEW / count**0.5), dtype=float)


def _events(at: Array, tests: Mapping[str, Array]) -> tuple[Event, ...]:
    together = np.max(list(tests.values()), axis=0)
    over = np.flatnonzero(together > 1.0)
    if not over.size:
        return ()
    found = []
    for part in np.split(over, np.flatnonzero(np.diff(at[over]) > DAY) + 1):
        kind = next(name for name, score in tests.items() if score[part[0]] > 1.0)
        found.append(Event(float(at[part[0]]), float(at[part[-1]]), float(together[part].max()), kind))
    return tuple(found)
