"""Worksheets of the heat balance, its shares, and of the heat that is put to use."""

from __future__ import annotations

import asfound.power.heat_balance as balance
import asfound.power.heat_recovery as recovery
from asfound.fuel.analysis_takes import FRACTIONS
from asfound.power.efficiency import efficiency
from asfound.power.exhaust_heat import SPECIES
from asfound.power.worksheets_heat import HOT, MIXTURE, WATER_IN_AIR, exhaust_of_the_gas
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

NOT_MEASURED = ("jacket_heat", "auxiliary_heat", "unburned_heat")
"""Terms that the balance goes without where nobody read them; the rest then holds them."""
FUEL = Take(quantity="fuel_heat_input_net", place="engine")
OVER_FUEL = Method("over net heat of the fuel (LHV)", "own_calculation")


@worksheet(
    title="Heat balance",
    takes=(
        FUEL,
        Take(quantity="engine_power", place="engine"),
        Take(quantity="exhaust_heat", place="engine"),
        Take(quantity="intake_air_heat", place="engine", optional=True, default=0.0),
        *(Take(quantity=one, place="engine", optional=True, default=0.0) for one in NOT_MEASURED),
    ),
    gives=("balance_rest", "balance_rest_share"),
    method=Method("first law, net heat at 25 °C, water as vapour", "own_calculation"),
)
def heat_balance(
    fuel: Values, work: Values, exhaust: Values, air: Values, jacket: Values, auxiliary: Values, unburned: Values
) -> tuple[Values, Values]:
    """Return what the terms of the balance leave unexplained, and its share of the fuel. [W], [1]

    Radiation, pumps, and every error of the readings; and what nobody measured.
    """
    found = balance.rest(fuel, work, exhaust, air, jacket, auxiliary, unburned)
    return found.rest, found.share


@worksheet(
    title="Share of the exhaust",
    takes=(
        Take(quantity="exhaust_heat", place="engine"),
        Take(quantity="intake_air_heat", place="engine", optional=True, default=0.0),
        FUEL,
    ),
    gives="exhaust_heat_share",
    method=OVER_FUEL,
)
def exhaust_heat_share(exhaust: Values, air: Values, fuel: Values) -> Values:
    """Return the heat of the exhaust above the intake air, over the heat of the fuel. [1]"""
    return balance.share(exhaust - air, fuel)


@worksheet(
    title="Share of the jacket water",
    takes=(Take(quantity="jacket_heat", place="engine"), FUEL),
    gives="jacket_heat_share",
    method=OVER_FUEL,
)
def jacket_heat_share(heat: Values, fuel: Values) -> Values:
    """Return the heat into the jacket water over the heat of the fuel. [1]"""
    return balance.share(heat, fuel)


@worksheet(
    title="Share of the auxiliary water",
    takes=(Take(quantity="auxiliary_heat", place="engine"), FUEL),
    gives="auxiliary_heat_share",
    method=OVER_FUEL,
)
def auxiliary_heat_share(heat: Values, fuel: Values) -> Values:
    """Return the heat into the auxiliary water over the heat of the fuel. [1]"""
    return balance.share(heat, fuel)


@worksheet(
    title="Share of what did not burn",
    takes=(Take(quantity="unburned_heat", place="engine"), FUEL),
    gives="unburned_share",
    method=OVER_FUEL,
)
def unburned_share(heat: Values, fuel: Values) -> Values:
    """Return the heat of what did not burn over the heat of the fuel. [1]"""
    return balance.share(heat, fuel)


def _still_warm(temperature: Reading | Result) -> None:
    """Refuse exhaust that left its heat exchanger colder than any cooling water."""
    if temperature.value < 273.15:
        raise impossible(
            temperature,
            "is below freezing",
            allowed="above 0 °C",
            try_next="Read the thermometer after the heat exchanger, with exhaust flowing through it.",
        )


@worksheet(
    title="Heat recovered from the exhaust",
    takes=(
        *FRACTIONS,
        Take(quantity="exhaust_mass_flow", place="engine"),
        MIXTURE,
        WATER_IN_AIR,
        Take(quantity="exhaust_enthalpy", place="engine"),
        Take(quantity="recovery_outlet_temperature", place="stack"),
    ),
    gives="recovered_exhaust_heat",
    method=Method("exhaust before and after the heat exchanger, water as vapour", "aga8_2017", "Part 1"),
    cautions=HOT,
    refuses={"recovery_outlet_temperature": _still_warm},
)
def recovered_exhaust_heat(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    mass: Values, ratios: Array, water: Values, before: Values, temperature: Values,
) -> Values:  # fmt: skip
    """Return the heat that the exhaust loses between engine and outlet of the heat exchanger. [W]

    Nothing is added for water that condenses below its dew point.
    """
    gas = exhaust_of_the_gas(
        (methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
         nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide), ratios, water,
    )  # fmt: skip
    return mass * (before - gas.specific_heat(temperature))


@worksheet(
    title="Useful heat",
    takes=(Take(quantity="recovered_exhaust_heat", place="engine"), Take(quantity="jacket_heat", place="engine")),
    gives="useful_heat",
    method=Method("jacket water and recovered exhaust, all of it used", "common_practice"),
)
def useful_heat(exhaust: Values, jacket: Values) -> Values:
    """Return the heat put to use, if the jacket water's goes to the same consumer. [W]"""
    return exhaust + jacket


TERMINALS = Take(quantity="generator_power", place="generator")


@worksheet(
    title="Overall efficiency, power to heat, primary energy saving",
    takes=(TERMINALS, Take(quantity="useful_heat", place="engine"), FUEL),
    gives=("overall_efficiency", "power_to_heat_ratio", "primary_energy_saving"),
    method=Method("against 53 % and 92 % of separate production from natural gas", "eu_2012_27", "Annex II"),
)
def overall_efficiency(power: Values, heat: Values, fuel: Values) -> tuple[Values, Values, Values]:
    """Return power and useful heat over net heat of the fuel (LHV), power over heat, fuel saved. [1]

    The reference values are those of the European Union for natural gas and hot water, plants built from 2016 on, from
    memory; site, grid and later rules change them by some per cent.
    """
    electrical, thermal = efficiency(power, fuel), efficiency(heat, fuel)
    saved = recovery.primary_energy_saving(electrical, thermal)
    return electrical + thermal, electrical / thermal, saved


@worksheet(
    title="Overall efficiency, gross",
    takes=(
        TERMINALS,
        Take(quantity="useful_heat", place="engine"),
        Take(quantity="fuel_heat_input", place="engine"),
    ),
    gives="overall_efficiency_gross",
    method=Method("over gross heat of the fuel (HHV)", "own_calculation"),
)
def overall_efficiency_gross(power: Values, heat: Values, fuel: Values) -> Values:
    """Return power and useful heat over gross heat of the fuel (HHV). [1]"""
    return efficiency(power + heat, fuel)


@worksheet(
    title="Acid dew point of the exhaust",
    takes=(
        *FRACTIONS,
        MIXTURE,
        WATER_IN_AIR,
        Take(
            quantity="sulfur_to_trioxide",
            place="engine",
            assume=Assumption(
                value=0.03,
                standard_uncertainty=0.02 / 3**0.5,
                says="1 to 5 % of the sulfur; an oxidation catalyst makes it more",
                source="engineering_judgement",
                distribution="rectangular",
            ),
        ),
        Take(quantity="barometric_pressure", place="site"),
    ),
    gives="exhaust_acid_dew_point",
    method=Method("sulfur of the gas, part of it as SO3", "verhoff_banchero_1974"),
    cautions=("h2s",),
)
def exhaust_acid_dew_point(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    ratios: Array, water: Values, converted: Values, pressure: Values,
) -> Values:  # fmt: skip
    """Return where sulfuric acid begins to condense; no answer where the analysis names no hydrogen sulfide. [K]"""
    fractions = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    gas = exhaust_of_the_gas(fractions, ratios, water)
    steam = pressure * gas.moles[SPECIES.index("water")] / gas.wet
    trioxide = pressure * converted * hydrogen_sulfide / sum(fractions) / gas.wet
    return recovery.acid_dew_point(steam, trioxide)
