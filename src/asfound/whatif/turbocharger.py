"""The turbocharger as one balance: what the compressor takes, the turbine gives, by one overall efficiency.

That efficiency is found at the setting that was read, and carried to another. It says which back pressure a wanted
manifold pressure asks for, and when the exhaust has not enough for it: throttle open, wastegate shut, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

AIR_HEAT, AIR_EXPONENT = 1006.0, 1.40
"""Of air between 280 and 450 K. [J/(kg K)], [1]"""
GAS_HEAT, GAS_EXPONENT = 1170.0, 1.31
"""Of lean exhaust between 600 and 900 K. [J/(kg K)], [1]"""
LEAST, MOST = 0.20, 0.75
"""Overall efficiency beyond which the readings cannot be (engineering judgement). [1]"""
RESERVE = 1.03
"""Compressor outlet over manifold that throttle and cooler take at least (engineering judgement). [1]"""


@dataclass(frozen=True, slots=True)
class Turbocharger:
    """Overall efficiency (compressor, turbine, bearings, what the wastegate lets by), arrays of shape (cases,)."""

    efficiency: Array
    inlet_temperature: Array
    """Before the compressor. [K]"""
    inlet_pressure: Array
    """Before the compressor and behind the turbine: the barometer. [Pa]"""


def overall_efficiency(
    manifold_pressure: Array,
    exhaust_pressure: Array,
    exhaust_temperature: Array,
    *,
    inlet_pressure: Array,
    inlet_temperature: Array,
    fuel_to_air: Array,
) -> Array:
    """Return what the turbocharger does with the exhaust it gets. [1]

    Parameters
    ----------
    manifold_pressure, exhaust_pressure : array
        Absolute. [Pa]
    exhaust_temperature : array
        Before the turbine. [K]
    inlet_pressure, inlet_temperature : array
        Before the compressor. [Pa], [K]
    fuel_to_air : array
        By mass. [kg/kg]
    """
    taken = _compression(RESERVE * manifold_pressure / inlet_pressure, inlet_temperature)
    given = _expansion(exhaust_pressure / inlet_pressure, exhaust_temperature) * (1.0 + fuel_to_air)
    found: Array = taken / np.maximum(given, 1.0)
    return found


def exhaust_pressure_for(
    charger: Turbocharger, manifold_pressure: Array, exhaust_temperature: Array, fuel_to_air: Array
) -> Array:
    """Return the exhaust pressure that a manifold pressure asks for; nan where the exhaust has not enough. [Pa]"""
    taken = _compression(RESERVE * manifold_pressure / charger.inlet_pressure, charger.inlet_temperature)
    heat = charger.efficiency * GAS_HEAT * exhaust_temperature * (1.0 + fuel_to_air)
    left = 1.0 - taken / heat
    power = GAS_EXPONENT / (GAS_EXPONENT - 1.0)
    found: Array = charger.inlet_pressure * np.where(left > 0.05, np.maximum(left, 0.05) ** -power, np.nan)
    return found


def _compression(ratio: Array, temperature: Array) -> Array:
    """Return the ideal work of compression of a kilogram of air. [J/kg]"""
    found: Array = AIR_HEAT * temperature * (np.maximum(ratio, 1.0) ** ((AIR_EXPONENT - 1.0) / AIR_EXPONENT) - 1.0)
    return found


def _expansion(ratio: Array, temperature: Array) -> Array:
    """Return the ideal work of expansion of a kilogram of exhaust. [J/kg]"""
    found: Array = GAS_HEAT * temperature * (1.0 - np.maximum(ratio, 1.0) ** (-(GAS_EXPONENT - 1.0) / GAS_EXPONENT))
    return found
