"""Money over time: present value, rates of return, payback, annuities, levelised cost.

Payments fall at the end of each year, the first value now, unless an argument says otherwise; every result is to be
shown with that convention. Real rates go with prices of today, nominal rates with prices as they will be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array, Values

_REAL = 1e-7  # imaginary part below which a root counts as real


def present_factor(rate: Values, year: Values) -> Values:
    """Return what 1 in a year is worth now."""
    return (1.0 + rate) ** -year


def annuity_factor(rate: Values, years: Values, *, begin: bool = False) -> Values:
    """Return what 1 a year is worth now, at the end of each year or at its ``begin``; arrays as well."""
    r = np.asarray(rate, dtype=float)
    safe = np.where(r == 0.0, 1.0, r)
    end = np.where(r == 0.0, years, -np.expm1(-np.asarray(years, dtype=float) * np.log1p(r)) / safe)
    found = end * (1.0 + r) if begin else end
    return found if np.ndim(found) else float(found)


def real_rate(nominal: float, inflation: float) -> float:
    """Return the rate for prices of today: (1 + nominal)/(1 + inflation) - 1."""
    return (1.0 + nominal) / (1.0 + inflation) - 1.0


def present_value(flows: Sequence[float] | Array, rate: float) -> float:
    """Return the worth now of flows of now, year 1, year 2, ..."""
    _rate(rate)
    at = np.asarray(flows, dtype=float)
    return math.fsum((at * (1.0 + rate) ** -np.arange(len(at))).tolist())


def yearly_worth(flows: Sequence[float], rate: float) -> float:
    """Return the even yearly amount of the same worth: what to compare where lives differ."""
    return present_value(flows, rate) / float(annuity_factor(rate, len(flows) - 1))


def growing_yearly(amount: float, years: int, rate: float, *, growth: float = 0.0, step: float = 0.0) -> float:
    """Return the worth now of yearly amounts in prices of today that rise by ``step`` a year and with all prices."""
    year = np.arange(1, years + 1)
    amounts = (amount + step * (year - 1)) * (1.0 + growth) ** year
    return present_value(np.concatenate([[0.0], amounts]), rate)


@dataclass(frozen=True, slots=True)
class Returns:
    """Every rate at which flows are worth nothing now; one alone may be quoted, several may not."""

    rates: tuple[float, ...]
    sign_changes: int

    @property
    def rate(self) -> float | None:
        """The rate of return where there is just one; None else: show the present value against the rate instead."""
        return self.rates[0] if len(self.rates) == 1 and self.sign_changes == 1 else None


def rates_of_return(flows: Sequence[float]) -> Returns:
    """Return all real rates above -100 % at which the present value is nothing."""
    at = np.trim_zeros(np.asarray(flows, dtype=float), "b")
    signs = np.sign(at[at != 0.0])
    changes = int((signs[1:] != signs[:-1]).sum())
    if not changes:
        return Returns((), 0)
    roots = np.roots(at)
    real = sorted(root.real - 1.0 for root in roots if root.real > 0.0 and abs(root.imag) < _REAL * max(1.0, abs(root)))
    return Returns(tuple(_polished(at, rate) for rate in real), changes)


def _polished(flows: Array, rate: float) -> float:
    """Return the rate after some steps of Newton on the present value."""
    year = np.arange(len(flows))
    for _ in range(20):
        worth = flows * (1.0 + rate) ** -year
        slope = -float((year * worth).sum()) / (1.0 + rate)
        step = float(worth.sum()) / slope if slope else 0.0
        if not abs(step) < 0.5 * (1.0 + rate):
            break
        rate -= step
        if abs(step) < 1e-15:
            break
    return rate


def modified_return(flows: Sequence[float], *, finance: float, reinvest: float) -> float | None:
    """Return the rate where costs are financed at one rate and income is put out at another; None without both."""
    at, years = np.asarray(flows, dtype=float), len(flows) - 1
    grown = float((np.maximum(at, 0.0) * (1.0 + reinvest) ** (years - np.arange(years + 1))).sum())
    spent = -present_value(np.minimum(at, 0.0), finance)
    return (grown / spent) ** (1.0 / years) - 1.0 if grown > 0.0 and spent > 0.0 else None


def payback(flows: Sequence[float], rate: float = 0.0) -> float | None:
    """Return the years until the sum of flows, discounted at ``rate``, first comes up to nothing from below.

    Within a year the flow counts as even. None: it never pays back. A later cost can undo it.
    """
    worth = np.asarray(flows, dtype=float) * (1.0 + rate) ** -np.arange(len(flows))
    sums = np.cumsum(worth)
    for year in range(1, len(sums)):
        if sums[year - 1] < 0.0 <= sums[year]:
            return float(year - 1 - sums[year - 1] / worth[year])
    return None


def savings_to_investment(flows: Sequence[float], rate: float) -> float | None:
    """Return the worth of what comes in over the worth of what goes out; None where nothing goes out."""
    at = np.asarray(flows, dtype=float)
    out = -present_value(np.minimum(at, 0.0), rate)
    return present_value(np.maximum(at, 0.0), rate) / out if out > 0.0 else None


def levelised_cost(
    first: float, yearly: float, output: float, rate: float, years: int, *, begin: bool = False
) -> float:
    """Return the cost of one unit of output: worth of all cost over worth of all output, discounted alike."""
    factor = float(annuity_factor(rate, years, begin=begin))
    return (first + yearly * factor) / (output * factor)


def yearly_cost(first: float, salvage: float, yearly: float, rate: float, years: int) -> float:
    """Return the even yearly cost of a machine; ``first`` of one that is there is what it would fetch today."""
    return (first - salvage) / float(annuity_factor(rate, years)) + salvage * rate + yearly


def worth_of_keeping(new_yearly: float, salvage: float, yearly: float, rate: float, years: int) -> float:
    """Return the price of the old machine at which keeping it costs as much a year as the new one."""
    return (new_yearly - salvage * rate - yearly) * float(annuity_factor(rate, years)) + salvage


def crossing(a_fixed: float, a_each: float, b_fixed: float, b_each: float) -> float | None:
    """Return the quantity at which two offers cost alike; None where they never do."""
    return None if a_each == b_each else (b_fixed - a_fixed) / (a_each - b_each)


def bill(most_power: float, energy: float, *, power_price: float, energy_price: float, fixed: float = 0.0) -> float:
    """Return a bill with a charge for the highest demand metered.

    What a set saves is its effect on that highest demand: one failure in the month of the peak
    can lose the saving of a year.
    """
    return fixed + power_price * most_power + energy_price * energy


def mean_over_cycle(run: Array, mean_while_running: Array, out_of_use: float) -> Array:
    """Return the mean over run and cleaning together, each run ending with hours out of use: a cooler that fouls."""
    found: Array = run * mean_while_running / (run + out_of_use)
    return found


def _rate(rate: float) -> None:
    if not (math.isfinite(rate) and rate > -1.0):
        raise InputError("rate", f"{rate:g}", "is no rate of interest", allowed="above -100 %")
