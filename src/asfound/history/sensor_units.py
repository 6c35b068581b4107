"""Another unit under the same head, gauge for absolute pressure: seen by a jump that only a change of unit makes.

The level before and after must be each other by the rule of the units, and the swing must have changed by its factor;
a real change of the engine does neither but by chance. Which side is wrong is told by the engine at rest, when its
manifold stands at the barometer and its exhaust cools towards the air. Own method, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.history.channels import Times, split_channel
from asfound.history.sensor_fault import Fault, Mask, daily_medians, scale
from asfound.quantities.register import quantities, quantity
from asfound.quantities.typing import Array

ATMOSPHERE = 101_325.0


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


def _jumps(level: Array, swing: Array, swaps: Sequence[Swap]) -> list[tuple[int, Swap, bool]]:
    """Return (row of the first day after, swap, whether the days after are the false ones if nothing else tells)."""
    scatter = max(scale(np.diff(level)) / np.sqrt(2), 1e-9 * float(np.abs(level).max()), 1e-12)
    moved = np.abs(np.diff(level, prepend=level[:1]))
    found: list[tuple[int, Swap, bool]] = []
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
            found.append((int(row), best[1], best[2]))
            last = int(row)
    return found


def _stretches(
    jumps: list[tuple[int, Swap, bool]], day: Times, time: Times, value: Array, channel: str,
    resting: Array | None, at_rest: Mask | None,
) -> tuple[Fault, ...]:  # fmt: skip
    edges = [int(time[0]), *(_edge(day, row) for row, _, _ in jumps), int(time[-1])]
    found: list[Fault] = []
    for number, (_, swap, _) in enumerate(jumps):
        sides = [(edges[number], edges[number + 1]), (edges[number + 1], edges[number + 2])]
        away = [_from_rest(time, value, resting, at_rest, *side) for side in sides]
        forward = jumps[number][2]
        wrong = 1 if forward else 0
        if all(np.isfinite(away)) and swap.kind == "gauge_absolute":
            if max(away) < 0.3 * ATMOSPHERE:  # at rest it stands at the barometer on both sides
                continue
            wrong = int(away[1] > away[0])
            higher = _median(time, value, sides[wrong]) > _median(time, value, sides[1 - wrong])
            swap = GAUGE[0] if higher else GAUGE[1]
        start, end = sides[wrong]
        if any(one.start == start and one.end == end for one in found):
            continue
        found.append(
            Fault(
                kind=swap.kind, channel=channel, start=start, end=end,
                size=swap.offset if swap.factor == 1 else swap.factor,
                says=f"{swap.written} under a head that says {swap.head}",
            )
        )  # fmt: skip
    return tuple(found)


def _edge(day: Times, row: int) -> int:
    """Return the moment between two days."""
    return int((day[row - 1] + day[row]) // 2)


def _median(time: Times, value: Array, side: tuple[int, int]) -> float:
    inside = (time >= side[0]) & (time < side[1]) & np.isfinite(value)
    return float(np.median(value[inside])) if inside.any() else float("nan")


def _from_rest(time: Times, value: Array, resting: Array | None, at_rest: Mask | None, start: int, end: int) -> float:
    """Return how far the channel stands from what it should show at rest; nan where it never rested."""
    if resting is None or at_rest is None:
        return float("nan")
    inside = at_rest & (time >= start) & (time < end) & np.isfinite(value) & np.isfinite(resting)
    return float(np.median(np.abs(value[inside] - resting[inside]))) if inside.sum() >= 3 else float("nan")
