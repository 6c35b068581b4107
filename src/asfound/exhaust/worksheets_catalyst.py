"""Worksheets of the catalyst: conversion, temperature rise against what was converted, pressure drop against clean.

What comes out is read after the catalyst, or at the stack where nobody sampled there: two worksheets give the same
quantity, and the sheet shows whether they agree.
"""

from __future__ import annotations

from collections.abc import Callable

from asfound.exhaust import catalyst, catalyst_heat
from asfound.exhaust.mixture_takes import GAS
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.exhaust.worksheets_permit import NEAR_AIR, not_below_air
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet

BEFORE, AFTER, STACK = "before_catalyst", "after_catalyst", "stack"
CAUTIONS = ("co", "hot", "catheat", "calgas", "local")
POLLUTANTS = {
    "co": ("CO", "exhaust_co_dry", "catalyst_conversion_co"),
    "nox": ("NOx", "exhaust_nox_dry", "catalyst_conversion_nox"),
    "voc": ("VOC", "exhaust_voc_dry", "catalyst_conversion_voc"),
    "formaldehyde": ("Formaldehyde", "exhaust_formaldehyde_dry", "catalyst_conversion_formaldehyde"),
    "hydrocarbons": ("Hydrocarbons", "exhaust_hydrocarbons_wet", "catalyst_conversion_hydrocarbons"),
}
"""Title, reading and result of each pollutant whose conversion is counted; hydrocarbons are read wet on both sides."""
AIR = Take(quantity="permit_oxygen_in_air", place="engine", optional=True, default=OXYGEN_IN_AIR)
BY_OXYGEN = Method("both sides at one oxygen, dry", "cfr40_63_zzzz", "63.6620(e)(1), (2)")
BY_CO2 = Method("both sides at one carbon dioxide, dry", "cfr40_63_zzzz", "63.6620(e)(2), Equations 2 to 4")


def _conversion(name: str, after: str) -> Callable[..., Values]:
    """Register the conversion of a pollutant by oxygen, with what comes out read at a place."""
    title, reading, gives = POLLUTANTS[name]

    def formula(before: Values, oxygen_before: Values, out: Values, oxygen_after: Values, air: Values) -> Values:
        return catalyst.conversion(before, oxygen_before, out, oxygen_after, air)

    formula.__name__ = f"conversion_{name}" + ("_to_stack" if after == STACK else "")
    formula.__doc__ = f"Return the share of {title} that the catalyst takes out, both sides at the same oxygen. [1]"
    return worksheet(
        title=f"{title} conversion of the catalyst" + (", to the stack" if after == STACK else ""),
        takes=(
            Take(quantity=reading, place=BEFORE),
            Take(quantity="exhaust_oxygen_dry", place=BEFORE),
            Take(quantity=reading, place=after),
            Take(quantity="exhaust_oxygen_dry", place=after),
            AIR,
        ),
        gives=gives,
        method=BY_OXYGEN,
        cautions=CAUTIONS,
        valid={"exhaust_oxygen_dry": NEAR_AIR},
        refuses={"exhaust_oxygen_dry": not_below_air},
    )(formula)


def _conversion_by_co2(name: str, after: str) -> Callable[..., Values]:
    """Register the conversion of a pollutant by carbon dioxide."""
    title, reading, gives = POLLUTANTS[name]

    def formula(before: Values, co2_before: Values, out: Values, co2_after: Values) -> Values:
        return catalyst.conversion_by_co2(before, co2_before, out, co2_after)

    formula.__name__ = f"conversion_{name}_by_co2" + ("_to_stack" if after == STACK else "")
    formula.__doc__ = f"Return the share of {title} that the catalyst takes out, by carbon dioxide. [1]"
    return worksheet(
        title=f"{title} conversion of the catalyst, by carbon dioxide" + (", to the stack" if after == STACK else ""),
        takes=(
            Take(quantity=reading, place=BEFORE),
            Take(quantity="exhaust_co2_dry", place=BEFORE),
            Take(quantity=reading, place=after),
            Take(quantity="exhaust_co2_dry", place=after),
        ),
        gives=gives,
        method=BY_CO2,
        cautions=CAUTIONS,
    )(formula)


CONVERSIONS = {(one, after): _conversion(one, after) for after in (AFTER, STACK) for one in POLLUTANTS}
CONVERSIONS_BY_CO2 = {
    (one, after): _conversion_by_co2(one, after)
    for after in (AFTER, STACK)
    for one in ("co", "nox", "voc", "formaldehyde")
}


@worksheet(
    title="Temperature rise over the catalyst",
    takes=("catalyst_outlet_temperature", "catalyst_inlet_temperature"),
    gives="catalyst_temperature_rise",
    method=Method("outlet less inlet", "common_practice"),
    cautions=("hot", "catheat"),
)
def catalyst_temperature_rise(outlet: Values, inlet: Values) -> Values:
    """Return how much warmer the exhaust leaves the catalyst than it enters. [K]"""
    return outlet - inlet


HYDROGEN = Take(
    quantity="exhaust_hydrogen_to_co",
    place=BEFORE,
    assume=Assumption(
        value=0.3,
        standard_uncertainty=0.3 / 3**0.5,
        says="0 to 0.6 of hydrogen for each CO: none, to the water-gas ratio of 3.5 at stoichiometric mixture",
        source="engineering_judgement",
        distribution="rectangular",
    ),
)
PLAIN_AIR = Take(quantity="air_water_fraction", place="site", optional=True, default=0.01)


def _both(quantity: str, after: str) -> tuple[Take, Take]:
    """Return optional takes of a reading before and after the catalyst."""
    return Take(quantity=quantity, place=BEFORE, optional=True), Take(quantity=quantity, place=after, optional=True)


def _expected(after: str) -> Callable[..., Values]:
    """Register the temperature rise to be expected, with what comes out read at a place."""

    def formula(
        inlet: Values,
        oxygen_before: Values,
        co_before: Values,
        oxygen_after: Values,
        co_after: Values,
        voc_before: Values | None,
        voc_after: Values | None,
        formaldehyde_before: Values | None,
        formaldehyde_after: Values | None,
        nox_before: Values | None,
        nox_after: Values | None,
        hydrogen: Values,
        carbon: Values,
        atoms: Values,
        fuel_oxygen: Values,
        nitrogen: Values,
        air_water: Values,
    ) -> Values:
        gas = catalyst_heat.wet_exhaust(oxygen_before, carbon, atoms, fuel_oxygen, nitrogen, air_water)

        def taken_out(before: Values | None, out: Values | None) -> Values:
            if before is None or out is None:
                return 0.0
            return catalyst_heat.converted(before, oxygen_before, out, oxygen_after, OXYGEN_IN_AIR)

        heat = catalyst_heat.heat
        released = (
            taken_out(co_before, co_after) * (heat("co") + hydrogen * heat("hydrogen"))
            + taken_out(voc_before, voc_after) * heat("propane")
            + taken_out(formaldehyde_before, formaldehyde_after) * heat("formaldehyde")
            + taken_out(nox_before, nox_after) * heat("nitric_oxide")
        )
        return catalyst_heat.temperature_rise((1.0 - gas[3]) * released, gas, inlet)

    formula.__name__ = "catalyst_expected_rise" + ("_to_stack" if after == STACK else "")
    formula.__doc__ = (
        "Return the temperature rise by what the catalyst converts, without heat loss. [K]\n\n"
        "CO with the hydrogen that comes with it, and VOC, formaldehyde and NOx where both sides were read. Methane is "
        "left out: it hardly burns on an oxidation catalyst at these temperatures."
    )
    return worksheet(
        title="Temperature rise to be expected over the catalyst" + (", to the stack" if after == STACK else ""),
        takes=(
            "catalyst_inlet_temperature",
            Take(quantity="exhaust_oxygen_dry", place=BEFORE),
            Take(quantity="exhaust_co_dry", place=BEFORE),
            Take(quantity="exhaust_oxygen_dry", place=after),
            Take(quantity="exhaust_co_dry", place=after),
            *_both("exhaust_voc_dry", after),
            *_both("exhaust_formaldehyde_dry", after),
            *_both("exhaust_nox_dry", after),
            HYDROGEN,
            *GAS,
            PLAIN_AIR,
        ),
        gives="catalyst_expected_temperature_rise",
        method=Method("heat of what was converted over the heat capacity of the exhaust, no loss", "own_calculation"),
        cautions=CAUTIONS,
        valid={"exhaust_oxygen_dry": NEAR_AIR},
        refuses={"exhaust_oxygen_dry": not_below_air},
    )(formula)


EXPECTED = {after: _expected(after) for after in (AFTER, STACK)}


@worksheet(
    title="Temperature rise over the catalyst against what was converted",
    takes=("catalyst_temperature_rise", "catalyst_expected_temperature_rise"),
    gives="catalyst_rise_difference",
    method=Method("measured less expected", "own_calculation"),
    cautions=("hot", "catheat"),
)
def catalyst_rise_difference(measured: Values, expected: Values) -> Values:
    """Return how much the measured temperature rise differs from that of the heat set free. [K]"""
    return measured - expected


def _pressure_ratio(place: str) -> Callable[..., Values]:
    """Register the pressure drop against clean, with the exhaust flow of a place."""

    def formula(
        drop: Values, flow: Values, inlet: Values, clean_drop: Values, clean_flow: Values, clean_inlet: Values
    ) -> Values:
        return catalyst.pressure_drop_ratio(drop, flow, inlet, clean_drop, clean_flow, clean_inlet)

    formula.__name__ = f"catalyst_pressure_drop_ratio_{place}"
    formula.__doc__ = "Return the pressure drop over that of the clean catalyst, at equal flow and temperature. [1]"
    return worksheet(
        title=f"Catalyst pressure drop against clean, flow from the {place.replace('_', ' ')}",
        takes=(
            "catalyst_pressure_drop",
            Take(quantity="exhaust_flow_dry", place=place),
            "catalyst_inlet_temperature",
            "catalyst_clean_pressure_drop",
            Take(quantity="catalyst_clean_exhaust_flow", place="engine"),
            "catalyst_clean_inlet_temperature",
        ),
        gives="catalyst_pressure_drop_ratio",
        method=Method("drop goes with flow squared and gas temperature", "common_practice"),
        cautions=("hot", "catheat"),
    )(formula)


PRESSURE_RATIOS = {place: _pressure_ratio(place) for place in (STACK, AFTER, BEFORE)}


@worksheet(
    title="Catalyst pressure drop against the emission test",
    takes=("catalyst_pressure_drop", "catalyst_test_pressure_drop"),
    gives="catalyst_pressure_drop_change",
    method=Method("change from the initial performance test, at full load", "cfr40_63_zzzz", "Tables 1b, 2b"),
    cautions=("hot", "catheat", "local"),
)
def catalyst_pressure_drop_change(drop: Values, at_test: Values) -> Values:
    """Return how far the pressure drop has moved from that of the emission test; both within 10 % of full load. [Pa]"""
    return drop - at_test
