"""Windows and ticks: which part of an axis to show, and where to write numbers on it so that none touch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor, isfinite, log10

STEPS = (1.0, 2.0, 2.5, 5.0)
MOST, FEWEST = 6, 3
CLEAR = 10.0
"""Room kept between two numbers on an axis. [px]"""
SMALLEST_SPAN = 1e-9
"""A tick has nine decimals at most: in a smaller window all would read the same."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A window with its ticks, in the unit that is shown."""

    low: float
    high: float
    ticks: tuple[float, ...]
    decimals: int

    def words(self, tick: float) -> str:
        """Return a tick as it is written."""
        return tick_text(tick, self.decimals)


@lru_cache(maxsize=4096)
def tick_text(value: float, decimals: int) -> str:
    """Return a number for an axis: thousands 1,437, minus U+2212.

    >>> tick_text(-1250, 0), tick_text(0.5, 2)
    ('−1,250', '0.50')
    """
    text = f"{abs(value):,.{decimals}f}"
    return f"−{text}" if value < 0 and float(text.replace(",", "")) else text


def nice_steps(span: float) -> list[float]:
    """Return round steps that could divide a span, from fine to coarse."""
    power = floor(log10(span)) - 1
    return [m * 10.0**p for p in range(power, power + 3) for m in STEPS]


def _decimals(step: float) -> int:
    for places in range(9):
        if abs(step * 10**places - round(step * 10**places)) < 1e-6 * max(step * 10**places, 1):
            return places
    return 9


def choose(
    low: float,
    high: float,
    *,
    room: float,
    measure: Callable[[str], float],
    to_tick_low: bool = True,
    to_tick_high: bool = True,
) -> Axis:
    """Choose ticks for a window so that at least three and at most six stand clear of each other.

    Parameters
    ----------
    low, high : float
        What must be inside.
    room : float
        Length of the axis. [px]
    measure : callable
        Width of a text. [px]
    to_tick_low, to_tick_high : bool
        Widen the window to the next tick on that side; False where a wall's hatch ends the picture.

    Returns
    -------
    Axis
        In a very narrow picture with very long numbers it has two ticks, never touching ones.
    """
    if not (isfinite(low) and isfinite(high)):
        raise ValueError(f"an axis needs finite ends, not {low} and {high}")
    # A window narrower than numbers can be told apart there has no steps to divide it.
    if high - low <= max(abs(low), abs(high)) * 1e-12 or high - low < SMALLEST_SPAN:
        pad = abs(low) * 0.1 if abs(low) >= SMALLEST_SPAN else 1.0
        low, high = low - pad, high + pad
    best: tuple[float, Axis] | None = None
    for step in nice_steps(high - low):
        axis = _axis(low, high, step, to_tick_low, to_tick_high)
        count = len(axis.ticks)
        if count < 2 or count > MOST:
            continue
        wasted = (axis.high - axis.low) / (high - low) - 1
        cost = wasted * 4 + abs(count - 5) * 0.22 + (2.0 if count < FEWEST else 0) + 0.1 * (axis.decimals > 2)
        if (best is None or cost < best[0] - 1e-12) and _clear(axis, room, measure):
            best = (cost, axis)
    if best is not None:
        return best[1]
    inside = (_axis(low, high, step, False, False) for step in reversed(nice_steps(high - low)))
    one = next(axis for axis in inside if axis.ticks)
    return Axis(low, high, one.ticks[:1], one.decimals)


@lru_cache(maxsize=4096)
def _axis(low: float, high: float, step: float, to_low: bool, to_high: bool) -> Axis:
    slack = 1e-9
    first = floor(low / step + slack) if to_low else ceil(low / step - slack)
    last = ceil(high / step - slack) if to_high else floor(high / step + slack)
    ticks = tuple(i * step for i in range(first, last + 1)) if last - first < 40 else ()
    return Axis(ticks[0] if to_low and ticks else low, ticks[-1] if to_high and ticks else high, ticks, _decimals(step))


def _clear(axis: Axis, room: float, measure: Callable[[str], float]) -> bool:
    scale = room / (axis.high - axis.low)
    placed = [((t - axis.low) * scale, measure(axis.words(t)) / 2) for t in axis.ticks]
    ends = [(at - half, at + half) for at, half in placed]
    return all(b[0] - a[1] >= CLEAR for a, b in pairwise(ends))
