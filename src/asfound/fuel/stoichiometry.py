"""What a gas needs to burn, and what comes of it: air, exhaust, carbon dioxide, F factors.

Complete combustion: carbon to CO2, hydrogen to water, sulfur to SO2, nitrogen to N2. Arrays have components along their
last axis. Answers are per mole of gas as it is given; where fractions do not add up to 1, so do the answers not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from asfound.fuel.components import places, table
from asfound.fuel.iso6976 import blocks
from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT
from asfound.quantities.typing import Array, Values

OXYGEN_IN_DRY_AIR = 0.20939  # mol/mol, CIPM-2007; textbooks take 0.21 or O2 + 3.76 N2 and find 0.3 % less air
MOLAR_MASS_DRY_AIR = 28.96546e-3  # kg/mol, CIPM-2007
MOLAR_MASS_CARBON_DIOXIDE = 44.0095e-3  # kg/mol
WATER_GAS = 3.5
"""CO H2O / (CO2 H2) in rich exhaust: Spindt (SAE 650507), Brettschneider, 40 CFR 1065.655. Equilibrium at 1721 K."""
DRY_STANDARD_VOLUME = GAS_CONSTANT * 293.15 / ATMOSPHERE  # m3/mol, at 20 C, as US rules count exhaust


@dataclass(frozen=True, slots=True, kw_only=True)
class Stoichiometry:
    """Per mole of gas; floats for one gas, arrays for many."""

    oxygen: Values
    """Needed; below zero for a gas that brings more than it needs. [mol/mol]"""
    dry_air: Values
    """[mol/mol]"""
    dry_air_by_mass: Values
    """[kg/kg]"""
    moist_air: Values
    """[mol/mol]"""
    carbon_dioxide: Values
    """[mol/mol]"""
    water: Values
    """Of the combustion and of the air. [mol/mol]"""
    sulfur_dioxide: Values
    """[mol/mol]"""
    dry_exhaust: Values
    """Without excess air; everything of the air but its oxygen stays. [mol/mol]"""
    wet_exhaust: Values
    """[mol/mol]"""


def stoichiometry(
    x: npt.ArrayLike,
    components: Sequence[str] | None = None,
    *,
    water_in_air: Values = 0.0,
    oxygen_in_dry_air: float = OXYGEN_IN_DRY_AIR,
) -> Stoichiometry:
    """Return air and exhaust of complete combustion without excess air.

    Parameters
    ----------
    x : array, (..., m)
        Mole fractions of the gas. [mol/mol]
    components : sequence of str, optional
        Names along the last axis; the standard's whole table when left out.
    water_in_air : float or array (...)
        Mole fraction of water in the moist air. [mol/mol]
    oxygen_in_dry_air : float
        0.20939 (CIPM-2007); 0.209 or 0.21 where a rule or a textbook says so. [mol/mol]

    Returns
    -------
    Stoichiometry
        nan where a fraction is negative or not finite.

    Raises
    ------
    UnknownNameError
        A component that the standard does not have.

    References
    ----------
    .. [1] Oxygen per mole: C + H/4 + S - O/2: balance of the elements.

    Examples
    --------
    >>> one = stoichiometry([1.0], ["methane"])
    >>> print(f"{one.dry_air:.5f} mol/mol, {one.dry_air_by_mass:.3f} kg/kg, {one.dry_exhaust:.4f} mol/mol")
    9.55155 mol/mol, 17.246 kg/kg, 8.5516 mol/mol
    """
    return of_elements(_sums(x, components), water_in_air=water_in_air, oxygen_in_dry_air=oxygen_in_dry_air)


def of_elements(
    sums: Array, *, water_in_air: Values = 0.0, oxygen_in_dry_air: float = OXYGEN_IN_DRY_AIR
) -> Stoichiometry:
    """Return air and exhaust from the sums of `element_columns` over the mole fractions. (7, ...)"""
    c, h, n, o, s, noble, mass = sums
    with np.errstate(all="ignore"):
        moist = np.asarray(water_in_air, dtype=float)
        need = c + h / 4 + s - o / 2
        air = need / oxygen_in_dry_air
        from_air = air * moist / np.where((moist >= 0) & (moist < 1), 1 - moist, np.nan)
        dry = c + s + n / 2 + noble + air * (1 - oxygen_in_dry_air)
        water = h / 2 + from_air
        found = {
            "oxygen": need,
            "dry_air": air,
            "dry_air_by_mass": air * MOLAR_MASS_DRY_AIR / mass,
            "moist_air": air + from_air,
            "carbon_dioxide": c,
            "water": water,
            "sulfur_dioxide": s,
            "dry_exhaust": dry,
            "wet_exhaust": dry + water,
        }
    return Stoichiometry(**{name: value if np.ndim(value) else float(value) for name, value in found.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class PerHeat:
    """Exhaust and carbon dioxide over the heat of the gas; volumes at 20 °C and 101.325 kPa."""

    f_dry: Values
    """F_d: dry exhaust without excess air. [m³/J]"""
    f_wet: Values
    """F_w: exhaust with the water of the combustion, air counted as dry. [m³/J]"""
    f_carbon: Values
    """F_c: carbon dioxide. [m³/J]"""
    carbon_dioxide: Values
    """By mass. [kg/J]"""


def per_heat(
    x: npt.ArrayLike,
    molar_heat: Values,
    components: Sequence[str] | None = None,
    *,
    oxygen_in_dry_air: float = OXYGEN_IN_DRY_AIR,
) -> PerHeat:
    """Return F factors and carbon dioxide per heat, from the balance of the elements.

    Parameters
    ----------
    x, components, oxygen_in_dry_air
        As in `stoichiometry`.
    molar_heat : float or array (...)
        Heat of a mole of the gas: gross for F factors of US rules, net for factors per net heat. [J/mol]

    Examples
    --------
    Methane burned in air with 20.9 % oxygen, as Method 19 counts: 8,624 dscf/MMBtu.

    >>> methane = per_heat([1.0], 890.58e3, ["methane"], oxygen_in_dry_air=0.209)
    >>> print(f"{methane.f_dry / 0.028316846592 * 1055.05585262e6:.0f}")
    8624
    """
    burned = stoichiometry(x, components, oxygen_in_dry_air=oxygen_in_dry_air)
    with np.errstate(all="ignore"):
        heat = np.where(np.asarray(molar_heat, dtype=float) > 0, molar_heat, np.nan)
        found = {
            "f_dry": burned.dry_exhaust * DRY_STANDARD_VOLUME / heat,
            "f_wet": burned.wet_exhaust * DRY_STANDARD_VOLUME / heat,
            "f_carbon": burned.carbon_dioxide * DRY_STANDARD_VOLUME / heat,
            "carbon_dioxide": burned.carbon_dioxide * MOLAR_MASS_CARBON_DIOXIDE / heat,
        }
    return PerHeat(**{name: value if np.ndim(value) else float(value) for name, value in found.items()})


# dscf for a pound of the element, over 100: Method 19, Equation 19-13 (constants from memory; recomputed to 0.1 %).
F_DRY_CONSTANTS = {"C": 1.53, "H": 3.64, "N": 0.14, "O": -0.46, "S": 0.57}
_CUBIC_FOOT_PER_POUND = 0.028316846592 / 0.45359237  # m3/kg
_ELEMENT_MASS = {"C": 12.0107e-3, "H": 1.00794e-3, "N": 14.0067e-3, "O": 15.9994e-3, "S": 32.065e-3}  # kg/mol


def f_factor_method_19(x: npt.ArrayLike, molar_gross: Values, components: Sequence[str] | None = None) -> Values:
    """Return the dry F factor of a gas as the rule computes it from an analysis.

    Parameters
    ----------
    x, components
        As in `stoichiometry`.
    molar_gross : float or array (...)
        Gross heat of a mole of the gas. [J/mol]

    Returns
    -------
    float or array
        Dry exhaust without excess air at 20 °C and 101.325 kPa, over gross heat. [m³/J]

    References
    ----------
    .. [1] F_d = 10^6 (3.64 H + 1.53 C + 0.57 S + 0.14 N - 0.46 O) / GCV, per cent by mass and Btu/lb: 40 CFR Part 60
       Appendix A-7, Method 19, Equation 19-13.

    Examples
    --------
    >>> print(f"{f_factor_method_19([1.0], 890.58e3, ['methane']) / 0.028316846592 * 1055.05585262e6:.0f} dscf/MMBtu")
    8632 dscf/MMBtu
    """
    return f_factor_of_elements(_sums(x, components), molar_gross)


def f_factor_of_elements(sums: Array, molar_gross: Values) -> Values:
    """Return the dry F factor of Method 19 from the sums of `element_columns` and the molar heat. [m³/J]"""
    per_mole = sum(sums[at] * _ELEMENT_MASS[element] * F_DRY_CONSTANTS[element] for at, element in enumerate("CHNOS"))
    with np.errstate(all="ignore"):
        heat = np.where(np.asarray(molar_gross, dtype=float) > 0, molar_gross, np.nan)
        # the constants are scf/lb per per cent: times 100 per mass fraction
        found = np.asarray(100 * per_mole * _CUBIC_FOOT_PER_POUND / heat)
    return found if found.ndim else float(found)


def _sums(x: npt.ArrayLike, components: Sequence[str] | None) -> Array:
    """Return atoms of C, H, N, O, S, noble gas, and mass [kg], per mole of gas. (7, ...)"""
    columns = element_columns(None if components is None else tuple(components))
    x = np.asarray(x, dtype=float)
    if x.ndim == 0 or x.shape[-1] != len(columns):
        raise ValueError(f"the last axis of x has {x.shape[-1] if x.ndim else 0} fractions, for {len(columns)} names")
    rows, turned = x.reshape(-1, len(columns)), np.ascontiguousarray(columns.T)
    out = np.empty((len(turned), len(rows)))
    for part in blocks(*rows.shape):
        block = rows[part]
        np.matmul(turned, block.T, out=out[:, part])
        if not block.min() >= 0:  # nan is not either
            out[:, part] = np.where((block >= 0).all(axis=1), out[:, part], np.nan)
    return out.reshape(len(turned), *x.shape[:-1])


@cache
def element_columns(components: tuple[str, ...] | None) -> Array:
    """Return atoms of C, H, N, O, S, noble gas, and mass [kg], in a mole of each component. (m, 7)"""
    at, data = places(components), table()
    atoms = data.atoms[at]
    return np.column_stack((atoms[:, :5], atoms[:, 5:].sum(axis=1), data.molar_mass[at]))
