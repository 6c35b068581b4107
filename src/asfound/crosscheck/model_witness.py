"""The model of the cycle as one more witness: balances 'read = model, give or take its doubt'.

It comes from outside as plain numbers: what the model makes of a setting, how that bends with the setting, and by how
much it may be off, with the covariance of that. What it may be off by stands in the balances as assumptions whose
doubts belong together. The model was fitted to no reading of this state, so each reading speaks once: what the balances
learn of the engine from one reading bears on the others, and on itself not at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import MIXTURE, EngineBalance
from asfound.crosscheck.engine_point import EnginePoint
from asfound.crosscheck.engine_values import EngineValue
from asfound.crosscheck.witness import ModelWitness
from asfound.quantities.typing import Array

SETTING = ("engine_speed", "manifold_pressure", "manifold_temperature", "ignition_timing")
TIMING_DOUBT = math.radians(0.5)
"""Of a commanded timing at least: pickup, pointer, calibration (engineering judgement). [rad]"""
WIDE_FILLING = (0.90, 0.2)
"""Volumetric efficiency where the model speaks of it: what is usual is said once, by the model. [1]"""
UNKNOWN = "excess_air_ratio"
SOURCE, CLAUSE = "cycle_model", "cycle model"


def said_of(witness: ModelWitness, name: str, at: EnginePoint) -> Any_:
    """Return a number of the model at a point, with what the model is off by in it; SI, no logarithm."""
    row = witness.names.index(name)
    found = witness.values[row] + at[f"model_{name}"]
    for column, (knob, log) in enumerate(zip(witness.knobs, witness.knob_log, strict=True)):
        value = _knob(knob, at)
        found = found + witness.by_knob[row, column] * ((np.log(value) if log else value) - witness.at[column])
    return np.exp(found) if witness.log[row] else found


def _knob(name: str, at: EnginePoint) -> Any_:
    """Return a part of the setting as the balances know it."""
    if name == "manifold_pressure":
        return at.pressure(name)
    if name == "timing":
        return -at["ignition_timing"]
    return at[{"speed": "engine_speed", "charge_temperature": "manifold_temperature"}.get(name, name)]


def values_of(witness: ModelWitness | None) -> dict[str, EngineValue]:
    """Return the values that stand in balances of the model alone, by name; none without a model."""
    if witness is None:
        return {}
    u = np.sqrt(np.diag(witness.covariance))
    found = {
        "ignition_timing": _value(
            "ignition_timing", "Ignition timing", "rad", quantity="ignition_timing", places=("engine",), low=-0.2,
            high=0.9,
        ),
        "peak_pressure": _value(
            "peak_pressure", "Mean peak pressure of the cylinders", "Pa", quantity="peak_firing_pressure", low=1e6,
            high=3.5e7,
        ),
    }  # fmt: skip
    for row, name in enumerate(witness.names):
        found[f"model_{name}"] = _value(
            f"model_{name}", f"Cycle model's own error in {WORDS[name]}", "K" if name == "exhaust_temperature" else "1",
            value=0.0, u=float(u[row]),
        )  # fmt: skip
    return found


WORDS = {
    "filling": "the charge drawn in", "efficiency": "efficiency", "exhaust_temperature": "exhaust temperature",
    "nox_dry": "NOx", "peak_pressure": "peak pressure",
}  # fmt: skip
"""What the numbers of the model are called in a sentence."""
READ = {"exhaust_temperature": "cylinder_exhaust_mean", "nox_dry": "exhaust_nox_dry", "peak_pressure": "peak_pressure"}
"""Numbers of the model to the value that somebody reads."""


def _value(
    name: str, title: str, unit: str, *, quantity: str = "", places: tuple[str, ...] = (), value: float | None = None,
    u: float | None = None, low: float | None = None, high: float | None = None,
) -> EngineValue:  # fmt: skip
    return EngineValue(
        name=name, symbol=name, title=title, quantity=quantity, places=places, unit=unit,
        role="reading" if value is None else "assumption", value=value, u=u, low=low, high=high,
        prior=0.02 if value is None else 0.005, source="" if value is None else SOURCE,
    )  # fmt: skip


def covariance_among(witness: ModelWitness | None, order: tuple[str, ...], joint: Array) -> Array:
    """Return a covariance of values in an order with that of the model's errors put in."""
    if witness is not None:
        where = {f"model_{name}": row for row, name in enumerate(witness.names)}
        at = [place for place, name in enumerate(order) if name in where]
        rows = [where[order[place]] for place in at]
        joint[np.ix_(at, at)] = witness.covariance[np.ix_(rows, rows)]
    return joint


def balances_of(witness: ModelWitness | None, gauge: frozenset[str]) -> tuple[EngineBalance, ...]:
    """Return the balances of the model; none without one.

    Parameters
    ----------
    witness : ModelWitness or None
    gauge : frozenset of str
        Values that are gauge pressures: the barometer stands in their balances too.
    """
    return () if witness is None else tuple(_balance(witness, name, gauge) for name in witness.names)


def _balance(witness: ModelWitness, name: str, gauge: frozenset[str]) -> EngineBalance:
    needs, takes, unknowns, unit, formula = _parts(witness, name)
    if gauge & {"manifold_pressure", *needs}:
        takes = (*takes, "barometric_pressure")
    return EngineBalance(
        name=f"model_{name}",
        title=f"Cycle model: {WORDS[name]}",
        equation=f"{_SYMBOL[name]} = model(n, p_im, T_im, lambda, alpha_z)",
        needs=(*SETTING, *needs),
        takes=(*takes, f"model_{name}"),
        unknowns=(*unknowns, UNKNOWN),
        formula=formula,
        unit=unit,
        source=SOURCE,
        clause=CLAUSE,
        model="fitted to an earlier visit of this engine" if witness.learned
        else "fitted to nothing: what is usual of such engines, with its doubt",
        possible=lambda plant: plant.fuel is not None
        and (name != "filling" or (plant.swept_volume is not None and not plant.port_admission)),
    )  # fmt: skip


_SYMBOL = {
    "filling": "eta_v", "efficiency": "P / (n_fuel LHV)", "exhaust_temperature": "T_cyl", "nox_dry": "NOx_dry",
    "peak_pressure": "p_max",
}  # fmt: skip


def _parts(
    witness: ModelWitness, name: str
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...], str, Callable[[EnginePoint], Any_]]:
    """Return what a balance needs, takes besides, its unknowns, unit and formula."""
    if name == "filling":
        return (), ("volumetric_efficiency",), (), "1", (
            lambda at: at["volumetric_efficiency"] - said_of(witness, name, at)
        )  # fmt: skip
    if name == "efficiency":
        return (), MIXTURE[:2], ("fuel", "brake_power"), "W", (
            lambda at: at["brake_power"] - at.fuel_power * said_of(witness, name, at)
        )  # fmt: skip
    read = READ[name]
    unit = {"exhaust_temperature": "K", "nox_dry": "mol/mol"}.get(name, "Pa")

    def differ(at: EnginePoint) -> Any_:
        return (at.pressure(read) if name == "peak_pressure" else at[read]) - said_of(witness, name, at)

    return (read,), (), (), unit, differ
