"""How long the description of noise is: an autoregression whose innovations are normal, or have long tails.

A step is one very large innovation to a series that remembers everything. Innovations that are merely bounded make it
free, and then no step is ever needed; squares make a gust of the noise a step. So both are tried: normal innovations,
and Student's with four degrees of freedom (Lange, Little and Taylor 1989, J. Am. Stat. Assoc. 84, 881), where an
innovation of 100 standard deviations still costs about 39 (twice the natural logarithm of the likelihood), and one of
6 costs 12. The shorter one counts, for the series with changes and without them alike.

What wanders for weeks under white noise of the instrument remembers longer than three samples can tell. Where two or
three are wanted, one sample beside one innovation (Box and Jenkins' mixed model of orders 1 and 1) is tried as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.history.normal_equations import solve
from asfound.quantities.typing import Array

MEMORY = 3
"""Largest order of the noise."""
FREEDOM = 4.0
ROUNDS, REWEIGHTED = 30, 3
FEWEST_MIXED = 60
MIXED_ROUNDS = 5
LONGEST = 40
_TAILS = 2.0 * (math.lgamma(FREEDOM / 2.0) - math.lgamma((FREEDOM + 1.0) / 2.0)) + math.log(FREEDOM * math.pi)
_NORMAL = math.log(2.0 * math.pi) + 1.0


@dataclass(frozen=True, slots=True)
class Noise:
    """The shortest description of noise."""

    length: float
    """Twice the negative natural logarithm of the likelihood, and the price of the order."""
    memory: Array
    """Coefficients of the autoregression."""
    variance: float
    """Of the innovations; with long tails of their middle, as a normal one would have it."""


def noise_length(rest: Array) -> Noise:
    """Return the shortest description of a series of mean zero, orders 0 to `MEMORY`. Shape (n,)."""
    n = rest.size
    later = rest[MEMORY:]
    before = np.stack([rest[MEMORY - lag : n - lag] for lag in range(1, MEMORY + 1)], axis=1)
    best: Noise | None = None
    for order in range(MEMORY + 1):
        columns = before[:, :order]
        for fit in (normal_fit(columns, later), tailed_fit(columns, later)):
            if fit is None:
                continue
            total = n * fit[0] + order * math.log(n)
            if best is None or total < best.length:
                best = Noise(total, fit[1], fit[2])
    assert best is not None
    if best.memory.size > 1 and n >= FEWEST_MIXED:
        memory, e = mixed(rest)
        own = solve_none(e)
        total = n * own[0] + 2.0 * math.log(n)
        # white noise over what wanders has a + b > 0; else the fit only unlearns what the description took away
        if total < best.length and memory.size and memory[0] > 0.0:
            best = Noise(total, memory, own[1])
    return best


def solve_none(e: Array) -> tuple[float, float]:
    """Return length per innovation and variance of given innovations, the shorter of normal and long-tailed."""
    fits = [fit for fit in (normal_fit(e[:, None][:, :0], e), tailed_fit(e[:, None][:, :0], e)) if fit is not None]
    best = min(fits, key=lambda fit: fit[0])
    return best[0], best[2]


def mixed(x: Array) -> tuple[Array, Array]:
    """Return x(i) = a x(i - 1) + e(i) + b e(i - 1) as a long autoregression, and its innovations.

    Least conditional squares by Gauss and Newton's steps, from three beginnings. The autoregression ends where less
    than 2 % is left, at the latest after `LONGEST` samples.
    """
    from scipy.signal import lfilter  # costs at the start of a program that never asks

    best: tuple[float, float, float, Array] | None = None
    for a, b in ((0.9, -0.5), (0.98, -0.8), (0.995, -0.95)):
        for turn in range(MIXED_ROUNDS + 1):
            e = lfilter([1.0, -a], [1.0, b], x)
            size = float(e[1:] @ e[1:])
            if best is None or size < best[0]:
                best = size, a, b, e
            if turn == MIXED_ROUNDS:
                break
            by_a, by_b = lfilter([0.0, 1.0], [1.0, b], x), lfilter([0.0, 1.0], [1.0, b], e)
            step = solve(np.stack([by_a, by_b], axis=1)[1:], e[1:])
            a, b = float(np.clip(a + step[0], -0.9, 0.9995)), float(np.clip(b + step[1], -0.99, 0.9))
    assert best is not None
    _, a, b, e = best
    length = LONGEST if abs(b) ** LONGEST > 0.02 else max(int(math.log(0.02) / math.log(max(abs(b), 1e-9))), 1)
    memory = (a + b) * (-b) ** np.arange(min(length, LONGEST, x.size // 8))
    return np.asarray(memory, dtype=float), np.asarray(e[1:], dtype=float)


def normal_fit(columns: Array, y: Array) -> tuple[float, Array, float]:
    """Return length per innovation, coefficients, variance, for normal innovations."""
    found = _no_explosion(solve(columns, y)) if columns.shape[1] else np.zeros(0)
    variance = max(float(((y - columns @ found) ** 2).mean()), 1e-300)
    return math.log(variance) + _NORMAL, found, variance


def tailed_fit(columns: Array, y: Array) -> tuple[float, Array, float] | None:
    """Return the same for innovations with long tails, by weights that are renewed; None where there are no tails."""
    found = _no_explosion(solve(columns, y)) if columns.shape[1] else np.zeros(0)
    square = (y - columns @ found) ** 2
    scale = 2.198 * float(np.median(square))  # 1 / 0.455, the median of chi-squared
    if not scale > 0.0 or float(square.mean()) < 1.5 * scale:
        return None
    for turn in range(ROUNDS):
        weight = (FREEDOM + 1.0) / (FREEDOM + square / scale)
        before, scale = scale, max(float((weight * square).mean()), 1e-300)
        if columns.shape[1] and turn < REWEIGHTED:
            root = np.sqrt(weight)
            found = _no_explosion(solve(columns * root[:, None], y * root))
            square = (y - columns @ found) ** 2
        elif abs(scale - before) < 1e-8 * scale:
            break
    length = math.log(scale) + _TAILS + (FREEDOM + 1.0) * float(np.log1p(square / (FREEDOM * scale)).mean())
    return length, found, 1.3 * scale


def _no_explosion(memory: Array) -> Array:
    """Return the coefficients, no more than a random walk: what grows by itself is a trend, not noise."""
    total = float(memory.sum())
    return memory / total if total > 1.0 else memory
