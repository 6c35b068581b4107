"""Worksheets of the site's air."""

from __future__ import annotations

import asfound.power.site_air as air
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Take, worksheet


def _not_over_one(humidity: Reading | Result) -> None:
    """Refuse a relative humidity that no air has."""
    if not 0 <= humidity.value <= 1:
        raise impossible(
            humidity,
            "is no relative humidity",
            allowed="0 to 100 %",
            try_next="Read the hygrometer again, in the shade, away from the engine's own heat.",
        )


@worksheet(
    title="Saturation pressure of water at ambient temperature",
    takes=(Take(quantity="ambient_temperature", place="site"),),
    gives="saturation_pressure",
    at="site",
    method=Method("saturation over water, below 0 °C over ice", "cfr40_1065_645", "(a), Equations -1 and -2"),
    valid={"ambient_temperature": (223.15, 373.15, "-50 to 100 °C")},
)
def saturation_pressure(temperature: Values) -> Values:
    """Return the pressure at which water vapour condenses out of the site's air. [Pa]"""
    return air.saturation_pressure(temperature)


@worksheet(
    title="Humidity of the intake air",
    takes=(
        Take(quantity="saturation_pressure", place="site"),
        Take(quantity="relative_humidity", place="site"),
        Take(quantity="barometric_pressure", place="site"),
    ),
    gives=("air_water_fraction", "humidity_ratio"),
    at="site",
    method=Method(
        "relative humidity, saturation pressure and barometer",
        "cfr40_1066_615",
        "Equation -1; water fraction by 40 CFR 1065.645(b)",
    ),
    refuses={"relative_humidity": _not_over_one},
)
def humidity(saturation: Values, relative_humidity: Values, pressure: Values) -> tuple[Values, Values]:
    """Return the water in the site's air: mole in a mole of moist air, mass in a mass of dry air. [mol/mol], [kg/kg]"""
    fraction = air.water_fraction(saturation, relative_humidity, pressure)
    return fraction, air.humidity_ratio(fraction)


@worksheet(
    title="Density of the site's air",
    takes=(
        Take(quantity="ambient_temperature", place="site"),
        Take(quantity="barometric_pressure", place="site"),
        Take(quantity="air_water_fraction", place="site"),
    ),
    gives="air_density",
    at="site",
    method=Method("moist air as a real gas, CIPM-2007", "cipm_2007", "Equation 1"),
    valid={
        "ambient_temperature": (
            253.15,
            323.15,
            "-20 to 50 °C (made for 15 to 27 °C; within 0.05 % of other tables here)",
        ),
        "barometric_pressure": (60_000.0, 110_000.0, "60 to 110 kPa"),
    },
)
def air_density(temperature: Values, pressure: Values, water: Values) -> Values:
    """Return the mass of the site's air in a cubic metre, water included. [kg/m³]"""
    return air.moist_air_density(temperature, pressure, water)
