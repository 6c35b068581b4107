"""What a change of the engine is worth a year: fuel, hours no longer lost, service, and its worth now.

Fuel is power times hours over efficiency on one heating value basis. A gain of one point in efficiency is inside the
doubt of most measurements in the field: give it as a range (`what_matters`). Hours lost count only where no spare
engine takes the load (`availability.hours_short`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Values
from asfound.upkeep.availability import HOURS_OF_YEAR
from asfound.upkeep.money import annuity_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeWorth:
    """Savings a year, worth now, and where the decision turns; each a float, or an array over draws."""

    fuel_saved: Values
    downtime_saved: Values
    net_saving: Values
    """Per year: fuel and hours less extra service."""
    present: Values
    investment_to_break_even: Values
    margin_to_break_even: Values
    """Margin per hour at which the change just pays; nan or infinite where availability does not change."""
    payback: Values
    """Years, without interest; infinite or negative where nothing is saved."""


def change_worth(
    *, power: Values, hours: Values, efficiency_now: Values, efficiency_then: Values, fuel_price: Values,
    availability_now: Values, availability_then: Values, margin: Values, extra_service: Values, investment: Values,
    rate: Values, years: Values,
) -> ChangeWorth:  # fmt: skip
    """Return what a change is worth.

    Parameters
    ----------
    power : float or array
        Mean shaft or electrical power, W, that the efficiencies belong to.
    hours : float or array
        Running hours a year, h.
    efficiency_now, efficiency_then : float or array
        Shares, on the heating value that fuel is paid by.
    fuel_price : float or array
        Per J of that heating value.
    availability_now, availability_then : float or array
        Shares of the year.
    margin : float or array
        What an hour of the engine earns, per h.
    extra_service, investment : float or array
        More service a year; spent now.
    rate, years : float or array
        Rate of interest a year and years of use, payments at their ends.
    """
    fuel = power * hours * 3600.0 * (1.0 / efficiency_now - 1.0 / efficiency_then) * fuel_price
    hours_won = (availability_then - availability_now) * HOURS_OF_YEAR
    net = fuel + hours_won * margin - extra_service
    factor = annuity_factor(rate, years)
    return ChangeWorth(
        fuel_saved=fuel, downtime_saved=hours_won * margin, net_saving=net, present=net * factor - investment,
        investment_to_break_even=net * factor,
        margin_to_break_even=_over(investment / factor - fuel + extra_service, hours_won),
        payback=_over(investment, net),
    )  # fmt: skip


def _over(part: Values, whole: Values) -> Values:
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.divide(part, whole)
    return found if np.ndim(found) else float(found)
