"""Another unit under the same head, gauge for absolute pressure: seen by a jump that only a change of unit makes.

The level before and after must be each other by the rule of the units, and the swing must have changed by its factor;
a real change of the engine does neither but by chance. Which side is wrong is told by the engine at rest, when its
manifold stands at the barometer and its exhaust cools towards the air. Own method, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from asfound.history.channels import Times, split_channel
from asfound.history.sensor_fault import Fault, Mask, daily_medians, scale
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.register import quantities, quantity
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class Swap:
    """What is read, when it is written in one unit under the head of another: read = factor x true + offset, SI."""

    kind: str
    written: str
    head: str
    factor: float
    offset: float


_ICE, _NINE = 273.15, 5 / 9
TEMPERATURE = (
    Swap("unit_change", "°C", "°F", _NINE, _ICE - (_ICE + 32) * _NINE),
    Swap("unit_change", "°F", "°C", 1 / _NINE, _ICE - _ICE / _NINE + 32),
    Swap("unit_change", "K", "°C", 1.0, _ICE),
    Swap("unit_change", "°C", "K", 1.0, -_ICE),
)
PRESSURE = tuple(
    Swap("unit_change", a, b, tob / toa, 0.0)
    for a, toa in (("kPa", 1e3), ("psi", 6894.757), ("bar", 1e5), ("inHg", 3386.389), ("inH2O", 249.089))
    for b, tob in (("kPa", 1e3), ("psi", 6894.757), ("bar", 1e5), ("inHg", 3386.389), ("inH2O", 249.089))
    if a != b
)
GAUGE = (
    Swap("gauge_absolute", "absolute", "gauge", 1.0, ATMOSPHERE),
    Swap("gauge_absolute", "gauge", "absolute", 1.0, -ATMOSPHERE),
)
SPAN = 8
"""Days on each side that are compared."""
STANDS_OUT = 6.0
"""Day-to-day scatters that the jump is at least."""
FITS = 3.0
"""Day-to-day scatters by which the rule of the units may miss."""
OF_JUMP = 0.12
"""Share of the jump by which the rule of the units may miss."""
SWING = 0.35
"""How far the logarithm of the swing's ratio may be from that of the factor."""

UNEXPLAINED = 0.9
"""Of the whole log: what a jump costs that no change of unit explains."""
FIRST = 2.0
"""How much more the first stretch counts: a head is right when it is set up, more often than not."""
AT_REST = 12.0
"""How much further from the air a channel stands at rest in a wrong unit. [K]"""


def swaps_of(channel: str) -> tuple[Swap, ...]:
    """Return the mistakes that a channel can suffer, by the kind of its quantity; none for a raw column."""
    name, _ = split_channel(channel)
    if name not in quantities():  # a raw column, or one of another program
        return ()
    found = quantity(name)
    if found.si_unit == "K":
        return () if found.difference else TEMPERATURE
    if not found.pressure:
        return ()
    return (*PRESSURE, *GAUGE) if found.gauge_possible else PRESSURE


def unit_changes(
    time: Times, value: Array, use: Mask, channel: str, *, load: Array | None = None, resting: Array | None = None,
    at_rest: Mask | None = None, swaps: Sequence[Swap] | None = None,
) -> tuple[Fault, ...]:  # fmt: skip
    """Return the stretches written in another unit, each from the jump to the next jump back or to the log's end.

    Parameters
    ----------
    time : array (n,)
        [µs]
    value : array (n,)
        As read by its head. SI
    use : array (n,)
        Where the engine has settled.
    channel : str
        Its quantity tells which units can be mistaken.
    load : array (n,), optional
        What the channel follows day by day; its part is taken out before jumps are looked for.
    resting : array (n,), optional
        What the channel shows of an engine at rest (the barometer, the air); tells which side of a jump is wrong.
    at_rest : array (n,), optional
        Where it has rested long enough.
    """
    choice = swaps_of(channel) if swaps is None else swaps
    if not choice:
        return ()
    middle, level = daily_medians(time, value, use)
    known = np.flatnonzero(np.isfinite(level))
    if len(known) < 2 * SPAN:
        return ()
    day, level = middle[known], level[known]
    swing = _daily_swing(time, value, use)[known]
    if load is not None:
        level = _without(level, daily_medians(time, load, use)[1][known])
    jumps = _jumps(level, swing, choice)
    return _stretches(jumps, day, time, value, channel, resting, at_rest)


def _without(level: Array, load: Array) -> Array:
    """Return the daily levels without what follows the load; a jump of the unit hardly moves the median slope."""
    moved, by = np.diff(level), np.diff(load)
    large = np.abs(by) >= np.nanpercentile(np.abs(by), 75) if np.isfinite(by).any() else np.zeros(len(by), dtype=bool)
    if large.sum() < 10:
        return level
    slope = float(np.median(moved[large] / np.where(by[large] == 0, np.nan, by[large])))
    return level - slope * (load - np.nanmedian(load)) if np.isfinite(slope) else level


def _daily_swing(time: Times, value: Array, use: Mask) -> Array:
    """Return the median size of the step between neighbouring rows in use, by day."""
    step = np.abs(np.diff(value, prepend=value[:1]))
    beside = use & np.concatenate([[False], use[:-1]])
    return daily_medians(time, step, beside)[1]


def _jumps(level: Array, swing: Array, swaps: Sequence[Swap]) -> list[Jump]:
    """Return the jumps that a change of unit makes, each with what it may be."""
    scatter = max(scale(np.diff(level)) / np.sqrt(2), 1e-9 * float(np.abs(level).max()), 1e-12)
    moved = np.abs(np.diff(level, prepend=level[:1]))
    found: list[Jump] = []
    last = -SPAN
    for row in np.flatnonzero(moved > STANDS_OUT * scatter):
        if row < 3 or row > len(level) - 3 or row - last < 3:
            continue
        low, high = max(row - SPAN, 0), min(row + SPAN, len(level))
        before, after = level[low:row], level[row:high]
        a, b = float(np.median(before)), float(np.median(after))
        width = max(scatter, scale(before), scale(after))
        ratio = np.log((np.median(swing[row:high]) + 1e-12) / (np.median(swing[low:row]) + 1e-12))
        best: tuple[float, Swap, bool] | None = None
        for swap in swaps:
            for forward in (True, False):
                true, read = (a, b) if forward else (b, a)
                miss = abs(swap.factor * true + swap.offset - read) / (width * max(swap.factor, 1.0))
                turned = abs((ratio if forward else -ratio) - np.log(swap.factor))
                clear = abs(swap.factor * true + swap.offset - read) <= OF_JUMP * abs(b - a)
                if clear and miss <= FITS and turned <= SWING and (best is None or miss + turned < best[0]):
                    best = (miss + turned, swap, forward)
        if best is not None:
            found.append(_both_ways(int(row), best[1], best[2], swaps))
            last = int(row)
    return found


@dataclass(frozen=True, slots=True)
class Jump:
    """Row of the first day after, and the unit into which, or out of which, it may have gone.

    The two are one and the same jump: into °C under a head of °F, or out of °F under a head of °C.
    """

    row: int
    into: Swap | None
    out_of: Swap | None


def _both_ways(row: int, swap: Swap, forward: bool, swaps: Sequence[Swap]) -> Jump:
    back = [one for one in swaps if (one.written, one.head) == (swap.head, swap.written)]
    other = back[0] if back else None
    return Jump(row, swap, other) if forward else Jump(row, other, swap)


def _stretches(
    jumps: list[Jump], day: Times, time: Times, value: Array, channel: str, resting: Array | None,
    at_rest: Mask | None,
) -> tuple[Fault, ...]:  # fmt: skip
    """Return the stretches in another unit: the way through all jumps with the least time in a wrong unit.

    Where the engine has rested on both sides, what it showed at rest goes before the time.
    """
    if not jumps:
        return ()
    edges = [int(time[0]), *(_edge(day, one.row) for one in jumps), int(time[-1])]
    whole = float(edges[-1] - edges[0])
    away = np.array([_from_rest(time, value, resting, at_rest, *side) for side in pairwise(edges)])
    states: list[Swap | None] = [None, *dict.fromkeys(s for j in jumps for s in (j.into, j.out_of) if s is not None)]
    cost = np.array([_time_and_rest(state, 0, edges, away, whole) for state in states])
    came: list[list[int]] = []
    for number, jump in enumerate(jumps):
        step = np.array([[_passage(jump, old, new, whole) for old in states] for new in states]) + cost
        came.append([int(k) for k in step.argmin(axis=1)])
        own = [_time_and_rest(state, number + 1, edges, away, whole) for state in states]
        cost = step.min(axis=1) + np.array(own)
    at = int(cost.argmin())
    way = [at]
    for back in reversed(came):
        way.append(back[way[-1]])
    found: list[Fault] = []
    for (start, end), state in zip(pairwise(edges), (states[k] for k in reversed(way)), strict=True):
        if state is None:
            continue
        says = f"{state.written} under a head that says {state.head}"
        if found and found[-1].end == start and found[-1].says == says:
            start = found.pop().start
        size = state.offset if state.factor == 1 else state.factor
        found.append(Fault(kind=state.kind, channel=channel, start=start, end=end, size=size, says=says))
    return tuple(found)


def _passage(jump: Jump, old: Swap | None, new: Swap | None, whole: float) -> float:
    """Return what it costs to pass a jump from one state to another: nothing where it is explained."""
    if old is None and new is not None and new == jump.into:
        return 0.0
    if new is None and old is not None and old == jump.out_of:
        return 0.0
    return UNEXPLAINED * whole if old == new else np.inf


def _time_and_rest(state: Swap | None, number: int, edges: Sequence[int], away: Array, whole: float) -> float:
    """Return the time of a stretch in a wrong unit, and what speaks against its state from the engine at rest."""
    wrong = float(edges[number + 1] - edges[number]) if state is not None else 0.0
    wrong *= FIRST if number == 0 else 1.0
    if not np.isfinite(away).sum() > 1 or not np.isfinite(away[number]):
        return wrong
    far = away[number] - np.nanmin(away) > (0.3 * ATMOSPHERE if away[number] > 1e3 else AT_REST)
    return wrong + (whole if far == (state is None) else 0.0)


def _edge(day: Times, row: int) -> int:
    """Return the moment between two days."""
    return int((day[row - 1] + day[row]) // 2)


def _from_rest(time: Times, value: Array, resting: Array | None, at_rest: Mask | None, start: int, end: int) -> float:
    """Return how far the channel stands from what it should show at rest; nan where it never rested."""
    if resting is None or at_rest is None:
        return float("nan")
    inside = at_rest & (time >= start) & (time < end) & np.isfinite(value) & np.isfinite(resting)
    return float(np.median(np.abs(value[inside] - resting[inside]))) if inside.sum() >= 3 else float("nan")
