"""Visits of the reference, one planted lie each: from their file to plant and readings, in SI."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from math import pi
from typing import Any

import numpy as np

from asfound.crosscheck.engine_values import by_symbol
from asfound.crosscheck.plant import Plant, Stage, molar_gas
from asfound.quantities.typing import Array
from asfound.sources.tables import read_text

NORMAL_MOLES = 101_325.0 / (8.31446261815324 * 273.15)
FACTORS = {
    "kPa": 1e3, "C": 1.0, "dK": 1.0, "%": 0.01, "r/min": pi / 30, "m3/h": 1 / 3600, "vol-%": 0.01, "ppm": 1e-6,
    "m/s": 1.0, "V": 1.0, "A": 1.0, "1": 1.0, "kW": 1e3, "L/s": 1e-3, "kg/s": 1.0,
}  # fmt: skip
"""SI over the units of the file."""
GAUGE = ("fuel_pressure", "suction_pressure", "discharge_pressure")
OTHER_NAMES = {"m_gas": "compressed_gas_flow", "speed": "engine_speed"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VisitCase:
    """One visit of the file."""

    name: str
    title: str
    plant: Plant
    names: tuple[str, ...]
    values: Array
    u: Array
    known: dict[str, tuple[float, float]]
    """Assumptions of this visit."""
    factors: dict[str, float]
    """SI over the unit of the file, by name."""
    expected: dict[str, Any]
    """What a correct program says, with names of `engine_values`."""
    planted: dict[str, dict[str, float]]
    truth: dict[str, float]


@cache
def visit_cases() -> tuple[VisitCase, ...]:
    """Return all visits of the file."""
    content = json.loads(read_text("asfound.crosscheck", "data/visit_cases.json"))
    gas = molar_gas(content["gas_G1"])
    return tuple(_case(one, gas) for one in content["cases"])


def _case(one: dict[str, Any], gas: Any) -> VisitCase:
    stages = _stages(one["case"])
    table = {symbol: value.name for symbol, value in by_symbol(stages).items()} | OTHER_NAMES
    names, values, u, known, factors = [], [], [], {}, {}
    for read in one["readings"]:
        name, factor = table[read["id"]], FACTORS[read["unit"]]
        if read["id"] == "m_gas":
            factor = 1 / (gas.molar_mass * NORMAL_MOLES)
        value = read["value"] * factor + (273.15 if read["unit"] == "C" else 0.0)
        factors[name] = factor
        if read.get("assumed"):
            known[name] = (value, read["u"] * factor)
        else:
            names.append(name)
            values.append(value)
            u.append(read["u"] * factor)
    gauge = {name for name in names if name.endswith(GAUGE)}
    if one["case"]["p_im_basis"] == "gauge":
        gauge.add("manifold_pressure")
    engine = one["case"]["engine"]
    plant = Plant(
        fuel=gas,
        swept_volume=engine["swept_m3"],
        oil_heat_capacity=engine["oil_rho_cp"],
        stack_area=engine["stack_area_m2"],
        stages=stages,
        gauge=frozenset(gauge),
    )
    expected = dict(one["correct_program"])
    for key in ("must_name_one_of", "not_checked"):
        expected[key] = [table.get(name, name) for name in expected[key]]
    for key in ("same_mark", "smallest_errors", "ranking"):
        expected[key] = [entry | {"id": table[entry["id"]]} for entry in expected[key]]
    return VisitCase(
        name=one["id"],
        title=one["title"],
        plant=plant,
        names=tuple(names),
        values=np.array(values),
        u=np.array(u),
        known=known,
        factors=factors,
        expected=expected,
        planted={table[name]: how for lie in one["planted"] for name, how in lie["effect"].items()},
        truth={table.get(name, name): value for name, value in one["truth"].items()},
    )


def _stages(case: dict[str, Any]) -> dict[str, Stage]:
    given = case.get("compressor")
    if not given:
        return {}
    return {
        f"stage_{at}": Stage(
            displacement=given[f"displacement_m3_per_rev_{at}"],
            clearance=given[f"clearance_{at}"],
            loss=1 - given["loss"],
        )
        for at in (1, 2)
    }
