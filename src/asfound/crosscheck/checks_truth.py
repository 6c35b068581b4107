"""The balances at the noise-free truth of the reference visits, which general-purpose libraries computed.

Cantera made exhaust and heats, CoolProp water and compressed gas; here ISO 6976, GERG-2008 and the heat capacities of
the rooms below. What is left of each balance is told as the value of its main number beside the library's.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.assemble import Assembled, assemble
from asfound.crosscheck.engine_point import NORMAL, EnginePoint
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.shaft_side import jacket_heat, oil_heat
from asfound.crosscheck.visit_cases import VisitCase, visit_cases
from asfound.sources.prove import Check

SOURCE = "crosscheck_visits"
CLAUSE = "truth, Cantera and CoolProp"
NEAR, REAL_GAS = 1e-3, 6e-3
"""Relative: all within 0.1 %, but what rests on properties of real gas mixtures within 0.6 %. [1]"""
CLOSES = 0.3
"""Chi-squared that noise-free truth may leave: another program's formulas left below 0.13. [1]"""


def checks() -> Iterator[Check]:
    """Yield main numbers of all balances at the truth."""
    for case in visit_cases():
        yield from _of_visit(case)


def at_truth(case: VisitCase) -> Assembled:
    """Return a visit of the file with every reading and assumption at its true value."""
    true = np.array([_true(case, name) for name in case.names])
    known = {name: (_true(case, name), u) for name, (_, u) in case.known.items()}
    return assemble(case.plant, case.names, true, np.diag(case.u**2), known=known)


def unknowns(case: VisitCase, of: Assembled) -> dict[str, float]:
    """Return the true values of what nobody measures."""
    power, aux = case.truth["P_brake_kW"] * 1e3, _true(case, "auxiliary_power")
    found = {
        "fuel": case.truth["n_fuel_mol_per_s"],
        "excess_air_ratio": case.truth["lambda"],
        "brake_power": power,
        "driven_power": power - aux,
    }
    if "gas" in of.balances.unmeasured:
        found["gas"] = _true(case, "compressed_gas_flow") * NORMAL
    return found


def _true(case: VisitCase, name: str) -> float:
    kelvin = name.endswith("temperature") or name == "cylinder_exhaust_mean"
    return case.truth[name] * case.factors[name] + (273.15 if kelvin else 0.0)


def _of_visit(case: VisitCase) -> Iterator[Check]:
    of, seen = at_truth(case), f"visit {case.name} at the truth"
    values = dict(zip(of.readings.names, of.readings.values, strict=True)) | unknowns(case, of)
    point = EnginePoint({name: np.array([one]) for name, one in values.items()}, case.plant, *of.gases)
    solved = reconcile(of.balances, of.readings, start=of.start)
    yield _check(f"{seen}: chi-squared", solved.chi_squared, 0.0, CLOSES)
    for title, value, wanted, near in _numbers(case, point, values):
        yield _check(f"{seen}: {title}", float(np.squeeze(value)), wanted, near * abs(wanted))
    left = dict(zip(of.balances.names, of.balances.residuals(of.readings.values, _row(of, values)), strict=True))
    fuel = float(values["fuel"])
    for name, scale, near in (
        ("fuel_by_volume", fuel, NEAR), ("filling", fuel * float(point.charge[0]), NEAR),
        ("energy", fuel * float(point.heat[0]), NEAR), ("compressor_power", values["driven_power"], REAL_GAS),
        ("displacement_stage_1", values.get("gas", 1.0), REAL_GAS),
        ("displacement_stage_2", values.get("gas", 1.0), REAL_GAS),
    ):  # fmt: skip
        if name in left:
            yield _check(f"{seen}: {name} closes, of its size", left[name] / scale, 0.0, near)


def _row(of: Assembled, values: dict[str, float]) -> Any_:
    return np.array([values[name] for name in of.balances.unmeasured])


def _numbers(case: VisitCase, point: EnginePoint, values: dict[str, float]) -> Iterator[tuple[str, Any_, float, float]]:
    """Yield title, value here, value of the libraries, relative tolerance."""
    truth = case.truth
    yield "heat of the jacket water, W", jacket_heat(point), truth["Q_jacket_kW"] * 1e3, NEAR
    yield "heat of the oil, W", oil_heat(point), truth["Q_oil_kW"] * 1e3, NEAR
    cooler = point.coolant_heat("auxiliary_water")
    yield "heat of the charge cooler, W", cooler, truth["Q_charge_cooler_kW"] * 1e3, NEAR
    yield "oxygen in dry exhaust", point.oxygen / point.dry, values["exhaust_oxygen_dry"], NEAR
    yield "carbon dioxide in dry exhaust", point.dioxide / point.dry, values["exhaust_co2_dry"], NEAR
    yield "oxygen in wet exhaust", point.oxygen / point.wet, values["exhaust_oxygen_wet"], NEAR


def _check(title: str, found: float, wanted: float, tolerance: float) -> Check:
    return Check(
        check=title, room="crosscheck", value=found, published=wanted, tolerance=tolerance, source=SOURCE,
        clause=CLAUSE, note="tolerance: other property formulas",
    )  # fmt: skip
