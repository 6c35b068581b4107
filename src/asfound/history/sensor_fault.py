"""What is wrong with a sensor or its log, and when a sensor may be judged at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.channels import SECOND, Channels, Times
from asfound.quantities.typing import Array

Mask = npt.NDArray[np.bool_]
KINDS = ("stuck", "spike", "gap", "unit_change", "gauge_absolute", "twins_apart", "left_group", "coarse", "at_limit")
MAD = 1.4826
"""Standard deviation of normal noise over the median of its distances from the median."""
RUNNING = "raw:running@engine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with a channel."""

    kind: str
    """One of `KINDS`."""
    channel: str
    """Empty where the whole log is meant."""
    start: int
    """[µs]"""
    end: int
    """[µs]"""
    size: float = float("nan")
    """How far off, SI; of a gap seconds."""
    says: str = ""
    twin: str = ""
    """Channel that it parted from."""
    last: float = float("nan")
    """How far off at the end of it, the median of its last days. SI"""
    u: float = float("nan")
    """Standard uncertainty of that. SI"""


def running_of(log: Channels) -> Mask:
    """Return where the engine runs: by its running column, else by its speed above half its usual, else everywhere."""
    if RUNNING in log.values:
        return np.asarray(np.nan_to_num(log.values[RUNNING]) > 0)
    speed = log.values.get("engine_speed@engine")
    if speed is None:
        return np.ones(len(log), dtype=bool)
    usual = np.nanpercentile(speed, 90)
    return np.asarray(np.nan_to_num(speed) > 0.5 * usual)


def settled(time: Times, running: Mask, after: float = 3 * 3600.0) -> Mask:
    """Return where the engine has run for ``after`` seconds without a stop or a hole of the log, and runs on. (n,)"""
    step = np.diff(time, prepend=time[:1])
    usual = np.median(step[1:]) if len(time) > 1 else 0
    fresh = ~running | (step > 3 * usual)
    last = np.maximum.accumulate(np.where(fresh, np.arange(len(time)), 0))
    since = (time - time[last]) / SECOND
    runs_on = np.append(running[1:], running[-1:])
    return np.asarray(running & runs_on & ((since >= after) | (last == 0)))


def held(value: Array) -> Array:
    """Return the values with each missing one as the last before it. (n,)"""
    known = np.isfinite(value)
    if known.all():
        return value
    last = np.maximum.accumulate(np.where(known, np.arange(len(value)), -1))
    first = int(np.argmax(known)) if known.any() else 0
    return np.asarray(value[np.where(last < 0, first, last)])


def scale(value: Array) -> float:
    """Return a robust standard deviation; nan for nothing."""
    good = value[np.isfinite(value)]
    return float(MAD * np.median(np.abs(good - np.median(good)))) if len(good) else float("nan")


def days(time: Times) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return the first row of each day with rows, and the day's number since 1970; ``time`` in order."""
    day = time // (86_400 * SECOND)
    first = np.flatnonzero(np.concatenate([[True], day[1:] != day[:-1]])) if len(time) else np.empty(0, np.int64)
    return first.astype(np.int64), day[first]


def daily_medians(time: Times, value: Array, use: Mask, least: int = 12) -> tuple[Times, Array]:
    """Return the middle of each day and the median of the rows in use; nan for a day with fewer than ``least``."""
    first, number = days(time)
    middle = (number * 86_400 + 43_200) * SECOND
    found = np.full(len(first), np.nan)
    if not len(first):
        return middle, found
    good = use & np.isfinite(value)
    rows = np.flatnonzero(good)
    which = np.searchsorted(first, rows, side="right") - 1
    order = np.lexsort((value[rows], which))
    ordered, of_day = value[rows][order], which[order]
    count = np.bincount(of_day, minlength=len(first))
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    full = count >= least
    low, high = begin[full] + (count[full] - 1) // 2, begin[full] + count[full] // 2
    found[full] = 0.5 * (ordered[low] + ordered[high])
    return middle, found
