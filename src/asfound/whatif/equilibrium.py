"""Burned gas in chemical equilibrium, for many cases at once.

All species follow from the partial pressures of CO2, H2O, N2 and O2; with y = sqrt(O2 / 1 bar) the balances of carbon,
hydrogen and nitrogen can be solved for the first three by hand, so that one unknown, y, is left to Newton's method on
the balance of oxygen. It holds from rich to lean. A guess of y (that of the step before) saves most of the work: along
a cycle one Newton step a call is enough.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.gases import STANDARD_PRESSURE, R, look_up, tables

MOST_STEPS = 60
CLOSE = 1e-11
"""Relative change of y and of the amount of gas at which it is solved."""
COLDEST, HOTTEST = 250.0, 3400.0
"""Bounds of the burned gas while its temperature is sought. [K]"""
FLAME, FLAME_HEAT = 2300.0, 1800.0
"""First guess of a flame [K], and a heat capacity that brings it near without going past [J/(kg K)]."""
CONSTANTS = 6
"""Rows of the table that are equilibrium constants."""


@dataclass(slots=True)
class Burnt:
    """Burned gas of each case. Arrays of shape (cases,), amounts of shape (12, cases) in the order of `gases.BURNT`."""

    parts: Array
    """Partial pressures over 1 bar. [1]"""
    total: Array
    """[mol/kg]"""
    enthalpy: Array
    """With that of formation. [J/kg]"""
    root_oxygen: Array
    """y, to begin from the next time. [1]"""
    ratio: Array
    """Pressure over 1 bar. [1]"""

    @property
    def gas_constant(self) -> Array:
        """[J/(kg K)]"""
        return R * self.total

    @property
    def amounts(self) -> Array:
        """[mol/kg]"""
        return self.parts * (self.total / self.ratio)


def equilibrium(elements: Array, temperature: Array, pressure: Array) -> Burnt:
    """Return the burned gas in equilibrium, solved to the last digits.

    Parameters
    ----------
    elements : array of shape (6, cases)
        Carbon, hydrogen, oxygen, nitrogen, argon, sulfur. [mol/kg]
    temperature, pressure : array of shape (cases,)
        [K], 200 to 3,500; [Pa]

    References
    ----------
    .. [1] Thermodynamic data: NASA TM-4513 (1993).
    """
    found = begin(elements, pressure)
    for _ in range(MOST_STEPS):
        last = found
        found = follow(elements, temperature, pressure, last)
        if np.all(np.abs(found.root_oxygen - last.root_oxygen) <= CLOSE * last.root_oxygen) and np.all(
            np.abs(found.total - last.total) <= CLOSE * last.total
        ):
            break
    return found


def begin(elements: Array, pressure: Array) -> Burnt:
    """Return a first guess: as if nothing came apart, with next to no oxygen where the mixture is rich."""
    ratio = pressure / STANDARD_PRESSURE
    carbon, hydrogen, oxygen, nitrogen, argon = elements[:5]
    left = np.maximum((oxygen - 2 * carbon - hydrogen / 2) / 2, 0.0)
    total = carbon + hydrogen / 2 + nitrogen / 2 + argon + left
    y = np.sqrt(np.maximum(left / total, 1e-6) * ratio)
    return Burnt(np.zeros((len(tables().atoms), len(y))), total, np.zeros_like(y), y, ratio)


def follow(elements: Array, temperature: Array, pressure: Array, last: Burnt, *, steps: int = 1) -> Burnt:
    """Return the burned gas after some Newton steps from a state near by; arguments as of `equilibrium`."""
    rows = look_up(tables().rows, temperature)
    constants = np.exp(rows[:CONSTANTS])
    ratio = pressure / STANDARD_PRESSURE
    y, total = last.root_oxygen * np.sqrt(ratio / last.ratio), last.total
    for _ in range(steps):
        parts, y = _newton(elements * (ratio / total), constants, y)
        total = total * (parts.sum(axis=0) / ratio)
    enthalpy = R * (total / ratio) * np.einsum("sc,sc->c", rows[CONSTANTS:], parts)
    return Burnt(parts, total, enthalpy, y, ratio)


def flame(elements: Array, pressure: Array, enthalpy: Array, *, turns: int, steps: int = 1) -> tuple[Burnt, Array]:
    """Return burned gas with the enthalpy of the fresh charge at its pressure, and its temperature.

    Parameters
    ----------
    elements, pressure : array
        As of `equilibrium`.
    enthalpy : array of shape (cases,)
        Of the fresh charge. [J/kg]
    turns : int
        Corrections of the temperature.
    steps : int
        Newton steps of each.
    """
    t = np.full_like(pressure, FLAME)
    state = begin(elements, pressure)
    for _ in range(turns):
        state = follow(elements, t, pressure, state, steps=steps)
        t = np.clip(t - (state.enthalpy - enthalpy) / FLAME_HEAT, COLDEST, HOTTEST)
    return state, t


def _newton(elements: Array, constants: Array, y: Array) -> tuple[Array, Array]:
    """Return partial pressures (12, cases) and a better y; elements as if they were partial pressures over 1 bar."""
    to_o, to_oh, to_no, to_h2, to_co, to_h = constants
    carbon, hydrogen, oxygen, nitrogen, argon, sulfur = elements
    root, over_y = np.sqrt(y), 1.0 / y
    h2_share = to_h2 * over_y
    # hydrogen: a w^2 + b w = H with w = sqrt(H2O), and nitrogen alike; the form keeps its digits where b is small
    h_share = to_h * np.sqrt(h2_share)
    b = to_oh * root + h_share
    w = 2.0 * hydrogen / (b + np.sqrt(b * b + 8.0 * (1.0 + h2_share) * hydrogen))
    c = to_no * y
    v = 2.0 * nitrogen / (c + np.sqrt(c * c + 8.0 * nitrogen))
    co_down, h2_down = 1.0 / (y + to_co), 1.0 / (y + to_h2)
    parts = np.empty((12, y.size))
    co2, h2o, n2, o2, co, h2, oh, o, h, no = parts[:10]
    np.multiply(carbon * y, co_down, out=co2)
    np.multiply(w, w, out=h2o)
    np.multiply(v, v, out=n2)
    np.multiply(y, y, out=o2)
    np.subtract(carbon, co2, out=co)
    np.multiply(h2o, h2_share, out=h2)
    np.multiply(to_oh * root, w, out=oh)
    np.multiply(to_o, y, out=o)
    np.multiply(h_share, w, out=h)
    np.multiply(c, v, out=no)
    parts[10], parts[11] = argon, sulfur
    error = 2.0 * o2 + o + co2 + h2o + oh + no - (oxygen - carbon - 2.0 * sulfur)
    slope = 4.0 * y + to_o + carbon * to_co * co_down * co_down + 0.5 * hydrogen * to_h2 * h2_down * h2_down
    slope += to_no * v + 0.5 * oh * over_y
    step = np.minimum(np.maximum(-error / slope, -0.7 * y), 2.0 * y)
    # what the step does to oxygen itself is put in at once: parts then are those of the new y but for minor ones
    o2 += step * (2.0 * y + step)
    return parts, y + step
