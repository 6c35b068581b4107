"""When to replace a part that wears, one by one or all together, and when to overhaul what is repaired.

Costs hold everything a planned change or a failure brings: part, hands, hours lost. Where a change waits for a stop
that happens anyway its cost is small and the best interval short.
Sources: Barlow and Proschan 1965, chapter 4, and Barlow and Hunter 1960 (both from memory); proved again by the checks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array
from asfound.upkeep.life import Weibull

_SEARCH = (1e-6, 1e3)  # of the scale: where the best age is looked for


@dataclass(frozen=True, slots=True)
class AgeReplacement:
    """The best age to replace at, what it costs per unit of time, and how flat the curve is around it."""

    age: float | None
    """None: a planned change never pays (no wear, or a failure costs no more); run to failure."""
    cost_rate: float
    cost_rate_at_failure: float
    """What waiting for failures costs per unit of time."""
    flat: tuple[float, float] | None
    """Ages between which the cost rate stays within `within` of the best."""
    within: float


def cost_rate(life: Weibull, age: Array | float, *, planned: float, failure: float) -> Array:
    """Return the cost per unit of time of parts replaced at failure, at ``age`` at the latest; shape of ``age``."""
    failed = life.failed(age)
    rate: Array = (planned * (1.0 - failed) + failure * failed) / life.mean_up_to(age)
    return rate


def best_age(life: Weibull, *, planned: float, failure: float, within: float = 0.05) -> AgeReplacement:
    """Return the best age to replace at: h(T) times the mean use up to T, less F(T), is planned/(failure - planned)."""
    _costs(planned, failure)
    run_to_failure = failure / life.mean
    if life.shape <= 1.0 or failure <= planned:
        return AgeReplacement(None, run_to_failure, run_to_failure, None, within)
    from scipy.optimize import brentq  # costs over a second at the start of a program that never asks

    wanted = planned / (failure - planned)

    def slope(age: float) -> float:
        return float(life.hazard(age) * life.mean_up_to(age) - life.failed(age)) - wanted

    low, high = (life.scale * factor for factor in _SEARCH)
    if not slope(low) < 0.0 < slope(high):  # the best lies so far out that nearly all have failed before
        return AgeReplacement(None, run_to_failure, run_to_failure, None, within)
    age = brentq(slope, low, high, xtol=1e-9 * life.scale, rtol=1e-14)
    best = float(cost_rate(life, age, planned=planned, failure=failure))

    def over(at: float) -> float:
        return float(cost_rate(life, at, planned=planned, failure=failure)) - best * (1.0 + within)

    first = brentq(over, low, age) if over(low) > 0.0 else 0.0
    last = brentq(over, age, high) if over(high) > 0.0 else math.inf
    return AgeReplacement(float(age), best, run_to_failure, (first, last), within)


@dataclass(frozen=True, slots=True)
class GroupReplacement:
    """Many like parts: singly at failure, or all together each so many periods as well."""

    mean_life: float
    single: float
    """Cost per period when each is replaced at its failure only."""
    best_period: int
    best: float
    failures: tuple[float, ...]
    per_period: tuple[float, ...]
    """Mean cost per period of changing all together each 1, 2, ... periods."""

    @property
    def worth_it(self) -> bool:
        """Whether changing all together costs less than singly."""
        return self.best < self.single


def group_replacement(
    parts: int, failing: Sequence[float], *, each_together: float, each_single: float, whole_parts: bool = False
) -> GroupReplacement:
    """Return what it costs to change like parts together, renewals counted period by period.

    Parameters
    ----------
    parts : int
        How many are in use.
    failing : sequence of float
        Share that fails in period 1, 2, ... of its life; together 1.
    each_together, each_single : float
        Cost of one part in a change of all, and of one alone.
    whole_parts : bool
        Round failures to whole parts, as textbooks do; compare decisions then, not the last digit.
    """
    if parts < 1 or any(share < 0.0 for share in failing) or abs(math.fsum(failing) - 1.0) > 1e-6:
        raise InputError("failing", f"{math.fsum(failing):g}", "is not all parts", allowed="shares that sum to 1")
    failures: list[float] = []
    table: list[float] = []
    for period, share in enumerate(failing):
        expected = parts * share + math.fsum(before * failing[period - 1 - at] for at, before in enumerate(failures))
        failures.append(math.floor(expected + 0.5) if whole_parts else expected)
        table.append((parts * each_together + each_single * math.fsum(failures)) / (period + 1))
    life = math.fsum((at + 1) * share for at, share in enumerate(failing))
    singly = math.floor(parts / life + 0.5) if whole_parts else parts / life
    best = int(np.argmin(table))
    return GroupReplacement(life, each_single * singly, best + 1, table[best], tuple(failures), tuple(table))


@dataclass(frozen=True, slots=True)
class Overhaul:
    """The best interval between overhauls; None where age brings no more repairs and an overhaul never pays."""

    interval: float | None
    cost_rate: float | None
    repairs: float | None
    """Repairs to be expected between two overhauls."""


def best_overhaul(rate: float, growth: float, *, repair: float, overhaul: float) -> Overhaul:
    """Return the best overhaul interval where repairs leave the age as it was and an overhaul makes it new.

    Repairs up to the age T number ``rate`` T**``growth`` (`repairs.fit_power_law`); cost per time is
    (repair rate T**growth + overhaul)/T.
    """
    _costs(overhaul, repair)
    if not (rate > 0.0 and growth > 0.0):
        raise InputError("rate", f"{rate:g}", "is no law of repairs", allowed="rate and growth above 0")
    if growth <= 1.0:
        return Overhaul(None, None, None)
    interval = (overhaul / (repair * rate * (growth - 1.0))) ** (1.0 / growth)
    return Overhaul(interval, overhaul * growth / ((growth - 1.0) * interval), rate * interval**growth)


def _costs(*costs: float) -> None:
    for cost in costs:
        if not (math.isfinite(cost) and cost > 0.0):
            raise InputError("cost", f"{cost:g}", "is no cost", allowed="more than 0")
