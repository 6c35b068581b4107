"""The exhaust that a gas makes, and the heat in it.

Complete combustion for lambda 1 and above. Below 1 the missing oxygen leaves carbon monoxide and hydrogen, shared as
the water-gas equilibrium of published exhaust formulas has it. Sulfur counts as carbon dioxide here. Heat is counted
above 25 °C with the water as vapour, as the net heating value is.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from asfound.fuel.ideal_gas import ideal_gas
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR, WATER_GAS
from asfound.quantities.typing import Array, Values

ARGON_IN_AIR, CARBON_DIOXIDE_IN_AIR = 0.00933, 0.0004  # mol/mol, CIPM-2007
NITROGEN_IN_AIR = 1 - OXYGEN_IN_DRY_AIR - ARGON_IN_AIR - CARBON_DIOXIDE_IN_AIR
SPECIES = ("nitrogen", "oxygen", "carbon_dioxide", "water", "argon", "carbon_monoxide", "hydrogen")
MOLAR_MASS = np.array([28.0134, 31.9988, 44.0095, 18.01528, 39.948, 28.0101, 2.01588]) * 1e-3
"""Of the species, CIAAW 2007 rounded. [kg/mol]"""
MOLAR_MASS_WATER = MOLAR_MASS[SPECIES.index("water")]
REFERENCE = 298.15
COLDEST, HOTTEST, STEP = 200.0, 1500.0, 2.0


class Exhaust(NamedTuple):
    """Exhaust and air of one mole of gas; arrays of one shape."""

    moles: Array
    """Of each of `SPECIES`, along the first axis. [mol/mol]"""
    air: Array
    """Moist. [kg/mol]"""
    fuel: Array
    """[kg/mol]"""

    @property
    def wet(self) -> Array:
        """Moles of wet exhaust. [mol/mol]"""
        return np.asarray(self.moles.sum(axis=0))

    @property
    def dry(self) -> Array:
        """Moles of dry exhaust. [mol/mol]"""
        return np.asarray(self.wet - self.moles[SPECIES.index("water")])

    @property
    def mass(self) -> Array:
        """[kg/mol]"""
        return np.tensordot(MOLAR_MASS, self.moles, axes=1)

    def heat(self, temperature: Values) -> Array:
        """Return the heat above 25 °C in the exhaust of a mole of gas. [J/mol]"""
        return np.asarray(np.einsum("s...,s...->...", self.moles, molar_heat(temperature, self.moles.ndim - 1)))

    def specific_heat(self, temperature: Values) -> Array:
        """Return the heat above 25 °C in a mass of exhaust. [J/kg]"""
        with np.errstate(all="ignore"):
            return self.heat(temperature) / self.mass


def exhaust_of(elements: Array, ratio: Values, water_in_air: Values = 0.0) -> Exhaust:
    """Return the exhaust of a mole of gas.

    Parameters
    ----------
    elements : array, (7, ...)
        Atoms of C, H, N, O, S, noble gas, and mass [kg] in a mole of gas: sums of `stoichiometry.element_columns`.
    ratio : float or array (...)
        Lambda: air over stoichiometric air. [1]
    water_in_air : float or array (...)
        In moist air. [mol/mol]

    Returns
    -------
    Exhaust
        nan for a ratio that is not above zero, and for a gas that needs no air.

    References
    ----------
    .. [1] Balance of the elements; composition of air: A. Picard et al., Metrologia 45 (2008) 149 (CIPM-2007).
    """
    c, h, n, o, s, noble, mass = np.asarray(elements, dtype=float)
    with np.errstate(all="ignore"):
        need = c + h / 4 + s - o / 2
        lam = np.where(np.greater(ratio, 0) & (need > 0), ratio, np.nan)
        dry_air = need * lam / OXYGEN_IN_DRY_AIR
        moist = np.asarray(water_in_air, dtype=float)
        vapour = dry_air * moist / np.where((moist >= 0) & (moist < 1), 1 - moist, np.nan)
        monoxide, hydrogen = _unburned(2 * need * (1 - lam), c, h / 2 + vapour)
        parts = (
            NITROGEN_IN_AIR * dry_air + n / 2,
            need * np.maximum(lam - 1, 0),
            c + s + CARBON_DIOXIDE_IN_AIR * dry_air - monoxide,
            h / 2 - hydrogen + vapour,
            ARGON_IN_AIR * dry_air + noble,
            monoxide,
            hydrogen,
        )
        air = dry_air * _mass_of_dry_air() + vapour * MOLAR_MASS_WATER
        moles = np.stack(np.broadcast_arrays(*parts))
    return Exhaust(moles, *np.broadcast_arrays(air, mass))


def _unburned(lacking: Array, carbon: Array, water: Array) -> tuple[Array, Array]:
    """Return carbon monoxide and hydrogen of the oxygen atoms that are lacking; none in lean exhaust. [mol/mol]

    The smaller root of (K - 1) x² - (water - lacking + K (carbon + lacking)) x + K carbon lacking = 0.
    """
    if not np.any(lacking > 0):
        return np.zeros(()), np.zeros(())
    short = np.maximum(lacking, 0)
    middle = water - short + WATER_GAS * (carbon + short)
    product = WATER_GAS * carbon * short
    monoxide = 2 * product / (middle + np.sqrt(middle**2 - 4 * (WATER_GAS - 1) * product))
    return monoxide, short - monoxide


def molar_heat(temperature: Values, dimensions: int | None = None) -> Array:
    """Return the heat above 25 °C in a mole of each species.

    Parameters
    ----------
    temperature : float or array
        -73 to 1227 °C; nan outside. [K]
    dimensions : int, optional
        Axes of the arrays that it meets; those of ``temperature`` when left out.

    Returns
    -------
    array
        The species of `SPECIES` along the first axis. [J/mol]

    References
    ----------
    .. [1] Heat capacities of Jaeschke and Schley (1995) as AGA Report No. 8 prints them, drawn up every 2 K (off by a
       millionth in between). Other sets (NASA polynomials of GRI-Mech 3.0) differ by up to 0.1 per cent.
    """
    t = np.asarray(temperature, dtype=float)
    _, heat, rise = _heat_table()
    with np.errstate(invalid="ignore"):
        step = (t - COLDEST) / STEP
        inside = (step >= 0) & (step <= heat.shape[1] - 1)
        at = np.where(inside, step, 0.0).astype(np.intp)
        part = np.where(inside, step - at, np.nan)
    found = np.take(rise, at, axis=1)
    found *= part
    found += np.take(heat, at, axis=1)
    lacking = 0 if dimensions is None else dimensions - t.ndim
    return found.reshape(len(SPECIES), *([1] * max(lacking, 0)), *t.shape)


def air_heat(temperature: Values, water_in_air: Values = 0.0) -> Values:
    """Return the heat above 25 °C in a mass of moist air; below zero for colder air. [J/kg]

    Examples
    --------
    >>> print(f"{air_heat(253.15) / 1e3:.1f} kJ/kg")
    -45.2 kJ/kg
    """
    water = np.asarray(water_in_air, dtype=float)
    heat = molar_heat(temperature)
    dry = (
        NITROGEN_IN_AIR * heat[0] + OXYGEN_IN_DRY_AIR * heat[1] + CARBON_DIOXIDE_IN_AIR * heat[2]
        + ARGON_IN_AIR * heat[4]
    )  # fmt: skip
    with np.errstate(all="ignore"):
        mass = (1 - water) * _mass_of_dry_air() + water * MOLAR_MASS_WATER
        found: Values = ((1 - water) * dry + water * heat[3]) / mass
    return found


@cache
def _mass_of_dry_air() -> float:
    parts = (NITROGEN_IN_AIR, OXYGEN_IN_DRY_AIR, CARBON_DIOXIDE_IN_AIR, 0.0, ARGON_IN_AIR, 0.0, 0.0)
    return float(MOLAR_MASS @ np.array(parts))


@cache
def _heat_table() -> tuple[Array, Array, Array]:
    """Return temperatures, the heat of each species at them, and its rise to the next."""
    grid = np.arange(COLDEST, HOTTEST + STEP / 2, STEP)
    rows = [ideal_gas((name,), np.ones((1, grid.size)), grid)[1] for name in SPECIES]
    heat = np.stack(rows)
    return grid, heat, np.diff(heat, axis=1, append=heat[:, -1:])
