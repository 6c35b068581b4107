"""Power at the shaft: from torque, from mean effective pressure, from the fuel.

Arguments and answers are SI floats or arrays; a stopped engine has no answer: nan.
"""

from __future__ import annotations

import math

import numpy as np

from asfound.quantities.possible import above, up_to_one
from asfound.quantities.typing import Values

FOUR_STROKE = 2.0
"""Revolutions of a working cycle."""


def from_torque(torque: Values, speed: Values, auxiliaries: Values = 0.0) -> Values:
    """Return power from torque at the flywheel [N m] and speed [rad/s], with what hangs on the other end [W]. [W]"""
    return above(torque) * above(speed) + auxiliaries


def from_brake(force: Values, diameter: Values, speed: Values) -> Values:
    """Return power from the force on the rim of a brake wheel [N], its diameter [m] and speed [rad/s]. [W]"""
    return from_torque(np.multiply(force, diameter) / 2, speed)


def from_mean_effective_pressure(
    pressure: Values, swept_volume: Values, speed: Values, revolutions: Values = FOUR_STROKE
) -> Values:
    """Return power from mean effective pressure [Pa], swept volume of all cylinders [m³] and speed [rad/s].

    Parameters
    ----------
    revolutions : float or array
        Of a working cycle: 2 for four strokes, 1 for two. [1]

    Returns
    -------
    float or array
        [W]

    References
    ----------
    .. [1] Work of a cycle over swept volume: definition.

    Examples
    --------
    >>> print(f"{from_mean_effective_pressure(6e5, 0.025, 2000 * math.pi / 30) / 1000:.1f} kW")
    250.0 kW
    """
    return above(pressure) * above(swept_volume) * above(speed) / (2 * math.pi * np.asarray(revolutions))


def from_cycles(pressure: Values, swept_volume: Values, cycles: Values) -> Values:
    """Return power from mean effective pressure [Pa], swept volume [m³] and counted working cycles per second. [W]

    For an engine that is governed by leaving out cycles, whose speed does not tell how often it fires.
    """
    return above(pressure) * above(swept_volume) * above(cycles)


def from_fuel(heat: Values, efficiency: Values) -> Values:
    """Return power from the heat in the fuel [W] and the efficiency on the same basis, net or gross. [W]

    It is as good as the efficiency, and says nothing of it: a power made so must not be taken to find an efficiency.
    """
    return above(heat) * up_to_one(efficiency)
