"""Balances of a reciprocating gas compressor: displacement, discharge temperature, power, the station's meter."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import partial

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_balance import EngineBalance
from asfound.crosscheck.engine_point import NORMAL, EnginePoint
from asfound.crosscheck.plant import Plant
from asfound.quantities.constants import GAS_CONSTANT

STATES = ("suction_pressure", "suction_temperature", "discharge_pressure")


def balances(plant: Plant) -> Iterable[EngineBalance]:
    """Yield the balances of these stages; in each the same gas flows."""
    for stage, of in plant.stages.items():
        states = tuple(f"{stage}/{one}" for one in STATES)
        hot = f"{stage}/discharge_temperature"
        if of.displacement is not None:
            yield EngineBalance(
                name=f"displacement_{stage}",
                title=f"Gas that {_title(stage)} takes in",
                equation="n_gas = k_disp [L - c (Z_s/Z_d r^(1/k) - 1)] V_disp n p_s / (Z_s R T_s)",
                needs=(*states, hot, "engine_speed"),
                takes=(f"{stage}/displacement_factor", "barometric_pressure"),
                unknowns=("gas",),
                formula=partial(_displacement, stage=stage),
                unit="mol/s",
                source="gpsa_13",
                model="1.5 % with a data sheet, 3 % without: common practice, no source",
            )
        yield EngineBalance(
            name=f"discharge_{stage}",
            title=f"Discharge temperature of {_title(stage)}",
            equation="h(T_d, p_d) - h(T_s, p_s) = (isentropic rise / eta_is) (1 - f_cool)",
            needs=(*states, hot),
            takes=(f"{stage}/isentropic_efficiency", "cooling_share", "barometric_pressure"),
            formula=partial(_discharge, stage=stage),
            unit="J/mol",
            source="aga8_2017",
            clause="GERG-2008 enthalpies",
            model="0.1 %: the equation of state",
        )
    stages = tuple(plant.stages)
    if stages:
        yield EngineBalance(
            name="compressor_power",
            title="Power that the compressor takes",
            equation="P_driven eta_mech = sum over stages of n_gas (isentropic rise) / eta_is",
            needs=tuple(f"{stage}/{one}" for stage in stages for one in STATES),
            takes=(
                "compressor_mechanical_efficiency", "barometric_pressure",
                *(f"{stage}/isentropic_efficiency" for stage in stages),
            ),
            unknowns=("gas", "driven_power"),
            formula=_power,
            unit="W",
            source="aga8_2017",
            clause="first law with GERG-2008 enthalpies",
            model="in the isentropic efficiencies",
        )  # fmt: skip
        yield EngineBalance(
            name="gas_meter",
            title="Gas meter of the station",
            equation="V_gas,n p_n / (R T_n) = n_gas",
            needs=("compressed_gas_flow",),
            unknowns=("gas",),
            formula=lambda at: at["compressed_gas_flow"] * NORMAL - at["gas"],
            unit="mol/s",
            source="own_calculation",
            clause="ideal gas at base",
            model="0.3 %: base conditions counted as ideal",
        )


def _title(stage: str) -> str:
    return stage.replace("_", " ")


def _displacement(at: EnginePoint, stage: str) -> Any_:
    of = at.plant.stages[stage]
    p_s, ratio, z_s, z_d, k = (at.compression(stage, one) for one in ("p_s", "ratio", "z_s", "z_d", "k"))
    taken_in = 1 - of.loss - of.clearance * (z_s / z_d * ratio ** (1 / k) - 1)
    swept = at[f"{stage}/displacement_factor"] * of.displacement * at["engine_speed"] / (2 * math.pi)
    return taken_in * swept * p_s / (z_s * GAS_CONSTANT * at[f"{stage}/suction_temperature"]) - at["gas"]


def _discharge(at: EnginePoint, stage: str) -> Any_:
    warmed = at.compression(stage, "work") / at[f"{stage}/isentropic_efficiency"] * (1 - at["cooling_share"])
    return at.compression(stage, "rise") - warmed


def _power(at: EnginePoint) -> Any_:
    work = sum(at.compression(one, "work") / at[f"{one}/isentropic_efficiency"] for one in at.stages)
    return at["driven_power"] * at["compressor_mechanical_efficiency"] - at["gas"] * work
