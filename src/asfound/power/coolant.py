"""Heat carried by coolant: water, or water with ethylene glycol."""

from __future__ import annotations

from functools import cache

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

MIDDLE_GLYCOL, MIDDLE_TEMPERATURE = 30.8462, 31.728  # per cent by mass, degrees Celsius
MOST_GLYCOL, HIGHEST_TEMPERATURE = 0.60, 383.15
HIGHEST_POWER = 5  # of glycol, in the table


def density(temperature: Values, glycol: Values = 0.0) -> Values:
    """Return the density of water with ethylene glycol.

    Parameters
    ----------
    temperature : float or array
        [K]
    glycol : float or array
        By mass. [kg/kg]

    Returns
    -------
    float or array
        nan beyond 60 % and 110 °C. Within 0.1 % of water; inhibited coolants are up to 1 % denser. [kg/m³]

    References
    ----------
    .. [1] A. Melinder, Properties of secondary working fluids for indirect systems, IIR 2010; coefficients as a public
       library of fluid properties carries them, which takes them up to 100 °C. The book's tables end at 40 °C.

    Examples
    --------
    >>> print(f"{density(353.15):.1f} {density(353.15, 0.5):.1f} kg/m³")
    971.6 1026.4 kg/m³
    """
    return _polynomial("density", temperature, glycol)


def heat_capacity(temperature: Values, glycol: Values = 0.0) -> Values:
    """Return the heat capacity of water with ethylene glycol; as `density`. [J/(kg K)]

    Examples
    --------
    >>> print(f"{heat_capacity(353.15):.0f} {heat_capacity(353.15, 0.5):.0f} J/(kg K)")
    4196 3582 J/(kg K)
    """
    return _polynomial("heat_capacity", temperature, glycol)


def heat_of_flow(flow: Values, inlet: Values, outlet: Values, glycol: Values = 0.0) -> Values:
    """Return the heat that a stream takes up from inlet to outlet.

    Density and heat capacity are those of the middle temperature: where the flow meter sits changes the answer by half
    a per cent for each 10 K of warming.

    Parameters
    ----------
    flow : float or array
        [m³/s]
    inlet, outlet : float or array
        [K]
    glycol : float or array
        By mass. [kg/kg]

    Returns
    -------
    float or array
        Below zero where it cools down; nan without flow. [W]

    Examples
    --------
    >>> print(f"{heat_of_flow(40 / 3600, 351.15, 361.15) / 1e3:.0f} kW")
    452 kW
    """
    middle = np.add(inlet, outlet) / 2
    carried = density(middle, glycol) * heat_capacity(middle, glycol)
    with np.errstate(all="ignore"):
        return np.where(np.greater(flow, 0), flow * carried * np.subtract(outlet, inlet), np.nan)


@cache
def _rows(column: str) -> tuple[tuple[int, int, float], ...]:
    """Return power of glycol, power of temperature, coefficient."""
    table = load_csv("asfound.power", "data/coolant_glycol.csv")
    return tuple((int(row["glycol_power"]), int(row["temperature_power"]), float(row[column])) for row in table)


def _polynomial(column: str, temperature: Values, glycol: Values) -> Values:
    with np.errstate(all="ignore"):
        t = np.asarray(temperature, dtype=float)
        g = np.asarray(glycol, dtype=float)
        inside = (t > 223.15) & (t <= HIGHEST_TEMPERATURE) & (g >= 0) & (g <= MOST_GLYCOL)
        t, g = np.where(inside, t, np.nan) - 273.15 - MIDDLE_TEMPERATURE, 100 * g - MIDDLE_GLYCOL
        powers: list[Array] = [np.ones(())]
        for _ in range(HIGHEST_POWER):
            powers.append(powers[-1] * g)
        by_temperature: dict[int, Array] = {}
        for i, j, coefficient in _rows(column):  # glycol is mostly one number: its powers first
            by_temperature[j] = by_temperature.get(j, np.zeros(())) + coefficient * powers[i]
        total: Array = np.zeros(())
        for j in sorted(by_temperature, reverse=True):
            total = total * t + by_temperature[j]
    return total
