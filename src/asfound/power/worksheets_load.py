"""Worksheets of the load carried: the roads to the power at the engine's shaft, in order of preference.

The road by the fuel comes last and in a module of its own (`worksheets_load_from_fuel`).
"""

from __future__ import annotations

import math

import numpy as np

import asfound.power.compressor_stage as stage
import asfound.power.generator as generator
import asfound.power.shaft_power as shaft
from asfound.power.worksheets_compressor_gas import AT_THE_STAGE
from asfound.power.worksheets_generator import AT_THE_PANEL
from asfound.quantities.refusals import between
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Assumption, Take, worksheet

AUXILIARIES = Take(quantity="auxiliary_power", place="engine", optional=True, default=0.0)
GENERATOR_EFFICIENCY = Take(
    quantity="generator_efficiency",
    place="generator",
    assume=Assumption(
        value=0.955,
        standard_uncertainty=0.015 / math.sqrt(3),
        says="94 to 97 %, as large generators have it near full load; no test sheet at hand",
        source="common_practice",
        distribution="rectangular",
    ),
)
MECHANICAL_EFFICIENCY = Take(
    quantity="compressor_mechanical_efficiency",
    place="compressor",
    assume=Assumption(
        value=0.95,
        standard_uncertainty=0.02 / math.sqrt(3),
        says="93 to 97 % of a reciprocating compressor",
        source="common_practice",
        distribution="rectangular",
    ),
)
_EFFICIENCY = between(0.5, 1.0, "50 to 100 %", "Take it from the test sheet, or leave it out.")


@worksheet(
    title="Engine power, from the generator",
    takes=(Take(quantity="generator_power", place="generator"), GENERATOR_EFFICIENCY, AUXILIARIES),
    gives="engine_power",
    method=Method("electrical power over generator efficiency, with engine-driven auxiliaries", "own_calculation"),
    cautions=AT_THE_PANEL,
    refuses={"generator_efficiency": _EFFICIENCY},
)
def engine_power_from_generator(power: Values, efficiency: Values, auxiliaries: Values) -> Values:
    """Return what the engine carries, from the electrical power at the generator's terminals. [W]"""
    return generator.shaft_power(power, efficiency, auxiliaries)


@worksheet(
    title="Engine power, from torque and speed",
    takes=(Take(quantity="engine_torque", place="engine"), Take(quantity="engine_speed", place="engine"), AUXILIARIES),
    gives="engine_power",
    method=Method("torque at the flywheel times speed, with engine-driven auxiliaries", "own_calculation"),
    cautions=("rotating", "local"),
)
def engine_power_from_torque(torque: Values, speed: Values, auxiliaries: Values) -> Values:
    """Return what the engine carries, from torque at the flywheel and speed. [W]"""
    return shaft.from_torque(torque, speed, auxiliaries)


@worksheet(
    title="Compressor power, from the metered gas",
    takes=(Take(quantity="stage_power", place="stage_*", each=True), MECHANICAL_EFFICIENCY),
    gives="compressor_power",
    at="compressor",
    method=Method("sum over the stages, over mechanical efficiency", "gpsa_13"),
    cautions=AT_THE_STAGE,
    refuses={"compressor_mechanical_efficiency": _EFFICIENCY},
)
def compressor_power_of_all_stages(stages: Values, efficiency: Values) -> Values:
    """Return the power at the compressor's coupling, from what its stages do to the metered gas. [W]"""
    return stage.coupling_power(stages, efficiency)


@worksheet(
    title="Compressor power by the quick rule",
    takes=(
        Take(quantity="compressed_gas_flow", place="compressor"),
        Take(quantity="suction_pressure", place="stage_*", each=True),
        Take(quantity="discharge_pressure", place="stage_*", each=True),
        Take(quantity="suction_temperature", place="stage_*", each=True),
    ),
    gives="compressor_power_by_rule",
    at="compressor",
    method=Method("22 hp for a million cubic feet a day and unit of ratio; from memory, unverified", "gpsa_13"),
    cautions=AT_THE_STAGE,
)
def compressor_power_by_rule(flow: Values, suction: Values, discharge: Values, temperature: Values) -> Values:
    """Return the power at the coupling by the quick rule: a look whether the other numbers can be. [W]"""
    p1, p2, t1 = (np.asarray(one, dtype=float) for one in (suction, discharge, temperature))
    return stage.quick_rule(flow, stage.pressure_ratio(p1[0], p2[-1]), len(p1), t1[0])


@worksheet(
    title="Engine power, from the compressor",
    takes=(Take(quantity="compressor_power", place="compressor"), AUXILIARIES),
    gives="engine_power",
    method=Method("power at the compressor's coupling, with engine-driven auxiliaries", "own_calculation"),
    cautions=AT_THE_STAGE,
)
def engine_power_from_compressor(power: Values, auxiliaries: Values) -> Values:
    """Return what the engine carries, from the power at the compressor's coupling. [W]"""
    p = np.asarray(power, dtype=float)
    return np.where(p > 0, p, np.nan) + auxiliaries


@worksheet(
    title="Engine power, from the compressor's cylinders",
    takes=(Take(quantity="stage_cylinder_power", place="stage_*", each=True), MECHANICAL_EFFICIENCY, AUXILIARIES),
    gives="engine_power",
    method=Method("gas by displacement and clearance, no meter; over mechanical efficiency", "gpsa_13"),
    cautions=AT_THE_STAGE,
    refuses={"compressor_mechanical_efficiency": _EFFICIENCY},
)
def engine_power_by_cylinders(stages: Values, efficiency: Values, auxiliaries: Values) -> Values:
    """Return what the engine carries, from the displacement of the compressor's cylinders. [W]

    It takes valves and rings for sound: where they leak, less gas is moved than this counts with.
    """
    return stage.coupling_power(stages, efficiency) + auxiliaries


@worksheet(
    title="Load",
    takes=(Take(quantity="engine_power", place="engine"), Take(quantity="rated_power", place="engine")),
    gives="engine_load",
    method=Method("power carried over rated power", "own_calculation"),
)
def engine_load(power: Values, rated: Values) -> Values:
    """Return the power carried over the rated power of plate or data sheet. [1]"""
    return generator.share(power, rated)
