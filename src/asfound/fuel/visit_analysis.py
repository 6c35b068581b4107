"""The gas of a visit: fractions that were read one by one, as the arrays that the formulas of this room take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.fuel import iso6976
from asfound.fuel.components import COMBUSTION_COLUMNS, ELEMENTS, places, table
from asfound.fuel.iso6976 import COMBUSTION_TEMPERATURES, METERING_TEMPERATURES
from asfound.fuel.stoichiometry import element_columns
from asfound.quantities.constants import NORMAL_TEMPERATURE
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
HEXANE = 6.0
"""Carbon atoms of what hexanes and heavier count as, where nobody says more. [1]"""
AT_HEAVIER = COMPONENTS.index("n-hexane")
NOISE = -1e-3
"""A share a little below zero is the noise of a component that is not there, and counts as zero. [mol/mol]"""


def without_noise(fraction: Values) -> Values:
    """Return a share with the noise about zero taken as zero; what is further below stays, and has no answer.

    A component that was looked for and not found is drawn about zero: half of its draws lie below.

    >>> without_noise(-0.0002), without_noise(-0.2), without_noise(0.3)
    (0.0, -0.2, 0.3)
    """
    if not np.ndim(fraction):
        return 0.0 if NOISE <= fraction < 0 else fraction
    x = np.asarray(fraction, dtype=float)
    return np.where((x >= NOISE) & (x < 0), 0.0, x) if x.size and x.min() < 0 else x


KEPT = 6
"""Products of draws and columns that are kept: a visit asks for the same few again and again, with the same draws."""
_kept: dict[tuple[object, ...], tuple[tuple[object, ...], tuple[Array, Array]]] = {}


def of_the_whole(
    columns: Array, *fractions: Values, heavier: Values = HEXANE, step: Array | None = None
) -> tuple[Array, Array]:
    """Return sums over the components of an analysis scaled to 1, and what it added up to.

    A component that is one number for all draws (mostly 0: the analysis does not name it) costs nothing.

    Parameters
    ----------
    columns : array, (14, k)
        What a mole of each component brings, in the order of `ANALYSIS`.
    *fractions : float or array (n,)
        As analysed. [mol/mol]
    heavier : float or array (n,)
        Mean number of carbon atoms of what counts as n-hexane. [1]
    step : array (k,), optional
        What one carbon atom more brings there; nothing when left out.

    Returns
    -------
    tuple of array
        (k, n) and (n,), or (k,) and () for floats; nan where a fraction is below zero or the sum not above it.
        Read-only: the same draws are answered from what was kept. Draws must not be written to afterwards.
    """
    asked = (columns, *fractions, heavier, step)
    key = tuple(id(one) if isinstance(one, np.ndarray) else one for one in asked)
    found = _kept.pop(key, None)  # what is kept holds its arrays, so that no other can come by their identity
    if found is None:
        found = asked, _of_the_whole(columns, *fractions, heavier=heavier, step=step)
        for array in found[1]:
            array.setflags(write=False)
    _kept[key] = found
    while len(_kept) > KEPT:
        _kept.pop(next(iter(_kept)), None)
    return found[1]


def _of_the_whole(
    columns: Array, *fractions: Values, heavier: Values = HEXANE, step: Array | None = None
) -> tuple[Array, Array]:
    """Work out what `of_the_whole` answers."""
    fractions = tuple(without_noise(one) for one in fractions)
    table_of = np.column_stack((columns, np.ones(len(columns)))).T
    at = [place for place, one in enumerate(fractions) if np.ndim(one)]
    fixed = np.array([0.0 if np.ndim(one) else one for one in fractions], dtype=float)
    sums = table_of @ np.where(fixed >= 0, fixed, np.nan)
    if at:
        x = np.stack(np.broadcast_arrays(*(np.asarray(fractions[place], dtype=float) for place in at)))
        if not x.min() >= 0:
            x = np.where((x >= 0).all(axis=0), x, np.nan)
        of_draws = np.empty((len(table_of), x.shape[-1]))
        part = np.ascontiguousarray(table_of[:, at])
        for block in iso6976.blocks(x.shape[-1], len(at)):
            np.matmul(part, x[:, block], out=of_draws[:, block])
        sums = sums[:, np.newaxis] + of_draws
    if step is not None and np.any(np.asarray(heavier) != HEXANE):
        more = np.asarray(fractions[AT_HEAVIER]) * (np.asarray(heavier, dtype=float) - HEXANE)
        added = np.multiply.outer(np.append(step, 0.0), more)
        sums, added = (one[:, np.newaxis] if one.ndim < max(sums.ndim, added.ndim) else one for one in (sums, added))
        sums = sums + added
    total = np.asarray(sums[-1])
    with np.errstate(all="ignore"):
        return sums[:-1] / np.where(total > 0, total, np.nan), total


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


def over_normal_volume(
    combustion: Values, metering: Values, *fractions: Values, heavier: Values = HEXANE
) -> NormalVolume:
    """Return the properties of ISO 6976:2016, volumes counted back to 0 °C as those of an ideal gas.

    A gas volume of the program counts at 0 °C and 101.325 kPa by the law of the ideal gas. So Z is that of the
    metering temperature, and stays in the number however it is shown. Between the temperatures of the standard its
    tables are taken as straight, which is within 0.001 % of the heat.

    Parameters
    ----------
    combustion, metering : float or array (n,)
        Reference temperatures: 0 to 25 °C and 0 to 20 °C; nan comes of others. [K]
    *fractions : float or array (n,)
        In the order of `ANALYSIS`; they are scaled to 1. [mol/mol]
    heavier : float or array (n,)
        Mean number of carbon atoms of hexanes and heavier: each more than 6 brings what heptane has over hexane. [1]
    """
    at, data = places((*COMPONENTS, "n-heptane")), table()
    burn, meter = _between(combustion, COMBUSTION_TEMPERATURES), _between(metering, METERING_TEMPERATURES)
    hydrogen = data.atoms[at, ELEMENTS.index("H")] / 2
    heat, factor = _columns_at(data.gross[at], burn), _columns_at(data.summation[at], meter)
    columns, step = _with_step(np.column_stack((data.molar_mass[at], hydrogen, heat, factor)))
    sums, _ = of_the_whole(columns, *fractions, heavier=heavier, step=step)
    mass, water = sums[0], sums[1]
    gross = _at(sums[2 : 2 + heat.shape[1]], burn)
    net = gross - water * (burn @ np.asarray(iso6976.WATER_HEAT))
    s = _at(sums[2 + heat.shape[1] :], meter)
    with np.errstate(all="ignore"):
        real = 1 - s**2
        z = np.where(np.isfinite(gross) & (real > iso6976.LOWEST_Z), real, np.nan)
        per_volume = iso6976.REFERENCE_PRESSURE / (z * iso6976.GAS_CONSTANT * NORMAL_TEMPERATURE)
        relative = mass / iso6976.MOLAR_MASS_AIR * (meter @ np.asarray(iso6976.Z_AIR)) / z
        per_root = per_volume / np.sqrt(relative)
        return NormalVolume(
            gross=gross * per_volume,
            net=net * per_volume,
            gross_by_mass=gross / mass,
            net_by_mass=net / mass,
            wobbe=gross * per_root,
            net_wobbe=net * per_root,
            relative_density=relative,
            density=mass * per_volume,
            molar_mass=mass,
            compression_factor=z,
        )


def burning(*fractions: Values, heavier: Values = HEXANE) -> tuple[Array, Array]:
    """Return the sums of `stoichiometry.element_columns` for the scaled analysis, and its gross heat. (7, n), [J/mol]

    The heat is that of 60 °F, at which US rules take it. Arguments as `over_normal_volume`.
    """
    names = (*COMPONENTS, "n-heptane")
    gross = table().gross[places(names), COMBUSTION_COLUMNS.index("60F")]
    columns, step = _with_step(np.column_stack((element_columns(names), gross)))
    sums, _ = of_the_whole(columns, *fractions, heavier=heavier, step=step)
    return sums[:-1], sums[-1]


def _with_step(columns: Array) -> tuple[Array, Array]:
    """Return the columns of an analysis, and what heptane, their last row, has over hexane."""
    return columns[:-1], np.asarray(columns[-1] - columns[AT_HEAVIER])


def _between(temperature: Values, known: tuple[float, ...]) -> Array:
    """Return the weight of each column of a table at a temperature, straight between two; nan outside. (..., k)"""
    t, at = np.asarray(temperature, dtype=float), np.asarray(known)
    inside = np.where((t >= at[0] - 0.01) & (t <= at[-1] + 0.01), t, np.nan)
    return np.stack([np.interp(inside, at, column) for column in np.eye(len(at))], axis=-1)


def _columns_at(columns: Array, weights: Array) -> Array:
    """Return the one column at a temperature that holds for all draws; all columns where it is drawn, too."""
    return columns if weights.ndim > 1 else (columns @ weights)[:, np.newaxis]


def _at(sums: Array, weights: Array) -> Array:
    """Return the sum at each draw's temperature."""
    return sums[0] if len(sums) == 1 else np.asarray((sums.T * weights).sum(axis=-1))
