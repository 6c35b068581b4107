"""Worksheets of the compressor: each stage by its gas, its flow or its cylinders."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

import asfound.power.compressor_stage as stage
from asfound.errors import InputError
from asfound.fuel import real_gas
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.power.compressor_gas import compress
from asfound.power.refusals import between
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


SUCTION_Z = _field_gas("stage_suction_compressibility", 0.96, 0.04)
DISCHARGE_Z = _field_gas("stage_discharge_compressibility", 0.96, 0.04)
EXPONENT = _field_gas("stage_isentropic_exponent", 1.25, 0.04)
EFFICIENCY = Take(
    quantity="stage_isentropic_efficiency",
    assume=Assumption(
        value=0.863,
        standard_uncertainty=0.03,
        says="86.3 %: with 95 % mechanical the 82 % over all that the handbook gives for high-speed compressors",
        source="gpsa_13",
    ),
)
LOSS = Take(
    quantity="stage_volumetric_loss",
    assume=Assumption(
        value=0.045,
        standard_uncertainty=0.015 / math.sqrt(3),
        says="3 to 6 % of the displacement, as handbooks have it (from memory)",
        source="gpsa_13",
        distribution="rectangular",
    ),
)
_TEMPERATURE = between(150.0, 450.0, "-120 to 175 °C", "Read the thermometer at the suction flange again.")
_PRESSURE = between(1e3, 5e7, "0.01 to 500 bar absolute", "Read the gauge again; say whether it is gauge or absolute.")
STATE_REFUSED = {"suction_pressure": _PRESSURE, "discharge_pressure": _PRESSURE, "suction_temperature": _TEMPERATURE}
PRESSURE_REFUSED = {"suction_pressure": _PRESSURE, "discharge_pressure": _PRESSURE}
_ENDS = between(1.0, 2.0, "1 or 2", "1 when only the head end pumps, 2 when both do; look at the unloaders.")
_CLEARANCE = between(
    0.0, 4.0, "0 to 400 %", "Take it from the data sheet of the cylinder, with its pockets as they stand."
)
_EFFICIENCY = between(0.3, 1.0, "30 to 100 %", "Leave it out: the handbook's is taken, with its doubt.")


def _compressed(suction: Values, discharge: Values) -> None:
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
    draws=2000,
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
    _compressed(suction, discharge)
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
    _compressed(suction, discharge)
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
    _compressed(suction, discharge)
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


@worksheet(
    title="Gas through the stage, from the station's meter",
    takes=(
        Take(quantity="compressed_gas_flow", place="compressor"),
        "suction_pressure",
        "suction_temperature",
        SUCTION_Z,
    ),
    gives=("stage_gas_flow", "stage_volume_flow"),
    method=Method("the same gas through every stage", "own_calculation"),
    cautions=AT_THE_STAGE,
)
def gas_by_station_meter(
    flow: Values, pressure: Values, temperature: Values, compressibility: Values
) -> tuple[Values, Values]:
    """Return the gas through a stage and the volume it takes at suction. [m³(n)/s], [m³/s]

    Where gas is taken off or falls out as liquid between the stages, the flow of the stage itself is to be entered.
    """
    return np.multiply(flow, 1.0), stage.volume_flow(flow, pressure, temperature, compressibility)


@worksheet(
    title="Displacement of the stage",
    takes=(
        "compressor_bore",
        "compressor_stroke",
        Take(quantity="compressor_rod_diameter", optional=True, default=0.0),
        Take(quantity="compressor_ends", optional=True, default=2.0),
        Take(quantity="compressor_cylinders", optional=True, default=1.0),
        Take(quantity="compressor_speed", place="compressor", optional=True, default=math.nan),
        Take(quantity="engine_speed", place="engine"),
    ),
    gives="stage_displacement",
    method=Method("swept by its pistons in a second", "own_calculation"),
    refuses={"compressor_ends": _ENDS},
)
def displacement_of_the_stage(
    bore: Values, stroke: Values, rod: Values, ends: Values, cylinders: Values, own_speed: Values, speed: Values
) -> Values:
    """Return the volume that the pistons of a stage sweep; the compressor turns with the engine unless said. [m³/s]"""
    turns = np.where(np.isnan(own_speed), speed, own_speed)
    return stage.displacement(bore, stroke, rod, ends, cylinders, turns)


@worksheet(
    title="Volumetric efficiency of the stage",
    takes=("compressor_clearance", "suction_pressure", "discharge_pressure", EXPONENT, SUCTION_Z, DISCHARGE_Z, LOSS),
    gives="stage_volumetric_efficiency",
    method=Method("gas left in the clearance expands again; less leakage and warming", "gpsa_13"),
    cautions=AT_THE_STAGE,
    refuses={"compressor_clearance": _CLEARANCE, **PRESSURE_REFUSED},
)
def volumetric_efficiency_of_the_stage(
    clearance: Values, suction: Values, discharge: Values, exponent: Values, z1: Values, z2: Values, loss: Values
) -> Values:
    """Return the gas taken in, at suction pressure and temperature, over the displacement. [1]"""
    _compressed(suction, discharge)
    ratio = stage.pressure_ratio(suction, discharge)
    taken_in = np.asarray(stage.volumetric_efficiency(clearance, ratio, exponent, z1, z2, loss))
    if not np.isfinite(taken_in.flat[0]):
        raise InputError(
            "compressor_clearance",
            f"{100 * np.asarray(clearance).flat[0]:.4g} %",
            f"fills the whole stroke again at a ratio of {np.asarray(ratio).flat[0]:.3g}: no gas is taken in",
            allowed="a clearance that leaves room for gas",
            try_next="Check the clearance with its pockets as they stand, and both pressures.",
        )
    return taken_in


@worksheet(
    title="Gas through the stage, from its cylinders",
    takes=(
        "stage_displacement",
        "stage_volumetric_efficiency",
        "suction_pressure",
        "suction_temperature",
        SUCTION_Z,
    ),
    gives="stage_cylinder_flow",
    method=Method("displacement times volumetric efficiency", "gpsa_13"),
    cautions=AT_THE_STAGE,
)
def gas_by_cylinders(
    displacement: Values, efficiency: Values, pressure: Values, temperature: Values, compressibility: Values
) -> Values:
    """Return the gas that the cylinders of a stage take in, while valves and rings are sound. [m³(n)/s]"""
    taken_in = np.multiply(displacement, efficiency)
    return stage.normal_flow(taken_in, pressure, temperature, compressibility)


@worksheet(
    title="Power of the stage, from the metered gas",
    takes=("stage_gas_flow", "stage_isentropic_work", EFFICIENCY),
    gives="stage_power",
    method=Method("isentropic work over isentropic efficiency", "gpsa_13"),
    cautions=AT_THE_STAGE,
    refuses={"stage_isentropic_efficiency": _EFFICIENCY},
)
def power_of_the_stage(flow: Values, work: Values, efficiency: Values) -> Values:
    """Return the power of the pistons of a stage on the metered gas. [W]"""
    return stage.power(flow, work, efficiency)


@worksheet(
    title="Power of the stage, from its cylinders",
    takes=("stage_cylinder_flow", "stage_isentropic_work", EFFICIENCY),
    gives="stage_cylinder_power",
    method=Method("isentropic work over isentropic efficiency, gas by displacement", "gpsa_13"),
    cautions=AT_THE_STAGE,
    refuses={"stage_isentropic_efficiency": _EFFICIENCY},
)
def power_of_the_stage_by_cylinders(flow: Values, work: Values, efficiency: Values) -> Values:
    """Return the power of the pistons of a stage on the gas that they displace. [W]"""
    return stage.power(flow, work, efficiency)


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
