"""Critical values: chi-squared, normal, many tests together."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from asfound.quantities.typing import Array, Values

POWER = 0.8
VANISHES = 700.0
"""From this exponent on what is left is below any number that matters, and parts of it below any that can be held."""
_normal = NormalDist()
_each_erfc = np.frompyfunc(math.erfc, 1, 1)


def _erfc(values: Array) -> Array:
    return np.asarray(_each_erfc(values), dtype=float)


@lru_cache(maxsize=256)
def chi_squared_critical(alpha: float, degrees: int) -> float:
    """Return the value that chi-squared with so many degrees of freedom passes with probability ``alpha``.

    >>> print(f"{chi_squared_critical(0.05, 10):.3f}")
    18.307
    """
    if degrees == 0 or alpha >= 1.0:
        return 0.0
    if not alpha > 0.0:
        return math.inf
    low, high = 0.0, 1.0
    while chi_squared_p(high, degrees) > alpha:
        low, high = high, 2.0 * high
    while True:  # the chance falls with the value: halves until no number lies between
        middle = 0.5 * (low + high)
        if not low < middle < high:
            return middle
        low, high = (middle, high) if chi_squared_p(middle, degrees) > alpha else (low, middle)


def chi_squared_p(value: Values, degrees: int) -> Values:
    """Return the probability that chi-squared passes ``value``; 1 where there is nothing to check.

    A finite sum, since the degrees are whole (Abramowitz and Stegun 26.4.4, 26.4.5).

    >>> print(f"{chi_squared_p(18.307, 10):.4f}")
    0.0500
    """
    half = np.maximum(np.asarray(value, dtype=float), 0.0) / 2.0
    if degrees == 0:
        found = np.ones_like(half)
    elif degrees % 2:
        found = _erfc(np.sqrt(half)) + _terms(half, 0.5, degrees // 2)
    else:
        found = _terms(half, 0.0, degrees // 2)
    return found if isinstance(value, np.ndarray) else float(found)


def _terms(half: Array, first: float, number: int) -> Array:
    """Return the sum of exp(-h) h^n / Gamma(n + 1) over so many n from ``first`` on; 0 where nothing is left of it."""
    within = np.minimum(half, VANISHES)
    term = np.exp(-within) * within**first / math.gamma(first + 1.0)
    total = np.zeros_like(half)
    for step in range(number):
        total = total + term
        term = term * within / (first + step + 1.0)
    return np.where(half > VANISHES, 0.0, total)


def normal_critical(alpha: float) -> float:
    """Return the two-sided critical value of a standard normal number.

    >>> print(f"{normal_critical(0.05):.2f}")
    1.96
    """
    return -_normal.inv_cdf(alpha / 2)


def sidak(alpha: float, tests: int) -> float:
    """Return the level of each of ``tests`` independent tests so that any of them is passed with ``alpha``.

    1 - (1 - alpha)^(1/n), Sidak 1967. For tests that hang together it is on the safe side.

    >>> print(f"{normal_critical(sidak(0.05, 40)):.1f}")
    3.2
    """
    return float(-np.expm1(np.log1p(-alpha) / max(tests, 1)))


def noticed_at(alpha: float, power: float = POWER, tests: int = 1) -> float:
    """Return how many of its own standard uncertainties an error must have to be noticed with this probability.

    z(1 - alpha/2) + z(power), ``alpha`` shared out over ``tests`` (Sidak). The other, far side is left out: it is
    below 1e-4 for any useful power.
    """
    return normal_critical(sidak(alpha, tests)) + _normal.inv_cdf(power)
