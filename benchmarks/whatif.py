"""The cycle: a thousand in one call against a general chemistry library step by step, at equal physics, in one run.

python -m benchmarks whatif
"""

from __future__ import annotations

import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from asfound.whatif.ask import ask
from asfound.whatif.calibrate import calibrate
from asfound.whatif.charge import charge
from asfound.whatif.cycle import Burn, Heat, closed_cycle
from asfound.whatif.engine import QUICK, Build, Setting, Unknowns, run
from asfound.whatif.geometry import Geometry
from asfound.whatif.nitric_oxide import MOLAR_MASS, along
from asfound.whatif.seen import OUTPUTS, Reading, Visit
from asfound.whatif.uses import Limits, map_of

CASES, TIMES = 1000, 300.0
"""Cycles of one call; how many times faster than the library each must be."""
ANSWER = 0.100
"""For a slider: 200 draws. [s]"""


def least(ask_it: Callable[[], object], runs: int = 5) -> float:
    """Return the least processor time of some runs after one that warms up. [s]"""
    ask_it()
    took = []
    for _ in range(runs):
        began = time.process_time()
        ask_it()
        took.append(time.process_time() - began)
    return min(took)


def thousand(cases: int = CASES) -> dict[str, float]:
    """Work out the engine of the shared baseline many times and return what the first came to."""
    one = np.ones(cases)
    speed = 1000 * np.pi / 30 * one
    geometry = Geometry(0.20 * one, 0.22 * one, 0.44 * one, 12.0 * one)
    found = closed_cycle(
        geometry, charge({"methane": 1.0}, 1.75 * one), pressure=2.6e5 * one, temperature=330.0 * one, speed=speed,
        burn=Burn(np.radians(-12.0) * one, np.radians(45.0) * one, 5.0 * one, 2.0 * one, one),
        heat=Heat(0.0 * one, 430.0 * one), closes=-np.pi * one, opens=np.pi * one,
    )  # fmt: skip
    trace = found.trace
    made, _ = along(np.diff(trace.angle, axis=0) / speed, trace.burned_temperature, trace.burned_volume, trace.parts)
    return {
        "imep": float(found.work[0] / geometry.displacement[0]), "pmax": float(trace.pressure[:, 0].max()),
        "tmax": float(np.nanmax(trace.burned_temperature[:, 0])), "no": float(made[-1, 0] * found.mass[0]) * MOLAR_MASS,
    }  # fmt: skip


def library() -> tuple[float, dict[str, float]] | None:
    """Return the time of a cycle of the library in steps of one degree, and what it came to in steps of a quarter."""
    if importlib.util.find_spec("cantera") is None:
        return None
    sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "whatif"))
    import cantera_cycle

    gas = cantera_cycle.nasa()
    took = least(lambda: cantera_cycle.cycle(gas, {"methane": 1.0}, 1.75, step=1.0), 2)
    return took, cantera_cycle.cycle(gas, {"methane": 1.0}, 1.75, step=0.25)


def main() -> int:
    """Print the table; 1 when a target is missed."""
    missed = 0
    each = least(thousand) / CASES
    print(f"| {CASES:,} two-zone cycles with NO in one call | {1e3 * each:.3f} ms a cycle |\n| --- | ---: |")
    beside = library()
    if beside is None:
        print("| the chemistry library is not installed | no ratio |")
    else:
        took, wanted = beside
        missed += took / each < TIMES
        print(f"| the library, steps of 1 degree | {1e3 * took:.0f} ms a cycle |")
        print(f"| ratio, at least {TIMES:.0f} | {took / each:.0f} |")
        found = thousand(1)
        for name, most in (("imep", 0.005), ("pmax", 0.01), ("no", 0.05)):
            away = found[name] / wanted[name] - 1.0
            missed += abs(away) > most
            print(f"| {name} against it (steps of 0.25 degrees), at most {100 * most:g} % | {100 * away:+.2f} % |")
        away = found["tmax"] - wanted["tmax"]
        missed += abs(away) > 10.0
        print(f"| burned temperature against it, at most 10 K | {away:+.2f} K |")
    missed += _questions()
    return int(missed > 0)


def _questions() -> int:
    """Print what a fit, an answer and a map cost."""
    build = Build(cylinders=9, bore=0.233, stroke=0.283, rod=0.566, compression_ratio=11.5)
    setting = Setting(
        speed=900 * np.pi / 30, manifold_pressure=2.75e5, charge_temperature=328.0, excess_air_ratio=1.67,
        timing=np.radians(-20.0), exhaust_pressure=2.2e5,
    )  # fmt: skip
    gas = {"methane": 0.93, "ethane": 0.05, "propane": 0.02}
    shown = run(build, setting, Unknowns(), gas, steps=QUICK)
    readings = tuple(
        Reading(output=name, value=float(OUTPUTS[name].of(shown)[0]), u=0.01 * float(OUTPUTS[name].of(shown)[0]))
        for name in ("power", "fuel_flow", "exhaust_temperature", "nox_dry")
    )
    visit = Visit(setting=setting, u={"excess_air_ratio": 0.02, "manifold_pressure": 2e3}, readings=readings, fuel=gas)
    engine = calibrate(build, [visit])
    rows = (
        ("an engine fitted to a visit", lambda: calibrate(build, [visit]), None),
        ("an answer, 200 draws", lambda: ask(engine, {"timing": np.radians(-2.0)}), ANSWER),
        ("an answer at 80 % power, 200 draws", lambda: ask(engine, {}, power_share=0.8), None),
        ("a map of 49 settings, 12 draws", lambda: map_of(engine, Limits()), None),
    )
    missed = 0
    for name, do, most in rows:
        took = least(do, 3)
        missed += most is not None and took > most
        print(f"| {name}{f', at most {1e3 * most:.0f} ms' if most else ''} | {1e3 * took:.0f} ms |")
    return missed


if __name__ == "__main__":
    raise SystemExit(main())
