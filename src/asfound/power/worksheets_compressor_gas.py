"""Worksheets of the gas in a compressor stage: ideal compression, and how hot the gas leaves beside it."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

import asfound.power.compressor_stage as stage
from asfound.errors import InputError
from asfound.fuel import real_gas
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.power.compressor_gas import compress
from asfound.quantities.refusals import between
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet

AT_THE_STAGE = ("pressure", "hot", "gas", "local")
GAS = tuple(
    Take(quantity=one, place="fuel", optional=one != "fuel_methane", default=None if one == "fuel_methane" else 0.0)
    for one in ANALYSIS
)
PROCESS_GAS = tuple(Take(quantity=one, place="compressor", optional=True, default=0.0) for one in ANALYSIS)
"""Where the gas that is compressed is not the fuel, its own analysis lies at the compressor and is taken."""
STATE = ("suction_pressure", "suction_temperature", "discharge_pressure")
_RATIO_HOLDS = {
    "stage_isentropic_temperature": (250.0, 450.0, "-23 to 177 °C at discharge: beyond it GERG-2008 is stretched")
}


def _field_gas(quantity: str, value: float, half_width: float) -> Take:
    """Return a take of a property of the gas that falls back on field gas, as wide as such gases differ."""
    return Take(
        quantity=quantity,
        assume=Assumption(
            value=value,
            standard_uncertainty=half_width / math.sqrt(3),
            says="field gas at some bar, no analysis at hand",
            source="engineering_judgement",
            distribution="rectangular",
        ),
    )


SUCTION_Z = _field_gas("stage_suction_compressibility", 0.95, 0.06)
DISCHARGE_Z = _field_gas("stage_discharge_compressibility", 0.95, 0.06)
EXPONENT = _field_gas("stage_isentropic_exponent", 1.25, 0.04)
_TEMPERATURE = between(150.0, 450.0, "-120 to 175 °C", "Read the thermometer at the suction flange again.")
_PRESSURE = between(1e3, 5e7, "0.01 to 500 bar absolute", "Read the gauge again; say whether it is gauge or absolute.")
STATE_REFUSED = {"suction_pressure": _PRESSURE, "discharge_pressure": _PRESSURE, "suction_temperature": _TEMPERATURE}
PRESSURE_REFUSED = {"suction_pressure": _PRESSURE, "discharge_pressure": _PRESSURE}


def refuse_uncompressed(suction: Values, discharge: Values) -> None:
    """Refuse a stage whose discharge is not above its suction."""
    p1, p2 = np.asarray(suction), np.asarray(discharge)
    if np.all(p2.flat[0] <= p1.flat[0]):
        raise InputError(
            "discharge_pressure",
            f"{p2.flat[0] / 1e5:.4g} bar absolute",
            f"is not above the {p1.flat[0] / 1e5:.4g} bar absolute of suction: nothing is compressed",
            allowed="above suction pressure",
            try_next="Look whether the bypass is open, the gauges are swapped, or one is typed without its kind.",
        )


@worksheet(
    title="Compression of the gas, by the equation of state",
    takes=(*STATE, *GAS, *PROCESS_GAS),
    gives=(
        "stage_isentropic_work",
        "stage_isentropic_temperature",
        "stage_suction_compressibility",
        "stage_discharge_compressibility",
        "stage_isentropic_exponent",
    ),
    method=Method("enthalpy along the entropy of the real gas, GERG-2008; C6+ as hexane", "aga8_2017", "Part 2"),
    cautions=AT_THE_STAGE,
    valid=_RATIO_HOLDS,
    refuses=STATE_REFUSED,
    draws=500,
    draws_because="an equation of state is solved three times for each draw; its curvature is small",
)
def compression_by_equation_of_state(
    suction: Values, temperature: Values, discharge: Values,
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values,
    hydrogen: Values, carbon_monoxide: Values, hydrogen_sulfide: Values,
    own_methane: Values, own_ethane: Values, own_propane: Values, own_isobutane: Values, own_butane: Values,
    own_isopentane: Values, own_pentane: Values, own_hexanes_plus: Values, own_nitrogen: Values,
    own_carbon_dioxide: Values, own_oxygen: Values, own_hydrogen: Values, own_carbon_monoxide: Values,
    own_hydrogen_sulfide: Values,
) -> tuple[Values, Values, Values, Values, Values]:  # fmt: skip
    """Return what ideal compression takes, where it ends, and the gas at both ends. [J/m³(n)], [K], [1], [1], [1]

    The gas is that of the fuel analysis, as at a field compressor that runs on what it moves, unless another analysis
    lies at the compressor.
    """
    refuse_uncompressed(suction, discharge)
    fuel = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus, nitrogen, carbon_dioxide,
        oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    process = (
        own_methane, own_ethane, own_propane, own_isobutane, own_butane, own_isopentane, own_pentane,
        own_hexanes_plus, own_nitrogen, own_carbon_dioxide, own_oxygen, own_hydrogen, own_carbon_monoxide,
        own_hydrogen_sulfide,
    )  # fmt: skip
    own = np.sum(np.broadcast_arrays(*process), axis=0) > 0.5
    parts = zip(ANALYSIS.values(), fuel, process, strict=True)
    gas = real_gas.composition({name: np.where(own, its_own, burned) for name, burned, its_own in parts})
    total = gas.sum(axis=-1, keepdims=True)
    gas = gas / np.where(total > 0, total, np.nan)
    state = np.stack(np.broadcast_arrays(suction, temperature, discharge)).astype(float)
    answers = _kept(gas.shape, gas.tobytes(), state.shape, state.tobytes())
    if not np.isfinite(answers[0].flat[0]):
        raise InputError(
            "suction_pressure",
            f"{state[0].flat[0] / 1e5:.4g} bar absolute at {state[1].flat[0] - 273.15:.3g} °C",
            "is no state at which this gas is all gas",
            allowed="a gas well above its dew point",
            try_next="Check pressure, temperature and analysis; with liquid in the suction the compressor must stop.",
        )
    return answers


@worksheet(
    title="Compression of the gas, by the handbook's formula",
    takes=(*STATE, SUCTION_Z, DISCHARGE_Z, EXPONENT),
    gives=("stage_isentropic_work", "stage_isentropic_temperature"),
    method=Method("isentropic exponent at the mean temperature, mean compressibility", "gpsa_13"),
    cautions=AT_THE_STAGE,
    valid={"stage_isentropic_exponent": (1.05, 1.45, "1.05 to 1.45")},
    refuses=STATE_REFUSED,
)
def compression_by_exponent(
    suction: Values, temperature: Values, discharge: Values, z1: Values, z2: Values, exponent: Values
) -> tuple[Values, Values]:
    """Return what ideal compression takes and where it ends, by exponent and compressibility. [J/m³(n)], [K]

    Beside equations of state it is low by 0.04 to 0.7 % of the work for methane, ethane and nitrogen up to 100 bar, and
    by up to 6 K.
    """
    refuse_uncompressed(suction, discharge)
    ratio = stage.pressure_ratio(suction, discharge)
    work = stage.isentropic_work(ratio, temperature, exponent, (np.asarray(z1) + z2) / 2)
    return stage.work_of_normal_volume(work), stage.isentropic_temperature(ratio, temperature, exponent)


@worksheet(
    title="Pressure ratio of the stage",
    takes=("suction_pressure", "discharge_pressure"),
    gives="stage_pressure_ratio",
    method=Method("ratio of absolute pressures", "own_calculation"),
    cautions=AT_THE_STAGE,
    refuses=PRESSURE_REFUSED,
)
def pressure_ratio_of_the_stage(suction: Values, discharge: Values) -> Values:
    """Return discharge over suction pressure, both absolute. [1]"""
    refuse_uncompressed(suction, discharge)
    return stage.pressure_ratio(suction, discharge)


@worksheet(
    title="Discharge temperature over isentropic",
    takes=("discharge_temperature", "stage_isentropic_temperature"),
    gives="stage_temperature_excess",
    method=Method("as read, less where ideal compression ends", "own_calculation"),
    cautions=AT_THE_STAGE,
)
def temperature_excess(measured: Values, isentropic: Values) -> Values:
    """Return how much hotter the gas leaves than ideal compression makes it: what valves and rings cost. [K]"""
    return np.subtract(measured, isentropic)


# A visit is worked out anew at each reading, its stages mostly the same: what was solved once is kept for a few.
@lru_cache(maxsize=8)
def _kept(
    shape: tuple[int, ...], gas: bytes, states: tuple[int, ...], state: bytes
) -> tuple[Array, Array, Array, Array, Array]:
    x = np.frombuffer(gas).reshape(shape)
    suction, temperature, discharge = np.frombuffer(state).reshape(states)
    found = compress(x, temperature, suction, discharge)
    answers = (
        stage.work_of_normal_volume(found.work),
        found.temperature,
        found.suction_compressibility,
        found.discharge_compressibility,
        found.exponent,
    )
    work, last, z1, z2, exponent = (np.array(one, dtype=float) for one in answers)
    for one in (work, last, z1, z2, exponent):
        one.flags.writeable = False
    return work, last, z1, z2, exponent
