"""Worksheets of the exhaust: NOx from its two parts, hydrocarbons apart, and the wet routes of Method 19."""

from __future__ import annotations

import numpy as np

import asfound.exhaust.emission_rate as rate
from asfound.exhaust import hydrocarbons, method_19
from asfound.exhaust.concentration import MOLAR_MASS
from asfound.exhaust.wet_dry import dry_from_wet
from asfound.exhaust.worksheets_permit import AT_THE_ANALYSER, F_FACTOR
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet

CUTTER = Method("balance of analyser and methane cutter", "cfr40_1065_660", "Equations -9 and -4")
RESPONSE = Take(
    quantity="analyser_methane_response",
    assume=Assumption(
        value=1.08,
        standard_uncertainty=0.04,
        says="1.08 for methane on a propane calibration; the analyser's own check was not entered",
        source="engineering_judgement",
    ),
)
PASSAGE = Take(
    quantity="cutter_ethane_passage",
    assume=Assumption(
        value=0.01,
        standard_uncertainty=0.01 / 3**0.5,
        says="up to 2 % of the ethane passes the cutter, as it should be set up; its own check was not entered",
        source="cfr40_1065_365",
        distribution="rectangular",
    ),
)


@worksheet(
    title="NOx, from NO and NO2",
    takes=("exhaust_no_dry", "exhaust_no2_dry"),
    gives="exhaust_nox_dry",
    method=Method("sum of NO and NO2, in ppm", "cfr40_60_4244", "(d): NOx counts as NO2"),
    cautions=AT_THE_ANALYSER,
)
def nox_from_no_and_no2(no: Values, no2: Values) -> Values:
    """Return NOx as the sum of its two parts, from cells or an infrared instrument that reads each. [mol/mol]"""
    return np.add(no, no2)


@worksheet(
    title="Methane and other hydrocarbons, with a methane cutter",
    takes=("exhaust_hydrocarbons_wet", "exhaust_hydrocarbons_cutter_wet", RESPONSE, PASSAGE),
    gives=("exhaust_methane_wet", "exhaust_nonmethane_wet"),
    method=CUTTER,
    cautions=AT_THE_ANALYSER,
    valid={"cutter_ethane_passage": (0.0, 0.02, "below 2 %: a cutter that lets more ethane through wants attention")},
)
def hydrocarbons_with_cutter(
    whole: Values, behind_cutter: Values, response: Values, passage: Values
) -> tuple[Values, Values]:
    """Return methane, and the other hydrocarbons as C1: a small difference of two large readings. [mol/mol]"""
    return hydrocarbons.methane_and_nonmethane(whole, behind_cutter, response, passage)


@worksheet(
    title="Hydrocarbons without methane, methane read by itself",
    takes=("exhaust_hydrocarbons_wet", "exhaust_methane_wet", RESPONSE),
    gives="exhaust_nonmethane_wet",
    method=Method("flame ionisation less methane", "cfr40_1065_660", "as Equation -4"),
    cautions=AT_THE_ANALYSER,
)
def nonmethane_from_methane(whole: Values, methane: Values, response: Values) -> Values:
    """Return hydrocarbons without methane, as C1: a small difference of two large readings. [mol/mol]"""
    return hydrocarbons.nonmethane_from_methane(whole, methane, response)


@worksheet(
    title="VOC, from hydrocarbons without methane",
    takes=(
        "exhaust_nonmethane_wet",
        Take(quantity="exhaust_ethane_wet", optional=True, default=0.0),
        "exhaust_water_fraction",
    ),
    gives="exhaust_voc_dry",
    method=Method("without methane and ethane, three carbons to a propane, dry", "cfr40_60_4244", "(f); 51.100(s)"),
    cautions=AT_THE_ANALYSER,
)
def voc_from_nonmethane(nonmethane: Values, ethane: Values, water: Values) -> Values:
    """Return VOC as propane, dry; ethane that nobody read counts as VOC, on the safe side. [mol/mol]"""
    return dry_from_wet(hydrocarbons.voc_as_propane(nonmethane, ethane), water)


DRYING = Method("wet over one less water", "cfr40_1065_659", "as Equation -1")


@worksheet(
    title="Hydrocarbons, dry",
    takes=("exhaust_hydrocarbons_wet", "exhaust_water_fraction"),
    gives="exhaust_hydrocarbons_dry",
    method=DRYING,
    cautions=AT_THE_ANALYSER,
)
def hydrocarbons_dry(wet: Values, water: Values) -> Values:
    """Return hydrocarbons in dry exhaust, as C1, from the heated analyser. [mol/mol]"""
    return dry_from_wet(wet, water)


@worksheet(
    title="Methane, dry",
    takes=("exhaust_methane_wet", "exhaust_water_fraction"),
    gives="exhaust_methane_dry",
    method=DRYING,
    cautions=AT_THE_ANALYSER,
)
def methane_dry(wet: Values, water: Values) -> Values:
    """Return methane in dry exhaust. [mol/mol]"""
    return dry_from_wet(wet, water)


@worksheet(
    title="Formaldehyde, dry",
    takes=("exhaust_formaldehyde_wet", "exhaust_water_fraction"),
    gives="exhaust_formaldehyde_dry",
    method=DRYING,
    cautions=AT_THE_ANALYSER,
)
def formaldehyde_dry(wet: Values, water: Values) -> Values:
    """Return formaldehyde in dry exhaust, from a spectrometer that reads the hot, wet sample. [mol/mol]"""
    return dry_from_wet(wet, water)


@worksheet(
    title="VOC, from its compounds",
    takes=("exhaust_voc_species_dry", Take(quantity="voc_response_factor", optional=True, default=1.0)),
    gives="exhaust_voc_dry",
    method=Method(
        "compounds as flame ionisation would read them, as propane", "cfr40_60_4244", "(g), Equations 4 to 6"
    ),
    cautions=AT_THE_ANALYSER,
)
def voc_from_species(compounds: Values, response: Values) -> Values:
    """Return VOC as propane from a chromatograph or spectrometer, brought to the response of Method 25A. [mol/mol]

    Three carbons count as one propane; the 0.6098 mg/m³ that the rule prints for a ppm of carbon is 0.2 % less.
    """
    return np.divide(hydrocarbons.at_flame_ionisation(compounds, response), 3.0)


@worksheet(
    title="NOx per heat of the fuel, from wet readings",
    takes=("exhaust_nox_wet", "exhaust_oxygen_wet", "exhaust_water_fraction", F_FACTOR),
    gives="nox_mass_per_heat",
    method=Method("F factor, wet oxygen, water in the exhaust", "epa_method_19", "F_d route, wet"),
    cautions=AT_THE_ANALYSER,
)
def nox_mass_per_heat_wet(nox: Values, oxygen: Values, water: Values, f_factor: Values) -> Values:
    """Return NOx, counted as NO2, per gross heat, from a hot probe and the water in the exhaust. [kg/J]"""
    return method_19.mass_per_heat_wet(nox, oxygen, water, f_factor, MOLAR_MASS["nox"])


@worksheet(
    title="NOx per heat of the fuel, from wet readings and the moisture of the air",
    takes=(
        "exhaust_nox_wet",
        "exhaust_oxygen_wet",
        Take(
            quantity="air_water_fraction",
            place="site",
            assume=Assumption(
                value=method_19.MOISTURE_OF_AIR,
                standard_uncertainty=0.008,
                says="2.7 % water in the air, as Method 19 lets it stand anywhere (from memory)",
                source="epa_method_19",
            ),
        ),
    ),
    gives="nox_mass_per_heat",
    method=Method("wet F factor of natural gas, wet oxygen, moisture of the air", "epa_method_19", "F_w route"),
    cautions=AT_THE_ANALYSER,
)
def nox_mass_per_heat_ambient_moisture(nox: Values, oxygen: Values, moisture: Values) -> Values:
    """Return NOx, counted as NO2, per gross heat, from a hot probe; natural gas without much inert gas only. [kg/J]"""
    f_wet = rate.f_factor_si(method_19.F_WET_NATURAL_GAS)
    return method_19.mass_per_heat_ambient_moisture(nox, oxygen, moisture, f_wet, MOLAR_MASS["nox"])
