"""The gas of a visit: fractions that were read one by one, as the arrays that the formulas of this room take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.fuel import iso6976
from asfound.fuel.components import COMBUSTION_COLUMNS, ELEMENTS, places, table
from asfound.fuel.iso6976 import COMBUSTION_TEMPERATURES, METERING_TEMPERATURES
from asfound.quantities.typing import Array, Values

ANALYSIS: dict[str, str] = {
    "fuel_methane": "methane",
    "fuel_ethane": "ethane",
    "fuel_propane": "propane",
    "fuel_isobutane": "isobutane",
    "fuel_butane": "n-butane",
    "fuel_isopentane": "isopentane",
    "fuel_pentane": "n-pentane",
    "fuel_hexanes_plus": "n-hexane",
    "fuel_nitrogen": "nitrogen",
    "fuel_carbon_dioxide": "carbon dioxide",
    "fuel_oxygen": "oxygen",
    "fuel_hydrogen": "hydrogen",
    "fuel_carbon_monoxide": "carbon monoxide",
    "fuel_hydrogen_sulfide": "hydrogen sulfide",
}
"""Quantities of an analysis on a visit, and the component each counts as."""
COMPONENTS = tuple(ANALYSIS.values())
NORMAL_TEMPERATURE = 273.15


def scaled(*fractions: Values) -> tuple[Array, Array]:
    """Return mole fractions scaled to 1 along a new last axis, and what they added up to.

    Parameters
    ----------
    *fractions : float or array (n,)
        In the order of `ANALYSIS`. [mol/mol]

    Returns
    -------
    tuple of array
        (n, 14) and (n,); nan where the sum is not above zero.
    """
    x = np.stack(np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in fractions)), axis=-1)
    total = np.asarray(x.sum(axis=-1))
    with np.errstate(all="ignore"):
        return x / np.where(total > 0, total, np.nan)[..., np.newaxis], total


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalVolume:
    """Properties of a real gas over its volume at 0 °C and 101.325 kPa, as the register of quantities counts it."""

    gross: Values
    """[J/m³(n)]"""
    net: Values
    """[J/m³(n)]"""
    gross_by_mass: Values
    """[J/kg]"""
    net_by_mass: Values
    """[J/kg]"""
    wobbe: Values
    """[J/m³(n)]"""
    net_wobbe: Values
    """[J/m³(n)]"""
    relative_density: Values
    """[1]"""
    density: Values
    """[kg/m³(n)]"""
    molar_mass: Values
    """[kg/mol]"""
    compression_factor: Values
    """[1]"""


def over_normal_volume(x: Array, combustion: Values, metering: Values) -> NormalVolume:
    """Return the properties of ISO 6976:2016, volumes counted back to 0 °C as those of an ideal gas.

    A gas volume of the program counts at 0 °C and 101.325 kPa by the law of the ideal gas. So Z is that of the
    metering temperature, and stays in the number however it is shown. Between the temperatures of the standard its
    tables are taken as straight, which is within 0.001 % of the heat.

    Parameters
    ----------
    x : array, (..., 14)
        Mole fractions in the order of `COMPONENTS`, scaled to 1. [mol/mol]
    combustion, metering : float or array (...)
        Reference temperatures: 0 to 25 °C and 0 to 20 °C; nan comes of others. [K]
    """
    at, data = places(COMPONENTS), table()
    burn, meter = _between(combustion, COMBUSTION_TEMPERATURES), _between(metering, METERING_TEMPERATURES)
    hydrogen = data.atoms[at, ELEMENTS.index("H")] / 2
    sums = x @ np.column_stack((data.molar_mass[at], hydrogen))
    mass, water = sums[..., 0], sums[..., 1]
    gross = (x @ data.gross[at] * burn).sum(axis=-1)
    net = gross - water * (burn @ np.asarray(iso6976.WATER_HEAT))
    s = (x @ data.summation[at] * meter).sum(axis=-1)
    with np.errstate(all="ignore"):
        real = 1 - s**2
        z = np.where(np.isfinite(gross) & (real > iso6976.LOWEST_Z), real, np.nan)
        per_volume = iso6976.REFERENCE_PRESSURE / (z * iso6976.GAS_CONSTANT * NORMAL_TEMPERATURE)
        relative = mass / iso6976.MOLAR_MASS_AIR * (meter @ np.asarray(iso6976.Z_AIR)) / z
        return NormalVolume(
            gross=gross * per_volume,
            net=net * per_volume,
            gross_by_mass=gross / mass,
            net_by_mass=net / mass,
            wobbe=gross * per_volume / np.sqrt(relative),
            net_wobbe=net * per_volume / np.sqrt(relative),
            relative_density=relative,
            density=mass * per_volume,
            molar_mass=mass,
            compression_factor=z,
        )


def molar_gross(x: Array, column: str = "60F") -> Array:
    """Return the gross heat of a mole of gas. (...) [J/mol]"""
    return np.asarray(x @ table().gross[places(COMPONENTS), COMBUSTION_COLUMNS.index(column)])


def _between(temperature: Values, known: tuple[float, ...]) -> Array:
    """Return the weight of each column of a table at a temperature, straight between two; nan outside. (..., k)"""
    t, at = np.asarray(temperature, dtype=float), np.asarray(known)
    inside = np.where((t >= at[0] - 0.01) & (t <= at[-1] + 0.01), t, np.nan)
    return np.stack([np.interp(inside, at, column) for column in np.eye(len(at))], axis=-1)
