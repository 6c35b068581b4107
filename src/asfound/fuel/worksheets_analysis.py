"""Worksheets of the fuel gas."""

from __future__ import annotations

import numpy as np

from asfound.fuel.analysis_takes import FRACTIONS, fraction
from asfound.fuel.elements import ATOMS, atoms
from asfound.fuel.iso6976 import COMBUSTION_TEMPERATURES, METERING_TEMPERATURES
from asfound.fuel.stoichiometry import MOLAR_MASS_CARBON_DIOXIDE, f_factor_of_elements, of_elements
from asfound.fuel.visit_analysis import ANALYSIS, HEXANE, burning, of_the_whole, over_normal_volume
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

NOTHING = np.empty((len(ANALYSIS), 0))
F_FACTOR_AT = "engine"
"""Where the exhaust finds the F factor of the gas, before it assumes that of a natural gas."""


HEAVIER = Take(quantity="fuel_hexanes_plus_carbon", place="fuel", optional=True, default=HEXANE)
"""Mean carbon number of C6+, from the split that the laboratory states; hexane where nobody says."""
SUM_RANGE = (0.99, 1.01, "99 to 101 %: beyond that a component is missing or misread")


def _reference(quantity: str) -> Take:
    return Take(
        quantity=quantity,
        place="fuel",
        assume=Assumption(
            value=288.15,
            standard_uncertainty=0.0,
            says="15 °C; 60 °F gives the same within 0.01 %",
            source="iso_13443",
        ),
    )


def _only_of_the_standard(temperature: Reading | Result) -> None:
    """Refuse a reference temperature outside the tables of the standard."""
    burned = temperature.quantity == "combustion_reference_temperature"
    known = COMBUSTION_TEMPERATURES if burned else METERING_TEMPERATURES
    if not known[0] - 0.01 <= temperature.value <= known[-1] + 0.01:
        raise impossible(
            temperature,
            "is outside the temperatures of the standard",
            allowed="0, 15, 20, 25 °C, 60 °F, and between" if burned else "0, 15, 20 °C, 60 °F, and between",
            try_next="Look into the gas contract or at the head of the report.",
        )


@worksheet(
    title="Atoms in a mole of the gas",
    takes=tuple(fraction(name) for name in ATOMS),
    gives=("fuel_carbon_atoms", "fuel_hydrogen_atoms", "fuel_oxygen_atoms", "fuel_nitrogen_atoms"),
    at="fuel",
    method=Method("count of atoms by component; C6+ as hexane", "own_calculation"),
)
def atoms_of_the_gas(
    methane: Values,
    ethane: Values,
    propane: Values,
    isobutane: Values,
    butane: Values,
    isopentane: Values,
    pentane: Values,
    hexanes_plus: Values,
    nitrogen: Values,
    carbon_dioxide: Values,
    oxygen: Values,
    hydrogen: Values,
    carbon_monoxide: Values,
) -> tuple[Values, Values, Values, Values]:
    """Count carbon, hydrogen, oxygen and nitrogen in a mole of the gas that was analysed.

    A component that the analysis does not name counts as zero. [mol/mol]
    """
    return atoms(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide,
    )  # fmt: skip


@worksheet(
    title="Heat in the fuel, gross",
    takes=("fuel_flow", Take(quantity="gross_heating_value", place="fuel")),
    gives="fuel_heat_input",
    at="engine",
    method=Method("flow times gross heating value, both at one reference state", "common_practice"),
    cautions=("gas",),
)
def fuel_heat_input(flow: Values, heating_value: Values) -> Values:
    """Return the gross heat that the fuel brings per second. [W]"""
    return flow * heating_value


ISO_6976 = Method(
    "ISO 6976, real gas; analysis scaled to 100 %, C6+ as hexane unless its split is stated",
    "iso_6976",
    "clauses 5 to 10",
)


@worksheet(
    title="Sum of the analysis",
    takes=FRACTIONS,
    gives="fuel_analysis_sum",
    at="fuel",
    method=Method("sum of the components named", "own_calculation"),
    valid={"fuel_analysis_sum": SUM_RANGE},
)
def fuel_analysis_sum(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
) -> Values:  # fmt: skip
    """Return what the components of the analysis add up to, before anything is scaled. [mol/mol]"""
    _, total = of_the_whole(
        NOTHING, methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    return total


@worksheet(
    title="Heating value, Wobbe index and density of the gas",
    takes=(
        *FRACTIONS,
        _reference("combustion_reference_temperature"),
        _reference("metering_reference_temperature"),
        HEAVIER,
    ),
    gives=(
        "gross_heating_value",
        "net_heating_value",
        "gross_heating_value_mass",
        "net_heating_value_mass",
        "wobbe_index",
        "net_wobbe_index",
        "fuel_relative_density",
        "fuel_density",
        "fuel_molar_mass",
        "fuel_compression_factor",
    ),
    at="fuel",
    method=ISO_6976,
    refuses={
        "combustion_reference_temperature": _only_of_the_standard,
        "metering_reference_temperature": _only_of_the_standard,
    },
)
def properties_of_the_gas(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    combustion: Values, metering: Values, heavier: Values = HEXANE,
) -> tuple[Values, ...]:  # fmt: skip
    """Return heating value, Wobbe index and density of the gas that was analysed.

    Volumes count at 0 °C and 101.325 kPa by the law of the ideal gas, as everywhere in this program; the compression
    factor is that of the metering temperature. [J/m³(n)], [J/kg], [1], [kg/m³(n)], [kg/mol]
    """
    gas = over_normal_volume(
        combustion, metering,
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide, heavier=heavier,
    )  # fmt: skip
    return (
        gas.gross,
        gas.net,
        gas.gross_by_mass,
        gas.net_by_mass,
        gas.wobbe,
        gas.net_wobbe,
        gas.relative_density,
        gas.density,
        gas.molar_mass,
        gas.compression_factor,
    )


@worksheet(
    title="Air that the gas needs, and its carbon dioxide",
    takes=(*FRACTIONS, HEAVIER),
    gives=("stoichiometric_air", "fuel_co2_per_heat"),
    at="fuel",
    method=Method("balance of the elements; dry air with 20.939 % oxygen", "cipm_2007", "composition of air"),
)
def air_for_the_gas(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values, heavier: Values = HEXANE,
) -> tuple[Values, Values]:  # fmt: skip
    """Return the dry air that a mole of gas needs, and the carbon dioxide per gross heat. [mol/mol], [kg/J]"""
    elements, gross = burning(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide, heavier=heavier,
    )  # fmt: skip
    burned = of_elements(elements)
    heat = np.where(gross > 0, gross, np.nan)
    return burned.dry_air, np.asarray(burned.carbon_dioxide * MOLAR_MASS_CARBON_DIOXIDE / heat)


@worksheet(
    title="F factor as the laboratory states it",
    takes=(Take(quantity="fuel_f_factor", place="fuel"),),
    gives="fuel_f_factor",
    at=F_FACTOR_AT,
    method=Method("taken over from the report", "epa_method_19", "section 12.3"),
)
def f_factor_stated(stated: Values) -> Values:
    """Return the F factor that was typed with the gas, for the exhaust. [m³/J]"""
    return stated


@worksheet(
    title="F factor of the gas analysed",
    takes=(*FRACTIONS, HEAVIER),
    gives="fuel_f_factor",
    at=F_FACTOR_AT,
    method=Method("elements of the gas over its gross heat", "epa_method_19", "Equation 19-13"),
)
def f_factor_of_the_gas(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values, heavier: Values = HEXANE,
) -> Values:  # fmt: skip
    """Return the dry exhaust without excess air per gross heat, at 20 °C and 101.325 kPa. [m³/J]"""
    return f_factor_of_elements(*burning(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide, heavier=heavier,
    ))  # fmt: skip
