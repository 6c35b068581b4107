"""Balances of the charge and the turbocharger: filling, charge cooler, turbine, ports, duct, catalyst."""

from __future__ import annotations

import math

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import HUMID, MIXTURE, EngineBalance, has_fuel, is_lean_burn
from asfound.crosscheck.engine_point import HEAT_OF_CARBON_MONOXIDE, EnginePoint
from asfound.quantities.constants import GAS_CONSTANT

UNKNOWNS = ("fuel", "excess_air_ratio")
EXHAUST = (*MIXTURE[1:], *HUMID)


def _filling(at: EnginePoint) -> Any_:
    density = at.pressure("manifold_pressure") / (GAS_CONSTANT * at["manifold_temperature"])
    drawn = at["volumetric_efficiency"] * density * (at.plant.swept_volume * at["engine_speed"] / (4 * math.pi))
    return at["fuel"] * at.charge - drawn


def _cooler(at: EnginePoint) -> Any_:
    given = at.charge_heat("compressor_outlet_temperature") - at.charge_heat("manifold_temperature")
    return at["fuel"] * given - at.coolant_heat("auxiliary_water")


def _turbocharger(at: EnginePoint) -> Any_:
    turbine = at.exhaust_heat("turbine_inlet_temperature") - at.exhaust_heat("turbine_outlet_temperature")
    blower = at.charge_heat("compressor_outlet_temperature") - at.charge_heat("intake_air_temperature")
    return at["fuel"] * (at["turbocharger_efficiency"] * turbine - blower)


def _catalyst(at: EnginePoint) -> Any_:
    warmed = at.exhaust_heat("catalyst_outlet_temperature") - at.exhaust_heat("catalyst_inlet_temperature")
    monoxide = (at.monoxide - at["exhaust_co_dry_after"] * at.dry) * HEAT_OF_CARBON_MONOXIDE
    return at["fuel"] * (warmed - monoxide - at["catalyst_slip_share"] * at["unburned_share"] * at.heat)


BALANCES = (
    EngineBalance(
        name="filling",
        title="Charge that the cylinders draw in",
        equation="n_fuel (1 + moist air) = eta_v p_im V_swept n / (120 R T_im)",
        needs=("manifold_pressure", "manifold_temperature", "engine_speed"),
        takes=("volumetric_efficiency", *EXHAUST),
        unknowns=UNKNOWNS,
        formula=_filling,
        unit="mol/s",
        source="own_calculation",
        clause="definition of volumetric efficiency",
        model="scavenging through valve overlap is not in it",
        possible=lambda plant: has_fuel(plant) and plant.swept_volume is not None and not plant.port_admission,
    ),
    EngineBalance(
        name="charge_cooler",
        title="Heat of the charge cooler, gas and water",
        equation="n_charge [h(T_co) - h(T_im)] = V_ac rho c (T_ac,out - T_ac,in)",
        needs=(
            "compressor_outlet_temperature", "manifold_temperature", "auxiliary_water_flow",
            "auxiliary_water_inlet_temperature", "auxiliary_water_outlet_temperature",
        ),
        takes=EXHAUST,
        unknowns=UNKNOWNS,
        formula=_cooler,
        unit="W",
        source="own_calculation",
        clause="first law",
        model="water that condenses in the cooler is not in it: look at the dew point of the charge",
        possible=has_fuel,
    ),
    EngineBalance(
        name="turbocharger",
        title="Power of the turbocharger, turbine and compressor",
        equation="eta_turbo n_exh [h(T_ti) - h(T_to)] = n_charge [h(T_co) - h(T_ci)]",
        needs=(
            "turbine_inlet_temperature", "turbine_outlet_temperature", "compressor_outlet_temperature",
            "intake_air_temperature",
        ),
        takes=("turbocharger_efficiency", *EXHAUST),
        unknowns=UNKNOWNS,
        formula=_turbocharger,
        unit="W",
        source="own_calculation",
        clause="first law",
        model="adiabatic; a wastegate is inside when the outlet is read behind its mixing point",
        possible=has_fuel,
    ),
    EngineBalance(
        name="ports_and_turbine",
        title="Mean of the ports and turbine inlet",
        equation="T_ti = mean(T_cyl) + d_cyl",
        needs=("turbine_inlet_temperature", "cylinder_exhaust_mean"),
        takes=("collector_excess",),
        formula=lambda at: at["turbine_inlet_temperature"] - at["cylinder_exhaust_mean"] - at["collector_excess"],
        unit="K",
        source="common_practice",
        model="the assumption is the whole doubt",
    ),
    EngineBalance(
        name="duct",
        title="Turbine outlet and catalyst inlet",
        equation="T_cat,in = T_to - d_duct",
        needs=("turbine_outlet_temperature", "catalyst_inlet_temperature"),
        takes=("duct_drop",),
        formula=lambda at: at["turbine_outlet_temperature"] - at["catalyst_inlet_temperature"] - at["duct_drop"],
        unit="K",
        source="common_practice",
        model="the assumption is the whole doubt",
    ),
    EngineBalance(
        name="catalyst",
        title="Temperature rise over the catalyst and what it burns",
        equation="n_exh [h(T_cat,out) - h(T_cat,in)] = n_fuel [(CO_in - CO_out) H_CO + f_hc slip LHV]",
        needs=(
            "catalyst_inlet_temperature", "catalyst_outlet_temperature", "exhaust_co_dry", "exhaust_co_dry_after",
        ),
        takes=("catalyst_slip_share", "heating_value_factor", *EXHAUST),
        unknowns=UNKNOWNS,
        formula=_catalyst,
        unit="W",
        source="own_calculation",
        clause="first law",
        model="heat loss of the housing, about 1 K",
        possible=is_lean_burn,
    ),
    EngineBalance(
        name="stack_temperature",
        title="Catalyst outlet and stack",
        equation="T_stack = T_cat,out - d_stack",
        needs=("catalyst_outlet_temperature", "exhaust_temperature"),
        takes=("stack_drop",),
        formula=lambda at: at["catalyst_outlet_temperature"] - at["exhaust_temperature"] - at["stack_drop"],
        unit="K",
        source="common_practice",
        model="the assumption is the whole doubt",
    ),
)  # fmt: skip
