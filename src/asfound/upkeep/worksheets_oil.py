"""Worksheets of the oil: use over work, rise of acid number and iron, fall of base number, time left to a limit."""

from __future__ import annotations

from math import sqrt

import numpy as np

from asfound.errors import InputError
from asfound.quantities.refusals import between
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet
from asfound.upkeep import oil_rates

OIL = ("hot", "chemical")
BALANCE = Method("balance of a sump kept full and well mixed", "own_calculation")
AS_READ = Method("straight on from the last two samples", "common_practice")
DENSITY = Take(
    quantity="oil_density",
    assume=Assumption(
        value=870.0,
        standard_uncertainty=25.0 / sqrt(3.0),
        says="845 to 895 kg/m3, engine oil at the temperature of the store",
        source="common_practice",
        distribution="rectangular",
    ),
)
SINCE = ("oil_hours_before", "oil_hours")
ADDED = ("oil_added", "oil_sump")
_SUMP = between(0.01, 20.0, "10 to 20,000 L", "Read the sump's content in the engine's manual.")
_TIME = between(3600.0, 3.6e8, "1 to 100,000 h", "Read the hour meter at both moments.")
_POWER = between(1e3, 1e8, "1 kW to 100 MW", "Take the mean of the meter: work over hours.")


def _refuse_backwards(time_before: Values, time_now: Values) -> None:
    """Refuse two samples between which no time lies; a doubt that reaches beyond only costs draws."""
    before, now = (float(np.asarray(one, dtype=float).flat[0]) for one in (time_before, time_now))
    if not now > before:
        raise InputError(
            "oil_hours", f"{now / 3600:,.0f} h", f"is not after the sample before, at {before / 3600:,.0f} h",
            allowed="more hours on the oil than at the sample before",
            try_next="Read the hours on both reports again; after an oil change begin with the new oil's first sample.",
        )  # fmt: skip


@worksheet(
    title="Oil consumption from the oil added",
    takes=("oil_added", DENSITY, "oil_period_power", "oil_period"),
    gives="oil_consumption",
    method=Method("oil added over work at the shaft", "common_practice"),
    cautions=OIL,
    refuses={"oil_period": _TIME, "oil_period_power": _POWER},
)
def oil_consumption_from_top_up(added: Values, density: Values, power: Values, time: Values) -> Values:
    """Return the oil used over the work at the shaft: what brought the level back to the mark. [kg/J]

    The level must be read alike at both ends, oil warm and engine standing as long. Leaks count as use.
    """
    return oil_rates.oil_use(added, density, power, time)


@worksheet(
    title="Rise of the acid number in 1000 h, freed of the oil added",
    takes=("oil_acid_number_before", "oil_acid_number", "oil_acid_number_fresh", *SINCE, *ADDED),
    gives="oil_acid_rise",
    method=BALANCE,
    cautions=OIL,
    refuses={"oil_sump": _SUMP},
)
def acid_number_rise(
    before: Values, now: Values, fresh: Values, time_before: Values, time_now: Values, added: Values, sump: Values
) -> Values:
    """Return the rise of the acid number in 1000 h had no oil been added; roughly, for acid is used up too. [kg/kg]"""
    _refuse_backwards(time_before, time_now)
    return oil_rates.rise_made(before, now, fresh, time_before, time_now, added, sump)


@worksheet(
    title="Fall of the base number in 1000 h, freed of the oil added",
    takes=("oil_base_number_before", "oil_base_number", "oil_base_number_fresh", *SINCE, *ADDED),
    gives="oil_base_fall",
    method=BALANCE,
    cautions=OIL,
    refuses={"oil_sump": _SUMP},
)
def base_number_fall(
    before: Values, now: Values, fresh: Values, time_before: Values, time_now: Values, added: Values, sump: Values
) -> Values:
    """Return the fall of the base number in 1000 h had no oil been added. [kg/kg]"""
    _refuse_backwards(time_before, time_now)
    return -oil_rates.rise_made(before, now, fresh, time_before, time_now, added, sump)


@worksheet(
    title="Iron into the oil in 1000 h, freed of the oil added",
    takes=("oil_iron_before", "oil_iron", Take(quantity="oil_iron_fresh", optional=True, default=0.0), *SINCE, *ADDED),
    gives="oil_iron_rise",
    method=BALANCE,
    cautions=OIL,
    refuses={"oil_sump": _SUMP},
)
def iron_rise(
    before: Values, now: Values, fresh: Values, time_before: Values, time_now: Values, added: Values, sump: Values
) -> Values:
    """Return the rise of iron in 1000 h had no oil been added: what wears, not what the sample shows. [kg/kg]"""
    _refuse_backwards(time_before, time_now)
    return oil_rates.rise_made(before, now, fresh, time_before, time_now, added, sump)


@worksheet(
    title="Hours left until the acid number is at its limit",
    takes=("oil_acid_number_before", "oil_acid_number", *SINCE, "oil_acid_number_limit"),
    gives="oil_acid_hours_left",
    method=AS_READ,
    cautions=OIL,
)
def acid_number_hours_left(before: Values, now: Values, time_before: Values, time_now: Values, limit: Values) -> Values:
    """Return the hours until the acid number reaches its limit, going on as between the last two samples. [s]

    No answer where it does not rise. With three samples and more the trend of the charge says more.
    """
    _refuse_backwards(time_before, time_now)
    return oil_rates.time_left(before, now, time_before, time_now, limit)


@worksheet(
    title="Hours left until the base number is at its limit",
    takes=("oil_base_number_before", "oil_base_number", *SINCE, "oil_base_number_limit"),
    gives="oil_base_hours_left",
    method=AS_READ,
    cautions=OIL,
)
def base_number_hours_left(before: Values, now: Values, time_before: Values, time_now: Values, limit: Values) -> Values:
    """Return the hours until the base number falls to its limit, going on as between the last two samples. [s]

    No answer where it does not fall.
    """
    _refuse_backwards(time_before, time_now)
    return oil_rates.time_left(before, now, time_before, time_now, limit)
