"""Is it within the limit, and how sure is that: probability of conformity, guard bands, risks (JCGM 106:2012).

Limits may be one-sided: leave the other out. 'Conforms' means inside or on the limits. A permit that says itself how to
round and compare overrides all of this; then print both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import InputError
from asfound.quantities.risk import Risk, global_risk, global_risk_of

if TYPE_CHECKING:
    from asfound.quantities.typing import Array

__all__ = [
    "Acceptance",
    "Risk",
    "acceptance_interval",
    "global_risk",
    "global_risk_of",
    "guard_band",
    "guard_factor",
    "probability_conforming",
    "probability_conforming_of_draws",
    "specific_risk",
    "with_prior",
]


def probability_conforming(
    y: float, u: float, *, lower: float | None = None, upper: float | None = None, nu: float | None = None
) -> float:
    """Return the probability that the true value lies within the limits.

    Parameters
    ----------
    y, u : float
        Value and standard uncertainty.
    lower, upper : float, optional
        Limits, at least one.
    nu : float, optional
        Degrees of freedom of ``u``; then a t distribution is taken instead of the normal.

    Raises
    ------
    InputError
        No limit, limits that cross, or an uncertainty that cannot be.

    References
    ----------
    .. [1] JCGM 106:2012 7.2.2 to 7.4: Phi((T_U - y)/u) - Phi((T_L - y)/u).

    Examples
    --------
    NOx 0.95 g/hp-h with u 0.048 against 1.0 (invented).

    >>> f"{probability_conforming(0.95, 0.048, upper=1.0):.3f}"
    '0.851'
    """
    _check(u, lower, upper)
    if u == 0.0:
        return float((lower is None or y >= lower) and (upper is None or y <= upper))
    low = -math.inf if lower is None else (lower - y) / u
    high = math.inf if upper is None else (upper - y) / u
    if low > 0.0:  # far tails keep their digits only on the lower side
        low, high = -high, -low
    return _below(high, nu) - _below(low, nu)


def probability_conforming_of_draws(draws: Array, *, lower: float | None = None, upper: float | None = None) -> float:
    """Return the share of draws within the limits; draws without an answer are left out; nan where none has one.

    Its resolution is one in the number of draws.
    """
    _check(0.0, lower, upper)
    finite = draws[np.isfinite(draws)]
    if not finite.size:
        return math.nan
    inside = np.ones(finite.size, dtype=bool)
    if lower is not None:
        inside &= finite >= lower
    if upper is not None:
        inside &= finite <= upper
    return float(np.count_nonzero(inside)) / finite.size


def specific_risk(
    y: float, u: float, *, lower: float | None = None, upper: float | None = None, nu: float | None = None
) -> tuple[str, float]:
    """Return who bears the risk for the item in hand, and the risk, when it is judged by its value alone.

    A value within the limits is accepted: the risk that it does not conform is the ``consumer``'s. One outside is
    rejected: the risk that it conforms is the ``producer``'s (JCGM 106:2012 9.3.1).
    """
    conforming = probability_conforming(y, u, lower=lower, upper=upper, nu=nu)
    inside = (lower is None or y >= lower) and (upper is None or y <= upper)
    return ("consumer", 1.0 - conforming) if inside else ("producer", conforming)


def guard_factor(probability: float, nu: float | None = None) -> float:
    """Return z: how many u a value must stay from a one-sided limit to conform with a probability.

    >>> f"{guard_factor(0.95):.2f} {guard_factor(0.99):.2f}"
    '1.64 2.33'
    """
    if not 0.0 < probability < 1.0:
        raise InputError(
            "probability", f"{probability:g}", "is no probability to accept with", allowed="between 0 and 1"
        )
    if nu is None:
        return NormalDist().inv_cdf(probability)
    from scipy.stats import t

    return float(t.ppf(probability, nu))


def guard_band(u: float, probability: float = 0.95, nu: float | None = None) -> float:
    """Return the width w = z u between a one-sided limit and its acceptance limit. [unit of u]"""
    _check(u, 0.0, None)
    return guard_factor(probability, nu) * u


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Between which values an item is accepted."""

    lower: float | None
    upper: float | None


def acceptance_interval(
    u: float, *, lower: float | None = None, upper: float | None = None, probability: float = 0.95
) -> Acceptance | None:
    """Return the interval within which a value conforms with at least a probability; None where no value does.

    With two limits there is no closed form where u is not small against their distance: then the ends are found by
    bisection, since the probability falls from the middle outwards.
    """
    _check(u, lower, upper)
    if lower is None or upper is None or u == 0.0:
        width = guard_band(u, probability) if u > 0.0 else 0.0
        return Acceptance(None if lower is None else lower + width, None if upper is None else upper - width)

    def enough(y: float) -> bool:
        return probability_conforming(y, u, lower=lower, upper=upper) >= probability

    middle = 0.5 * (lower + upper)
    if not enough(middle):
        return None
    inside, out = 0.0, 0.5 * (upper - lower) + 10.0 * u
    while out - inside > 1e-12 * max(out, u):
        at = 0.5 * (inside + out)
        inside, out = (at, out) if enough(middle + at) else (inside, at)
    return Acceptance(middle - inside, middle + inside)


def with_prior(y: float, u: float, prior: float, prior_u: float) -> tuple[float, float]:
    """Return value and standard uncertainty after both a measurement and normal prior knowledge (JCGM 106:2012 A.4.2).

    Prior knowledge can move a probability of conformity by a factor of two: say whether it was used.
    """
    _check(u, 0.0, None)
    if not (u > 0.0 and prior_u > 0.0):
        raise InputError("u", f"{u:g}", "or the prior's leaves nothing to weigh", allowed="both more than 0")
    weight = 1.0 / (1.0 / u**2 + 1.0 / prior_u**2)
    return weight * (y / u**2 + prior / prior_u**2), math.sqrt(weight)


def _below(z: float, nu: float | None) -> float:
    """Return the probability below z, with its digits kept in the lower tail."""
    if nu is None:
        return 0.5 * math.erfc(-z / math.sqrt(2.0))
    from scipy.stats import t

    return float(t.cdf(z, nu))


def _check(u: float, lower: float | None, upper: float | None) -> None:
    if not (math.isfinite(u) and u >= 0.0):
        raise InputError("u", f"{u:g}", "is no standard uncertainty", allowed="0 or more")
    if lower is None and upper is None:
        raise InputError("upper", "", "and lower are both left out", allowed="at least one limit")
    if lower is not None and upper is not None and lower > upper:
        raise InputError("upper", f"{upper:g}", "is below the lower limit", allowed=f"{lower:g} or more")
