"""Heating value as US contracts count it: Btu per cubic foot at 60 °F and a stated base pressure.

The sums of GPA 2172 and ASTM D3588 with the data of GPA 2145. Both are the same arithmetic as ISO 6976 at 60 °F with
their own summation factors; a value without its base pressure is no quantity: 14.65 to 15.025 psia are 2.5 % apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError, UnknownNameError
from asfound.fuel import iso6976
from asfound.fuel.components import ELEMENTS, places, table
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

BTU = 1055.05585262  # J, international table
CUBIC_FOOT = 0.028316846592  # m3, exact
PSI = 6894.757293168  # Pa
TABLE_PRESSURE = 14.696 * PSI
MOLAR_MASS_AIR = 28.9625  # lb/lbmol, as GPA 2145 prints it (from memory)
BASE_RANGE = (14.4 * PSI, 15.1 * PSI)
WATER_PRESSURE_60F = 0.2564 * PSI  # saturated water at 60 °F, from an equation of state for water
_CONDENSED = 44_408.0 / BTU * CUBIC_FOOT * TABLE_PRESSURE / (8.31446261815324 * iso6976.SIXTY_FAHRENHEIT)
"""Heat of vaporisation of a mole of water at 60 °F, counted by the ideal cubic foot of the table. [Btu/ft3]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContractValues:
    """What a US gas contract counts, at 60 °F and the base pressure."""

    gross_real_dry: Values
    """[Btu/ft³]"""
    net_real_dry: Values
    """[Btu/ft³]"""
    gross_ideal_dry: Values
    """[Btu/ft³]"""
    gross_real_saturated: Values
    """Of gas saturated with water at the base, contract form. [Btu/ft³]"""
    compression_factor: Values
    """[1]"""
    relative_density_ideal: Values
    """[1]"""
    relative_density_real: Values
    """[1]"""
    wobbe_real_dry: Values
    """Gross, over the root of the real relative density. [Btu/ft³]"""


@cache
def _rows() -> dict[str, tuple[float, float, float]]:
    rows = load_csv("asfound.fuel", "data/gpa2145.csv")
    return {row["component"]: (float(row["M"]), float(row["s"]), float(row["H"])) for row in rows}


def components() -> tuple[str, ...]:
    """Return the components that are here of GPA 2145: no hydrogen, carbon monoxide or water."""
    return tuple(_rows())


def contract_values(x: npt.ArrayLike, names: Sequence[str], *, base_pressure: float) -> ContractValues:
    """Return heating value, relative density and Wobbe index on the basis of US gas contracts.

    Parameters
    ----------
    x : array, (..., m)
        Mole fractions, dry. [mol/mol]
    names : sequence of str
        Components along the last axis.
    base_pressure : float
        Absolute, by the contract: 14.65, 14.696, 14.73 or 15.025 psia. [Pa]

    Returns
    -------
    ContractValues
        Floats for one gas, arrays of shape (...) for many; nan where the fractions do not add up to 1 within 0.0001.

    Raises
    ------
    InputError
        A base pressure that no contract has.
    UnknownNameError
        A component that is not here of GPA 2145.

    References
    ----------
    .. [1] GPA 2172 / ASTM D3588: Hv = sum x Hv_j (p_b/14.696)/Z, Z = 1 - (p_b/14.696) (sum x s_j)^2; saturated: times
       1 - p_w/p_b. The documents themselves were not at hand; data by GPA 2145-16 in a public transcription.

    Examples
    --------
    >>> one = contract_values([0.95, 0.05], ["methane", "ethane"], base_pressure=14.73 * PSI)
    >>> print(f"{one.gross_real_dry:.1f} Btu/ft3")
    1052.7 Btu/ft3
    """
    low, high = BASE_RANGE
    if not low <= base_pressure <= high:
        raise InputError(
            "base_pressure", f"{base_pressure / PSI:.4g} psia", "is no base pressure of a contract",
            allowed="14.4 to 15.1 psia, absolute", try_next="Look into the gas contract; 14.73 psia is common.",
        )  # fmt: skip
    columns = _basis(tuple(names))
    x = np.asarray(x, dtype=float)
    if x.ndim == 0 or x.shape[-1] != len(columns):
        raise ValueError(f"the last axis of x has {x.shape[-1] if x.ndim else 0} fractions, for {len(columns)} names")
    good = (np.abs(x.sum(axis=-1) - 1) <= iso6976.SUM_TOLERANCE) & (x >= 0).all(axis=-1)
    mass, s, gross, water = np.moveaxis(np.where(good[..., np.newaxis], x @ columns, np.nan), -1, 0)
    ratio = base_pressure / TABLE_PRESSURE
    z = 1 - ratio * s**2
    z_air = 1 - ratio * (1 - iso6976.Z_AIR[2])
    relative = mass / MOLAR_MASS_AIR
    real = relative * z_air / z
    gross_real = gross * ratio / z
    return ContractValues(
        gross_real_dry=_plain(gross_real),
        net_real_dry=_plain((gross - water) * ratio / z),
        gross_ideal_dry=_plain(gross * ratio),
        gross_real_saturated=_plain(gross_real * (1 - WATER_PRESSURE_60F / base_pressure)),
        compression_factor=_plain(z),
        relative_density_ideal=_plain(relative),
        relative_density_real=_plain(real),
        wobbe_real_dry=_plain(gross_real / np.sqrt(real)),
    )


def _plain(value: Array) -> Values:
    """Return the value of one gas as a float."""
    return value if np.ndim(value) else float(value)


@cache
def _basis(names: tuple[str, ...]) -> Array:
    """Return (m, 4): molar mass [lb/lbmol], summation factor, gross [Btu/ft³], heat of its water [Btu/ft³]."""
    rows = _rows()
    for name in names:
        if name not in rows:
            raise UnknownNameError("component of GPA 2145", name, rows)
    hydrogen = table().atoms[places(names), ELEMENTS.index("H")]
    return np.column_stack((np.array([rows[name] for name in names]), hydrogen / 2 * _CONDENSED))
