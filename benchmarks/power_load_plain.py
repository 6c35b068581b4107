"""The formulas of the load in plain Python, one number at a time, for the race of `power_load`."""

from __future__ import annotations

import math

R, NORMAL = 8.314462618, 101_325.0 / 273.15
NAN = math.nan


def running(x: float) -> float:
    """Return a number above zero, else nan."""
    return x if x > 0 else NAN


def three_phase_power(voltage: float, current: float) -> float:
    """Return apparent power. [VA]"""
    return math.sqrt(3.0) * running(voltage) * running(current)


def active_power(apparent: float, factor: float) -> float:
    """Return active power. [W]"""
    f = abs(factor)
    return running(apparent) * f if 0 < f <= 1 else NAN


def efficiency(active: float, apparent: float, rated: float, constant: float, load: float) -> float:
    """Return generator efficiency. [1]"""
    p = running(active)
    return p / (p + constant + load * (running(apparent) / running(rated)) ** 2)


def shaft_power(active: float, eta: float, auxiliaries: float) -> float:
    """Return power at the shaft. [W]"""
    return running(active) / eta + auxiliaries if 0 < eta <= 1 else NAN


def pressure_ratio(suction: float, discharge: float) -> float:
    """Return pressure ratio. [1]"""
    ratio = discharge / running(suction)
    return ratio if ratio > 1 else NAN


def log(ratio: float) -> float:
    """Return the logarithm of a ratio above one, else nan."""
    return math.log(ratio) if ratio > 1 else NAN


def exponent(k: float) -> float:
    """Return an exponent above one, else nan."""
    return k if k > 1 else NAN


def isentropic_work(ratio: float, temperature: float, k: float, z: float) -> float:
    """Return isentropic work. [J/mol]"""
    k = exponent(k)
    return z * running(temperature) * R * k / (k - 1) * math.expm1((k - 1) / k * log(ratio))


def isentropic_temperature(ratio: float, temperature: float, k: float) -> float:
    """Return isentropic temperature. [K]"""
    k = exponent(k)
    return running(temperature) * math.exp((k - 1) / k * log(ratio))


def displacement(bore: float, stroke: float, rod: float, ends: float, cylinders: float, speed: float) -> float:
    """Return displacement. [m³/s]"""
    d = running(bore)
    area = math.pi / 4 * (d * d + (ends - 1) * (d * d - rod * rod))
    return area * running(stroke) * running(cylinders) * running(speed) / (2 * math.pi)


def volumetric_efficiency(clearance: float, ratio: float, k: float, z1: float, z2: float, loss: float) -> float:
    """Return volumetric efficiency. [1]"""
    back = z1 / z2 * math.exp(log(ratio) / exponent(k))
    taken_in = 1 - loss - clearance * (back - 1)
    return taken_in if taken_in > 0 and clearance >= 0 else NAN


def normal_flow(volume: float, pressure: float, temperature: float, z: float) -> float:
    """Return gas. [m³(n)/s]"""
    return running(volume) * pressure / running(temperature) / z / NORMAL


def power(flow: float, work: float, eta: float) -> float:
    """Return power. [W]"""
    return running(flow) * running(work) / eta if 0 < eta <= 1 else NAN
