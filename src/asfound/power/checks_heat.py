"""Published values of efficiency, heat balance and heat recovery, recomputed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

import asfound.power.coolant as coolant
from asfound.fuel.stoichiometry import element_columns
from asfound.power import efficiency, heat_balance
from asfound.power.exhaust_heat import SPECIES, Exhaust, exhaust_of
from asfound.power.heat_recovery import MILLIMETRE_OF_MERCURY, acid_dew_point
from asfound.quantities.units import from_si
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

OXYGEN_OF_THE_TABLE = 0.20946  # its air is oxygen and nitrogen
NET_METHANE = 50.03e3  # kJ/kg, as the table takes it
GROSS_OVER_NET = 1.1096  # of methane, ISO 6976:2016 at 25 °C
POUND, BTU = 0.45359237, 1055.05585262


def _methane(ratio: float) -> Exhaust:
    """Return the exhaust of methane in our air."""
    return exhaust_of(element_columns(("methane",))[0], ratio)


def _of_the_table(ratio: float) -> Exhaust:
    """Return the exhaust of methane in the air of the table."""
    air = 2 * ratio / OXYGEN_OF_THE_TABLE
    parts = {
        "nitrogen": air * (1 - OXYGEN_OF_THE_TABLE),
        "oxygen": 2 * (ratio - 1),
        "carbon_dioxide": 1.0,
        "water": 2.0,
    }
    moles = np.array([parts.get(name, 0.0) for name in SPECIES])
    return Exhaust(moles, np.array(math.nan), np.array(16.0425e-3))


def _heat_capacity(ratio: float, kelvin: float) -> float:
    gas = _of_the_table(ratio)
    return float(gas.specific_heat(kelvin + 2) - gas.specific_heat(kelvin - 2)) / 4e3


def _fuel_mass(power: float, share: float) -> float:
    return power / share / NET_METHANE


def _exhaust_mass(power: float, share: float, ratio: float) -> float:
    gas = _methane(ratio)
    return _fuel_mass(power, share) * (1 + float(gas.air / gas.fuel))


def _exhaust_heat(power: float, share: float, ratio: float, celsius: float) -> float:
    heat = float(_of_the_table(ratio).specific_heat(celsius + 273.15))
    return _exhaust_mass(power, share, ratio) * heat / 1e3


def _share_of_ours(power: float, share: float, ratio: float, celsius: float) -> float:
    heat = float(_methane(ratio).specific_heat(celsius + 273.15))
    return 100 * _exhaust_mass(power, share, ratio) * heat / 1e3 / (power / share)


def _share(power: float, share: float, ratio: float, celsius: float) -> float:
    return 100 * _exhaust_heat(power, share, ratio, celsius) / (power / share)


def _remainder(power: float, share: float, ratio: float, celsius: float) -> float:
    fuel = power / share
    left = heat_balance.rest(fuel, power, _exhaust_heat(power, share, ratio, celsius), 0.0, 0.0, 0.0, 0.0)
    return 100 * float(left.share)


def _of_the_test(
    load: float, wheel: float, rpm: float, gas: float, kelvin: float, mmhg: float, heat: float,
    water: float, rise: float, capacity: float,
) -> tuple[float, float, float]:  # fmt: skip
    """Return heat of the gas, into the water, and the rest of a gas engine on a brake. [kJ/min]"""
    fuel = gas * mmhg / 760 * 273 / kelvin * heat / 60
    work = 2 * math.pi * rpm * load * wheel / 2 / 1e3
    into_water = water / 60 * capacity * rise
    return fuel, into_water, float(heat_balance.rest(fuel, work, 0.0, 0.0, into_water, 0.0, 0.0).rest)


def _percent_of_the_test(place: int) -> Callable[..., float]:
    def share(*given: float) -> float:
        terms = _of_the_test(*given)
        return 100 * terms[place] / terms[0]

    return share


def _catalog_exhaust(fuel: float, flow: float, celsius: float) -> float:
    """Return the share of the exhaust in the net heat, its mixture from fuel and exhaust flow."""
    net = fuel * 1e6 * BTU / 3600 / GROSS_OVER_NET
    mass, gas = flow * 1e3 * POUND / 3600, net / (NET_METHANE * 1e3)
    ratio = (mass / gas - 1) / float(_methane(1.0).air / _methane(1.0).fuel)
    return 100 * mass * float(_methane(ratio).specific_heat(celsius + 273.15)) / net


WAYS: dict[str, Callable[..., float]] = {
    "table_molar_mass": lambda ratio: 1e3 * float(_of_the_table(ratio).mass / _of_the_table(ratio).wet),
    "table_heat": lambda ratio, kelvin: float(_of_the_table(ratio).specific_heat(kelvin)) / 1e3,
    "table_heat_capacity": _heat_capacity,
    "case_fuel": lambda power, share: power * float(efficiency.heat_rate(share, 1.0)),
    "case_fuel_mass": _fuel_mass,
    "case_exhaust_mass": _exhaust_mass,
    "case_exhaust_heat": _exhaust_heat,
    "case_exhaust_share": _share,
    "case_exhaust_share_of_ours": _share_of_ours,
    "case_remainder": _remainder,
    "test_water": lambda water, rise, capacity: water / 60 * capacity * rise,
    "test_water_share": _percent_of_the_test(1),
    "test_rest": lambda *given: _of_the_test(*given)[2],
    "test_rest_share": _percent_of_the_test(2),
    "efficiency_of_heat_rate": lambda rate: 100 * float(efficiency.efficiency(3.6e6, rate * BTU)),
    "efficiency_of_fuel": lambda power, fuel: 100 * float(efficiency.efficiency(power, fuel * 1e3 * BTU / 3600)),
    "catalog_exhaust_share": _catalog_exhaust,
    "overall": lambda power, heat: float(efficiency.efficiency(power + heat, 1.0)),
    "acid_dew_point": lambda w, s: float(acid_dew_point(w * MILLIMETRE_OF_MERCURY, s * MILLIMETRE_OF_MERCURY)),
    "coolant_density": lambda celsius, glycol: float(coolant.density(celsius + 273.15, glycol)),
    "coolant_heat_capacity": lambda celsius, glycol: float(coolant.heat_capacity(celsius + 273.15, glycol)),
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.power", "data/published_heat.csv"):
        if row["of"] == "heat_rate":
            yield Check.of_row("power", from_si(float(efficiency.heat_rate(1.0, 1.0)), row["inputs"]), row)
            continue
        given = (float(one) for one in row["inputs"].split("|"))
        yield Check.of_row("power", WAYS[row["of"]](*given), row)
