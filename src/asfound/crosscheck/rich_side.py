"""Balances of an engine near stoichiometric mixture that a lean one has not: behind the catalyst, over the catalyst."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import HUMID, MIXTURE, EngineBalance, is_stoichiometric
from asfound.crosscheck.engine_point import (
    HEAT_OF_CARBON_MONOXIDE,
    HEAT_OF_HYDROGEN,
    HEAT_OF_NITRIC_OXIDE,
    EnginePoint,
)
from asfound.crosscheck.rich_point import RichPoint
from asfound.crosscheck.shaft_side import engine_heat

LAMBDA = "excess_air_ratio"
BEHIND = (
    "unburned_share", "catalyst_slip_share", "exhaust_co_dry_after", "exhaust_nox_dry_after", "hydrogen_to_co_after",
)  # fmt: skip
"""What the exhaust behind the catalyst rests on beside lambda."""


def _rich(formula: Callable[[RichPoint], Any_]) -> Callable[[EnginePoint], Any_]:
    return lambda at: formula(cast("RichPoint", at))


def _catalyst(at: RichPoint) -> Any_:
    into, out = at.before, at.behind
    warmed = at.exhaust_heat("catalyst_outlet_temperature") - at.exhaust_heat("catalyst_inlet_temperature")
    burned = (into.monoxide - out.monoxide) * HEAT_OF_CARBON_MONOXIDE + (
        into.hydrogen - out.hydrogen
    ) * HEAT_OF_HYDROGEN
    reduced = (into.nitric_oxide - out.nitric_oxide) * HEAT_OF_NITRIC_OXIDE
    return at["fuel"] * (warmed - burned - reduced - (into.unburned - out.unburned) * at.heat)


BALANCES = (
    EngineBalance(
        name="oxygen_dry_after",
        title="Oxygen balance behind the catalyst, dry sample",
        equation="y_O2,after = O2 / (dry exhaust behind the catalyst)",
        needs=("exhaust_oxygen_dry_after",),
        takes=(MIXTURE[1], *BEHIND, *HUMID),
        unknowns=(LAMBDA,),
        formula=_rich(lambda at: at["exhaust_oxygen_dry_after"] - at.behind.oxygen / at.behind.dry),
        unit="mol/mol",
        source="own_calculation",
        clause="balance of the elements",
        model="ammonia that the catalyst makes of NO and hydrogen is not in it: 100 ppm are 0.01 vol-%",
        possible=is_stoichiometric,
    ),
    EngineBalance(
        name="carbon_dry_after",
        title="Carbon balance behind the catalyst, dry sample",
        equation="y_CO2,after = CO2 / (dry exhaust behind the catalyst)",
        needs=("exhaust_co2_dry_after",),
        takes=(MIXTURE[1], *BEHIND, *HUMID),
        unknowns=(LAMBDA,),
        formula=_rich(lambda at: at["exhaust_co2_dry_after"] - at.behind.dioxide / at.behind.dry),
        unit="mol/mol",
        source="own_calculation",
        clause="balance of the elements",
        model="0.01 vol-%",
        possible=is_stoichiometric,
    ),
    EngineBalance(
        name="catalyst_three_way",
        title="Temperature rise over the three-way catalyst and what it converts",
        equation="n_exh [h(T_cat,out) - h(T_cat,in)] = n_fuel [dCO H_CO + dH2 H_H2 + dNO H_NO + f_hc slip LHV]",
        needs=(
            "catalyst_inlet_temperature", "catalyst_outlet_temperature", "exhaust_co_dry", "exhaust_co_dry_after",
        ),
        takes=("heating_value_factor", *MIXTURE[1:], *BEHIND, *HUMID),
        unknowns=("fuel", LAMBDA),
        formula=_rich(_catalyst),
        unit="W",
        source="own_calculation",
        clause="first law",
        model="heat loss of the housing, about 1 K",
        possible=is_stoichiometric,
    ),
    EngineBalance(
        name="energy_at_catalyst",
        title="Energy balance of the engine, exhaust taken at the catalyst",
        equation="n_fuel LHV + sensible = P + Q_jacket + Q_oil + Q_cooler + H_exh(T_cat,in) + unburned + radiation",
        needs=("catalyst_inlet_temperature",),
        takes=("radiation_share", "fuel_temperature", *MIXTURE, *HUMID),
        unknowns=("fuel", LAMBDA, "brake_power"),
        formula=lambda at: engine_heat(at, "catalyst_inlet_temperature"),
        unit="W",
        source="own_calculation",
        clause="steady-flow energy balance",
        model="what the pipe to the catalyst loses counts as radiation and rest",
        possible=is_stoichiometric,
    ),
)  # fmt: skip
