"""Uncertainty propagated both ways, side by side: the law of propagation (GUM) and Monte Carlo (JCGM 101)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asfound.quantities.distributions import Distribution
from asfound.quantities.intervals import shortest, symmetric
from asfound.quantities.linear import Formula, Linear, effective_degrees, linear, linear_many
from asfound.quantities.monte_carlo import (
    MonteCarlo,
    Tolerance,
    adaptive,
    monte_carlo,
    monte_carlo_many,
    numerical_tolerance,
)

__all__ = [
    "Comparison",
    "Linear",
    "MonteCarlo",
    "Tolerance",
    "adaptive",
    "compare",
    "effective_degrees",
    "linear",
    "linear_many",
    "monte_carlo",
    "monte_carlo_many",
    "numerical_tolerance",
    "shortest",
    "symmetric",
]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both ways for one formula, and whether the law of propagation will do."""

    linear: Linear
    monte_carlo: MonteCarlo
    delta: float
    """Numerical tolerance that the ends must agree to. [unit of y]"""
    low_differs: float
    high_differs: float
    """How far the ends of the two intervals lie apart. [unit of y]"""

    @property
    def agrees(self) -> bool:
        """Both ends agree to within the tolerance: the law of propagation is validated in this case."""
        return self.low_differs <= self.delta and self.high_differs <= self.delta

    @property
    def says(self) -> str:
        """The verdict, in words."""
        if self.agrees:
            return "The law of propagation and Monte Carlo agree here."
        return "The law of propagation does not hold here: take the Monte Carlo interval."


def compare(
    f: Formula,
    inputs: Sequence[Distribution],
    *,
    nu: Sequence[float | None] | None = None,
    second_order: bool = False,
    probability: float = 0.95,
    digits: int = 2,
    number: int = 1_000_000,
    seed: int = 1,
) -> Comparison:
    """Propagate independent inputs both ways and compare the ends of the two coverage intervals.

    Parameters
    ----------
    f : function
        As in `linear` and `monte_carlo`.
    inputs : sequence of Distribution
        Independent.
    nu, second_order
        As in `linear`.
    probability : float
        Coverage probability of both intervals.
    digits : int
        Digits of the uncertainty that are taken as meaningful: they fix the tolerance.
    number, seed : int
        Draws; the guide wants their own error a fifth of the tolerance, which a million draws give for two digits.

    References
    ----------
    .. [1] JCGM 101:2008 8.1: d_low = |y - U - y_low|, d_high = |y + U - y_high|, both at most delta.
    """
    straight = linear(
        f, [one.mean for one in inputs], [one.standard_uncertainty for one in inputs], nu=nu, second_order=second_order
    )
    drawn = monte_carlo(f, inputs, number=number, seed=seed, probability=probability)
    low, high = straight.interval(probability)
    return Comparison(
        linear=straight,
        monte_carlo=drawn,
        delta=numerical_tolerance(straight.u, digits).delta if straight.u > 0.0 else 0.0,
        low_differs=abs(low - drawn.interval[0]),
        high_differs=abs(high - drawn.interval[1]),
    )
