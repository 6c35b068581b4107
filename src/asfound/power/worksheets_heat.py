"""Worksheets of the heat that leaves the engine otherwise than by the shaft."""

from __future__ import annotations

import numpy as np

import asfound.power.heat_balance as balance
from asfound.fuel.analysis_takes import FRACTIONS
from asfound.fuel.stoichiometry import element_columns
from asfound.fuel.visit_analysis import COMPONENTS, of_the_whole
from asfound.power.coolant import MOST_GLYCOL, heat_of_flow
from asfound.power.exhaust_heat import SPECIES, Exhaust, air_heat, exhaust_of
from asfound.power.pairs import rising
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

HOT = ("hot",)
_COLUMNS = element_columns(COMPONENTS)
MIXTURE = Take(quantity="excess_air_ratio", place="*", each=True, some=True)
"""Wherever it was taken: the richest counts, because air that leaks in before a probe only makes it look leaner."""
WATER_IN_AIR = Take(
    quantity="air_water_fraction",
    place="site",
    assume=Assumption(
        value=0.01,
        standard_uncertainty=0.01 / 3**0.5,
        says="0 to 2 %, air of a mild day; nobody read its humidity",
        source="engineering_judgement",
        distribution="rectangular",
    ),
)
GLYCOL = Take(
    quantity="coolant_glycol",
    assume=Assumption(
        value=0.25,
        standard_uncertainty=0.25 / 3**0.5,
        says="0 to 50 % glycol; nobody looked",
        source="common_practice",
        distribution="rectangular",
    ),
)
HYDROCARBONS = Take(
    quantity="exhaust_hydrocarbons_wet",
    place="stack",
    assume=Assumption(
        value=1500e-6,
        standard_uncertainty=1500e-6 / 3**0.5,
        says="0 to 3,000 ppm as C1; no flame ionisation analyser at hand",
        source="engineering_judgement",
        distribution="rectangular",
    ),
)


def _a_coolant(glycol: Reading | Result) -> None:
    """Refuse a share of glycol that no table has."""
    if not 0 <= glycol.value <= MOST_GLYCOL:
        raise impossible(
            glycol,
            "is no share of glycol that the tables have",
            allowed=f"0 to {100 * MOST_GLYCOL:.0f} % by mass",
            try_next="Read the refractometer again; most coolants hold 0 to 50 %.",
        )


def exhaust_of_the_gas(fractions: tuple[Values, ...], ratios: Array, water: Values) -> Exhaust:
    """Return the exhaust of a mole of the gas that was analysed, at the richest mixture of all places."""
    elements, _ = of_the_whole(_COLUMNS, *fractions)
    ratio = np.asarray(ratios).min(axis=0)
    if elements.ndim == 1 and ratio.ndim:
        elements = elements[:, np.newaxis]
    return exhaust_of(elements, ratio, water)


@worksheet(
    title="Air and exhaust, from fuel and mixture",
    takes=(*FRACTIONS, "fuel_mass_flow", MIXTURE, WATER_IN_AIR),
    gives=("intake_air_mass_flow", "exhaust_mass_flow"),
    method=Method("balance of the elements", "own_calculation"),
)
def air_and_exhaust_from_fuel(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    fuel: Values, ratios: Array, water: Values,
) -> tuple[Values, Values]:  # fmt: skip
    """Return the air that the engine breathes, and its exhaust. [kg/s]"""
    gas = exhaust_of_the_gas(
        (methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
         nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide), ratios, water,
    )  # fmt: skip
    air = fuel * gas.air / gas.fuel
    return air, air + fuel


_HEAT = Method("composition from gas and mixture, ideal-gas heat capacities, above 25 °C", "aga8_2017", "Part 1")
_EXHAUST = (*FRACTIONS, Take(quantity="exhaust_mass_flow", place="engine"), MIXTURE, WATER_IN_AIR)
_RANGE = {"excess_air_ratio": (0.9, 3.0, "0.9 to 3")}


@worksheet(
    title="Heat in the exhaust",
    takes=(*_EXHAUST, Take(quantity="turbine_outlet_temperature", place="*", each=True, some=True)),
    gives=("exhaust_enthalpy", "exhaust_heat"),
    method=_HEAT,
    cautions=HOT,
    valid=_RANGE,
)
def heat_in_the_exhaust(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    mass: Values, ratios: Array, water: Values, temperatures: Array,
) -> tuple[Values, Values]:  # fmt: skip
    """Return the heat above 25 °C in the exhaust where it leaves the turbine, its water as vapour. [J/kg], [W]

    With several turbines their mean temperature is taken.
    """
    gas = exhaust_of_the_gas(
        (methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
         nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide), ratios, water,
    )  # fmt: skip
    specific = gas.specific_heat(np.asarray(temperatures).mean(axis=0))
    return specific, mass * specific


@worksheet(
    title="Heat in the exhaust, before the catalyst",
    takes=(*_EXHAUST, Take(quantity="catalyst_inlet_temperature", place="*", each=True, some=True)),
    gives=("exhaust_enthalpy", "exhaust_heat"),
    method=_HEAT,
    cautions=HOT,
    valid=_RANGE,
)
def heat_in_the_exhaust_before_the_catalyst(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    mass: Values, ratios: Array, water: Values, temperatures: Array,
) -> tuple[Values, Values]:  # fmt: skip
    """Return the heat above 25 °C in the exhaust where it enters the catalyst: for an engine without a turbine.

    As for the turbine outlet; less what the pipe between has lost. [J/kg], [W]
    """
    return heat_in_the_exhaust(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
        mass, ratios, water, temperatures,
    )  # fmt: skip


@worksheet(
    title="Heat in the intake air",
    takes=(
        "intake_air_mass_flow",
        Take(quantity="intake_air_temperature", optional=True, default=None),
        Take(quantity="ambient_temperature", place="site"),
        WATER_IN_AIR,
    ),
    gives="intake_air_heat",
    method=Method("moist air, ideal-gas heat capacities, above 25 °C", "aga8_2017", "Part 1"),
)
def heat_in_the_intake_air(mass: Values, intake: Values | None, ambient: Values, water: Values) -> Values:
    """Return the heat above 25 °C that the air brings; below zero in cold weather. [W]

    From its temperature after the filter, else from that of the surroundings.
    """
    return mass * air_heat(ambient if intake is None else intake, water)


@worksheet(
    title="Heat of what did not burn",
    takes=(
        *FRACTIONS,
        "fuel_mass_flow",
        Take(quantity="net_heating_value_mass", place="fuel"),
        MIXTURE,
        WATER_IN_AIR,
        Take(quantity="exhaust_co_dry", place="*", each=True, some=True),
        HYDROCARBONS,
    ),
    gives="unburned_heat",
    method=Method("carbon monoxide and hydrocarbons of the exhaust by their net heat", "own_calculation"),
    cautions=("co",),
)
def heat_of_the_unburned(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    fuel: Values, heating_value: Values, ratios: Array, water: Values, monoxide: Array, hydrocarbons: Values,
) -> Values:  # fmt: skip
    """Return the net heat that leaves the engine as carbon monoxide and hydrocarbons. [W]

    Of several places the most carbon monoxide counts: what a catalyst burns warms the exhaust only after the turbine.
    """
    fractions = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    gas = exhaust_of_the_gas(fractions, ratios, water)
    elements, _ = of_the_whole(_COLUMNS, *fractions)
    per_carbon = heating_value * gas.fuel / elements[0]
    most = np.asarray(monoxide).max(axis=0)
    made = gas.moles[SPECIES.index("carbon_monoxide")]
    beside = np.where(made > 0, gas.moles[SPECIES.index("hydrogen")] / np.where(made > 0, made, 1.0), 0.0)
    return balance.unburned(fuel / gas.fuel, gas.dry, gas.wet, most, hydrocarbons, per_carbon, beside)


COLDER = (
    "is colder than the water that goes in",
    "the inlet's temperature, and above",
    "Look which thermometer sits where, and whether the engine was warm; swap the two readings if they were mixed up.",
)
WATER_SIDE = Method("flow, warming, heat capacity of water with glycol", "melinder_2010")


@worksheet(
    title="Heat into the jacket water",
    takes=("jacket_water_flow", "jacket_water_inlet_temperature", "jacket_water_outlet_temperature", GLYCOL),
    gives="jacket_heat",
    method=WATER_SIDE,
    cautions=HOT,
    refuses={"coolant_glycol": _a_coolant},
)
def jacket_heat(flow: Values, inlet: Values, outlet: Values, glycol: Values) -> Values:
    """Return the heat that the jacket water takes up in the engine. [W]"""
    rising("jacket_water_outlet_temperature", inlet, outlet, *COLDER)
    return heat_of_flow(flow, inlet, outlet, glycol)


@worksheet(
    title="Heat into the auxiliary water",
    takes=("auxiliary_water_flow", "auxiliary_water_inlet_temperature", "auxiliary_water_outlet_temperature", GLYCOL),
    gives="auxiliary_heat",
    method=WATER_SIDE,
    cautions=HOT,
    refuses={"coolant_glycol": _a_coolant},
)
def auxiliary_heat(flow: Values, inlet: Values, outlet: Values, glycol: Values) -> Values:
    """Return the heat that the auxiliary water takes up in charge and oil cooler. [W]"""
    rising("auxiliary_water_outlet_temperature", inlet, outlet, *COLDER)
    return heat_of_flow(flow, inlet, outlet, glycol)


@worksheet(
    title="Heat out of the charge, from the air's side",
    takes=(
        "intake_air_mass_flow",
        Take(quantity="compressor_outlet_temperature", place="*", each=True, some=True),
        Take(quantity="manifold_temperature", place="*", each=True, some=True),
        WATER_IN_AIR,
    ),
    gives="charge_cooler_heat",
    method=Method("air flow and cooling, ideal-gas heat capacities", "aga8_2017", "Part 1"),
    cautions=HOT,
)
def charge_cooler_heat(mass: Values, hot: Array, cold: Array, water: Values) -> Values:
    """Return the heat that the charge loses in its cooler. [W]

    Air alone: where the gas is mixed in before the turbocharger the charge carries 3 to 7 % more.
    """
    warm, cool = np.asarray(hot).mean(axis=0), np.asarray(cold).mean(axis=0)
    return mass * (air_heat(warm, water) - air_heat(cool, water))


@worksheet(
    title="Heat out of the oil, from the oil's side",
    takes=("oil_flow", "oil_outlet_temperature", "oil_temperature"),
    gives="oil_cooler_heat",
    method=Method("flow and cooling, 1.77 MJ/(m³ K) within 4 %", "common_practice"),
    cautions=HOT,
)
def oil_cooler_heat(flow: Values, hot: Values, cold: Values) -> Values:
    """Return the heat that the oil loses in its cooler. [W]"""
    return balance.oil_heat(flow, hot, cold)


@worksheet(
    title="Heat into the auxiliary water, from charge and oil",
    takes=("charge_cooler_heat", "oil_cooler_heat"),
    gives="auxiliary_heat",
    method=Method("heat out of the charge and out of the oil, one circuit for both", "own_calculation"),
)
def auxiliary_heat_from_coolers(charge: Values, oil: Values) -> Values:
    """Return what charge and oil give to the auxiliary water, where no flow meter is in it. [W]"""
    return charge + oil
