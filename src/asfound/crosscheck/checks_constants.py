"""The constants of the reference visits, which general-purpose libraries gave, beside what the rooms below give now.

ISO 6976 and AGA Report No. 8 stand behind ours; behind theirs Cantera's species (GRI-3.0) and CoolProp. The heat of
formation of NO is theirs from memory (the polynomials give 1.1 % more, as ours), so the two lie that far apart.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np

from asfound.exhaust.catalyst_heat import heat
from asfound.fuel.ideal_gas import ideal_gas
from asfound.fuel.iso6976 import Reference, properties
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR, element_columns, stoichiometry
from asfound.power import coolant
from asfound.quantities.constants import GAS_CONSTANT
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv, read_text

Row = tuple[str, float, float, float, str]
"""What, ours, theirs, how far apart as a share of theirs, unit."""
SPECIES = {
    "N2": "nitrogen", "O2": "oxygen", "CO2": "carbon dioxide", "H2O": "water", "AR": "argon", "CO": "carbon monoxide",
    "CH4": "methane", "C2H6": "ethane", "C3H8": "propane",
}  # fmt: skip
KELVIN = (300.0, 500.0, 800.0)
CELSIUS = (20.0, 60.0, 95.0)
DIGITS, EDITIONS, FITS = 5e-5, 5e-3, 8e-3
"""Printed digits of theirs; critical points by two editions of a library (hexane 0.4 % apart); heat capacities by two
fits (methane at 800 K 0.8 % apart, all others within 0.4 %)."""
FROM_MEMORY = 0.015


def constants() -> dict[str, Any]:
    """Return the constants as the reference lists them."""
    found: dict[str, Any] = json.loads(read_text("asfound.crosscheck", "data/published_constants.json"))
    return found


def checks() -> Iterator[Check]:
    """Yield each constant with what the functions of the rooms give now."""
    told = constants()
    for part in (_gas, _critical, _heat_capacities, _water, _others):
        for what, value, published, share, unit in part(told):
            yield Check(
                check=what, room="crosscheck", value=float(value), published=float(published),
                tolerance=share * abs(published), source="crosscheck_visits", clause="constants of the visits",
                unit=unit,
            )  # fmt: skip


def _ours(names: tuple[str, ...]) -> tuple[str, ...]:
    """Return components by the names of our tables."""
    return tuple(name.replace("-", "_").replace(" ", "_") for name in names)


def _gas(told: dict[str, Any]) -> Iterator[Row]:
    names, x = tuple(told["gas_G1_critical"]["component"]), np.array(told["gas_G1_critical"]["x"])
    gas, atoms = told["gas_G1"], x @ element_columns(names)
    found = properties(x, names, Reference.named("25/0"), ideal=True)
    yield "gas G1, molar mass", atoms[6], gas["M_kg_per_mol"], DIGITS, "kg/mol"
    for name, place in (("C", 0), ("H", 1), ("O", 3)):
        yield f"gas G1, atoms of {name}", atoms[place], gas[name], DIGITS, "mol/mol"
    yield "gas G1, oxygen needed", float(stoichiometry(x, names).oxygen), gas["O2_stoich"], DIGITS, "mol/mol"
    yield "gas G1, net heating value", float(found.molar_net), gas["LHV_J_per_mol"], DIGITS, "J/mol"
    by_mass = float(found.molar_net) / float(found.molar_mass) / 1e6
    yield "gas G1, net heating value by mass", by_mass, gas["LHV_MJ_per_kg"], DIGITS, "MJ/kg"
    for kelvin in (280.0, 300.0, 330.0):
        ours = ideal_gas(_ours(names), x[:, None], np.array([kelvin]))[0][0]
        yield (
            f"gas G1, heat capacity at {kelvin:g} K",
            ours,
            float(np.polyval(told["gas_G1_cp_poly"], kelvin)),
            FITS,
            "J/(mol K)",
        )


def _critical(told: dict[str, Any]) -> Iterator[Row]:
    theirs = told["gas_G1_critical"]
    ours = {row["component"]: row for row in load_csv("asfound.fuel", "data/critical_points.csv")}
    for place, name in enumerate(theirs["component"]):
        for column, key, unit in (
            ("temperature", "Tc_K", "K"),
            ("pressure", "pc_Pa", "Pa"),
            ("acentric", "omega", "1"),
        ):
            yield (
                f"critical {column} of {name}",
                float(ours[_ours((name,))[0]][column]),
                theirs[key][place],
                EDITIONS,
                unit,
            )


def _heat_capacities(told: dict[str, Any]) -> Iterator[Row]:
    for symbol, name in SPECIES.items():
        for kelvin in KELVIN:
            ours = ideal_gas(_ours((name,)), np.ones((1, 1)), np.array([kelvin]))[0][0]
            theirs = told["R_J_per_mol_K"] * float(np.polyval(told["nasa_low"][symbol][::-1], kelvin))
            yield f"heat capacity of {name} at {kelvin:g} K", ours, theirs, FITS, "J/(mol K)"


def _water(told: dict[str, Any]) -> Iterator[Row]:
    for celsius in CELSIUS:
        kelvin = celsius + 273.15
        density, capacity = (float(np.polyval(told[f"water_{name}_poly"], celsius)) for name in ("density", "cp"))
        yield f"density of water at {celsius:g} °C", float(coolant.density(kelvin)), density, FITS, "kg/m3"
        yield (
            f"heat capacity of water at {celsius:g} °C",
            float(coolant.heat_capacity(kelvin)),
            capacity,
            FITS,
            "J/(kg K)",
        )


def _others(told: dict[str, Any]) -> Iterator[Row]:
    yield "gas constant", GAS_CONSTANT, told["R_J_per_mol_K"], 1e-9, "J/(mol K)"
    yield "oxygen in dry air", OXYGEN_IN_DRY_AIR, told["dry_air"]["O2"], 1e-9, "mol/mol"
    yield "parts of dry air add up", 1.0, sum(told["dry_air"].values()), 1e-9, "mol/mol"
    yield "heat of combustion of CO", heat("co"), told["HV_CO"], DIGITS, "J/mol"
    yield "heat of formation of NO", heat("nitric_oxide"), told["HF_NO"], FROM_MEMORY, "J/mol"
