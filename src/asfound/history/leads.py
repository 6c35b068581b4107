"""Which of two signals moves first: does the load swing and the speed follow, or does the governor hunt by itself?

Both signals are whitened by an autoregression of their own, so that a slow swing in both is not taken for a link; what
is left is correlated at all lags (Haugh 1976, J. Am. Stat. Assoc. 71, 378). Past against future: the sum of squared
correlations on either side of lag 0, against chi-square. The lag is where the correlation is largest, its interval
from resampled blocks (Kuensch 1989, Ann. Stat. 17, 1217). Under a sampling step longer than the true lag the order
cannot be told; then lag 0 says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.correlated import autoregression
from asfound.history.estimate import UNKNOWN, Estimate
from asfound.history.even import even, longest_stretch
from asfound.quantities.typing import Array

BLOCKS = 20
DRAWS = 500
RARE = 0.001
FEWEST = 100


@dataclass(frozen=True, slots=True)
class Leads:
    """What moves first."""

    first: str
    """``a``, ``b``, ``both`` (each answers the other), ``together`` (within one step) or ``neither``."""
    lag: Estimate
    """By how much b comes after a, s; negative when a comes after b."""
    correlation: float
    """Of the whitened signals at that lag."""
    a_first: float
    """Probability that chance alone makes b follow a as much."""
    b_first: float
    lags: Array
    """s, shape (2 L + 1,)."""
    correlations: Array
    step: float
    words: str


def which_leads(
    time: npt.ArrayLike, a: Array, b: Array, longest_lag: float, names: tuple[str, str] = ("a", "b")
) -> Leads:
    """Return which of two signals leads.

    Parameters
    ----------
    time : array of shape (n,)
        See `seconds`; the longest stretch without a hole is used.
    a, b : array of shape (n,)
    longest_lag : float
        Looked at on either side, s.
    names : tuple of str
        For the words.

    Raises
    ------
    InputError
        Fewer than 100 samples without a hole, or lags longer than a quarter of them.
    """
    _, one, step = even(time, np.where(np.isfinite(b), a, np.nan))
    _, two, _ = even(time, np.where(np.isfinite(a), b, np.nan))
    size = min(one.size, two.size)
    both = np.column_stack([one[:size], two[:size]])
    both = both[longest_stretch(both)]
    n, most = len(both), max(round(longest_lag / step), 1)
    if n < FEWEST or most > n // 4:
        raise InputError(
            "samples", str(n), "are too few for these lags", allowed=f"{max(FEWEST, 4 * most)} or more without a hole"
        )
    white = np.column_stack([_whitened(column) for column in both.T])
    products, counts = _block_products(white, most)
    correlations = products.sum(axis=0) / counts.sum(axis=0)
    at = int(np.abs(correlations).argmax())
    after, before = correlations[most + 1 :], correlations[:most]
    a_first, b_first = (_by_chance(side, n) for side in (after, before))
    instant = abs(correlations[most]) * math.sqrt(n) > 4.0
    sides = float(np.abs(after).max()), float(np.abs(before).max())
    first = _first(a_first, b_first, instant, at - most, sides)
    lag = UNKNOWN if first == "neither" else _lag(products, counts, most, step, np.sign(correlations[at]))
    return Leads(
        first, lag, float(correlations[at]), a_first, b_first, step * np.arange(-most, most + 1.0), correlations, step,
        _words(first, lag, step, names),
    )  # fmt: skip


def _whitened(x: Array) -> Array:
    off = x - x.mean()
    memory, variance = autoregression(off)
    white = off.copy()
    for lag, coefficient in enumerate(memory, 1):
        white[lag:] -= coefficient * off[:-lag]
    sigma = math.sqrt(variance) if variance > 0.0 else 1.0
    found: Array = np.clip(white / sigma, -4.0, 4.0)
    found[: memory.size] = 0.0
    return found / max(float(found.std()), 1e-300)


def _block_products(white: Array, most: int) -> tuple[Array, Array]:
    """Return sums of a(i) b(i + lag) by block of i and lag, and their counts. Shape (blocks, 2 most + 1)."""
    n = len(white)
    a, b = white.T
    products, counts = np.zeros((BLOCKS, 2 * most + 1)), np.zeros((BLOCKS, 2 * most + 1))
    edges = np.linspace(0, n, BLOCKS + 1).astype(int)
    for k, lag in enumerate(range(-most, most + 1)):
        low, high = max(0, -lag), min(n, n - lag)
        product = np.zeros(n)
        product[low:high] = a[low:high] * b[low + lag : high + lag]
        products[:, k] = np.add.reduceat(product, edges[:-1])
        counts[:, k] = np.diff(np.clip(edges, low, high))
    return products, counts


def _by_chance(correlations: Array, n: int) -> float:
    from scipy.special import chdtrc  # costs at the start of a program that never asks

    return float(chdtrc(correlations.size, n * float((correlations**2).sum())))


def _first(a_first: float, b_first: float, instant: bool, peak: int, sides: tuple[float, float]) -> str:
    follows, leads = a_first < RARE, b_first < RARE
    if follows and leads and 0.5 < sides[0] / sides[1] < 2.0:
        return "both"
    if follows and leads:  # what whitening left of a strong swing shows on both sides; one is plainly larger
        return "a" if sides[0] > sides[1] else "b"
    if instant and peak == 0:
        return "together"
    if follows or leads:
        return "a" if follows else "b"
    return "together" if instant else "neither"


def _lag(products: Array, counts: Array, most: int, step: float, sign: float) -> Estimate:
    random = np.random.default_rng(1)
    drawn = random.multinomial(BLOCKS, np.full(BLOCKS, 1.0 / BLOCKS), DRAWS).astype(float)
    each = sign * (drawn @ products) / np.maximum(drawn @ counts, 1.0)
    peaks = (_peak(each) - most) * step
    value = float((_peak(sign * (products.sum(axis=0) / counts.sum(axis=0))[None, :])[0] - most) * step)
    low, high = np.quantile(peaks, [0.025, 0.975])
    half = 0.5 * step  # where between two samples it lies is not known better
    return Estimate(value, float(peaks.std()), min(float(low), value) - half, max(float(high), value) + half)


def _peak(rows: Array) -> Array:
    """Return the place of the largest value of each row, by a parabola through it and its neighbours."""
    at = np.clip(rows.argmax(axis=1), 1, rows.shape[1] - 2)
    row = np.arange(len(rows))
    left, middle, right = rows[row, at - 1], rows[row, at], rows[row, at + 1]
    below = left - 2.0 * middle + right
    shift = np.divide(0.5 * (left - right), below, out=np.zeros(len(rows)), where=below < 0.0)
    found: Array = at + np.clip(shift, -0.5, 0.5)
    return found


def _words(first: str, lag: Estimate, step: float, names: tuple[str, str]) -> str:
    a, b = names
    if first == "neither":
        return f"No link between {a} and {b} beyond chance."
    if first == "both":
        return f"{a} and {b} answer each other."
    if first == "together":
        return f"{a} and {b} move within one step of {step:g} s; a quicker log would tell which moves first."
    one, other = (a, b) if first == "a" else (b, a)
    ends = sorted((abs(lag.low), abs(lag.high)))
    return f"{one} moves first, {other} follows after {abs(lag.value):.3g} s ({ends[0]:.3g} to {ends[1]:.3g} s)."
