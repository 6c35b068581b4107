"""Worksheets of the gas's quality: what it carries, what drops out of it, whether it suits the build."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from asfound.fuel import contaminants, hydrocarbon_dew, water
from asfound.fuel import methane_number as knock
from asfound.fuel import methane_number_linear as simple
from asfound.fuel.analysis_takes import FRACTIONS
from asfound.fuel.visit_analysis import ANALYSIS, without_noise
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Take, worksheet

TOXIC = ("gas", "h2s", "local")
_AT_FUEL = tuple(Take(quantity=name, place="fuel") for name in ("fuel_oxygen", "fuel_nitrogen"))


@worksheet(
    title="Sulfur from hydrogen sulfide",
    takes=(Take(quantity="fuel_hydrogen_sulfide", place="fuel"),),
    gives="fuel_sulfur",
    at="fuel",
    method=Method("mass of its sulfur; other sulfur compounds are not in it", "own_calculation", "balance of mass"),
    cautions=TOXIC,
)
def sulfur_from_hydrogen_sulfide(fraction: Values) -> Values:
    """Return the sulfur that the hydrogen sulfide of the gas brings. [kg/m³(n)]"""
    return contaminants.sulfur_of_hydrogen_sulfide(fraction)


@worksheet(
    title="Sulfur dioxide per heat of the fuel",
    takes=(Take(quantity="fuel_sulfur", place="fuel"), Take(quantity="gross_heating_value", place="fuel")),
    gives="fuel_so2_per_heat",
    at="fuel",
    method=Method("all sulfur burned to SO2", "own_calculation", "balance of mass"),
)
def so2_per_heat(sulfur: Values, heating_value: Values) -> Values:
    """Return the sulfur dioxide that the gas burns to, over gross heat. [kg/J]"""
    return contaminants.sulfur_dioxide_per_heat(sulfur, heating_value)


@worksheet(
    title="Sulfur dioxide per hour, from the fuel",
    takes=("fuel_heat_input", Take(quantity="fuel_so2_per_heat", place="fuel")),
    gives="so2_mass_flow",
    method=Method("fuel heat times sulfur dioxide per heat", "own_calculation", "balance of mass"),
)
def so2_from_fuel_sulfur(heat: Values, per_heat: Values) -> Values:
    """Return the sulfur dioxide that leaves with the exhaust. Oil's own sulfur is not counted. [kg/s]"""
    return heat * per_heat


@worksheet(
    title="Air in the gas sample",
    takes=_AT_FUEL,
    gives="fuel_air_in_sample",
    at="fuel",
    method=Method("oxygen and nitrogen of the analysis beside those of dry air", "cipm_2007", "composition of air"),
)
def air_in_the_sample(oxygen: Values, nitrogen: Values) -> Values:
    """Return the most air that can have got into the sample. [mol/mol]"""
    return contaminants.air_in_the_sample(oxygen, nitrogen)


@worksheet(
    title="Water dew point of the gas in the line",
    takes=(Take(quantity="fuel_water", place="fuel"), "fuel_pressure"),
    gives="fuel_water_dew_point",
    method=Method("saturated water content of sweet gas, solved for the temperature", "bukacek_1955"),
    valid={"fuel_pressure": (0.1e6, 7e6, "1 to 70 bar, where it was compared with a reference model")},
    draws=1000,
    draws_because="it is solved by halving for each draw",
)
def water_dew_point(content: Values, pressure: Values) -> Values:
    """Return the temperature at which water begins to drop out of the gas at its pressure in the line. [K]"""
    return water.dew_point(contaminants.fraction_of(content, contaminants.MOLAR_MASS_WATER), pressure)


@worksheet(
    title="Hydrocarbon dew point of the gas in the line",
    takes=(*FRACTIONS, "fuel_pressure"),
    gives=("fuel_hydrocarbon_dew_low", "fuel_hydrocarbon_dew_high"),
    method=Method("Peng-Robinson, 3 K added either side; C6+ as hexane, and as octane", "peng_robinson_1976"),
    draws=50,
    draws_because="two phase equilibria are solved for each draw; what C6+ stands for moves it far more",
)
def hydrocarbon_dew_range(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    pressure: Values,
) -> tuple[Values, Values]:  # fmt: skip
    """Return between which temperatures the first liquid hydrocarbon forms at the pressure of the line. [K]

    A range and no number: what C6+ stands for moves it by tens of kelvin. No answer above the cricondenbar, or
    where nothing heavier than propane was found.
    """
    parts = np.stack(np.broadcast_arrays(
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide, pressure,
    )).astype(float)  # fmt: skip
    return _dew_range(parts.shape, parts.tobytes())


@lru_cache(maxsize=8)
def _dew_range(shape: tuple[int, ...], content: bytes) -> tuple[Array, Array]:
    """Return the two ends; kept, since a visit is worked out anew at each reading with mostly the same gas."""
    *parts, pressure = np.frombuffer(content).reshape(shape)
    named = {
        name: part for name, part in zip(ANALYSIS.values(), map(without_noise, parts), strict=True)
        if name != "n-hexane" and name.replace("-", "_").replace(" ", "_") in hydrocarbon_dew.components()
    }  # fmt: skip
    heavier = without_noise(parts[tuple(ANALYSIS).index("fuel_hexanes_plus")])
    found = hydrocarbon_dew.dew_point_range(hydrocarbon_dew.composition(named), pressure, heavier=heavier)
    low, high = np.array(found.low), np.array(found.high)
    low.flags.writeable = high.flags.writeable = False
    return low, high


@worksheet(
    title="Methane number above what the build needs",
    takes=(Take(quantity="methane_number", place="fuel"), "required_methane_number"),
    gives="methane_number_margin",
    method=Method("difference; within 2 undecided, since methods differ by more", "own_calculation"),
)
def methane_number_margin(number: Values, required: Values) -> Values:
    """Return the methane number of the gas less that which the build needs; both by one method. [1]"""
    return number - required


SIMPLE_BECAUSE = "lean pipeline gas only: at most 5 % inerts, 0.05 % pentanes and heavier, hydrogen, CO or sulfur"


def _lean_only(most: float) -> Callable[[Reading | Result], None]:
    """Return the refusal of a gas for which the simple methods were not made."""

    def refuse(amount: Reading | Result) -> None:
        if amount.value > most:
            raise impossible(
                amount,
                "is more than the simple methods of the methane number were made for",
                allowed=f"0 to {100 * most:g} %",
                try_next="Take the number by EN 16726 annex A, which stands beside it.",
            )

    return refuse


LEAN_ONLY = {
    **dict.fromkeys(("fuel_nitrogen", "fuel_carbon_dioxide"), _lean_only(simple.MOST_INERT)),
    **dict.fromkeys(
        (
            "fuel_isopentane", "fuel_pentane", "fuel_hexanes_plus", "fuel_hydrogen", "fuel_carbon_monoxide",
            "fuel_hydrogen_sulfide", "fuel_oxygen",
        ),
        _lean_only(simple.MOST_OTHER),
    ),
}  # fmt: skip


def _simple(fractions: tuple[Values, ...]) -> Array:
    names = (name.replace("n-hexane", "hexanes_plus") for name in ANALYSIS.values())
    return knock.composition(dict(zip(names, map(without_noise, fractions), strict=True)))


@worksheet(
    title="Methane number by linear coefficients",
    takes=FRACTIONS,
    gives="methane_number",
    at="fuel",
    method=Method(f"linear octane coefficients; {SIMPLE_BECAUSE}", "sae_922359", "by way of ISO 15403-1"),
    refuses=LEAN_ONLY,
)
def methane_number_linear(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
) -> Values:  # fmt: skip
    """Return the methane number of lean pipeline gas by linear coefficients; no answer for any other gas. [1]"""
    return simple.methane_number_linear(_simple((
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )))  # fmt: skip


@worksheet(
    title="Methane number by the ratio of hydrogen to carbon",
    takes=FRACTIONS,
    gives="methane_number",
    at="fuel",
    method=Method(f"hydrogen-carbon ratio; {SIMPLE_BECAUSE}", "sae_922359", "by way of ISO 15403-1"),
    refuses=LEAN_ONLY,
)
def methane_number_of_ratio(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
) -> Values:  # fmt: skip
    """Return the methane number of lean pipeline gas by its hydrogen-carbon ratio; no answer for any other gas. [1]"""
    return simple.methane_number_hydrogen_carbon(_simple((
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )))  # fmt: skip
