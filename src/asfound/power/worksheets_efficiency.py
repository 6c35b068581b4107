"""Worksheets of fuel heat, efficiency and heat rate: each net (LHV) and gross (HHV)."""

from __future__ import annotations

import asfound.power.efficiency as of_fuel
from asfound.power.heat_balance import latent_share
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

DEFINITION = Method("work over heat of the fuel", "own_calculation", "definition; 3600 kJ/kWh, 2544.43 Btu/hp-h")
TERMINALS = Take(quantity="generator_power", place="generator")


@worksheet(
    title="Heat in the fuel, net",
    takes=(Take(quantity="fuel_flow", place="engine"), Take(quantity="net_heating_value", place="fuel")),
    gives="fuel_heat_input_net",
    method=Method("flow times net heating value, both at one reference state", "common_practice"),
    cautions=("gas",),
)
def fuel_heat_input_net(flow: Values, heating_value: Values) -> Values:
    """Return the net heat that the fuel brings per second, the water of combustion as vapour. [W]"""
    return flow * heating_value


@worksheet(
    title="Efficiency and heat rate at the shaft, net",
    takes=("engine_power", "fuel_heat_input_net"),
    gives=("brake_efficiency", "heat_rate"),
    method=DEFINITION,
)
def efficiency_at_the_shaft(power: Values, heat: Values) -> tuple[Values, Values]:
    """Return work at the shaft over net heat of the fuel (LHV), and its inverse. [1], [J/J]"""
    return of_fuel.efficiency(power, heat), of_fuel.heat_rate(power, heat)


@worksheet(
    title="Efficiency and heat rate at the shaft, gross",
    takes=("engine_power", "fuel_heat_input"),
    gives=("brake_efficiency_gross", "heat_rate_gross"),
    method=DEFINITION,
)
def efficiency_at_the_shaft_gross(power: Values, heat: Values) -> tuple[Values, Values]:
    """Return work at the shaft over gross heat of the fuel (HHV), and its inverse. [1], [J/J]"""
    return of_fuel.efficiency(power, heat), of_fuel.heat_rate(power, heat)


@worksheet(
    title="Electrical efficiency and heat rate, net",
    takes=(TERMINALS, Take(quantity="fuel_heat_input_net", place="engine")),
    gives=("electrical_efficiency", "electrical_heat_rate"),
    method=DEFINITION,
)
def efficiency_at_the_terminals(power: Values, heat: Values) -> tuple[Values, Values]:
    """Return power at the generator's terminals over net heat of the fuel (LHV), and its inverse. [1], [J/J]"""
    return of_fuel.efficiency(power, heat), of_fuel.heat_rate(power, heat)


@worksheet(
    title="Electrical efficiency and heat rate, gross",
    takes=(TERMINALS, Take(quantity="fuel_heat_input", place="engine")),
    gives=("electrical_efficiency_gross", "electrical_heat_rate_gross"),
    method=DEFINITION,
)
def efficiency_at_the_terminals_gross(power: Values, heat: Values) -> tuple[Values, Values]:
    """Return power at the generator's terminals over gross heat of the fuel (HHV), and its inverse. [1], [J/J]"""
    return of_fuel.efficiency(power, heat), of_fuel.heat_rate(power, heat)


@worksheet(
    title="Fuel per energy at the shaft",
    takes=("fuel_mass_flow", "engine_power"),
    gives="brake_specific_fuel_consumption",
    method=Method("mass flow over power", "own_calculation"),
)
def brake_specific_fuel_consumption(mass_flow: Values, power: Values) -> Values:
    """Return the mass of gas over work at the shaft. [kg/J]"""
    return of_fuel.specific_fuel_consumption(mass_flow, power)


@worksheet(
    title="Heat that condensing the water would give",
    takes=("fuel_heat_input", "fuel_heat_input_net"),
    gives="latent_heat_share",
    method=Method("gross less net heat of the fuel, over gross", "own_calculation"),
)
def latent_heat_share(gross: Values, net: Values) -> Values:
    """Return the share of the gross heat that no engine can use: its exhaust leaves with the water as vapour. [1]"""
    return latent_share(gross, net)
