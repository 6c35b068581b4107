"""Control charts that watch a standardised value as it comes: CUSUM and EWMA, with how long they run on average.

Tabular CUSUM: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3; EWMA: 6.3.2.4. Average run lengths by Siegmund's
approximation (1985) for the CUSUM and by the chain of Brook and Evans (1972, Biometrika 59, 539) for both. All suppose
independent normal values: whiten first (`correlated.autoregression`), or the chart cries wolf.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from asfound.quantities.typing import Array

STATES = 201


@dataclass(frozen=True, slots=True)
class Cusum:
    """Sums of what lies beyond target plus or minus k; an alarm where one exceeds h."""

    high: Array
    low: Array
    alarm: npt.NDArray[np.bool_]

    @property
    def first(self) -> int | None:
        """Index of the first alarm."""
        at = np.flatnonzero(self.alarm)
        return int(at[0]) if at.size else None


def cusum(x: Array, target: float, k: float, h: float) -> Cusum:
    """Return both one-sided sums, S = max(0, S + x - target - k) and its mirror, without reset at an alarm.

    Parameters
    ----------
    x : array of shape (n,)
        nan adds nothing.
    target, k, h : float
        In the unit of x; k is half the shift that matters, h the decision value.
    """
    off = np.where(np.isfinite(x), np.asarray(x, dtype=float) - target, np.nan)
    high, low = _one_sided(off - k), _one_sided(-off - k)
    return Cusum(high, low, (high > h) | (low > h))


def _one_sided(steps: Array) -> Array:
    """Return S(i) = max(0, S(i-1) + step), as the running sum over its running least value."""
    total = np.cumsum(np.where(np.isnan(steps), 0.0, steps))
    found: Array = total - np.minimum(np.minimum.accumulate(total), 0.0)
    return found


def ewma(x: Array, weight: float, start: float) -> Array:
    """Return weight x + (1 - weight) before, from a start; nan keeps the last value. Shape (n,)."""
    from scipy.signal import lfilter  # costs at the start of a program that never asks

    given = np.asarray(x, dtype=float)
    if np.isnan(given).any():
        return _ewma_with_gaps(given, weight, start)
    found: Any = lfilter([weight], [1.0, weight - 1.0], given, zi=[(1.0 - weight) * start])
    return np.asarray(found[0], dtype=float)


def _ewma_with_gaps(x: Array, weight: float, start: float) -> Array:
    there = np.flatnonzero(np.isfinite(x))
    if not there.size:
        return np.full(x.size, start)
    of_there = ewma(x[there], weight, start)
    behind = np.searchsorted(there, np.arange(x.size), "right") - 1
    found: Array = np.where(behind >= 0, of_there[np.maximum(behind, 0)], start)
    return found


def ewma_limits(n: int, target: float, sigma: float, weight: float, width: float) -> tuple[Array, Array]:
    """Return the lower and upper limits at each of n samples, wider as the chart forgets its start."""
    i = np.arange(1, n + 1)
    half = width * sigma * np.sqrt(weight / (2.0 - weight) * (1.0 - (1.0 - weight) ** (2 * i)))
    return target - half, target + half


def cusum_arl(shift: float, k: float, h: float, *, two_sided: bool = True) -> float:
    """Return the average run length of a CUSUM of standard normal values with a shift, by Siegmund's approximation.

    k, h and shift in standard deviations. Within some 5 % of tables for h of 3 and more.
    """
    up = _siegmund(shift - k, h + 1.166)
    if not two_sided:
        return up
    return 1.0 / (1.0 / up + 1.0 / _siegmund(-shift - k, h + 1.166))


def _siegmund(drift: float, b: float) -> float:
    if abs(drift) < 1e-9:
        return b * b
    return (math.exp(-2.0 * drift * b) + 2.0 * drift * b - 1.0) / (2.0 * drift * drift)


def cusum_arl_chain(shift: float, k: float, h: float) -> float:
    """Return the average run length of a one-sided CUSUM of standard normal values, by the chain of Brook and Evans."""
    width = 2.0 * h / (2 * STATES - 1)
    middle = np.arange(STATES) * width
    to = middle[None, :] - middle[:, None] - shift + k
    chain = _normal(to + 0.5 * width) - _normal(to - 0.5 * width)
    chain[:, 0] = _normal(to[:, 0] + 0.5 * width)
    return float(np.linalg.solve(np.eye(STATES) - chain, np.ones(STATES))[0])


def ewma_arl(shift: float, weight: float, width: float) -> float:
    """Return the average run length of a two-sided EWMA of standard normal values, by the chain of Brook and Evans.

    ``width`` of the limits in standard deviations of the EWMA once it has forgotten its start.
    """
    edge = width * math.sqrt(weight / (2.0 - weight))
    step = 2.0 * edge / STATES
    middle = -edge + (np.arange(STATES) + 0.5) * step
    to = (middle[None, :] - (1.0 - weight) * middle[:, None]) / weight - shift
    chain = _normal(to + 0.5 * step / weight) - _normal(to - 0.5 * step / weight)
    return float(np.linalg.solve(np.eye(STATES) - chain, np.ones(STATES))[STATES // 2])


def cusum_h(run_length: float, k: float = 0.5) -> float:
    """Return the decision value of a two-sided CUSUM that cries wolf once in so many samples, in standard
    deviations.
    """
    low, high = 0.1, 60.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if cusum_arl(0.0, k, middle) < run_length else (low, middle)
    return 0.5 * (low + high)


def _normal(z: Array) -> Array:
    from scipy.special import ndtr

    found: Array = np.asarray(ndtr(z), dtype=float)
    return found
