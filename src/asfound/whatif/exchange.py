"""What the cylinder holds when the intake valve closes, from manifold and exhaust: mass and energy are conserved.

Simplified: the exhaust stroke ends at the pressure of the exhaust manifold, the intake stroke runs at that of the
intake manifold times a filling factor (throttling in ports and valve, ram); there is no overlap and no heat from walls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.charge import Charge
from asfound.whatif.geometry import Geometry

TURNS = 10


@dataclass(frozen=True, slots=True)
class Closed:
    """State at intake valve closing; arrays of shape (cases,)."""

    pressure: Array
    """[Pa]"""
    temperature: Array
    """[K]"""
    mass: Array
    """[kg]"""
    residual: Array
    """Mass fraction that stayed of the last cycle. [kg/kg]"""


def residual_and_temperature(
    geometry: Geometry,
    charge: Charge,
    *,
    manifold_pressure: Array,
    manifold_temperature: Array,
    exhaust_pressure: Array,
    residual_temperature: Array,
    filling: Array,
    residual_factor: Array,
    closes: Array,
) -> Closed:
    """Return what is in the cylinder at intake valve closing.

    Parameters
    ----------
    geometry : Geometry
    charge : Charge
        Of the right mixture; its own residual does not count here.
    manifold_pressure, manifold_temperature, exhaust_pressure : array
        [Pa], [K], [Pa]
    residual_temperature : array
        Of the gas that stays. [K]
    filling : array
        Pressure at intake valve closing over that of the manifold. [1]
    residual_factor : array
        On the burned gas that the clearance volume holds at the end of the exhaust stroke. [1]
    closes : array
        Crank angle of intake valve closing. [rad]

    Notes
    -----
    With the intake at one pressure, m h = m_in h_in + m_rest h_rest + V_clearance (p_intake - p_exhaust), where h are
    enthalpies at the temperatures with which each comes.
    """
    volume, clearance = geometry.volume(closes), geometry.clearance
    pressure = filling * manifold_pressure
    inflow, rest = charge.inflow, charge.rest
    stayed = residual_factor * exhaust_pressure * clearance / (rest.gas_constant * residual_temperature)
    brought_in, brought_rest = inflow.enthalpy(manifold_temperature), rest.enthalpy(residual_temperature)
    t = np.asarray(manifold_temperature + 15.0, dtype=float)
    mass = pressure * volume / (inflow.gas_constant * t)
    x = np.clip(stayed / mass, 0.0, 0.4)
    for _ in range(TURNS):
        constant = (1.0 - x) * inflow.gas_constant + x * rest.gas_constant
        mass = pressure * volume / (constant * t)
        x = np.clip(stayed / mass, 0.0, 0.4)
        moved = clearance * (pressure - exhaust_pressure) / mass
        wanted = (1.0 - x) * brought_in + x * brought_rest + moved
        has = (1.0 - x) * inflow.enthalpy(t) + x * rest.enthalpy(t)
        t = t + (wanted - has) / ((1.0 - x) * inflow.cp(t) + x * rest.cp(t))
    constant = (1.0 - x) * inflow.gas_constant + x * rest.gas_constant
    return Closed(pressure, t, pressure * volume / (constant * t), x)
