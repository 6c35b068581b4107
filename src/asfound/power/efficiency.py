"""Fuel rate, efficiency, heat rate and mean effective pressure.

An efficiency is no number without its heating value: net (LHV, water of combustion as vapour) or gross (HHV, water
condensed). For pipeline gas the gross heat is about 11 per cent more, so an efficiency of 40 % net is 36 % gross.
Arguments and answers are SI floats or arrays; nan for a stopped engine.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values


def efficiency(work: Values, heat: Values) -> Values:
    """Return work over heat; nan where there is no fuel or no work. [1]

    Parameters
    ----------
    work : float or array
        At the shaft or at the terminals. [W]
    heat : float or array
        Of the fuel, net or gross. [W]

    Examples
    --------
    >>> print(f"{efficiency(250e3, 0.018 * 42e6):.4f}")
    0.3307
    """
    with np.errstate(all="ignore"):
        runs = np.greater(work, 0) & np.greater(heat, 0)
        return np.where(runs, np.divide(work, heat), np.nan)


def heat_rate(work: Values, heat: Values) -> Values:
    """Return heat over work: 2544.43 Btu/hp-h and 3412.14 Btu/kWh are an efficiency of 1. [J/J]"""
    with np.errstate(all="ignore"):
        return 1 / efficiency(work, heat)


def specific_fuel_consumption(mass_flow: Values, power: Values) -> Values:
    """Return fuel mass per work at the shaft; nan for a stopped engine. [kg/J]

    Examples
    --------
    >>> print(f"{3.6e9 * specific_fuel_consumption(0.05, 1e6):.0f} g/kWh")
    180 g/kWh
    """
    with np.errstate(all="ignore"):
        runs = np.greater(power, 0) & np.greater(mass_flow, 0)
        return np.where(runs, np.divide(mass_flow, power), np.nan)


def mean_effective_pressure(power: Values, swept_volume: Values, speed: Values, revolutions: Values = 2.0) -> Values:
    """Return the brake mean effective pressure.

    Parameters
    ----------
    power : float or array
        At the shaft. [W]
    swept_volume : float or array
        Of all cylinders. [m³]
    speed : float or array
        Of the crankshaft. [rad/s]
    revolutions : float or array
        Of a cycle: 2 of a four-stroke engine, 1 of a two-stroke engine. [1]

    Returns
    -------
    float or array
        nan for an engine that does not turn. [Pa]

    Examples
    --------
    >>> print(f"{1e-5 * mean_effective_pressure(250e3, 0.025, 2000 * np.pi / 30):.2f} bar")
    6.00 bar
    """
    with np.errstate(all="ignore"):
        cycles = np.divide(speed, 2 * np.pi * np.asarray(revolutions, dtype=float))
        pressure = np.divide(power, np.multiply(swept_volume, cycles))
        return np.where((cycles > 0) & np.greater(swept_volume, 0), pressure, np.nan)


def power_of_pressure(pressure: Values, swept_volume: Values, cycles: Values) -> Values:
    """Return the power of a mean effective pressure at a number of firing cycles per second. [W]

    Examples
    --------
    A hit-and-miss engine of 0.24 m bore and 0.48 m stroke firing 77 times a minute at 7.5 bar:

    >>> print(f"{power_of_pressure(7.5e5, np.pi / 4 * 0.24**2 * 0.48, 77 / 60) / 1e3:.2f} kW")
    20.90 kW
    """
    return np.multiply(pressure, np.multiply(swept_volume, cycles))
