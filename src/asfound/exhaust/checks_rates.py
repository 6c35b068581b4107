"""Published values of concentrations and rates, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import asfound.exhaust.emission_rate as rate
from asfound.exhaust import hydrocarbons, method_19
from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS, mass_concentration
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.quantities.constants import NORMAL_TEMPERATURE
from asfound.quantities.units import from_si, to_si
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

SHORT_TON, POUND = 907.18474, 0.45359237  # kg, exact
AIR = 0.2095
"""Oxygen of the air that leaks into a sample line. [mol/mol]"""
BTU_PER_HP_H = 2544.4336
"""Heat of one horsepower-hour. [Btu]"""
D2_WEIGHTS = (0.05, 0.25, 0.30, 0.30, 0.10)


def _tons_in_a_year(horsepower: float, pounds: float, hours: float) -> float:
    emitted = horsepower * pounds * POUND / 3600
    return float(rate.annual_mass(emitted, hours * 3600)) / SHORT_TON


def _per_heat(ppm: float, species: str) -> float:
    """Return a limit in ppm at 15 % oxygen as mass per gross heat of natural gas. [lb/MMBtu]"""
    f_factor = rate.f_factor_si(rate.F_FACTOR_NATURAL_GAS)
    return from_si(float(rate.mass_per_heat(ppm * 1e-6, 0.15, f_factor, MOLAR_MASS[species])), "lb/MMBtu")


def _efficiency_of_pair(ppm: float, grams: float, species: str) -> float:
    """Return the efficiency on gross heat at which a limit in g/hp-h and one in ppm mean the same engine. [1]"""
    return _per_heat(ppm, species) * POUND * 1e3 / grams * BTU_PER_HP_H / 1e6


def _by_carbon_dioxide(c: float, carbon_dioxide: float, f_dry: float, f_carbon: float) -> float:
    factor = method_19.fuel_factor(f_dry, f_carbon)
    return float(method_19.at_reference_by_carbon_dioxide(c, carbon_dioxide, 0.15, factor))


def _error_at_reference(oxygen: float, error: float) -> float:
    """Return what an error of the oxygen reading does to a concentration at 15 %, relative. [1]"""
    right = float(at_reference_oxygen(1.0, oxygen, 0.15))
    return float(at_reference_oxygen(1.0, oxygen + error, 0.15)) / right - 1


def _error_of_leak(oxygen: float, share: float) -> float:
    """Return what air added in the sample line does to a concentration at 15 %, relative: next to nothing. [1]"""
    share /= 1 + share
    right = float(at_reference_oxygen(1.0, oxygen, 0.15))
    leaked = float(at_reference_oxygen(1 - share, oxygen * (1 - share) + AIR * share, 0.15))
    return leaked / right - 1


def _oxygen_of_leak(oxygen: float, share: float) -> float:
    share /= 1 + share
    return 100 * (oxygen * (1 - share) + AIR * share)


def _of_european_limit(milligrams: float, oxygen: float, efficiency: float, volume: float) -> float:
    """Return g/kWh of a limit; ``volume`` is the dry exhaust at the reference oxygen. [m³/MJ net]"""
    dry = volume * 1e-6 * (AIR - oxygen) / AIR
    return 3.6e9 * float(rate.energy_specific_of_limit(milligrams * 1e-6, dry, oxygen, efficiency, AIR))


def _cycle(*given: float) -> float:
    """Return the weighted g/kWh of five modes: grams per hour, then kilowatts."""
    grams, kilowatts = given[:5], given[5:]
    emitted, power = [one / 3.6e6 for one in grams], [one * 1e3 for one in kilowatts]
    return 3.6e9 * float(rate.weighted_over_cycle(list(D2_WEIGHTS), emitted, power))  # type: ignore[arg-type]


WAYS: dict[str, Callable[..., float]] = {
    "tons_in_a_year": _tons_in_a_year,
    "methane": lambda *g: float(hydrocarbons.methane_and_nonmethane(*g)[0]),
    "nonmethane": lambda *g: float(hydrocarbons.methane_and_nonmethane(*g)[1]),
    "response": lambda m, a: float(hydrocarbons.response_factor(m, a)),
    "as_25a": lambda c, m, a: float(hydrocarbons.at_flame_ionisation(c, hydrocarbons.response_factor(m, a))),
    "propane_equivalent": lambda c: float(hydrocarbons.propane_equivalent(c)),
    "propane_of_carbon": lambda: 1e6 * float(mass_concentration(1e-6, MOLAR_MASS["propane"], 293.15)) / 3,
    "fuel_factor": lambda d, c: float(method_19.fuel_factor(d, c)),
    "co2_at_15": lambda d, c: 100 * float(method_19.carbon_dioxide_at(0.15, method_19.fuel_factor(d, c))),
    "by_co2": _by_carbon_dioxide,
    "by_oxygen": lambda c, o: float(at_reference_oxygen(c, o, 0.15)),
    "k_method_19": lambda species: method_19.pounds_per_cubic_foot_per_ppm(species),
    "per_heat": _per_heat,
    "efficiency_of_pair": _efficiency_of_pair,
    "error_at_reference": _error_at_reference,
    "error_of_leak": _error_of_leak,
    "oxygen_of_leak": _oxygen_of_leak,
    "no_for_nox": lambda: MOLAR_MASS["no"] / MOLAR_MASS["nox"],
    "cold_for_warm": lambda: NORMAL_TEMPERATURE / DRY_STANDARD_TEMPERATURE - 1,
    "in_unit": lambda unit, other: from_si(to_si(1.0, str(unit)), str(other)),
    "european": _of_european_limit,
    "european_us": lambda *g: from_si(_of_european_limit(*g) / 3.6e9, "g/hp-h"),
    "cycle": _cycle,
}


def _given(text: str) -> list[float | str]:
    """Return inputs as numbers where they are, else as words."""
    found: list[float | str] = []
    for one in text.split("|") if text else []:
        try:
            found.append(float(one))
        except ValueError:
            found.append(one)
    return found


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.exhaust", "data/published_rates.csv"):
        yield Check.of_row("exhaust", WAYS[row["of"]](*_given(row["inputs"])), row)
