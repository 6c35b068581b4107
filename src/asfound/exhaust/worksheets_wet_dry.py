"""Worksheets of water in the exhaust, of readings brought from wet to dry, and of NOx at a reference humidity."""

from __future__ import annotations

import numpy as np

from asfound.exhaust import humidity_correction, wet_dry
from asfound.exhaust import mixture_takes as take
from asfound.exhaust.balance import humidity_of
from asfound.exhaust.mixture import dry_oxygen
from asfound.exhaust.worksheets_permit import AT_THE_ANALYSER, not_below_air
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

HOT_PROBE = ("hot", "local")
BAROMETER = Take(quantity="barometric_pressure", place="site")
BALANCE = Method("balance of the elements, for the gas burned and the air's humidity", "own_calculation")
DRYING = Method("wet over one less water", "epa_method_7e", "C_d = C_w / (1 - B_ws)")
LEAN_OR_RICH = (0.0, 0.16, "0 to 16 % oxygen")


@worksheet(
    title="Oxygen, dry, from a wet probe",
    takes=("exhaust_oxygen_wet", *take.GAS, take.AIR),
    gives="exhaust_oxygen_dry",
    method=BALANCE,
    cautions=HOT_PROBE,
    valid={"exhaust_oxygen_wet": (0.0, 0.15, "0 to 15 % wet oxygen")},
    refuses={"exhaust_oxygen_wet": take.wet_below_air},
)
def oxygen_dry_from_wet(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return the oxygen of dry exhaust from a probe in the hot exhaust. [mol/mol]"""
    gas = (carbon, hydrogen, fuel_oxygen, nitrogen)
    return dry_oxygen(wet_dry.lambda_from_wet_oxygen(oxygen, *gas, humidity_of(water)), *gas)


@worksheet(
    title="Oxygen that a wet probe should show",
    takes=("exhaust_oxygen_dry", *take.GAS, take.AIR),
    gives="oxygen_at_wet_probe",
    method=BALANCE,
    cautions=HOT_PROBE,
    valid={"exhaust_oxygen_dry": LEAN_OR_RICH},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def oxygen_at_wet_probe(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return what a probe in the hot exhaust should show beside the dry oxygen read. [mol/mol]"""
    gas = (carbon, hydrogen, fuel_oxygen, nitrogen)
    return oxygen * np.subtract(1.0, wet_dry.water_fraction_from_oxygen(oxygen, *gas, humidity_of(water)))


@worksheet(
    title="NOx that a wet probe should show",
    takes=("exhaust_nox_dry", "exhaust_oxygen_dry", *take.GAS, take.AIR),
    gives="nox_at_wet_probe",
    method=BALANCE,
    cautions=HOT_PROBE,
    valid={"exhaust_oxygen_dry": LEAN_OR_RICH},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def nox_at_wet_probe(
    nox: Values, oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return what a probe in the hot exhaust should show beside the dry NOx read. [mol/mol]"""
    gas = (carbon, hydrogen, fuel_oxygen, nitrogen)
    return nox * np.subtract(1.0, wet_dry.water_fraction_from_oxygen(oxygen, *gas, humidity_of(water)))


@worksheet(
    title="Water in the exhaust, from dry oxygen",
    takes=("exhaust_oxygen_dry", *take.GAS, take.AIR),
    gives="exhaust_water_fraction",
    method=BALANCE,
    cautions=("local",),
    valid={"exhaust_oxygen_dry": LEAN_OR_RICH},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def water_from_oxygen(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return the water in wet exhaust: of the combustion and of the air drawn in. [mol/mol]"""
    return wet_dry.water_fraction_from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, humidity_of(water))


def _dried(quantity: str, title: str) -> None:
    """Register the way of one species from wet to dry."""

    def dry(fraction: Values, water: Values) -> Values:
        """Return a species in dry exhaust from its wet reading and the water in the exhaust. [mol/mol]"""
        return wet_dry.dry_from_wet(fraction, water)

    dry.__name__ = f"{quantity}_dry_from_wet"
    worksheet(
        title=f"{title}, dry, from a wet reading",
        takes=(f"exhaust_{quantity}_wet", "exhaust_water_fraction"),
        gives=f"exhaust_{quantity}_dry",
        method=DRYING,
        cautions=HOT_PROBE,
    )(dry)


for _quantity, _title in (("nox", "NOx"), ("co", "CO"), ("co2", "CO2")):
    _dried(_quantity, _title)


@worksheet(
    title="Water in the exhaust, from carbon dioxide",
    takes=("exhaust_co2_dry", take.CO, take.CARBON, take.HYDROGEN, take.AIR),
    gives="exhaust_water_fraction",
    method=Method(
        "short form of the ISO 8178 family, sample cooled and not bone-dry", "iso_8178_1", "k_w, from memory"
    ),
    cautions=("local",),
    valid={"exhaust_co2_dry": (0.03, 0.13, "3 to 13 % carbon dioxide")},
    refuses={"exhaust_co2_dry": take.some_carbon_dioxide},
)
def water_from_co2(co2: Values, co: Values, carbon: Values, hydrogen: Values, water: Values) -> Values:
    """Return the water in wet exhaust by the short form: 0.3 to 0.5 % too much in humid air. [mol/mol]"""
    mass = wet_dry.humidity_by_mass(humidity_of(water))
    return np.subtract(1.0, wet_dry.short_form_factor(co2, carbon, hydrogen, co, mass, cooled=False))


@worksheet(
    title="Dew point of the exhaust",
    takes=("exhaust_water_fraction", BAROMETER),
    gives="exhaust_dew_point",
    method=Method("saturation pressure of water, at the barometer", "iapws_95", "saturation line, 1992 form"),
    cautions=("hot",),
)
def exhaust_dew_point(water: Values, pressure: Values) -> Values:
    """Return where water begins to drop out of the exhaust; acid, where the gas has sulfur, drops out far above. [K]"""
    return wet_dry.exhaust_dew_point(water, pressure)


@worksheet(
    title="Water left in a cooled sample",
    takes=("sample_cooler_temperature", BAROMETER),
    gives="sample_water_fraction",
    method=Method("sample leaves its cooler saturated", "iapws_95", "saturation line, 1992 form"),
    valid={"sample_cooler_temperature": (273.15, 313.15, "0 to 40 °C")},
)
def sample_water(temperature: Values, pressure: Values) -> Values:
    """Return the water that a cooled sample still carries: its dry readings are low by this share. [mol/mol]"""
    return wet_dry.saturated_sample(temperature, pressure)


HUMIDITY_RATIO = Take(quantity="humidity_ratio", place="site")
WATER_IN_AIR = Take(quantity="air_water_fraction", place="site")
MODERATE = (0.0, 0.025, "0 to 25 g/kg")


@worksheet(
    title="NOx at reference humidity, spark ignition",
    takes=("exhaust_nox_dry", WATER_IN_AIR),
    gives="nox_at_reference_humidity",
    method=Method("laboratory form for spark ignition; not for stationary limits", "cfr40_1065_670", "spark ignition"),
    cautions=AT_THE_ANALYSER,
)
def nox_at_reference_humidity(nox: Values, water: Values) -> Values:
    """Return NOx as at 10.71 g/kg, for trends only: no permit is judged by it unless it says so itself. [mol/mol]"""
    return nox * humidity_correction.factor_spark_ignition(water)


@worksheet(
    title="NOx at reference humidity, compression ignition",
    takes=("exhaust_nox_dry", WATER_IN_AIR),
    gives="nox_at_reference_humidity_ci",
    method=Method(
        "laboratory form for compression ignition; not for stationary limits", "cfr40_1065_670", "compression ignition"
    ),
    cautions=AT_THE_ANALYSER,
)
def nox_at_reference_humidity_ci(nox: Values, water: Values) -> Values:
    """Return NOx as at 10.71 g/kg for an engine that ignites by compression; no permit is judged by it. [mol/mol]"""
    return nox * humidity_correction.factor_compression_ignition(water)


@worksheet(
    title="NOx at reference humidity, vehicle rule",
    takes=("exhaust_nox_dry", HUMIDITY_RATIO),
    gives="nox_at_reference_humidity_vehicle",
    method=Method("form of the vehicle rule; not for stationary limits", "cfr40_1066_615", "Equation -2"),
    cautions=AT_THE_ANALYSER,
    valid={"humidity_ratio": MODERATE},
)
def nox_at_reference_humidity_vehicle(nox: Values, humidity: Values) -> Values:
    """Return NOx as at 10.71 g/kg by the form of the vehicle rule; no permit is judged by it. [mol/mol]"""
    return nox * humidity_correction.factor_vehicle(humidity)


@worksheet(
    title="NOx at reference humidity, ISO 8178 gas engine form",
    takes=("exhaust_nox_dry", HUMIDITY_RATIO),
    gives="nox_at_reference_humidity_iso",
    method=Method("gas-engine form of the ISO 8178 family; not for stationary limits", "iso_8178_1", "from memory"),
    cautions=AT_THE_ANALYSER,
    valid={"humidity_ratio": (0.0, 0.020, "0 to 20 g/kg: the form turns back at 25")},
)
def nox_at_reference_humidity_iso(nox: Values, humidity: Values) -> Values:
    """Return NOx as at 10.71 g/kg by the gas-engine form; no permit is judged by it. [mol/mol]"""
    return nox * humidity_correction.factor_gas_engine_iso(humidity)
