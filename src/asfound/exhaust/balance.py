"""What leaves the engine for each mole of gas: the balance of the elements, lean and rich.

The gas is known by its atoms of carbon, hydrogen, oxygen and nitrogen per mole, inerts included. Air is oxygen,
nitrogen (argon and its like count as nitrogen) and water. Lean mixtures burn completely. In rich ones no oxygen is
left, and carbon monoxide and hydrogen share what is missing as the water-gas equilibrium of exhaust formulas has it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, stoichiometric_oxygen
from asfound.fuel.stoichiometry import MOLAR_MASS_DRY_AIR, WATER_GAS
from asfound.quantities.typing import Array, Values

ATOMIC_MASS = (12.011e-3, 1.008e-3, 15.999e-3, 14.007e-3)  # kg/mol: C, H, O, N; IUPAC 2021 abridged
MOLAR_MASS_WATER = 18.015e-3  # kg/mol


@dataclass(frozen=True, slots=True, kw_only=True)
class Exhaust:
    """Moles for each mole of gas; arrays of one shape."""

    carbon_dioxide: Array
    carbon_monoxide: Array
    hydrogen: Array
    oxygen: Array
    nitrogen: Array
    water: Array
    """Of the combustion and of the air."""

    @property
    def dry(self) -> Array:
        """All but the water."""
        total: Array = self.carbon_dioxide + self.carbon_monoxide + self.hydrogen + self.oxygen + self.nitrogen
        return total

    @property
    def wet(self) -> Array:
        """With the water."""
        return self.dry + self.water


def exhaust(
    ratio: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    *,
    humidity: Values = 0.0,
    oxygen_in_air: float = OXYGEN_IN_DRY_AIR,
    water_gas: float = WATER_GAS,
) -> Exhaust:
    """Return the exhaust of a gas at an excess air ratio.

    Parameters
    ----------
    ratio : float or array
        Air over stoichiometric air. [1]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity : float or array
        Water in the air, for each mole of dry air. [mol/mol]
    oxygen_in_air : float
        Of dry air. [mol/mol]
    water_gas : float
        CO H2O / (CO2 H2) in rich exhaust. [1]

    Returns
    -------
    Exhaust
        nan where the ratio is not above zero, where the gas needs no air, and so rich that soot would form.

    References
    ----------
    .. [1] Balance of the elements. Against a solver of chemical equilibrium at 700 K: oxygen within 3e-5, carbon
       dioxide within 1e-6, in per cent by volume (own calculation; `asfound prove`).

    Examples
    --------
    >>> one = exhaust(1.6, 1, 4, 0, 0)
    >>> print(f"{100 * one.oxygen / one.dry:.4f} % oxygen, {100 * one.carbon_dioxide / one.dry:.4f} % carbon dioxide")
    8.4066 % oxygen, 7.0055 % carbon dioxide
    """
    with np.errstate(all="ignore"):
        c, h, o, n, ratio = np.broadcast_arrays(
            *(np.asarray(one, dtype=float) for one in (carbon, hydrogen, fuel_oxygen, nitrogen, ratio))
        )
        need = stoichiometric_oxygen(c, h, o)
        supplied = np.where(ratio > 0, ratio, np.nan) * need
        air = supplied / oxygen_in_air
        moist = air * humidity
        lacking = np.maximum(need - supplied, 0.0) * 2  # atoms of oxygen that would be needed to burn all
        monoxide = monoxide_by_water_gas(c, h / 2 - lacking + moist, lacking, water_gas)
        dihydrogen = lacking - monoxide
        water = h / 2 - dihydrogen + moist
        sound = np.where((monoxide <= c) & (dihydrogen <= h / 2), 0.0, np.nan)
        return Exhaust(
            carbon_dioxide=c - monoxide + sound,
            carbon_monoxide=monoxide + sound,
            hydrogen=dihydrogen + sound,
            oxygen=np.maximum(supplied - need, 0.0) + sound,
            nitrogen=n / 2 + air * (1 - oxygen_in_air) + sound,
            water=np.asarray(water + sound),
        )


def monoxide_by_water_gas(carbon: Array, water: Array, lacking: Array, water_gas: float = WATER_GAS) -> Array:
    """Return the carbon monoxide y that solves y (water + y) = K (carbon - y)(lacking - y).

    ``water`` is what there would be if all that lacks were hydrogen: h/2 - lacking + moisture of the air.
    """
    linear = water + water_gas * (carbon + lacking)
    product = water_gas * carbon * lacking
    root = np.sqrt(linear**2 - 4 * (water_gas - 1) * product)
    answer: Array = 2 * product / np.where(linear + root > 0, linear + root, np.nan)  # no digits lost near lambda 1
    return answer


def slipped_hydrogen(carbon: Values, hydrogen: Values, fuel_oxygen: Values) -> Array:
    """Return hydrogen over carbon of the hydrocarbons in the gas: what an unburned share of it brings.

    The gas's oxygen is taken to be carbon dioxide, which passes the engine as it is; the answer is at most that of
    methane. [mol/mol]
    """
    with np.errstate(all="ignore"):
        carbon_of_hydrocarbons = np.asarray(np.subtract(carbon, np.divide(fuel_oxygen, 2)), dtype=float)
        found = hydrogen / np.where(carbon_of_hydrocarbons > 0, carbon_of_hydrocarbons, np.nan)
        return np.asarray(np.clip(np.nan_to_num(found, nan=4.0), 0.0, 4.0))


def molar_mass(carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> Values:
    """Return the molar mass of the gas by its atoms. [kg/mol]

    >>> print(f"{1000 * molar_mass(1, 4, 0, 0):.3f} g/mol")
    16.043 g/mol
    """
    c, h, o, n = ATOMIC_MASS
    return np.multiply(carbon, c) + np.multiply(hydrogen, h) + np.multiply(fuel_oxygen, o) + np.multiply(nitrogen, n)


def air_fuel_ratio(
    ratio: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    oxygen_in_air: float = OXYGEN_IN_DRY_AIR,
) -> Values:
    """Return the mass of dry air for a mass of gas. [kg/kg]

    >>> print(f"{air_fuel_ratio(1.0, 1, 4, 0, 0):.3f}")
    17.236
    """
    need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
    with np.errstate(all="ignore"):
        mass = molar_mass(carbon, hydrogen, fuel_oxygen, nitrogen)
        air = np.where(np.asarray(ratio, dtype=float) > 0, ratio, np.nan) * need / oxygen_in_air
        return air * MOLAR_MASS_DRY_AIR / mass


def humidity_of(water_in_air: Values) -> Values:
    """Return moles of water for a mole of dry air, from the mole fraction in moist air. [mol/mol]"""
    with np.errstate(all="ignore"):
        x = np.asarray(water_in_air, dtype=float)
        return x / np.where((x >= 0) & (x < 1), 1 - x, np.nan)
