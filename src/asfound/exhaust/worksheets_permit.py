"""Worksheets of the exhaust: what an analyser read becomes what a permit counts."""

from __future__ import annotations

import asfound.exhaust.emission_rate as rate
from asfound.exhaust.concentration import MOLAR_MASS, mass_concentration
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

AT_THE_ANALYSER = ("co", "hot", "calgas", "local")
MOST_REFERENCE = 0.20
RULES_AIR = (0.205, 0.215)
"""Dry air has 20.95 % (common practice: rules write 20.9 to 21); outside this a digit was lost."""
NEAR_AIR = (0.0, 0.19, "0 to 19 % oxygen: nearer to air the correction runs away (common practice, no source)")


def not_below_air(oxygen: Reading | Result) -> None:
    """Refuse oxygen that no exhaust can have."""
    if oxygen.value >= OXYGEN_IN_AIR or oxygen.value < 0:
        raise impossible(
            oxygen,
            f"is not below the {100 * OXYGEN_IN_AIR:.1f} % of air" if oxygen.value > 0 else "is below nothing at all",
            allowed=f"0 to {100 * OXYGEN_IN_AIR:.1f} %",
            try_next="Check the sample line for a leak, then zero and span the analyser.",
        )


def _a_permits_reference(oxygen: Reading | Result) -> None:
    """Refuse a reference at which nothing is left to correct, or the sign turns."""
    if not 0 <= oxygen.value < MOST_REFERENCE:
        raise impossible(
            oxygen,
            "is no reference oxygen of a permit",
            allowed=f"0 to below {100 * MOST_REFERENCE:.0f} %",
            try_next="Read the permit again: most say 15, 5 or 3 %.",
        )


def _a_rules_air(oxygen: Reading | Result) -> None:
    """Refuse what no rule takes for the oxygen in dry air."""
    low, high = RULES_AIR
    if not low <= oxygen.value <= high:
        raise impossible(
            oxygen,
            "is not what a rule takes for air",
            allowed=f"{100 * low:g} to {100 * high:g} %",
            try_next="Rules write 20.9, 20.95 or 21 %.",
        )


REFERENCE_OXYGEN = Take(
    quantity="permit_reference_oxygen",
    assume=Assumption(
        value=0.15,
        standard_uncertainty=0.0,
        says="15 % oxygen, as US rules for stationary engines have it; the permit's own was not entered",
        source="cfr40_60_jjjj",
    ),
)
RULE_AIR = Take(quantity="permit_oxygen_in_air", optional=True, default=OXYGEN_IN_AIR)
REFUSED_AT_REFERENCE = {
    "exhaust_oxygen_dry": not_below_air,
    "permit_reference_oxygen": _a_permits_reference,
    "permit_oxygen_in_air": _a_rules_air,
}
F_FACTOR = Take(
    quantity="fuel_f_factor",
    assume=Assumption(
        value=float(rate.f_factor_si(rate.F_FACTOR_NATURAL_GAS)),
        # methane alone has 8624 to 8632, 1 % below: half of that as standard uncertainty (engineering judgement)
        standard_uncertainty=0.005 * float(rate.f_factor_si(rate.F_FACTOR_NATURAL_GAS)),
        says="8,710 dscf/MMBtu, natural gas",
        source="epa_method_19",
    ),
)


@worksheet(
    title="NOx at the permit's oxygen",
    takes=("exhaust_nox_dry", "exhaust_oxygen_dry", REFERENCE_OXYGEN, RULE_AIR),
    gives="nox_at_reference_oxygen",
    method=Method("correction to reference oxygen, dry", "cfr40_60_4213", "(d)(2), Equation 3"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses=REFUSED_AT_REFERENCE,
)
def nox_at_reference_oxygen(nox: Values, oxygen: Values, reference: Values, air: Values) -> Values:
    """Return NOx at the permit's oxygen, from dry readings taken together. [mol/mol]"""
    return at_reference_oxygen(nox, oxygen, reference, air)


@worksheet(
    title="CO at the permit's oxygen",
    takes=("exhaust_co_dry", "exhaust_oxygen_dry", REFERENCE_OXYGEN, RULE_AIR),
    gives="co_at_reference_oxygen",
    method=Method("correction to reference oxygen, dry", "cfr40_60_4213", "(d)(2), Equation 3"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses=REFUSED_AT_REFERENCE,
)
def co_at_reference_oxygen(co: Values, oxygen: Values, reference: Values, air: Values) -> Values:
    """Return CO at the permit's oxygen, from dry readings taken together. [mol/mol]"""
    return at_reference_oxygen(co, oxygen, reference, air)


NORMAL = Method("ideal gas at 0 °C and 101.325 kPa, dry", "codata_2018", "c = x M p / (R T)")


@worksheet(
    title="NOx by mass in a normal cubic metre",
    takes=("nox_at_reference_oxygen",),
    gives="nox_mass_concentration",
    method=NORMAL,
    cautions=AT_THE_ANALYSER,
)
def nox_mass_concentration(nox: Values) -> Values:
    """Return NOx, counted as NO2, by mass at the permit's oxygen, dry, at 0 °C and 101.325 kPa. [kg/m³]"""
    return mass_concentration(nox, MOLAR_MASS["nox"])


@worksheet(
    title="CO by mass in a normal cubic metre",
    takes=("co_at_reference_oxygen",),
    gives="co_mass_concentration",
    method=NORMAL,
    cautions=AT_THE_ANALYSER,
)
def co_mass_concentration(co: Values) -> Values:
    """Return CO by mass at the permit's oxygen, dry, at 0 °C and 101.325 kPa. [kg/m³]"""
    return mass_concentration(co, MOLAR_MASS["co"])


@worksheet(
    title="Dry exhaust flow, from the fuel",
    takes=("fuel_heat_input", "exhaust_oxygen_dry", F_FACTOR),
    gives="exhaust_flow_dry",
    method=Method("fuel heat, F factor and dry oxygen", "epa_method_19", "Equation 19-1, solved for the flow"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def exhaust_flow_dry(heat: Values, oxygen: Values, f_factor: Values) -> Values:
    """Return the dry exhaust per second at 20 °C and 101.325 kPa, air dilution included. [m³/s]"""
    return rate.dry_exhaust_flow(heat, oxygen, f_factor)


RULE = "cfr40_60_4244"


@worksheet(
    title="NOx per hour",
    takes=("exhaust_nox_dry", "exhaust_flow_dry"),
    gives="nox_mass_flow",
    method=Method("concentration times dry flow, NOx as NO2", RULE, "(d), Equation 1"),
    cautions=AT_THE_ANALYSER,
)
def nox_mass_flow(nox: Values, flow: Values) -> Values:
    """Return the NOx emitted per second, counted as NO2. [kg/s]"""
    return rate.mass_flow(nox, flow, rate.RULE_CONSTANT["nox"])


@worksheet(
    title="CO per hour",
    takes=("exhaust_co_dry", "exhaust_flow_dry"),
    gives="co_mass_flow",
    method=Method("concentration times dry flow", RULE, "(e), Equation 2"),
    cautions=AT_THE_ANALYSER,
)
def co_mass_flow(co: Values, flow: Values) -> Values:
    """Return the CO emitted per second. [kg/s]"""
    return rate.mass_flow(co, flow, rate.RULE_CONSTANT["co"])


@worksheet(
    title="NOx per energy at the shaft",
    takes=("nox_mass_flow", Take(quantity="engine_power")),
    gives="nox_mass_per_energy",
    method=Method("mass emitted over work at the shaft", RULE, "(d), Equation 1"),
    cautions=AT_THE_ANALYSER,
)
def nox_mass_per_energy(emitted: Values, power: Values) -> Values:
    """Return NOx, counted as NO2, per energy at the shaft. [kg/J]"""
    return rate.mass_per_energy(emitted, power)


@worksheet(
    title="CO per energy at the shaft",
    takes=("co_mass_flow", Take(quantity="engine_power")),
    gives="co_mass_per_energy",
    method=Method("mass emitted over work at the shaft", RULE, "(e), Equation 2"),
    cautions=AT_THE_ANALYSER,
)
def co_mass_per_energy(emitted: Values, power: Values) -> Values:
    """Return CO per energy at the shaft. [kg/J]"""
    return rate.mass_per_energy(emitted, power)


METHOD_19 = Method("F factor and dry oxygen, no fuel meter needed", "epa_method_19", "Equation 19-1")


@worksheet(
    title="NOx per heat of the fuel",
    takes=("exhaust_nox_dry", "exhaust_oxygen_dry", F_FACTOR),
    gives="nox_mass_per_heat",
    method=METHOD_19,
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def nox_mass_per_heat(nox: Values, oxygen: Values, f_factor: Values) -> Values:
    """Return NOx, counted as NO2, per gross heat of the fuel. [kg/J]"""
    return rate.mass_per_heat(nox, oxygen, f_factor, MOLAR_MASS["nox"])


@worksheet(
    title="CO per heat of the fuel",
    takes=("exhaust_co_dry", "exhaust_oxygen_dry", F_FACTOR),
    gives="co_mass_per_heat",
    method=METHOD_19,
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def co_mass_per_heat(co: Values, oxygen: Values, f_factor: Values) -> Values:
    """Return CO per gross heat of the fuel. [kg/J]"""
    return rate.mass_per_heat(co, oxygen, f_factor, MOLAR_MASS["co"])
