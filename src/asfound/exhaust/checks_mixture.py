"""Published values of mixture, water in the exhaust, humidity and exhaust flow, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from asfound.exhaust import exhaust_flow as flow
from asfound.exhaust import humidity_correction, wet_dry
from asfound.exhaust.balance import Exhaust, air_fuel_ratio, exhaust
from asfound.exhaust.balance_1065 import Balance1065, balance_1065
from asfound.exhaust.brettschneider import lambda_brettschneider
from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, dry_oxygen, excess_air_ratio, stoichiometric_oxygen
from asfound.exhaust.mixture_balance import Balanced, Pollutants, from_carbon_dioxide, from_oxygen
from asfound.exhaust.nitrogen_tie import air_from_nitrogen, lambda_from_nitrogen
from asfound.exhaust.spindt import air_fuel_ratio_spindt
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

PER_CENT = 1e-2
ATOMS = 4
"""In the inputs a gas is four numbers: atoms of carbon, hydrogen, oxygen and nitrogen in a mole."""


def _exhaust(ratio: float, *given: float) -> Exhaust:
    return exhaust(ratio, *given[:ATOMS], humidity=given[ATOMS])


def _over_oxygen(oxygen: float, *given: float) -> Balanced:
    c, h, o, n, *read, humidity = given
    readings = Pollutants(*(one * PER_CENT for one in read))
    return from_oxygen(oxygen * PER_CENT, c, h, o, n, readings, humidity)


def _over_carbon(carbon_dioxide: float, *given: float) -> float:
    c, h, o, n, *read, humidity = given
    readings = Pollutants(*(one * PER_CENT for one in read))
    return float(from_carbon_dioxide(carbon_dioxide * PER_CENT, c, h, o, n, readings, humidity).ratio)


def _laboratory(carbon_dioxide: float, *given: float) -> Balance1065:
    c, h, o, n, *read, humidity = given
    co, hydrocarbons, no, no2 = (one * PER_CENT for one in read)
    return balance_1065(carbon_dioxide * PER_CENT, c, h, o, n, co, hydrocarbons, no, no2, humidity)


def _brettschneider(carbon_dioxide: float, oxygen: float, *given: float) -> float:
    read = [one * PER_CENT for one in given[ATOMS:]]
    return float(lambda_brettschneider(carbon_dioxide * PER_CENT, oxygen * PER_CENT, *given[: ATOMS - 1], *read))


def _spindt(carbon_dioxide: float, oxygen: float, *given: float) -> float:
    read = [one * PER_CENT for one in given[ATOMS:]]
    return float(air_fuel_ratio_spindt(carbon_dioxide * PER_CENT, oxygen * PER_CENT, *given[:ATOMS], *read))


def _lambda(oxygen: float, *gas: float) -> float:
    return float(excess_air_ratio(oxygen * PER_CENT, *gas))


def _short_form(ratio: float, *given: float) -> float:
    """Return the short form on the dry exhaust of the balance; the last two inputs: g/kg, and whether it was cooled."""
    grams, cooled = given[-2:]
    found = _exhaust(ratio, *given[: ATOMS + 1])
    co2 = float(found.carbon_dioxide / found.dry)
    return float(wet_dry.short_form_factor(co2, given[0], given[1], 0.0, grams / 1000, cooled=bool(cooled)))


def _air_mass(co2: float, o2: float, co: float, carbon: float, in_air: float, air: float, fuel: float) -> float:
    return _air_moles(co2, o2, co, carbon, in_air) * air / fuel


def _air_moles(co2: float, o2: float, co: float, carbon: float, in_air: float) -> float:
    return float(air_from_nitrogen(o2 * PER_CENT, co2 * PER_CENT, co * PER_CENT, carbon, in_air))


def _tie(co2: float, o2: float, co: float, in_air: float) -> float:
    return 100 * float(lambda_from_nitrogen(o2 * PER_CENT, co2 * PER_CENT, co * PER_CENT, in_air))


def _textbook(part: str) -> Callable[..., float]:
    """Return the share of a part in wet exhaust without excess air, air with 21 % oxygen. [%]"""

    def share(*gas: float) -> float:
        found = exhaust(1.0, *gas, oxygen_in_air=0.21)
        return 100 * float(getattr(found, part) / found.wet)

    return share


def _leaked(ratio: float, share: float, *gas: float) -> float:
    """Return dry oxygen of a sample that took in air, as much as a share of itself. [%]"""
    return 100 * (float(dry_oxygen(ratio, *gas)) + share * OXYGEN_IN_DRY_AIR) / (1 + share)


def _unburned(ratio: float, share: float, *gas: float) -> float:
    """Return how much too high oxygen alone says lambda is, when a share of the gas passes unburned."""
    burned = exhaust(ratio / (1 - share), *gas)  # the rest of the gas has all the air
    oxygen, dry = (1 - share) * burned.oxygen, (1 - share) * burned.dry + share
    return _lambda(100 * float(oxygen / dry), *gas) - ratio


def _carbon_flow(*given: float) -> float:
    gas, carbon, *read = given
    return float(flow.dry_exhaust_from_carbon(gas, carbon, *(one * PER_CENT for one in read)))


WAYS: dict[str, Callable[..., float]] = {
    "oxygen_dry": lambda r, *g: 100 * float(_exhaust(r, *g).oxygen / _exhaust(r, *g).dry),
    "co2_dry": lambda r, *g: 100 * float(_exhaust(r, *g).carbon_dioxide / _exhaust(r, *g).dry),
    "water_wet": lambda r, *g: 100 * float(_exhaust(r, *g).water / _exhaust(r, *g).wet),
    "oxygen_wet": lambda r, *g: 100 * float(_exhaust(r, *g).oxygen / _exhaust(r, *g).wet),
    "wet_over_dry": lambda r, *g: 1 - float(wet_dry.water_fraction(r, *g)),
    "lambda_oxygen": _lambda,
    "lambda_co2": _over_carbon,
    "balance_oxygen": lambda *g: float(_over_oxygen(*g).ratio),
    "balance_hydrogen": lambda *g: 100 * float(_over_oxygen(*g).hydrogen),
    "brettschneider": _brettschneider,
    "balance_1065": lambda *g: float(_laboratory(*g).ratio),
    "water_1065": lambda *g: 100 * float(_laboratory(*g).water),
    "spindt": _spindt,
    "air_fuel_ratio": lambda *g: float(air_fuel_ratio(*g)),
    "short_form": _short_form,
    "ratio_brettschneider": lambda c, o, *g: _brettschneider(c, o, *g) * float(air_fuel_ratio(1.0, *g[:ATOMS])),
    "ratio_carbon": lambda c, *g: _over_carbon(c, *g) * float(air_fuel_ratio(1.0, *g[:ATOMS])),
    "air_from_nitrogen": _air_moles,
    "oxygen_from_nitrogen": lambda *g: _air_moles(*g) * g[-1],
    "air_mass_from_nitrogen": _air_mass,
    "nitrogen_tie": _tie,
    "excess_by_nitrogen": lambda *g: _tie(*g) - 100,
    "dew_point": lambda w, kpa: float(wet_dry.exhaust_dew_point(w, 1000 * kpa)) - 273.15,
    "dry_from_wet": lambda x, w: float(wet_dry.dry_from_wet(x, w)),
    "wet_from_measured": lambda x, m, w: float(wet_dry.wet_from_measured(x, m, w)),
    "saturated": lambda c, kpa: 100 * float(wet_dry.saturated_sample(c + 273.15, 1000 * kpa)),
    "humidity_spark": lambda n, x: n * float(humidity_correction.factor_spark_ignition(x)),
    "humidity_compression": lambda n, x: n * float(humidity_correction.factor_compression_ignition(x)),
    "humidity_vehicle": lambda n, g: n * float(humidity_correction.factor_vehicle(g / 1000)),
    "humidity_iso": lambda n, g: n * float(humidity_correction.factor_gas_engine_iso(g / 1000)),
    "gas_air": lambda *g: float(stoichiometric_oxygen(*g[:3])) / 0.21,
    "gas_nitrogen": _textbook("nitrogen"),
    "gas_co2": _textbook("carbon_dioxide"),
    "gas_water": _textbook("water"),
    "from_carbon": _carbon_flow,
    "from_carbon_volume": lambda *g: _carbon_flow(*g) * 1000 * flow.DRY_STANDARD_VOLUME,
    "from_intake_1065": lambda *g: float(flow.exhaust_from_intake_1065(*g)),
    "lambda_error": lambda o, e, *g: _lambda(o + e, *g) - _lambda(o, *g),
    "wet_as_dry": lambda r, *g: _lambda(100 * float(_exhaust(r, *g, 0).oxygen / _exhaust(r, *g, 0).wet), *g) - r,
    "leak_oxygen": _leaked,
    "leak_lambda": lambda r, s, *g: _lambda(_leaked(r, s, *g), *g) - r,
    "slip_oxygen": _unburned,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    with np.errstate(all="ignore"):
        for row in load_csv("asfound.exhaust", "data/published_mixture.csv"):
            given = (float(one) for one in row["inputs"].split("|"))
            yield Check.of_row("exhaust", WAYS[row["of"]](*given), row)
