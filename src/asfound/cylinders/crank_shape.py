"""Shape of one cylinder's combustion torque over its cycle: a simple cycle, of which only the shape is used."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.cylinders.crank_speed import Complex, Crank, piston_speed_function
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A simple cycle for the shape of one cylinder's combustion torque."""

    compression_ratio: float = 11.0
    polytropic: float = 1.33
    combustion_start: float = -0.17
    """Crank angle of first heat. [rad]"""
    combustion_length: float = 0.80
    """[rad]"""
    wiebe_a: float = 5.0
    wiebe_m: float = 2.0


def combustion_shape(crank: Crank, highest: int, cycle: Cycle | None = None, samples: int = 720) -> Complex:
    """Return the half orders of one cylinder's combustion torque over its mean, firing dead centre at angle 0.

    Heat by Wiebe at closed volume, polytropic before and after: pressure fired less motored, times piston area and
    ds/d theta. Only its shape is used. Elements 0 .. highest, element 0 is 1.
    """
    cycle = cycle or Cycle()
    theta = -2 * math.pi + 4 * math.pi * (np.arange(samples) + 0.5) / samples
    pressure = combustion_pressure(theta, crank.motion.rod_ratio, cycle)
    torque = pressure * piston_speed_function(theta, crank.motion.rod_ratio)
    k = np.arange(highest + 1)
    found = (torque * np.exp(-0.5j * np.outer(k, theta))).mean(axis=1) * np.where(k == 0, 1.0, 2.0)
    answer: Complex = found / found[0].real
    return answer


def combustion_pressure(theta: Array, rod_ratio: float, cycle: Cycle) -> Array:
    """Return the pressure that combustion adds, in units of its own; theta from firing dead centre, -2 pi to 2 pi.

    First law for an ideal gas with one polytropic exponent n: d(p V^n) = (n - 1) V^(n-1) dQ; the exhaust valve opens at
    bottom dead centre and the added pressure is gone.
    """
    fine = np.linspace(-math.pi, math.pi, 2049)
    volume = cylinder_volume(fine, rod_ratio, cycle.compression_ratio)
    done = np.clip((fine - cycle.combustion_start) / cycle.combustion_length, 0.0, None)
    burnt = 1.0 - np.exp(-cycle.wiebe_a * done ** (cycle.wiebe_m + 1.0))
    middle = 0.5 * (volume[1:] + volume[:-1])
    gained = np.concatenate([[0.0], np.cumsum(middle ** (cycle.polytropic - 1.0) * np.diff(burnt))])
    added = (cycle.polytropic - 1.0) * gained / volume**cycle.polytropic
    return np.where(np.abs(theta) < math.pi, np.interp(theta, fine, added), 0.0)


def cylinder_volume(theta: Array, rod_ratio: float, compression_ratio: float) -> Array:
    """Return the volume over the swept volume; theta from top dead centre. [-]"""
    travel = 0.5 * (1.0 - np.cos(theta) + (1.0 - np.sqrt(1.0 - (rod_ratio * np.sin(theta)) ** 2)) / rod_ratio)
    answer: Array = 1.0 / (compression_ratio - 1.0) + travel
    return answer
