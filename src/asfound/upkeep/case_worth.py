"""What a change of an engine is worth with everything that goes into the sum; floats and arrays of draws alike.

`upgrade_worth` holds fuel, hours and service; added here are emission allowances, fees, events without a spare part,
hours lost for the change itself, reserve, old parts and remaining value, prices that rise, and engines that stand by.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Values
from asfound.upkeep.availability import HOURS_OF_YEAR
from asfound.upkeep.money import annuity_factor, present_factor

_GJ_PER_KWH = 0.0036


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """Amounts of the first year by item, what is spent and gained now, and the worth now of each item and of all."""

    yearly: Mapping[str, Values]
    """Gains of a year at its prices, before any rise; costs are negative."""
    once: Mapping[str, Values]
    presents: Mapping[str, Values]
    """Worth now of each item over the years."""
    present: Values


def hours_lost(available: Values, needed: int, installed: int) -> Values:
    """Return the hours of full output a year that are lost where ``needed`` of the engines installed carry the load.

    The same as `availability.hours_short`, for arrays of availabilities too; engines fail independently.
    """
    if not 1 <= needed <= installed:
        raise InputError("needed", str(needed), "cannot be had", allowed=f"1 to {installed}")
    p = np.asarray(available, dtype=float)
    lost = sum(
        math.comb(installed, up) * p**up * (1.0 - p) ** (installed - up) * (needed - up) / needed
        for up in range(needed)
    )
    found = HOURS_OF_YEAR * np.asarray(lost)
    return found if np.ndim(found) else float(found)


def case_worth(values: Mapping[str, Values], years: int, *, needed: int = 1, installed: int = 1) -> Worth:
    """Return what a change is worth.

    Parameters
    ----------
    values : mapping of str to float or array
        All of `manager_case.fields`, in the units printed there.
    years : int
        Of use; payments at their ends, what is spent now undiscounted.
    needed, installed : int
        Engines that carry the load together. Hours won count for the output of all of them.
    """
    v = values
    burnt = v["power"] * v["hours"] * _GJ_PER_KWH
    fuel = burnt / v["efficiency_now"] - burnt / v["efficiency_then"]
    won = hours_lost(v["availability_now"], needed, installed) - hours_lost(v["availability_then"], needed, installed)
    yearly: dict[str, Values] = {
        "fuel": fuel * v["fuel_price"],
        "allowances": fuel * v["emission_factor"] / 1000.0 * v["allowance"],
        "fees": v["fees_saved"] + 0.0,
        "hours": won * v["margin"],
        "events": v["event_chance"] * v["event_cost"],
        "service": -v["extra_service"],
    }
    once: dict[str, Values] = {
        "investment": -v["investment"],
        "reserve": -v["investment"] * v["contingency"],
        "outage": -v["outage_hours"] * v["margin"],
        "parts_back": v["parts_back"] + 0.0,
    }
    rate = v["rate"]
    even = annuity_factor(rate, years)
    rising = {"fuel": v["fuel_growth"], "allowances": v["allowance_growth"]}
    presents = {
        name: amount * (annuity_factor((1.0 + rate) / (1.0 + rising[name]) - 1.0, years) if name in rising else even)
        for name, amount in yearly.items()
    }
    presents |= once | {"residual": v["residual"] * present_factor(rate, years)}
    total: Values = sum(presents.values(), 0.0)
    return Worth(yearly=yearly, once=once, presents=presents, present=total)


def flows(values: Mapping[str, float], years: int, *, needed: int = 1, installed: int = 1) -> list[float]:
    """Return what is spent and gained now and at the end of each year, in prices of that year."""
    worth = case_worth(values, years, needed=needed, installed=installed)
    found = [math.fsum(float(one) for one in worth.once.values())]
    for year in range(1, years + 1):
        rise = {"fuel": (1.0 + values["fuel_growth"]) ** year, "allowances": (1.0 + values["allowance_growth"]) ** year}
        found.append(math.fsum(float(amount) * rise.get(name, 1.0) for name, amount in worth.yearly.items()))
    found[-1] += float(values["residual"])
    return found
