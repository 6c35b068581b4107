"""A year of hourly logs of a generator and of a compressor stage, in one call each, against plain Python.

The formulas of the load (three-phase power, efficiency of the generator from its losses, shaft power; of a stage its
pressure ratio, isentropic work and temperature, displacement, volumetric efficiency, gas, power) on 8,760 hours, some
of them at standstill: all at once by the room's functions; in a loop over the hours that calls the same functions; and
by the same formulas written in plain Python with `math` (`power_load_plain`), compared to 1e-12 before the race. Then
compression of the real gas along its entropy (GERG-2008), all hours in one call and one hour at a time. Sides take
turns; processor time, median. Targets: 90 times a loop over the same functions, 30 times plain Python, which a formula
of some multiplications and one logarithm costs no more than a microsecond.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from statistics import median
from time import process_time

import numpy as np

import asfound.power.compressor_stage as stage
import asfound.power.generator as generator
from asfound.fuel import real_gas
from asfound.power.compressor_gas import compress
from benchmarks import power_load_plain as plain

HOURS, ALONE, TURNS, TARGET, PLAIN_TARGET = 8_760, 60, 7, 90.0, 30.0
GAS = {"methane": 0.912, "ethane": 0.046, "propane": 0.0155, "n_butane": 0.0053, "n_pentane": 0.0012,
       "nitrogen": 0.011, "carbon_dioxide": 0.009}  # fmt: skip
BORE, STROKE, ROD, CLEARANCE, LOSS, ETA = 0.45, 0.14, 0.06, 0.25, 0.045, 0.863


def logs() -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Return a year: volts, amps, power factor; suction and discharge pressure, temperature, exponent, Z, Z, speed."""
    draw = np.random.default_rng(1)
    runs = draw.random(HOURS) > 0.05
    electric = [480 * runs, draw.uniform(500, 1500, HOURS) * runs, draw.uniform(0.75, 0.98, HOURS)]
    suction = draw.uniform(3e5, 5e5, HOURS)
    gas = [suction, suction * np.where(runs, draw.uniform(2.5, 3.8, HOURS), 1.0), draw.uniform(285, 320, HOURS),
           draw.uniform(1.25, 1.29, HOURS), draw.uniform(0.97, 0.99, HOURS), draw.uniform(0.97, 0.99, HOURS),
           draw.uniform(88, 95, HOURS) * runs]  # fmt: skip
    return electric, gas


def electric_at_once(volts: np.ndarray, amps: np.ndarray, factor: np.ndarray) -> np.ndarray:
    """Return the power at the shaft of each hour by the room's functions."""
    apparent = generator.three_phase_power(volts, amps)
    active = generator.active_power(apparent, factor)
    efficiency = generator.efficiency(active, apparent, 1.25e6, 15e3, 28e3)
    return np.asarray(generator.shaft_power(active, efficiency, 20e3))


def electric_hour(volts: float, amps: float, factor: float) -> float:
    """Return the same of one hour in plain Python, formula by formula."""
    apparent = plain.three_phase_power(volts, amps)
    active = plain.active_power(apparent, factor)
    return plain.shaft_power(active, plain.efficiency(active, apparent, 1.25e6, 15e3, 28e3), 20e3)


def stage_at_once(p1, p2, t, k, z1, z2, speed):  # type: ignore[no-untyped-def]
    """Return power and discharge temperature of each hour by the room's functions."""
    ratio = stage.pressure_ratio(p1, p2)
    work = stage.work_of_normal_volume(stage.isentropic_work(ratio, t, k, (z1 + z2) / 2))
    swept = stage.displacement(BORE, STROKE, ROD, 2.0, 2.0, speed)
    taken_in = stage.volumetric_efficiency(CLEARANCE, ratio, k, z1, z2, LOSS)
    flow = stage.normal_flow(swept * taken_in, p1, t, z1)
    return np.stack((stage.power(flow, work, ETA), stage.isentropic_temperature(ratio, t, k)))


def stage_hour(p1: float, p2: float, t: float, k: float, z1: float, z2: float, speed: float) -> tuple[float, float]:
    """Return the same of one hour in plain Python, formula by formula."""
    ratio = plain.pressure_ratio(p1, p2)
    work = plain.isentropic_work(ratio, t, k, (z1 + z2) / 2) / stage.NORMAL_MOLAR_VOLUME
    swept = plain.displacement(BORE, STROKE, ROD, 2.0, 2.0, speed)
    taken_in = plain.volumetric_efficiency(CLEARANCE, ratio, k, z1, z2, LOSS)
    flow = plain.normal_flow(swept * taken_in, p1, t, z1)
    return plain.power(flow, work, ETA), plain.isentropic_temperature(ratio, t, k)


def race(sides: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Return seconds of each side, median over turns."""
    times: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(TURNS):
        for name, run in sides.items():
            start = process_time()
            run()
            times[name].append(process_time() - start)
    return {name: median(one) for name, one in times.items()}


def main() -> int:
    """Run the race, print the table, return 1 when a target is missed."""
    electric, gas = logs()
    electric_rows = [tuple(row) for row in np.stack(electric, axis=1).tolist()]
    gas_rows = [tuple(row) for row in np.stack(gas, axis=1).tolist()]
    np.testing.assert_allclose(electric_at_once(*electric), [electric_hour(*row) for row in electric_rows], rtol=1e-12)
    np.testing.assert_allclose(stage_at_once(*gas).T, [stage_hour(*row) for row in gas_rows], rtol=1e-12)
    mixture = real_gas.composition(GAS)
    p1, p2, t = gas[:3]
    many = 200
    times = race({
        "generator, all at once": lambda: [electric_at_once(*electric) for _ in range(many)],
        "generator, the same functions hour by hour": lambda: [electric_at_once(*row) for row in electric_rows[:ALONE]],
        "generator, plain Python": lambda: [electric_hour(*row) for row in electric_rows],
        "stage, all at once": lambda: [stage_at_once(*gas) for _ in range(many)],
        "stage, the same functions hour by hour": lambda: [stage_at_once(*row) for row in gas_rows[:ALONE]],
        "stage, plain Python": lambda: [stage_hour(*row) for row in gas_rows],
        "real gas, all at once": lambda: compress(mixture, t, p1, p2),
        "real gas, the same functions hour by hour": lambda: [
            compress(mixture, t[at], p1[at], p2[at]) for at in range(ALONE)
        ],
    })  # fmt: skip
    counts = {"all at once": many, "plain Python": 1, "the same functions hour by hour": ALONE / HOURS}
    targets = {"plain Python": PLAIN_TARGET, "the same functions hour by hour": TARGET}
    missed = 0
    print("| what | microseconds an hour of log | times all at once |\n|---|---:|---:|")
    for name, seconds in times.items():
        way = name.split(", ")[1]
        repeats = 1 if name.startswith("real gas, all") else counts[way]
        each = seconds / repeats / HOURS * 1e6
        if way == "all at once":
            base = each
        ratio = each / base
        print(f"| {name} | {each:.3f} | {ratio:.0f} |")
        missed += ratio < targets.get(way, 0.0)
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
