"""Data of the indicator diagram of what-if: pressure against the volume of the cylinder, in the reader's units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.quantities.display import show
from asfound.quantities.units import unit as unit_of
from asfound.report.content_whatif_pictures import _pressure_unit, other_state, pressures_at
from asfound.report.whatif_pv import Loop
from asfound.report.wording import sentence
from asfound.whatif.geometry import Geometry

if TYPE_CHECKING:
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.wording import System
    from asfound.whatif.ask import Answer
    from asfound.whatif.engine import Build, Outcome, Setting

UP = np.radians(np.concatenate([np.linspace(-145.0, -30.0, 24), np.linspace(-26.0, 0.0, 14)]))
DOWN = np.radians(np.concatenate([np.linspace(1.0, 40.0, 27), np.linspace(44.0, 125.0, 21)]))
"""Crank angles of compression and of burning and expansion: dense where the pressure turns."""
DRAWN = 60
LITRE, CUBIC_INCH = 1e-3, 1.6387064e-5


def pv_picture(
    fit: FittedEngine, answer: Answer | None, state_words: str, system: System, *, logs: bool
) -> dict[str, Any]:
    """Return what `svg.whatif_pv` draws, without its width: the state, the other state, and what is proposed."""
    build, setting = fit.engine.build, fit.engine.settings[0]
    loops = [fit.once(("loops", "now", system), lambda: _loop(build, fit.engine.outcome, setting, state_words, "now",
                                                              system))]  # fmt: skip
    beside = other_state(fit)
    if beside is not None:
        name, outcome = beside
        loops.append(fit.once(("loops", "other", system), lambda: _loop(build, outcome, fit.engine.settings[1], name,
                                                                        "other", system)))  # fmt: skip
    if answer is not None:
        loops.append(_loop(build, answer.outcome, answer.setting, "proposed", "then", system))
    unit = unit_of(_pressure_unit(system)).text
    volume = "cubic inches" if system == "us" else "litres"
    works = "; ".join(f"{one.name} {_mep(outcome, system)}" for one, outcome in zip(
        loops, [fit.engine.outcome, *([beside[1]] if beside else []), *([answer.outcome] if answer else [])],
        strict=True,
    ))  # fmt: skip
    return {
        "loops": loops, "logs": logs, "unit_words": f"pressure in the cylinder, {unit} absolute",
        "volume_words": f"volume of one cylinder, {volume}",
        "label": f"Pressure against volume{', both as logarithms' if logs else ''}. "
        f"{sentence(state_words)}: closed cycle as a band of draws, gas exchange simplified to two straight lines. "
        f"Mean effective pressure at the shaft: {works}.",
    }  # fmt: skip


def _mep(outcome: Outcome, system: System) -> str:
    shown = show(float(np.median(outcome.mean_effective_pressure)), "mean_effective_pressure", system=system)
    return f"{shown.value} {shown.unit.partition(' (')[0]}"


def _loop(build: Build, outcome: Outcome, setting: Setting, name: str, kind: str, system: System) -> Loop:
    """Return one loop in the reader's units."""
    trace = outcome.cycle.trace
    count = trace.pressure.shape[1]
    at = np.linspace(0, count - 1, min(DRAWN, count)).astype(int)
    scale = 1.0 / unit_of(_pressure_unit(system)).factor
    litre = CUBIC_INCH if system == "us" else LITRE
    one = np.ones(1)
    geometry = Geometry(build.bore * one, build.stroke * one, build.rod * one, build.compression_ratio * one)
    sides = []
    for angles in (UP, DOWN):
        values = pressures_at(build, trace, at, angles)
        low, middle, high = np.quantile(scale * values, [0.025, 0.5, 0.975], axis=1)
        volume = geometry.volume(angles) / litre
        at_volume, least, mid, most = (tuple(float(x) for x in line) for line in (volume, low, middle, high))
        sides.append((at_volume, least, mid, most))
    clearance = float(geometry.clearance[0]) / litre
    whole = clearance + float(geometry.displacement[0]) / litre
    exchange = tuple(
        scale * float(np.median(np.asarray(x))) for x in (setting.exhaust_pressure, setting.manifold_pressure)
    )  # fmt: skip
    return Loop(
        name=name, kind=kind, up=sides[0], down=sides[1], ends=(clearance, whole), exhaust=exchange[0],
        intake=exchange[1],
    )  # fmt: skip
