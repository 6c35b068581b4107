"""Worksheets of the exhaust: every species at the permit's oxygen, by mass, per energy, per heat, per hour, per year.

NOx and CO at the permit's oxygen and per energy stand in `worksheets_permit`. Here is the same for the other species,
and the routes by carbon dioxide. Each species is one row of `SPECIES`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import asfound.exhaust.emission_rate as rate
from asfound.exhaust import method_19
from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS, mass_concentration
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.exhaust.worksheets_permit import (
    AT_THE_ANALYSER,
    F_FACTOR,
    NEAR_AIR,
    NORMAL,
    REFERENCE_OXYGEN,
    REFUSED_AT_REFERENCE,
    RULE,
    RULE_AIR,
    not_below_air,
)
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

LITTLE_CARBON_DIOXIDE = (0.015, 0.16, "1.5 to 16 % carbon dioxide: below it the correction runs away")
YEAR = 8760.0 * 3600.0
"""Every hour of a year that is no leap year. [s]"""


@dataclass(frozen=True, slots=True)
class Species:
    """What is emitted: its name in the quantities, in titles, and how it counts."""

    key: str
    title: str
    dry: str
    """Quantity of the dry reading."""
    molar_mass: float
    """[kg/mol] as the rules count it."""
    by_rule: float | None = None
    """Grams in a dry standard cubic metre for 1 ppm, as the rule prints it; None: from the molar mass."""
    counted: str = ""
    """How it counts, in words."""

    @property
    def grams(self) -> float:
        """Grams in a dry standard cubic metre (20 degrees Celsius) for 1 ppm."""
        if self.by_rule is not None:
            return self.by_rule
        return float(mass_concentration(1e-6, self.molar_mass, DRY_STANDARD_TEMPERATURE)) * 1e3


NOX = Species("nox", "NOx", "exhaust_nox_dry", MOLAR_MASS["nox"], rate.RULE_CONSTANT["nox"], ", counted as NO2")
CO = Species("co", "CO", "exhaust_co_dry", MOLAR_MASS["co"], rate.RULE_CONSTANT["co"])
VOC = Species(
    "voc", "VOC", "exhaust_voc_dry", MOLAR_MASS["propane"], rate.RULE_CONSTANT["voc"],
    ", counted as propane, without formaldehyde",
)  # fmt: skip
FORMALDEHYDE = Species("formaldehyde", "Formaldehyde", "exhaust_formaldehyde_dry", MOLAR_MASS["formaldehyde"])
METHANE = Species("methane", "Methane", "exhaust_methane_dry", MOLAR_MASS["methane"])
SO2 = Species("so2", "SO2", "exhaust_so2_dry", MOLAR_MASS["so2"])
HYDROCARBONS = Species(
    "hydrocarbons", "Hydrocarbons", "exhaust_hydrocarbons_dry", MOLAR_MASS["carbon"],
    counted=", counted as one carbon, methane included",
)  # fmt: skip
SPECIES = (VOC, FORMALDEHYDE, METHANE, SO2)
"""Those that `worksheets_permit` leaves to this module."""

CARBON_DIOXIDE_PER_HEAT = float(
    rate.f_factor_si(method_19.F_CARBON_NATURAL_GAS)
    * mass_concentration(1.0, method_19.MOLAR_MASS_CARBON_DIOXIDE, DRY_STANDARD_TEMPERATURE)
)
"""Of natural gas, as Method 19 has it. [kg/J]"""
F_DRY_OF_THE_GAS = Take(quantity="fuel_f_factor", place="fuel", assume=F_FACTOR.assume)
CARBON_OF_THE_GAS = Take(
    quantity="fuel_co2_per_heat",
    place="fuel",
    assume=Assumption(
        value=CARBON_DIOXIDE_PER_HEAT,
        # methane alone has 1,006 scf/MMBtu, 3 % below; gases with heavier hydrocarbons more (engineering judgement)
        standard_uncertainty=0.015 * CARBON_DIOXIDE_PER_HEAT,
        says="1,040 scf of carbon dioxide for a million Btu, natural gas",
        source="epa_method_19",
    ),
)


def no_carbon_dioxide(given: Reading | Result) -> None:
    """Refuse carbon dioxide that no exhaust of a running gas engine has."""
    if not 0.002 < given.value < 0.25:
        raise impossible(
            given,
            "is no carbon dioxide of a running engine's exhaust",
            allowed="0.2 to 25 %",
            try_next="Look whether the engine runs and the sample pump draws; check the sample line for a leak.",
        )


Formula = Callable[..., Values]


def _named(name: str, says: str, formula: Formula) -> Formula:
    """Give a formula of the table its name and docstring, by which the register knows it."""
    formula.__name__ = formula.__qualname__ = name
    formula.__doc__ = says
    return formula


def _at_reference(one: Species) -> None:
    def formula(fraction: Values, oxygen: Values, reference: Values, air: Values) -> Values:
        return at_reference_oxygen(fraction, oxygen, reference, air)

    worksheet(
        title=f"{one.title} at the permit's oxygen",
        takes=(one.dry, "exhaust_oxygen_dry", REFERENCE_OXYGEN, RULE_AIR),
        gives=f"{one.key}_at_reference_oxygen",
        method=Method("correction to reference oxygen, dry", "cfr40_60_4213", "(d)(2), Equation 3"),
        cautions=AT_THE_ANALYSER,
        valid={"exhaust_oxygen_dry": NEAR_AIR},
        refuses=REFUSED_AT_REFERENCE,
    )(
        _named(
            f"{one.key}_at_reference_oxygen",
            f"Return {one.title} at the permit's oxygen{one.counted}, from dry readings taken together. [mol/mol]",
            formula,
        )
    )


def _at_reference_by_carbon_dioxide(one: Species) -> None:
    def formula(
        fraction: Values, carbon_dioxide: Values, reference: Values, air: Values, f_dry: Values, per_heat: Values
    ) -> Values:
        factor = method_19.fuel_factor(f_dry, method_19.carbon_factor(per_heat))
        return method_19.at_reference_by_carbon_dioxide(fraction, carbon_dioxide, reference, factor, air)

    refused = {name: check for name, check in REFUSED_AT_REFERENCE.items() if name != "exhaust_oxygen_dry"}
    worksheet(
        title=f"{one.title} at the permit's oxygen, by carbon dioxide",
        takes=(one.dry, "exhaust_co2_dry", REFERENCE_OXYGEN, RULE_AIR, F_DRY_OF_THE_GAS, CARBON_OF_THE_GAS),
        gives=f"{one.key}_at_reference_oxygen",
        method=Method(
            "correction by carbon dioxide, dry, for the gas burned", "cfr40_63_zzzz", "63.6620(e)(2), Eq. 2 to 4"
        ),
        cautions=AT_THE_ANALYSER,
        valid={"exhaust_co2_dry": LITTLE_CARBON_DIOXIDE},
        refuses={**refused, "exhaust_co2_dry": no_carbon_dioxide},
    )(
        _named(
            f"{one.key}_at_reference_oxygen_by_co2",
            f"Return {one.title} at the permit's oxygen by carbon dioxide instead of oxygen{one.counted}. [mol/mol]",
            formula,
        )
    )


def _mass_concentration(one: Species, gives: str) -> None:
    def formula(fraction: Values) -> Values:
        return mass_concentration(fraction, one.molar_mass)

    worksheet(
        title=f"{'Total carbon' if one is HYDROCARBONS else one.title} by mass in a normal cubic metre",
        takes=(f"{one.key}_at_reference_oxygen",),
        gives=gives,
        method=NORMAL,
        cautions=AT_THE_ANALYSER,
    )(
        _named(
            gives,
            f"Return {one.title} by mass{one.counted}, at the permit's oxygen, dry, at 0 °C and 101.325 kPa. [kg/m³]",
            formula,
        )
    )


def _mass_flow(one: Species) -> None:
    def formula(fraction: Values, flow: Values) -> Values:
        return rate.mass_flow(fraction, flow, one.grams)

    worksheet(
        title=f"{one.title} per hour",
        takes=(one.dry, "exhaust_flow_dry"),
        gives=f"{one.key}_mass_flow",
        method=Method("concentration times dry flow", RULE, "(f), Equation 3" if one is VOC else "as Equation 1"),
        cautions=AT_THE_ANALYSER,
    )(_named(f"{one.key}_mass_flow", f"Return the {one.title} emitted per second{one.counted}. [kg/s]", formula))


def _mass_per_energy(one: Species) -> None:
    def formula(emitted: Values, power: Values) -> Values:
        return rate.mass_per_energy(emitted, power)

    worksheet(
        title=f"{one.title} per energy at the shaft",
        takes=(f"{one.key}_mass_flow", Take(quantity="engine_power")),
        gives=f"{one.key}_mass_per_energy",
        method=Method("mass over work at the shaft", RULE, "(f), Equation 3" if one is VOC else "as Equation 1"),
        cautions=AT_THE_ANALYSER,
    )(
        _named(
            f"{one.key}_mass_per_energy",
            f"Return {one.title} per energy at the shaft{one.counted}. [kg/J]",
            formula,
        )
    )


def _mass_per_heat(one: Species) -> None:
    def formula(fraction: Values, oxygen: Values, f_factor: Values) -> Values:
        return rate.mass_per_heat(fraction, oxygen, f_factor, one.molar_mass)

    worksheet(
        title=f"{one.title} per heat of the fuel",
        takes=(one.dry, "exhaust_oxygen_dry", F_FACTOR),
        gives=f"{one.key}_mass_per_heat",
        method=Method("F factor and dry oxygen, no fuel meter needed", "epa_method_19", "Equation 19-1"),
        cautions=AT_THE_ANALYSER,
        valid={"exhaust_oxygen_dry": NEAR_AIR},
        refuses={"exhaust_oxygen_dry": not_below_air},
    )(
        _named(
            f"{one.key}_mass_per_heat", f"Return {one.title} per gross heat of the fuel{one.counted}. [kg/J]", formula
        )
    )


def _mass_per_heat_by_carbon_dioxide(one: Species) -> None:
    def formula(fraction: Values, carbon_dioxide: Values, per_heat: Values) -> Values:
        factor = method_19.carbon_factor(per_heat)
        return method_19.mass_per_heat_by_carbon_dioxide(fraction, carbon_dioxide, factor, one.molar_mass)

    worksheet(
        title=f"{one.title} per heat of the fuel, by carbon dioxide",
        takes=(one.dry, "exhaust_co2_dry", CARBON_OF_THE_GAS),
        gives=f"{one.key}_mass_per_heat",
        method=Method("carbon dioxide of the fuel, no oxygen needed", "epa_method_19", "F_c route"),
        cautions=AT_THE_ANALYSER,
        valid={"exhaust_co2_dry": LITTLE_CARBON_DIOXIDE},
        refuses={"exhaust_co2_dry": no_carbon_dioxide},
    )(
        _named(
            f"{one.key}_mass_per_heat_by_co2",
            f"Return {one.title} per gross heat of the fuel, by carbon dioxide{one.counted}. [kg/J]",
            formula,
        )
    )


def _annual_mass(one: Species) -> None:
    def formula(emitted: Values, running: Values) -> Values:
        return rate.annual_mass(emitted, running)

    worksheet(
        title=f"{one.title} in a year",
        takes=(
            f"{one.key}_mass_flow",
            Take(
                quantity="annual_hours",
                assume=Assumption(
                    value=YEAR,
                    standard_uncertainty=0.0,
                    says="8,760 h, every hour of a year at this load; the permit's own hours were not entered",
                    source="common_practice",
                ),
            ),
        ),
        gives=f"{one.key}_annual_mass",
        method=Method("mass per time as now, through the hours of a year", "own_calculation"),
        cautions=("local",),
        refuses={"annual_hours": no_year},
    )(
        _named(
            f"{one.key}_annual_mass",
            f"Return the {one.title} emitted in a year, if it ran at this load all the hours{one.counted}. [kg]",
            formula,
        )
    )


def no_year(given: Reading | Result) -> None:
    """Refuse hours that no year has."""
    if not 0 <= given.value <= 8784 * 3600:
        raise impossible(
            given,
            "is more than a year has, or less than nothing",
            allowed="0 to 8,784 h",
            try_next="Enter the hours of one year, not the counter of the engine.",
        )


for _one in (*SPECIES, HYDROCARBONS):
    _at_reference(_one)
for _one in (NOX, CO, *SPECIES):
    _at_reference_by_carbon_dioxide(_one)
for _one, _gives in (
    (VOC, "voc_mass_concentration"),
    (FORMALDEHYDE, "formaldehyde_mass_concentration"),
    (HYDROCARBONS, "total_carbon_mass_concentration"),
    (SO2, "so2_mass_concentration"),
):
    _mass_concentration(_one, _gives)
for _one in SPECIES:
    _mass_flow(_one)
for _one in (VOC, FORMALDEHYDE, METHANE):
    _mass_per_energy(_one)
for _one in SPECIES:
    _mass_per_heat(_one)
for _one in (NOX, CO, *SPECIES):
    _mass_per_heat_by_carbon_dioxide(_one)
for _one in (NOX, CO, *SPECIES):
    _annual_mass(_one)
