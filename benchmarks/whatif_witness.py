"""The cycle model as one more witness of the cross-check: simulated visits without a lie and with one.

Engines are drawn from the stated beliefs; each is read at an earlier visit, to which the model is fitted, and at
later ones at other settings. The truth of each visit satisfies all balances, with assumptions drawn from their doubts,
and what the engine does is worked out by the model itself (not by its linearisation), moved by a model error of its
own and by what has changed since. Readings get the noise of their instruments, and none or one lie that the balances
hardly see. Target: false alarms no more than the 1 in 100 that is stated (within what so few visits can tell); each
lie noticed more often than without the model. Then what it costs in time.

python -m benchmarks whatif_witness
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from time import process_time

import numpy as np

from asfound.crosscheck.assemble import Assembled, assemble
from asfound.crosscheck.cross_check import UnsolvedError, cross_check
from asfound.crosscheck.model_witness import TIMING_DOUBT, WIDE_FILLING
from asfound.crosscheck.of_case import _gather, readings_at
from asfound.crosscheck.plant import Plant
from asfound.crosscheck.plant_of_case import known_of, plant_of
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.records.model_witness import _handed
from asfound.whatif.calibrate import calibrate
from asfound.whatif.engine import QUICK, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.priors import priors
from asfound.whatif.seen import OUTPUTS, Knob, Reading, Visit
from asfound.whatif.witness import NUMBERS, SINCE, Spoken, Taught, spoken

ENGINES, VISITS, LYING, SEED = 16, 16, 3, 20330214
"""Engines; visits of each without a lie; visits of each and lie."""
LIES: dict[str, tuple[str, Callable[[float], float]]] = {
    "timing 8 deg early": ("ignition_timing", lambda x: x + math.radians(8.0)),
    "manifold pressure 12 % low": ("manifold_pressure", lambda x: x - 0.12 * (x + 85e3)),
    "manifold temperature 30 K low": ("manifold_temperature", lambda x: x - 30.0),
    "engine power 8 % high": ("engine_power", lambda x: 1.08 * x),
    "NOx at half": ("exhaust_nox_dry", lambda x: 0.5 * x),
    "all ports 60 K low": ("cylinder_exhaust_mean", lambda x: x - 60.0),
}
WITHOUT = ("turbine_inlet_temperature", "turbine_outlet_temperature")
"""Not read here: an engine with port thermocouples alone, and no way to the heat of its exhaust by the balances."""
GAS = {"methane": 0.912, "ethane": 0.046, "propane": 0.0155, "n-butane": 0.0053, "nitrogen": 0.0105,
       "carbon dioxide": 0.009}  # fmt: skip
BUILD = Build(cylinders=9, bore=0.233, stroke=0.283, rod=0.566, compression_ratio=11.2)
EARLIER = Setting(
    speed=94.2, manifold_pressure=2.8e5, charge_temperature=327.0, excess_air_ratio=1.68, timing=-0.33,
    exhaust_pressure=2.45e5, humidity=0.012,
)  # fmt: skip
DOUBTS: dict[Knob, float] = {
    "manifold_pressure": 3.5e3, "charge_temperature": 0.35, "excess_air_ratio": 0.015, "timing": TIMING_DOUBT,
    "exhaust_pressure": 2.9e4,
}  # fmt: skip


@dataclass(frozen=True)
class Base:
    """The readings of the demo visit as the balances take them."""

    plant: Plant
    names: tuple[str, ...]
    values: np.ndarray
    joint: np.ndarray
    known: dict[str, tuple[float, float]]


def base() -> Base:
    """Return the demo visit to A2 with a timing, without the temperatures about the turbine."""
    sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
    from crosscheck.a2 import visit  # type: ignore[import-not-found]

    case = visit({"engine/ignition_timing": "19 deg"}, without=tuple(f"engine/{one}" for one in WITHOUT), left=False)
    there = readings_at(case.worked.readings, "as_found")
    plant = plant_of(case.worked, "as_found", there, case.engine)
    said = spoken(BUILD, Visit(setting=EARLIER, u=dict(DOUBTS), readings=(), fuel=GAS))
    assert said is not None
    gathered = _gather(case.worked, "as_found", there, _handed(said, without=""))
    values, joint = gathered.values()
    known = known_of(case.worked, "as_found", there, unanalysed=False)
    return Base(plant.with_gauge(gathered.gauge), tuple(gathered.names), values, joint, known)


def engine_of(z: np.ndarray) -> Unknowns:
    """Return the engine of standard normal numbers."""
    return Unknowns(**{name: float(one.value(z[at])) for at, (name, one) in enumerate(priors().items())})


def taught(z: np.ndarray, chance: np.random.Generator) -> Taught:
    """Return the engine as an earlier visit teaches it: readings with noise and the model's own error."""
    shown = run(BUILD, EARLIER, engine_of(z), GAS, steps=QUICK)
    readings = []
    for name, u in (("power", 0.015), ("fuel_flow", 0.012), ("exhaust_temperature", 3.0), ("nox_dry", 0.03)):
        about = OUTPUTS[name]
        value, off = float(about.of(shown)[0]), chance.standard_normal() * math.hypot(u, about.model)
        read = value * math.exp(off) if about.log else value + off
        readings.append(Reading(output=name, value=read, u=u * read if about.log else u))
    visit = Visit(setting=EARLIER, u=dict(DOUBTS), readings=tuple(readings), fuel=GAS)
    return Taught(calibrate(BUILD, [visit]))


def setting_of(at: dict[str, float], ratio: float) -> Setting:
    """Return a setting by the names of the cross-check."""
    pressure = at["manifold_pressure"] + at["barometric_pressure"]
    return replace(
        EARLIER, speed=at["engine_speed"], manifold_pressure=pressure, charge_temperature=at["manifold_temperature"],
        excess_air_ratio=ratio, timing=-at["ignition_timing"], exhaust_pressure=0.9 * pressure,
    )  # fmt: skip


def visit_of(given: Base, z: np.ndarray, known: Taught, chance: np.random.Generator) -> np.ndarray:
    """Return the true values of a visit of an engine, in the order of the names."""
    at = dict(zip(given.names, given.values, strict=True))
    at["manifold_pressure"] += chance.normal(0, 15e3)
    at["manifold_temperature"] += chance.normal(0, 4.0)
    at["ignition_timing"] += chance.normal(0, math.radians(1.5))
    at["exhaust_oxygen_dry"] += chance.normal(0, 0.003)
    values = np.array([at[name] for name in given.names])
    plain = assemble(given.plant, given.names, values, given.joint, known=given.known)
    off = chance.standard_normal(len(plain.readings.names)) * plain.readings.u
    doubted = dict(zip(plain.readings.names, off, strict=True))
    ratio = solved(plain, drawn(plain, doubted), KEPT)["excess_air_ratio"]
    setting = setting_of(at, ratio)
    said = spoken(BUILD, Visit(setting=setting, u=dict(DOUBTS), readings=(), fuel=GAS), known)
    assert said is not None
    here = z + SINCE * chance.standard_normal(z.size)
    shown = run(BUILD, setting, engine_of(here), GAS, reference=EARLIER, steps=QUICK)
    for name, error in errors_of(said, setting, shown, chance).items():
        doubted[f"model_{name}"] = error
    plant = replace(given.plant, witness=_handed(said, without=""))
    whole = assemble(
        plant, given.names, values, given.joint, known={**given.known, "volumetric_efficiency": WIDE_FILLING}
    )
    doubted["volumetric_efficiency"] = 0.0
    found = solved(whole, drawn(whole, doubted), KEPT, loose=("volumetric_efficiency",))
    return np.array([found.get(name, at[name]) for name in given.names])


KEPT = frozenset({
    "manifold_pressure", "manifold_temperature", "ignition_timing", "engine_speed", "barometric_pressure",
    "exhaust_oxygen_dry", "exhaust_co_dry", "site_pressure_by_height", "ambient_temperature", "relative_humidity",
})  # fmt: skip
"""What is set; all else follows by the balances."""


def drawn(assembled: Assembled, off: dict[str, float]) -> np.ndarray:
    """Return start values with the assumptions moved to what they truly are."""
    values = assembled.readings.values.copy()
    for row, name in enumerate(assembled.readings.names):
        if name in assembled.assumed:
            values[row] += off.get(name, 0.0)
    return values


def errors_of(said: Spoken, setting: Setting, shown: Outcome, chance: np.random.Generator) -> dict[str, float]:
    """Return by how much the witness is off: the engine at its setting, with an error of the model's own."""
    found = {}
    for one in NUMBERS:
        if one.name not in said.names:
            continue
        row = said.names.index(one.name)
        true = float(one.of(shown, setting, BUILD)[0])
        true = (math.log(true) if one.log else true) + chance.normal(0, one.model)
        moved = [
            (math.log(value) if log else value) - there
            for knob, log, there in zip(said.knobs, said.knob_log, said.at, strict=True)
            for value in (float(np.asarray(getattr(setting, knob))),)
        ]
        found[one.name] = true - float(said.values[row] + said.by_knob[row] @ np.array(moved))
    return found


def solved(
    assembled: Assembled, values: np.ndarray, kept: frozenset[str], loose: tuple[str, ...] = ()
) -> dict[str, float]:
    """Return values at which all balances hold; assumptions and what is kept stay as they are."""
    names = assembled.readings.names
    stiff = [(one in kept or one in assembled.assumed) and one not in loose for one in names]
    u = np.where(stiff, 1e-4, 1.0) * assembled.readings.u
    found = reconcile(assembled.balances, Readings.independent(names, values, u), start=assembled.start)
    both = zip((*names, *assembled.balances.unmeasured), (*found.x, *found.unmeasured), strict=True)
    return dict(both)


def judged(given: Base, values: np.ndarray, known: Taught | None, *, with_it: bool) -> bool | None:
    """Return whether an alarm is raised; None where the balances cannot be solved."""
    plant, more = given.plant, dict(given.known)
    if with_it:
        at = dict(zip(given.names, values, strict=True))
        ratio = 1 + 0.9 * at["exhaust_oxygen_dry"] / (0.2094 - at["exhaust_oxygen_dry"])
        said = spoken(BUILD, Visit(setting=setting_of(at, ratio), u=dict(DOUBTS), readings=(), fuel=GAS), known)
        if said is not None:
            plant = replace(plant, witness=_handed(said, without=""))
            more["volumetric_efficiency"] = WIDE_FILLING
    try:
        found = cross_check(plant, given.names, values, given.joint, known=more)
    except UnsolvedError:
        return None
    return found is not None and found.verdict != "nobody"


def main(engines: int = ENGINES, visits: int = VISITS, lying: int = LYING) -> int:
    """Print the table; 1 when a target is missed."""
    chance = np.random.default_rng(SEED)
    given = base()
    noise = np.linalg.cholesky(given.joint + 1e-18 * np.diag(np.diag(given.joint)))
    alarms: Counter[tuple[str, str]] = Counter()
    asked: Counter[str] = Counter()
    for _ in range(engines):
        z = np.clip(chance.standard_normal(len(priors())), -2.5, 2.5)
        known = taught(z, chance)
        for lie, number in (("", visits), *((one, lying) for one in LIES)):
            for _ in range(number):
                values = visit_of(given, z, known, chance) + noise @ chance.standard_normal(len(given.names))
                if lie:
                    name, change = LIES[lie]
                    row = given.names.index(name)
                    values[row] = change(values[row])
                asked[lie] += 1
                for way, taught_by, with_it in (
                    ("without", None, False),
                    ("usual", None, True),
                    ("taught", known, True),
                ):
                    alarms[lie, way] += bool(judged(given, values, taught_by, with_it=with_it))
    missed = 0
    print("| of 100 visits an alarm in | balances alone | with the model, as usual | after an earlier visit |")
    print("| --- | ---: | ---: | ---: |")
    for lie in ("", *LIES):
        shares = [100.0 * alarms[lie, way] / asked[lie] for way in ("without", "usual", "taught")]
        print(f"| {lie or 'no lie'} ({asked[lie]}) | " + " | ".join(f"{one:.1f}" for one in shares) + " |")
        if lie:
            missed += shares[2] <= shares[0] < 100.0
        else:
            most = 100.0 * (0.01 + 2.6 * math.sqrt(0.01 * 0.99 / asked[lie]))
            missed += max(shares) > most
            print(f"| stated 1, chance alone gives up to {most:.1f} | | | |")
    _cost(given)
    return int(missed > 0)


def _cost(given: Base) -> None:
    """Print what the model costs beside the cross-check."""
    took: dict[str, list[float]] = {"a setting worked out": [], "the same setting again": [], "cross-check with it": [],
                                    "cross-check without": []}  # fmt: skip
    for turn in range(9):
        setting = replace(EARLIER, excess_air_ratio=1.3 + 0.06 * turn)
        visit = Visit(setting=setting, u=dict(DOUBTS), readings=(), fuel=GAS)
        for name in ("a setting worked out", "the same setting again"):
            began = process_time()
            spoken(BUILD, visit)
            took[name].append(process_time() - began)
        for name, with_it in (("cross-check with it", True), ("cross-check without", False)):
            judged(given, given.values, None, with_it=with_it)
            began = process_time()
            judged(given, given.values, None, with_it=with_it)
            took[name].append(process_time() - began)
    print("\n| what | ms |\n| --- | ---: |")
    for name, times in took.items():
        print(f"| {name} | {1e3 * median(times):.1f} |")


if __name__ == "__main__":
    raise SystemExit(main())
