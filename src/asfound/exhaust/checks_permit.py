"""Published values of the exhaust, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import asfound.exhaust.emission_rate as rate
from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS, mass_concentration
from asfound.exhaust.mixture import dry_oxygen, excess_air_ratio
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.quantities.units import from_si, to_si
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

METHANE = (1.0, 4.0, 0.0, 0.0)
POUND, GRAM = 0.45359237, 1e-3  # kg, exact


def _pounds_per_scf(fraction: float, molar_mass: float) -> float:
    per_m3 = mass_concentration(fraction, molar_mass, DRY_STANDARD_TEMPERATURE)
    return float(per_m3) * rate.CUBIC_FOOT / POUND


def _mass_per_heat(fraction: float, oxygen: float, f_factor: float, species: str) -> float:
    si = rate.mass_per_heat(fraction, oxygen, rate.f_factor_si(f_factor), MOLAR_MASS[species])
    return from_si(float(si), "lb/MMBtu")


def _dry_flow(oxygen: float, f_factor: float, heat_rate: float, horsepower: float) -> float:
    heat = heat_rate * horsepower * rate.MILLION_BTU / 1e6 / 3600
    return float(rate.dry_exhaust_flow(heat, oxygen, rate.f_factor_si(f_factor))) * 3600


def _mass_per_energy(
    fraction: float, oxygen: float, f_factor: float, heat_rate: float, horsepower: float, species: str
) -> float:
    flow = _dry_flow(oxygen, f_factor, heat_rate, horsepower) / 3600
    emitted = rate.mass_flow(fraction, flow, rate.RULE_CONSTANT[species])
    return from_si(float(rate.mass_per_energy(emitted, to_si(horsepower, "hp"))), "g/hp-h")


def _by_the_rule(ppm: float, flow: float, horsepower: float, species: str) -> float:
    emitted = rate.mass_flow(ppm * 1e-6, flow / 3600, rate.RULE_CONSTANT[species])
    return from_si(float(rate.mass_per_energy(emitted, to_si(horsepower, "hp"))), "g/hp-h")


def _mass_at_reference(fraction: float, oxygen: float, reference: float, species: str) -> float:
    return 1e6 * float(mass_concentration(at_reference_oxygen(fraction, oxygen, reference), MOLAR_MASS[species]))


def _heat_rate_of_pair(fraction: float, grams: float, species: str) -> float:
    """Return the heat rate at which a limit in g/hp-h and one in ppm at 15 % mean the same engine. [Btu/hp-h]"""
    per_heat = rate.mass_per_heat(fraction, 0.15, rate.f_factor_si(rate.F_FACTOR_NATURAL_GAS), MOLAR_MASS[species])
    return grams * GRAM / float(per_heat) / rate.MILLION_BTU * 1e6


WAYS: dict[str, Callable[..., float]] = {
    "mass_concentration": lambda x, m, t: float(mass_concentration(x, m, t)),
    "pounds_per_scf": _pounds_per_scf,
    "at_reference_oxygen": lambda c, o, r, a: float(at_reference_oxygen(c, o, r, a)),
    "rule_factor": lambda: 100 * (OXYGEN_IN_AIR - 0.15),
    "mass_per_heat": _mass_per_heat,
    "mass_per_energy": _mass_per_energy,
    "mass_at_reference": _mass_at_reference,
    "dry_flow": _dry_flow,
    "heat_rate_of_pair": _heat_rate_of_pair,
    "excess_air_methane": lambda o: float(excess_air_ratio(o, *METHANE)),
    "dry_oxygen_methane": lambda ratio: 100 * float(dry_oxygen(ratio, *METHANE)),
    "er": _by_the_rule,
    "f_factor": lambda f: 1e6 * float(rate.f_factor_si(f)),
}


def _given(text: str) -> list[float | str]:
    """Return inputs as numbers, and a species by its name."""
    return (
        [one if one in MOLAR_MASS or one in rate.RULE_CONSTANT else float(one) for one in text.split("|")]
        if text
        else []
    )


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.exhaust", "data/published_exhaust.csv"):
        yield Check.of_row("exhaust", WAYS[row["of"]](*_given(row["inputs"])), row)
