"""Balances of gas and exhaust: fuel flow, oxygen, carbon, water, the flow in the stack."""

from __future__ import annotations

from collections.abc import Callable

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import HUMID, MIXTURE, EngineBalance, has_fuel, is_lean_burn
from asfound.crosscheck.engine_point import NORMAL, EnginePoint
from asfound.quantities.constants import GAS_CONSTANT

FUEL, LAMBDA = "fuel", "excess_air_ratio"


def _metered(at: EnginePoint) -> Any_:
    assert at.line_gas is not None
    pressure, temperature = at.pressure("fuel_pressure"), at["fuel_temperature"]
    z, _, _ = at.line_gas.at(temperature, pressure)
    return at["fuel_flow_metered"] * pressure / (z * GAS_CONSTANT * temperature) - at["fuel"]


def _wet(dry: Callable[[EnginePoint], Any_], read: str) -> Callable[[EnginePoint], Any_]:
    return lambda at: at[read] - dry(at) * at.dry_share


def _oxygen(at: EnginePoint) -> Any_:
    return at.oxygen / at.dry


def _nox(at: EnginePoint) -> Any_:
    return at["exhaust_nox_dry"]


def _stack(at: EnginePoint) -> Any_:
    moved = at["stack_velocity"] * at.plant.stack_area * at["barometric_pressure"]
    return moved / (GAS_CONSTANT * at["exhaust_temperature"]) - at["fuel"] * at.wet


BALANCES = (
    EngineBalance(
        name="barometer_and_height",
        title="Barometer and height of the site",
        equation="p_amb = p_std(height) + d_weather",
        needs=("barometric_pressure", "site_pressure_by_height"),
        takes=("weather",),
        formula=lambda at: at["barometric_pressure"] - at["site_pressure_by_height"] - at["weather"],
        unit="Pa",
        source="iso_2533",
        model="weather moves a barometer by about 3 kPa either way",
    ),
    EngineBalance(
        name="fuel_by_volume",
        title="Fuel from volume, pressure and temperature",
        equation="n_fuel = V_fuel (p_fuel + p_amb) / (Z R T_fuel)",
        needs=("fuel_flow_metered", "fuel_pressure"),
        takes=("fuel_temperature", "barometric_pressure"),
        unknowns=(FUEL,),
        formula=_metered,
        unit="mol/s",
        source="aga8_2017",
        clause="GERG-2008",
        model="0.1 %: the equation of state",
        possible=has_fuel,
    ),
    EngineBalance(
        name="fuel_by_flow",
        title="Fuel from its flow at base conditions",
        equation="n_fuel = V_fuel,n p_n / (R T_n)",
        needs=("fuel_flow",),
        unknowns=(FUEL,),
        formula=lambda at: at["fuel_flow"] * NORMAL - at["fuel"],
        unit="mol/s",
        source="own_calculation",
        clause="ideal gas at base",
        model="0.3 %: base conditions counted as ideal",
        possible=has_fuel,
    ),
    EngineBalance(
        name="fuel_by_mass",
        title="Fuel from its mass flow",
        equation="n_fuel = m_fuel / M",
        needs=("fuel_mass_flow",),
        unknowns=(FUEL,),
        formula=lambda at: at["fuel_mass_flow"] / at.fuel.molar_mass - at["fuel"],
        unit="mol/s",
        source="own_calculation",
        model="none beyond the analysis",
        possible=has_fuel,
    ),
    EngineBalance(
        name="oxygen_dry",
        title="Oxygen balance, dry sample",
        equation="y_O2,dry = O2 / (dry exhaust)",
        needs=("exhaust_oxygen_dry",),
        takes=MIXTURE[1:],
        unknowns=(LAMBDA,),
        formula=lambda at: at["exhaust_oxygen_dry"] - _oxygen(at),
        unit="mol/mol",
        source="own_calculation",
        clause="balance of the elements",
        model="0.01 vol-%",
        possible=has_fuel,
    ),
    EngineBalance(
        name="carbon_dry",
        title="Carbon balance, dry sample",
        equation="y_CO2,dry = CO2 / (dry exhaust)",
        needs=("exhaust_co2_dry",),
        takes=MIXTURE[1:],
        unknowns=(LAMBDA,),
        formula=lambda at: at["exhaust_co2_dry"] - at.dioxide / at.dry,
        unit="mol/mol",
        source="own_calculation",
        clause="balance of the elements",
        model="0.01 vol-%",
        possible=has_fuel,
    ),
    EngineBalance(
        name="oxygen_wet",
        title="Oxygen in wet exhaust",
        equation="y_O2,wet = y_O2,dry (1 - x_H2O)",
        needs=("exhaust_oxygen_wet",),
        takes=(*MIXTURE[1:], *HUMID),
        unknowns=(LAMBDA,),
        formula=_wet(_oxygen, "exhaust_oxygen_wet"),
        unit="mol/mol",
        source="own_calculation",
        clause="definition",
        possible=is_lean_burn,
    ),
    EngineBalance(
        name="oxygen_sensor",
        title="Oxygen at the engine's own sensor",
        equation="y_O2,sensor = y_O2,dry (1 - x_H2O)",
        needs=("oxygen_sensor_reading",),
        takes=(*MIXTURE[1:], *HUMID),
        unknowns=(LAMBDA,),
        formula=_wet(_oxygen, "oxygen_sensor_reading"),
        unit="mol/mol",
        source="own_calculation",
        clause="definition",
        possible=is_lean_burn,
    ),
    EngineBalance(
        name="nox_wet",
        title="NOx in wet and in dry exhaust",
        equation="y_NOx,wet = y_NOx,dry (1 - x_H2O)",
        needs=("exhaust_nox_wet", "exhaust_nox_dry"),
        takes=(*MIXTURE[1:], *HUMID),
        unknowns=(LAMBDA,),
        formula=_wet(_nox, "exhaust_nox_wet"),
        unit="mol/mol",
        source="own_calculation",
        clause="definition",
        model="what the wet probe makes of NO2 and ammonia is not in it",
        possible=has_fuel,
    ),
    EngineBalance(
        name="nox_sensor",
        title="NOx at the engine's own sensor",
        equation="y_NOx,sensor = y_NOx,dry (1 - x_H2O)",
        needs=("nox_sensor_reading", "exhaust_nox_dry"),
        takes=(*MIXTURE[1:], *HUMID),
        unknowns=(LAMBDA,),
        formula=_wet(_nox, "nox_sensor_reading"),
        unit="mol/mol",
        source="own_calculation",
        clause="definition",
        model="what the sensor makes of NO2 and ammonia is not in it",
        possible=is_lean_burn,
    ),
    EngineBalance(
        name="stack_flow",
        title="Exhaust flow by velocity in the stack",
        equation="v A p_amb / (R T_stack) = n_fuel (wet exhaust)",
        needs=("stack_velocity", "exhaust_temperature", "barometric_pressure"),
        takes=(*MIXTURE[1:], *HUMID),
        unknowns=(FUEL, LAMBDA),
        formula=_stack,
        unit="mol/s",
        source="own_calculation",
        clause="ideal gas",
        model="pressure in the stack taken as the barometer",
        possible=lambda plant: has_fuel(plant) and plant.stack_area is not None,
    ),
)
