"""Gaps of the log, a sensor at the end of its range, and a logger that keeps coarse steps."""

from __future__ import annotations

import numpy as np

from asfound.history.channels import SECOND, Times
from asfound.history.sensor_fault import Fault, Mask
from asfound.quantities.typing import Array

LEAST_GAP = 6.0
"""Usual steps that a hole has at least."""
PILED = 20
"""Samples at one end value."""
PILED_TIMES = 4.0
"""How many times more samples stand at the end than at any of the ten values before it."""
BEYOND = 2e-4
"""Share of samples that may lie beyond the end: spikes do."""
SETTING = 0.5
"""Share of samples at one value above which the channel is a setting."""
FEW = 6
"""A channel with fewer different values is a state or a setting."""


def gaps(time: Times, *, least: float = LEAST_GAP) -> tuple[Fault, ...]:
    """Return the holes of a log longer than ``least`` usual steps."""
    if len(time) < 3:
        return ()
    step = np.diff(time)
    usual = float(np.median(step))
    return tuple(
        Fault(
            kind="gap", channel="", start=int(time[row] + usual), end=int(time[row + 1]),
            size=float((step[row] - usual) / SECOND), says="no rows",
        )
        for row in np.flatnonzero(step > least * usual)
    )  # fmt: skip


def at_limit(time: Times, value: Array, use: Mask, channel: str = "") -> tuple[Fault, ...]:
    """Return an end of the range at which the channel piles up although the quantity would go on.

    An end is where many samples are equal, hardly any lies beyond, and few lie just before it.
    """
    rows = np.flatnonzero(use & np.isfinite(value))
    if len(rows) < 1000:
        return ()
    kept = value[rows]
    values, counts = np.unique(kept, return_counts=True)
    if len(values) < FEW:
        return ()
    found = []
    for side in (1, -1):
        end = _end(values, counts.astype(float), side)
        if end is None or end == 0.0:  # nothing is a real end of many quantities
            continue
        there = time[rows][kept == end]
        found.append(
            Fault(
                kind="at_limit", channel=channel, start=int(there[0]), end=int(there[-1]), size=float(end),
                says=f"{len(there)} samples at exactly this {'upper' if side > 0 else 'lower'} end, few beyond it",
            )
        )  # fmt: skip
    return tuple(found)


def _end(values: Array, counts: Array, side: int) -> float | None:
    """Return the value at which an end piles up, None for none. ``values`` ascending with their counts."""
    ordered, number = (values[::-1], counts[::-1]) if side > 0 else (values, counts)
    total = int(number.sum())
    beyond = np.cumsum(number) - number
    few = beyond <= BEYOND * total
    here = int(np.argmax(np.where(few, number, 0)))
    if number[here] < PILED or number[here] > SETTING * total:
        return None
    before = number[here + 1 : here + 11]
    return float(ordered[here]) if len(before) and number[here] > PILED_TIMES * before.max() else None


def quantum(value: Array) -> float:
    """Return the step that all differences of a channel are multiples of; 0 where there is none. SI"""
    good = value[np.isfinite(value)]
    different, counts = np.unique(good, return_counts=True)
    different = different[counts >= 3]  # a spike stands on no step
    if len(different) < FEW or len(different) > 0.2 * len(good):
        return 0.0
    apart = np.diff(different)
    tiny = 1e-6 * max(float(np.abs(different).max()), 1e-30)
    apart = apart[apart > tiny]
    if not len(apart):
        return 0.0
    step = float(np.percentile(apart, 5))
    parts = apart / step
    return step if float(np.mean(np.abs(parts - np.round(parts)) < 0.02)) > 0.8 else 0.0


def coarse(time: Times, value: Array, use: Mask, channel: str = "", *, share: float = 1.0) -> tuple[Fault, ...]:
    """Return a fault where the logger's step is larger than ``share`` times what the channel moves between samples.

    The movement is the standard deviation of the differences with the step's own part (step^2 / 6) taken off.
    """
    rows = np.flatnonzero(use & np.isfinite(value))
    if len(rows) < 1000:
        return ()
    kept = value[rows]
    step = quantum(kept)
    if step <= 0:
        return ()
    difference = np.diff(kept)[np.diff(rows) == 1]
    difference = difference[np.abs(difference) <= np.percentile(np.abs(difference), 99.5)]
    moved = float(np.sqrt(max(float(np.mean(difference**2)) - step**2 / 6, 0.0)))
    if step <= share * moved:
        return ()
    return (
        Fault(
            kind="coarse", channel=channel, start=int(time[rows[0]]), end=int(time[rows[-1]]), size=step,
            says="the logger keeps steps larger than what moves between two samples",
        ),
    )  # fmt: skip
