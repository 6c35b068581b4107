"""Balances of heat and power: the engine's energy, the shaft, generator and electrical instruments."""

from __future__ import annotations

import math

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import HUMID, MIXTURE, EngineBalance, has_fuel
from asfound.crosscheck.engine_point import (
    HEAT_OF_CARBON_MONOXIDE,
    HEAT_OF_HYDROGEN,
    HEAT_OF_NITRIC_OXIDE,
    EnginePoint,
)

JACKET = ("jacket_water_flow", "jacket_water_inlet_temperature", "jacket_water_outlet_temperature")
AUXILIARY = ("auxiliary_water_flow", "auxiliary_water_inlet_temperature", "auxiliary_water_outlet_temperature")
GAS_SIDE = ("compressor_outlet_temperature", "manifold_temperature")
OIL = ("oil_flow", "oil_temperature", "oil_outlet_temperature")
SHARES = {"jacket_share": JACKET, "oil_share": OIL, "cooler_share": AUXILIARY}
"""What stands in the energy balance where a heat cannot be worked out, and what it would take."""


def jacket_heat(at: EnginePoint) -> Any_:
    """Return what the jacket water takes: as read, else a usual share of the fuel. [W]"""
    return at.coolant_heat("jacket_water") if at.has(*JACKET) else at["jacket_share"] * at.fuel_power


def oil_heat(at: EnginePoint) -> Any_:
    """Return what the oil takes: as read, else a usual share of the fuel. [W]"""
    if not at.has(*OIL):
        return at["oil_share"] * at.fuel_power
    warmed = at["oil_outlet_temperature"] - at["oil_temperature"]
    return at["oil_flow"] * at.plant.oil_heat_capacity * warmed


def cooler_heat(at: EnginePoint) -> Any_:
    """Return what the charge cooler takes: by its water, by the charge, else a usual share of the fuel. [W]"""
    if at.has(*AUXILIARY):
        return at.coolant_heat("auxiliary_water")
    if at.has(*GAS_SIDE):
        return at["fuel"] * (at.charge_heat(GAS_SIDE[0]) - at.charge_heat(GAS_SIDE[1]))
    return at["cooler_share"] * at.fuel_power


def engine_heat(at: EnginePoint, outlet: str) -> Any_:
    """Return what is left of the engine's energy, its exhaust taken at a temperature that was read. [W]"""
    sensible = at.air_heat("ambient_temperature") + at.fuel_sensible_heat("fuel_temperature")
    unburned = at["unburned_share"] * at.heat + at.monoxide * HEAT_OF_CARBON_MONOXIDE
    unburned = unburned + at.hydrogen * HEAT_OF_HYDROGEN
    lost = at.exhaust_heat(outlet) + unburned + at.nitric_oxide * HEAT_OF_NITRIC_OXIDE
    by_fuel = at["fuel"] * (at.heat * (1 - at["radiation_share"]) + sensible - lost)
    return by_fuel - at["brake_power"] - jacket_heat(at) - oil_heat(at) - cooler_heat(at)


def _electric(at: EnginePoint) -> Any_:
    product = at["generator_voltage"] * at["generator_current"] * at["generator_power_factor"]
    return math.sqrt(3.0) * product - _terminal(at)


def _terminal(at: EnginePoint) -> Any_:
    """Return electrical power: as the meter shows it, else as the generator makes it of the shaft's."""
    return at["generator_power"] if at.has("generator_power") else at["generator_efficiency"] * at["driven_power"]


BALANCES = (
    EngineBalance(
        name="energy",
        title="Energy balance of the engine",
        equation="n_fuel LHV + sensible = P + Q_jacket + Q_oil + Q_cooler + H_exh(T_to) + unburned + radiation",
        needs=("turbine_outlet_temperature",),
        takes=("radiation_share", "fuel_temperature", *MIXTURE, *HUMID),
        unknowns=("fuel", "excess_air_ratio", "brake_power"),
        formula=lambda at: engine_heat(at, "turbine_outlet_temperature"),
        unit="W",
        source="own_calculation",
        clause="steady-flow energy balance",
        model="closes to 1.3 to 1.7 % of the fuel's power with field instruments",
        possible=has_fuel,
    ),
    EngineBalance(
        name="shaft",
        title="Engine, driven machine and auxiliaries on one shaft",
        equation="P_engine = P_driven + P_aux",
        needs=(),
        takes=("auxiliary_power",),
        unknowns=("brake_power", "driven_power"),
        formula=lambda at: at["brake_power"] - at["driven_power"] - at["auxiliary_power"],
        unit="W",
        source="own_calculation",
        clause="definition",
    ),
    EngineBalance(
        name="power_as_read",
        title="Engine power as read",
        equation="P_read = P_engine",
        needs=("engine_power",),
        unknowns=("brake_power",),
        formula=lambda at: at["engine_power"] - at["brake_power"],
        unit="W",
        source="own_calculation",
        clause="definition",
    ),
    EngineBalance(
        name="electric",
        title="Electrical power by volts, amperes and power factor",
        equation="P_el = sqrt(3) U I pf",
        needs=("generator_voltage", "generator_current", "generator_power_factor"),
        takes=("generator_power", "generator_efficiency"),
        unknowns=("driven_power",),
        formula=_electric,
        unit="W",
        source="own_calculation",
        clause="definition, balanced three-phase",
        model="unbalance and harmonics are not in it",
    ),
    EngineBalance(
        name="generator",
        title="Generator, shaft and terminals",
        equation="P_el = eta_gen P_driven",
        needs=("generator_power",),
        takes=("generator_efficiency",),
        unknowns=("driven_power",),
        formula=lambda at: at["generator_power"] - at["generator_efficiency"] * at["driven_power"],
        unit="W",
        source="own_calculation",
        clause="definition",
    ),
)
