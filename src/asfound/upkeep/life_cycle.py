"""Life-cycle cost of one choice, and two choices beside each other.

Method of 10 CFR 436 and NIST Handbook 135, seen through published reports: net savings decides, ratios rank. Whole
years; the reports count days, which parts the two by some hundredths of a per cent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from asfound.errors import InputError
from asfound.upkeep.money import annuity_factor, present_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """One item: amounts in given years, an even or growing yearly amount, or one that follows a path of prices."""

    in_years: Sequence[tuple[float, float]] = ()
    """(year, amount); a remaining value is a negative amount."""
    yearly: float = 0.0
    growth: float = 0.0
    """Per year, from today on: the amount of year 1 has grown once."""
    path: Sequence[float] = ()
    """Rise of the price in year 1, 2, ...; in place of ``growth``, and it ends the item."""

    def present(self, rate: float, years: int) -> float:
        """Return its worth now over the years of the study."""
        if any(not 0.0 <= year <= years for year, _ in self.in_years):
            raise InputError("in_years", str(list(self.in_years)), "lies outside the study", allowed=f"0 to {years}")
        parts = [amount * float(present_factor(rate, year)) for year, amount in self.in_years]
        price = 1.0
        for year in range(1, (min(len(self.path), years) if self.path else years) + 1):
            price *= 1.0 + (self.path[year - 1] if self.path else self.growth)
            parts.append(self.yearly * price * float(present_factor(rate, year)))
        return math.fsum(parts)


@dataclass(frozen=True, slots=True)
class LifeCycleCost:
    """Worth now of each item, of all, and the even yearly amount of the same worth."""

    items: Mapping[str, float]
    total: float
    yearly: float


def life_cycle_cost(items: Mapping[str, Cost], rate: float, years: int) -> LifeCycleCost:
    """Return the life-cycle cost over the years of the study."""
    worth = {name: cost.present(rate, years) for name, cost in items.items()}
    total = math.fsum(worth.values())
    return LifeCycleCost(worth, total, total / float(annuity_factor(rate, years)))


@dataclass(frozen=True, slots=True)
class Compared:
    """A choice beside the base: all as worth now."""

    more_invested: float
    saved: float
    years: int
    rate: float

    @property
    def net_savings(self) -> float:
        """What is saved less what is invested more: the figure that decides."""
        return self.saved - self.more_invested

    @property
    def ratio(self) -> float | None:
        """Saved over invested; None where nothing more is invested."""
        return self.saved / self.more_invested if self.more_invested > 0.0 else None

    @property
    def adjusted_return(self) -> float | None:
        """Rate of return with savings put out at the rate of the study; None without a ratio above 0."""
        ratio = self.ratio
        return None if ratio is None or ratio <= 0.0 else (1.0 + self.rate) * ratio ** (1.0 / self.years) - 1.0


def compare(base: tuple[float, float], choice: tuple[float, float], *, rate: float, years: int) -> Compared:
    """Return a choice beside the base, each as (investment, running), worth now.

    Investment is first cost and replacements less the remaining value; running is energy and upkeep.
    """
    return Compared(choice[0] - base[0], base[1] - choice[1], years, rate)
