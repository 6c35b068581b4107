"""One stage of a reciprocating compressor by the handbook: work, temperature, displacement, gas taken in, power.

Pressures are absolute. A gas volume is counted at 0 °C and 101.325 kPa as that of an ideal gas, as everywhere in the
program, so a normal cubic metre is an amount of gas. Arguments and answers are SI floats or arrays, one element as
good as any other; where nothing is compressed (a stopped engine, an open bypass) the answer is nan.
"""

from __future__ import annotations

import math

import numpy as np

from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT, NORMAL_TEMPERATURE
from asfound.quantities.possible import above, at_least, up_to_one
from asfound.quantities.typing import Values

NORMAL_MOLAR_VOLUME = GAS_CONSTANT * NORMAL_TEMPERATURE / ATMOSPHERE
"""Of an ideal gas. [m³(n)/mol]"""

QUICK_POWER = 22.0 * 745.69987158227 / (1e6 * 0.3048**3 / 86400.0)
"""22 hp for a million cubic feet a day and unit of ratio. [W s/m³]"""
QUICK_PRESSURE = 14.4 * 6894.757293168361
"""Pressure at which the quick rule counts its cubic feet, at intake temperature: from memory. [Pa]"""
QUICK_STAGES = {1: 1.0, 2: 1.08, 3: 1.10}
"""Allowance of the quick rule for the pressure lost between stages."""


def pressure_ratio(suction: Values, discharge: Values) -> Values:
    """Return discharge over suction pressure, both absolute [Pa]; nan where it is not above 1. [1]"""
    return above(np.divide(discharge, above(suction)), 1.0)


def isentropic_work(ratio: Values, temperature: Values, exponent: Values, compressibility: Values = 1.0) -> Values:
    """Return the least work on a gas that is compressed without cooling.

    Parameters
    ----------
    ratio : float or array
        Discharge over suction pressure. [1]
    temperature : float or array
        At suction. [K]
    exponent : float or array
        Isentropic exponent, of the ideal gas at the mean of suction and discharge temperature. [1]
    compressibility : float or array
        Mean of suction and discharge. [1]

    Returns
    -------
    float or array
        [J/mol]

    References
    ----------
    .. [1] w = Z R T1 k/(k-1) (r^((k-1)/k) - 1): GPSA Engineering Data Book, section 13, and any textbook.
    """
    k = above(exponent, 1.0)
    grown = np.exp((k - 1) / k * _log(ratio)) - 1
    work: Values = above(temperature) * compressibility * (GAS_CONSTANT * k / (k - 1)) * grown
    return work


def isentropic_temperature(ratio: Values, temperature: Values, exponent: Values) -> Values:
    """Return where compression without cooling or loss ends: T1 r^((k-1)/k); arguments as `isentropic_work`. [K]"""
    k = above(exponent, 1.0)
    return above(temperature) * np.exp((k - 1) / k * _log(ratio))


def work_of_normal_volume(work: Values) -> Values:
    """Return work on a normal cubic metre [J/m³(n)] from work on a mole [J/mol]."""
    return np.divide(work, NORMAL_MOLAR_VOLUME)


def displacement(bore: Values, stroke: Values, rod: Values, ends: Values, cylinders: Values, speed: Values) -> Values:
    """Return the volume that the pistons of a stage sweep in a second.

    Parameters
    ----------
    bore, stroke, rod : float or array
        Diameter and travel of the piston, diameter of its rod. [m]
    ends : float or array
        1: the head end pumps; 2: both ends, the crank end less its rod. [1]
    cylinders : float or array
        Of this stage. [1]
    speed : float or array
        Of the compressor's crankshaft. [rad/s]

    Returns
    -------
    float or array
        [m³/s]
    """
    d, s = above(bore), above(stroke)
    both = np.asarray(ends, dtype=float) - 1
    area = math.pi / 4 * (d * d + both * (d * d - np.square(rod)))
    return area * s * above(cylinders) * above(speed) / (2 * math.pi)


def volumetric_efficiency(
    clearance: Values,
    ratio: Values,
    exponent: Values,
    suction_compressibility: Values = 1.0,
    discharge_compressibility: Values = 1.0,
    loss: Values = 0.0,
) -> Values:
    """Return the gas taken in, at suction pressure and temperature, over the displacement.

    Parameters
    ----------
    clearance : float or array
        Volume left at the end of the stroke over the swept volume. [1]
    ratio, exponent : float or array
        As in `isentropic_work`. [1]
    suction_compressibility, discharge_compressibility : float or array
        [1]
    loss : float or array
        What leaks back and is lost to warming and throttling, of the displacement. [1]

    Returns
    -------
    float or array
        nan where the gas left in the clearance fills the whole stroke again. [1]

    References
    ----------
    .. [1] 1 + c - c (Z1/Z2) r^(1/k) for the ideal cylinder: textbooks; with Z1/Z2 and less 3 to 6 % for losses as
       handbooks of the gas trade have it (from memory).
    """
    growth = np.exp(_log(ratio) / above(exponent, 1.0))
    back = np.divide(suction_compressibility, discharge_compressibility) * growth
    taken_in = 1 - np.asarray(loss, dtype=float) - at_least(clearance) * (back - 1)
    return above(taken_in)


def normal_flow(volume_flow: Values, pressure: Values, temperature: Values, compressibility: Values = 1.0) -> Values:
    """Return gas per second [m³(n)/s] from its volume at a pressure, temperature and compressibility [m³/s]."""
    density = np.divide(pressure, above(temperature)) / compressibility
    return above(volume_flow) * density * (NORMAL_TEMPERATURE / ATMOSPHERE)


def volume_flow(flow: Values, pressure: Values, temperature: Values, compressibility: Values = 1.0) -> Values:
    """Return the volume that a flow of gas [m³(n)/s] takes at a pressure, temperature and compressibility. [m³/s]"""
    specific = np.multiply(compressibility, above(temperature)) / above(pressure)
    return above(flow) * specific * (ATMOSPHERE / NORMAL_TEMPERATURE)


def power(flow: Values, work: Values, efficiency: Values) -> Values:
    """Return power on the gas of a stage.

    Parameters
    ----------
    flow : float or array
        [m³(n)/s]
    work : float or array
        Isentropic. [J/m³(n)]
    efficiency : float or array
        Isentropic work over the work that is done. [1]

    Returns
    -------
    float or array
        [W]
    """
    return above(flow) * above(work) / up_to_one(efficiency)


def coupling_power(stages: Values, mechanical_efficiency: Values) -> Values:
    """Return the power at the coupling from that of all stages (along axis 0) and the mechanical efficiency. [W]"""
    total: Values = np.asarray(stages, dtype=float).sum(axis=0)
    return total / up_to_one(mechanical_efficiency)


def quick_rule(flow: Values, total_ratio: Values, stages: int, temperature: Values) -> Values:
    """Return the power at the coupling by the quick rule of the gas trade: a look whether a number can be.

    Parameters
    ----------
    flow : float or array
        [m³(n)/s]
    total_ratio : float or array
        Last discharge over first suction pressure; it is shared evenly. [1]
    stages : int
        1 to 3; nan comes of others.
    temperature : float or array
        Of the intake, at which the rule counts its cubic feet. [K]

    Returns
    -------
    float or array
        [W]

    References
    ----------
    .. [1] hp = 22 x ratio per stage x stages x MMcfd x F, with F = 1.00, 1.08, 1.10 for 1, 2, 3 stages: GPSA
       Engineering Data Book, section 13, from memory; only what F is for was seen in a public copy of its worksheet.
    """
    r = np.exp(_log(total_ratio) / stages)
    capacity = volume_flow(flow, QUICK_PRESSURE, temperature)
    return QUICK_POWER * r * stages * capacity * QUICK_STAGES.get(stages, math.nan)


def _log(ratio: Values) -> Values:
    """Return the logarithm of a pressure ratio; nan where nothing is compressed."""
    return np.log(above(ratio, 1.0))
