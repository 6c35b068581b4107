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
    metering temperature, and stays in the number however it is shown.

    Parameters
    ----------
    x : array, (..., 14)
        Mole fractions in the order of `COMPONENTS`, scaled to 1. [mol/mol]
    combustion, metering : float or array (...)
        Reference temperatures; nan comes of one that the standard does not have. [K]
    """
    at, data = places(COMPONENTS), table()
    burn = _pick(combustion, COMBUSTION_TEMPERATURES)
    meter = _pick(metering, METERING_TEMPERATURES)
    hydrogen = data.atoms[at, ELEMENTS.index("H")] / 2
    sums = x @ np.column_stack((data.molar_mass[at], hydrogen))
    mass, water = sums[..., 0], sums[..., 1]
    gross = _taken(x, data.gross[at], burn)
    net = gross - water * np.asarray(iso6976.WATER_HEAT)[burn]
    s = _taken(x, data.summation[at], meter)
    with np.errstate(all="ignore"):
        real = 1 - s**2
        known = _near(combustion, COMBUSTION_TEMPERATURES) & _near(metering, METERING_TEMPERATURES)
        z = np.where(known & (real > iso6976.LOWEST_Z), real, np.nan)
        per_volume = iso6976.REFERENCE_PRESSURE / (z * iso6976.GAS_CONSTANT * NORMAL_TEMPERATURE)
        relative = mass / iso6976.MOLAR_MASS_AIR * np.asarray(iso6976.Z_AIR)[meter] / z
        return NormalVolume(
            gross=gross * per_volume,
            net=net * per_volume,
            gross_by_mass=np.where(known, gross / mass, np.nan),
            net_by_mass=np.where(known, net / mass, np.nan),
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


def _pick(temperature: Values, known: tuple[float, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """Return the column of the nearest reference temperature, element by element."""
    return np.asarray(np.abs(np.asarray(temperature, dtype=float)[..., np.newaxis] - np.asarray(known)).argmin(axis=-1))


def _near(temperature: Values, known: tuple[float, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Return whether a temperature is a reference temperature of the standard."""
    off = np.abs(np.asarray(temperature, dtype=float)[..., np.newaxis] - np.asarray(known))
    return np.asarray(off.min(axis=-1) <= 0.01)


def _taken(x: Array, columns: Array, which: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> Array:
    """Return the sum over components with the column that belongs to each gas."""
    if which.ndim == 0:
        return np.asarray(x @ columns[:, int(which)])
    return np.take_along_axis(x @ columns, which[..., np.newaxis], axis=-1)[..., 0]
