"""Critical values: chi-squared, normal, many tests together."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from asfound.quantities.typing import Values

POWER = 0.8
_normal = NormalDist()


def chi_squared_critical(alpha: float, degrees: int) -> float:
    """Return the value that chi-squared with so many degrees of freedom passes with probability ``alpha``."""
    from scipy.special import chdtri

    return float(chdtri(degrees, alpha)) if degrees else 0.0


def chi_squared_p(value: Values, degrees: int) -> Values:
    """Return the probability that chi-squared passes ``value``; 1 where there is nothing to check."""
    from scipy.special import chdtrc

    if degrees == 0:
        return np.ones_like(value) if isinstance(value, np.ndarray) else 1.0
    found = chdtrc(degrees, value)
    return found if isinstance(value, np.ndarray) else float(found)


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
