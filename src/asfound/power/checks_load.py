"""Published values of the load carried, recomputed: compressor, generator, power at the shaft.

Textbooks compress air as an ideal gas of 287 J/(kg K) along a polytropic exponent, and count 745.7 W to the horsepower.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache

import numpy as np

import asfound.power.compressor_stage as stage
import asfound.power.generator as generator
import asfound.power.shaft_power as shaft
from asfound.fuel import real_gas
from asfound.power.compressor_gas import Compression, compress
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.typing import Array
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

AIR = 287.0  # J/(kg K), of the textbooks
HORSEPOWER = 745.7  # W, of the textbooks
RPM = math.pi / 30
_BOOK_NORMAL = 273.0  # K: zero Celsius as textbooks round it


def _head(temperature: float, ratio: float, exponent: float) -> float:
    """Return the work on a kilogram of the textbooks' air. [J/kg]"""
    return float(stage.isentropic_work(ratio, temperature, exponent)) * AIR / GAS_CONSTANT


def _drive(flow: float, suction: float, discharge: float, exponent: float) -> float:
    """Return the power on a volume flow of an ideal gas; its temperature cancels. [W]"""
    normal = stage.normal_flow(flow, suction, 300.0)
    work = stage.work_of_normal_volume(stage.isentropic_work(discharge / suction, 300.0, exponent))
    return float(stage.power(normal, work, 1.0))


def _two_stages(flow: float, p: float, t1: float, r1: float, t2: float, r2: float, n: float) -> float:
    return flow * p / (AIR * t1) * (_head(t1, r1, n) + _head(t2, r2, n))


def _isothermal(ratio: float, exponent: float, stages: int = 1) -> float:
    least = AIR * 300.0 * math.log(ratio)
    return 100 * least / (stages * _head(300.0, ratio ** (1 / stages), exponent))


def _taken_in(clearance: float, ratio: float, exponent: float) -> float:
    return float(stage.volumetric_efficiency(clearance, ratio, exponent))


def _second_stage(
    bore: float, stroke: float, rpm: float, c: float, r: float, n: float, p1: float, t: float, p5: float, p6: float
) -> float:
    swept = float(stage.displacement(bore, stroke, 0.0, 2.0, 1.0, rpm * RPM))
    mass = p1 * swept * _taken_in(c, r, n) / (AIR * t)
    return mass * _head(t, p6 / p5, n) / HORSEPOWER


@cache
def _gas(name: str) -> Array:
    rows = [row for row in load_csv("asfound.power", "data/published_load_gases.csv") if row["gas"] == name]
    total = sum(float(row["per_cent"]) for row in rows)
    return real_gas.composition({row["component"]: float(row["per_cent"]) / total for row in rows})


def _real(fluid: str, suction: float, temperature: float, discharge: float) -> Compression:
    return compress(_gas(fluid), temperature, suction, discharge)


def _by_mass(found: Compression) -> float:
    return float(found.work / found.molar_mass) / 1000


def _handbook(fluid: str, p1: float, t1: float, p2: float, z1: float, z2: float, k: float) -> float:
    mass = float(_real(fluid, p1, t1, p2).molar_mass)
    return float(stage.isentropic_work(p2 / p1, t1, k, (z1 + z2) / 2)) / mass / 1000


def _beside(fluid: str, p1: float, t1: float, p2: float) -> float:
    found = _real(fluid, p1, t1, p2)
    z = (found.suction_compressibility + found.discharge_compressibility) / 2
    return float(100 * (stage.isentropic_work(p2 / p1, t1, found.exponent, z) / found.work - 1))


def _brake(force: float, diameter: float, rpm: float) -> float:
    return float(shaft.from_brake(force, diameter, rpm * RPM))


def _indicated(pressure: float, bore: float, length: float, explosions: float) -> float:
    return float(shaft.from_cycles(pressure, math.pi / 4 * bore**2 * length, explosions / 60))


def _normal_gas(flow: float, temperature: float, mercury: float) -> float:
    return flow * _BOOK_NORMAL / temperature * mercury / 760


def _gas_heat(flow: float, temperature: float, mercury: float, heating_value: float) -> float:
    """Return heat in metered gas. [W]"""
    return _normal_gas(flow, temperature, mercury) * heating_value * 1000 / 3600


def _mean_pressure(pressure: float, swept: float, rpm: float) -> float:
    return float(shaft.from_mean_effective_pressure(pressure, swept, rpm * RPM))


WAYS: dict[str, Callable[..., float]] = {
    "polytropic_drive": lambda v, p1, p2, n, eta: _drive(v, p1, p2, n) / eta / HORSEPOWER,
    "polytropic_kj_min": lambda v, p1, p2, n: _drive(v, p1, p2, n) * 60 / 1000,
    "isothermal_efficiency": _isothermal,
    "isothermal_efficiency_two": lambda r, n: _isothermal(r, n, 2),
    "free_air_efficiency": lambda c, r, n, p1, t1, pa, ta: 100 * _taken_in(c, r, n) * p1 / pa * ta / t1,
    "two_stages": lambda *given: _two_stages(*given) / HORSEPOWER,
    "work_by_mass": lambda t1, r1, t2, r2, n: (_head(t1, r1, n) + _head(t2, r2, n)) / 1000,
    "work_three": lambda t, r, n: 3 * _head(t, r ** (1 / 3), n) / 1000,
    "power_by_mass": lambda m, t1, r1, t2, r2, n: m * (_head(t1, r1, n) + _head(t2, r2, n)) / HORSEPOWER,
    "power_by_mass_kw": lambda m, t1, r1, t2, r2, n: m * (_head(t1, r1, n) + _head(t2, r2, n)) / 1000,
    "cylinder_volume": lambda m, r_gas, t, p, turns, c, r, n: (
        1000 * m * r_gas * t / p / turns / _taken_in(c, r, n) * (1 + c)
    ),
    "swept_volume": lambda m, t, p, c, r, n: 60 * m * AIR * t / p / _taken_in(c, r, n),
    "second_stage_by_first_cylinder": _second_stage,
    "temperature": lambda r, t, n: float(stage.isentropic_temperature(r, t, n)),
    "taken_in": lambda bore, stroke, c, r, n: (
        1000 * float(stage.displacement(bore, stroke, 0.0, 1.0, 1.0, 2 * math.pi)) * _taken_in(c, r, n)
    ),
    "volumetric": lambda c, r, n: 100 * _taken_in(c, r, n),
    "real_work": lambda *given: _by_mass(_real(*given)),
    "real_temperature": lambda *given: float(_real(*given).temperature),
    "real_z1": lambda *given: float(_real(*given).suction_compressibility),
    "real_z2": lambda *given: float(_real(*given).discharge_compressibility),
    "real_exponent": lambda *given: float(_real(*given).exponent),
    "handbook_work": _handbook,
    "handbook_temperature": lambda t, r, k: float(stage.isentropic_temperature(r, t, k)),
    "handbook_beside": _beside,
    "active_power": lambda u, i, pf: float(generator.active_power(generator.three_phase_power(u, i), pf)) / 1000,
    "generator_shaft": lambda u, i, pf, eta: (
        float(generator.shaft_power(generator.active_power(generator.three_phase_power(u, i), pf), eta)) / 1000
    ),
    "loss_efficiency": lambda p, rated, constant, load: 100 * float(generator.efficiency(p, p, rated, constant, load)),
    "gas_engine_mechanical": lambda f, d, rpm, p, bore, length, n: (
        100 * _brake(f, d, rpm) / _indicated(p, bore, length, n)
    ),
    "gas_at_normal": _normal_gas,
    "gas_heat": lambda *given: _gas_heat(*given) * 60 / 1000,
    "brake_kj_min": lambda f, d, rpm: _brake(f, d, rpm) * 60 / 1000,
    "brake_share": lambda f, d, rpm, *gas: 100 * _brake(f, d, rpm) / _gas_heat(*gas),
    "indicated_efficiency": lambda p, bore, length, n, *gas: 100 * _indicated(p, bore, length, n) / _gas_heat(*gas),
    "mean_pressure_power": lambda p, v, rpm: _mean_pressure(p, v, rpm) / 1000,
    "fuel_mass_efficiency": lambda p, v, rpm, m, heat: 100 * _mean_pressure(p, v, rpm) / (m * heat),
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    with np.errstate(all="ignore"):
        for row in load_csv("asfound.power", "data/published_load.csv"):
            given = [one if one.isalpha() else float(one) for one in row["inputs"].split("|")]
            yield Check.of_row("power", WAYS[row["of"]](*given), row)
