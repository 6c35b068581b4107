"""Worksheets of the rating: what the engine may give here today, and what a test or a gas makes of that.

The engine's own data go first. Where they are in a file, `derating_sheet` puts a worksheet with the file's tables in
the place of ``site_rating_by_engine_data``.
"""

from __future__ import annotations

import numpy as np

from asfound.errors import InputError
from asfound.power import fair_test, rating_iso3046, rating_j1349
from asfound.power.rating_iso3046 import Air, indicated_power_ratio
from asfound.power.site_air import saturation_pressure
from asfound.quantities.possible import above
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

IN_THE_TEST = ("hot", "local")


def _above_zero(number: Reading | Result) -> None:
    """Refuse what must be above zero to be anything."""
    if not number.value > 0:
        raise impossible(
            number,
            "is not above zero",
            allowed="above 0",
            try_next="Read it again; an engine that stands has neither load nor rating to compare.",
        )


def _an_efficiency(number: Reading | Result) -> None:
    """Refuse a mechanical efficiency that no engine has."""
    if not 0.3 <= number.value <= 1:
        raise impossible(
            number,
            "is no mechanical efficiency",
            allowed="30 to 100 %; most engines 80 to 92 %",
            try_next="Leave it out if the data sheet has none: 80 % is then taken, as the standard does.",
        )


def _a_share(number: Reading | Result) -> None:
    """Refuse a share of rated power that no chart allows."""
    if not 0 < number.value <= 1.15:
        raise impossible(
            number,
            "is no share of rated power that a chart allows",
            allowed="above 0 to 115 %",
            try_next="Read the chart again: it may print the loss, not what is left.",
        )


def _of_the_rating(quantity: str, value: float, says: str) -> Take:
    """Return a take of the conditions that a rating was declared in; the standard's where the plate says none."""
    return Take(
        quantity=quantity,
        place="engine",
        assume=Assumption(
            value=value,
            standard_uncertainty=0.0,
            says=f"{says}: standard reference of ISO 3046-1; the plate's own was not entered",
            source="iso_3046_1",
        ),
    )


def _exponent(quantity: str, value: float, doubt: float, says: str) -> Take:
    """Return a take of an exponent; without one that of a turbocharged, charge-cooled gas engine, from memory."""
    return Take(
        quantity=quantity,
        place="engine",
        assume=Assumption(
            value=value,
            standard_uncertainty=doubt,
            says=f"{says}, row F of the standard (gas engine, turbocharged, charge-cooled), from memory",
            source="from_memory",
        ),
    )


@worksheet(
    title="Site rating by the engine's own data",
    takes=(Take(quantity="rated_power", place="engine"), Take(quantity="own_power_fraction", place="engine")),
    gives="site_rated_power",
    method=Method("share of rated power from the engine's own derate charts", "engine_own_data"),
    refuses={"rated_power": _above_zero, "own_power_fraction": _a_share},
)
def site_rating_by_engine_data(rated: Values, fraction: Values) -> Values:
    """Return what the engine may give here by its own data: rated power times the share its charts allow. [W]"""
    return above(rated) * above(fraction)


@worksheet(
    title="Power and fuel in the site's air against the rating's",
    takes=(
        Take(quantity="barometric_pressure", place="site"),
        Take(quantity="ambient_temperature", place="site"),
        Take(quantity="auxiliary_water_inlet_temperature", place="engine"),
        Take(quantity="intake_air_temperature", place="engine", optional=True),
        Take(quantity="air_water_fraction", place="site", optional=True),
        _of_the_rating("rating_pressure", 100e3, "100 kPa"),
        _of_the_rating("rating_air_temperature", 298.15, "25 °C"),
        _of_the_rating("rating_humidity", 0.30, "30 %"),
        _of_the_rating("rating_coolant_temperature", 298.15, "25 °C"),
        _exponent("rating_exponent_pressure", 0.57, 0.05, "m = 0.57"),
        _exponent("rating_exponent_temperature", 0.55, 0.05, "n = 0.55"),
        _exponent("rating_exponent_coolant", 1.75, 0.15, "s = 1.75"),
        _exponent("rating_humidity_weight", 0.0, 0.0, "a = 0"),
        Take(
            quantity="mechanical_efficiency",
            place="engine",
            assume=Assumption(
                value=rating_iso3046.MECHANICAL_EFFICIENCY,
                standard_uncertainty=0.03,
                says="80 %, where the maker states none",
                source="genset_manual_iso_3046",
            ),
        ),
    ),
    gives=("indicated_power_ratio", "power_adjustment_factor", "fuel_adjustment_factor"),
    method=Method(
        "k, alpha and beta; exponents as entered, else those of a gas engine from memory", "iso_3046_1", "10"
    ),
    refuses={
        "barometric_pressure": _above_zero,
        "rating_pressure": _above_zero,
        "mechanical_efficiency": _an_efficiency,
    },
)
def iso_3046_adjustment(
    pressure: Values, ambient: Values, coolant: Values, intake: Values | None, water: Values | None,
    rating_pressure: Values, rating_temperature: Values, rating_humidity: Values, rating_coolant: Values,
    pressure_exponent: Values, temperature_exponent: Values, coolant_exponent: Values, humidity_weight: Values,
    mechanical_efficiency: Values,
) -> tuple[Values, Values, Values]:  # fmt: skip
    """Return indicated power, brake power and specific fuel in this air, each over that of the rating's air. [1]

    The air after the filter counts where it was read, else the ambient air. The range in which the standard's formula
    holds is the maker's to state; a gas engine is often held back by knock and NOx before it.
    """
    if water is None and np.any(np.asarray(humidity_weight) > 0):
        raise InputError(
            "relative_humidity", "not read", "counts in the rating of this engine",
            allowed="0 to 100 %", try_next="Read the hygrometer in the shade, away from the engine's heat.",
        )  # fmt: skip
    here = Air(
        pressure=pressure,
        temperature=ambient if intake is None else intake,
        coolant=coolant,
        vapour=0.0 if water is None else np.multiply(water, pressure),
    )
    there = Air(
        pressure=rating_pressure,
        temperature=rating_temperature,
        coolant=rating_coolant,
        vapour=np.multiply(rating_humidity, saturation_pressure(rating_temperature)),
    )
    ratio = indicated_power_ratio(
        here,
        there,
        pressure_exponent=pressure_exponent,
        temperature_exponent=temperature_exponent,
        coolant_exponent=coolant_exponent,
        humidity_weight=humidity_weight,
    )
    adjustment = rating_iso3046.power_adjustment(ratio, mechanical_efficiency)
    return ratio, adjustment, rating_iso3046.fuel_adjustment(ratio, adjustment)


@worksheet(
    title="Site rating by the standard's formula",
    takes=(Take(quantity="rated_power", place="engine"), Take(quantity="power_adjustment_factor", place="engine")),
    gives="site_rated_power",
    method=Method("rated power times alpha, never above the plate", "iso_3046_1", "clause 10"),
    refuses={"rated_power": _above_zero, "power_adjustment_factor": _above_zero},
)
def site_rating_by_iso_3046(rated: Values, adjustment: Values) -> Values:
    """Return what the engine may give in this air by the standard's formula. [W]

    In better air than the rating's it stays at the plate: more is the maker's to allow. The gas does not come in: for
    its methane number the engine's own data are needed.
    """
    return above(rated) * np.minimum(above(adjustment), 1.0)


@worksheet(
    title="Load of the site rating",
    takes=(Take(quantity="engine_power", place="engine"), Take(quantity="site_rated_power", place="engine")),
    gives="load_fraction",
    method=Method("power carried over site rating", "own_calculation"),
    refuses={"engine_power": _above_zero, "site_rated_power": _above_zero},
)
def load_of_site_rating(power: Values, rating: Values) -> Values:
    """Return how much of what it may give here the engine carries. [1]"""
    return above(power) / above(rating)


@worksheet(
    title="Least power of a fair test",
    takes=(Take(quantity="site_rated_power", place="engine"),),
    gives="fair_test_power",
    method=Method("within 10 % of full load, or of the highest that can be reached", "cfr40_60_4244", "(a), (c)"),
    cautions=IN_THE_TEST,
    refuses={"site_rated_power": _above_zero},
)
def least_power_of_a_fair_test(rating: Values) -> Values:
    """Return the power that a performance test at full load asks for at least, with the site rating as full load. [W]

    The permit or the rule at hand may ask for another load, and goes before this.
    """
    return fair_test.allowed_power(rating, fair_test.USUAL)[0]


@worksheet(
    title="Heat rate to be expected at the site",
    takes=(Take(quantity="rated_heat_rate", place="engine"), Take(quantity="fuel_adjustment_factor", place="engine")),
    gives="site_heat_rate",
    method=Method(
        "declared heat rate times beta; the standard allows 5 % more (from memory)", "iso_3046_1", "clause 10"
    ),
    refuses={"rated_heat_rate": _above_zero},
)
def heat_rate_of_the_site(rated: Values, adjustment: Values) -> Values:
    """Return the heat of the fuel per work that the declaration leads to in this air, at the site's rated power. [J/J]

    On the net heating value, as gas engines are declared.
    """
    return above(rated) * above(adjustment)


TEST_TAKES = (
    Take(quantity="full_throttle_power", place="engine"),
    Take(quantity="barometric_pressure", place="site"),
    Take(quantity="ambient_temperature", place="site"),
    Take(quantity="intake_air_temperature", place="engine", optional=True),
    Take(quantity="air_water_fraction", place="site"),
)
IN_RANGE = (*rating_j1349.SPARK_RANGE, "0.93 to 1.07, 80/1269/EEC at second hand: beyond, test on another day")
TEST_GIVES = ("test_correction_factor", "full_throttle_power_corrected")


@worksheet(
    title="Full throttle power on the reference day, by ISO 15550",
    takes=TEST_TAKES,
    gives=TEST_GIVES,
    method=Method("alpha_a of naturally aspirated spark ignition", "iso_15550", "clause 7; ISO 3046-1:1995, method 2"),
    cautions=IN_THE_TEST,
    valid={"test_correction_factor": IN_RANGE},
    refuses={"full_throttle_power": _above_zero, "barometric_pressure": _above_zero},
)
def test_correction_by_iso_15550(
    power: Values, pressure: Values, ambient: Values, intake: Values | None, water: Values
) -> tuple[Values, Values]:
    """Return the correction of a full throttle test to 99 kPa dry and 25 °C, and the power so corrected. [1], [W]

    For a naturally aspirated spark ignition engine only.
    """
    dry = rating_j1349.dry_pressure(pressure, water)
    factor = rating_j1349.spark_ignition(dry, ambient if intake is None else intake)
    return factor, above(power) * factor


@worksheet(
    title="Full throttle power on the reference day, by SAE J1349",
    takes=TEST_TAKES,
    gives=TEST_GIVES,
    method=Method("CF of naturally aspirated spark ignition, 85 % mechanical efficiency", "sae_j1349"),
    cautions=IN_THE_TEST,
    valid={"test_correction_factor": IN_RANGE},
    refuses={"full_throttle_power": _above_zero, "barometric_pressure": _above_zero},
)
def test_correction_by_sae_j1349(
    power: Values, pressure: Values, ambient: Values, intake: Values | None, water: Values
) -> tuple[Values, Values]:
    """Return the correction of a full throttle test to 99 kPa dry and 25 °C, and the power so corrected. [1], [W]

    For a naturally aspirated spark ignition engine only.
    """
    dry = rating_j1349.dry_pressure(pressure, water)
    factor = rating_j1349.sae_j1349(dry, ambient if intake is None else intake)
    return factor, above(power) * factor
