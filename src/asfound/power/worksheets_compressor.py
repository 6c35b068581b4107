"""Worksheets of a compressor stage: what goes through it, by meter or by its cylinders, and what that takes."""

from __future__ import annotations

import math

import numpy as np

import asfound.power.compressor_stage as stage
from asfound.errors import InputError
from asfound.power.worksheets_compressor_gas import (
    AT_THE_STAGE,
    DISCHARGE_Z,
    EXPONENT,
    PRESSURE_REFUSED,
    SUCTION_Z,
    refuse_uncompressed,
)
from asfound.quantities.refusals import between
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet

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
_ENDS = between(1.0, 2.0, "1 or 2", "1 when only the head end pumps, 2 when both do; look at the unloaders.")
_CLEARANCE = between(
    0.0, 4.0, "0 to 400 %", "Take it from the data sheet of the cylinder, with its pockets as they stand."
)
_EFFICIENCY = between(0.3, 1.0, "30 to 100 %", "Leave it out: the handbook's is taken, with its doubt.")


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
    refuse_uncompressed(suction, discharge)
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
