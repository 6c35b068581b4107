"""Lambda by the balance of all elements, from dry oxygen or from dry carbon dioxide, with what else was read.

Carbon, hydrogen, oxygen and nitrogen of gas and air are those of the exhaust, and its dry parts add up to one. That
leaves one reading to be made: oxygen, or carbon dioxide. Carbon monoxide, hydrocarbons and nitrogen oxides, where they
were read, take their part; hydrogen follows carbon monoxide by the water-gas equilibrium. So both forms hold on the
rich side too, where an engine with a three-way catalyst runs.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from asfound.exhaust.balance import slipped_hydrogen
from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, stoichiometric_oxygen
from asfound.fuel.stoichiometry import WATER_GAS
from asfound.quantities.typing import Array, Values

ABOUT_ZERO = -0.005
"""An analyser that reads none reads a little less at times; below this, mol/mol, it is no noise any more."""
NITROGEN_OF_AIR = (1 - OXYGEN_IN_DRY_AIR) / OXYGEN_IN_DRY_AIR  # mol for each mol of its oxygen


class Balanced(NamedTuple):
    """What the balance gives; arrays."""

    ratio: Array
    """Air over stoichiometric air. [1]"""
    carbon_dioxide: Array
    """Dry. [mol/mol]"""
    oxygen: Array
    """Dry. [mol/mol]"""
    hydrogen: Array
    """Dry. [mol/mol]"""
    gas: Array
    """Moles of gas for each mole of dry exhaust."""

    def air(self, need: Values) -> Array:
        """Return moles of dry air for each mole of dry exhaust, from the gas's need of oxygen. [mol/mol]"""
        return np.asarray(self.ratio * self.gas * need / OXYGEN_IN_DRY_AIR)


class Pollutants(NamedTuple):
    """What else was read, all dry; zero where it was not. [mol/mol]"""

    co: Values = 0.0
    hydrocarbons: Values = 0.0
    """Counted as one carbon."""
    no: Values = 0.0
    no2: Values = 0.0


class _Gas(NamedTuple):
    """The gas, ready for the balance."""

    carbon: Array
    hydrogen: Array
    need: Array
    dry: Array
    """Dry exhaust without excess air, for each mole."""
    slipped: Array


def from_oxygen(
    oxygen: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    read: Pollutants = Pollutants(),
    humidity: Values = 0.0,
) -> Balanced:
    """Return lambda and the rest of dry exhaust from its oxygen.

    Parameters
    ----------
    oxygen : float or array
        In dry exhaust. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    read : Pollutants
        Dry. [mol/mol]
    humidity : float or array
        Water for each mole of dry air; it matters only through the hydrogen of rich mixtures. [mol/mol]

    Returns
    -------
    Balanced
        nan at or above the oxygen of air, and where no carbon dioxide would be left.

    References
    ----------
    .. [1] Balance of the elements (own derivation); meets the known lambda of six mixtures with slip, CO, NO, NO2
       and humidity (`asfound prove`).

    Examples
    --------
    >>> print(f"{from_oxygen(0.086066, 1.035, 4.02, 0.01, 0.03, Pollutants(5e-4, 1.0585e-3, 8e-5, 4e-5)).ratio:.3f}")
    1.600
    """
    gas = _gas(carbon, hydrogen, fuel_oxygen, nitrogen)
    o2, co, hc, no, no2, moist = _together(oxygen, *read, humidity)
    with np.errstate(all="ignore"):
        nitrous = no + no2
        bound = 2 * o2 + nitrous + no2 - co - hc * (2 + gas.slipped / 2)  # twice the oxygen beyond the need, less g
        of_air = moist / OXYGEN_IN_DRY_AIR  # water for each mole of oxygen that the air brings
        by_water = gas.hydrogen / 2 + of_air * gas.need
        # everything is a straight line over the hydrogen g, so the water-gas balance is a quadratic equation in it
        moles0 = (1 - o2 - (nitrous + NITROGEN_OF_AIR * bound) / 2) / gas.dry
        moles1 = (1 - NITROGEN_OF_AIR / 2) / gas.dry
        co2_0 = moles0 * gas.carbon - co - hc
        water0 = moles0 * by_water + (of_air * bound - gas.slipped * hc) / 2
        water1 = 1 + moles1 * by_water + of_air / 2
        linear = WATER_GAS * co2_0 + co * water1
        product = co * water0
        root = np.sqrt(linear * linear - 4 * WATER_GAS * gas.carbon * moles1 * product)
        g = 2 * product / np.where(co2_0 > 0, linear + root, np.nan)
        moles = moles0 - moles1 * g
        sound = np.where((o2 >= ABOUT_ZERO) & (o2 < OXYGEN_IN_DRY_AIR) & (moles > 0), moles, np.nan)
        ratio = 1 + (bound - g) / (2 * gas.need * sound)
        return Balanced(ratio, sound * gas.carbon - co - hc, o2 + 0 * sound, g, sound)


def from_carbon_dioxide(
    carbon_dioxide: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    read: Pollutants = Pollutants(),
    humidity: Values = 0.0,
) -> Balanced:
    """Return lambda and the rest of dry exhaust from its carbon dioxide: the carbon balance.

    Parameters
    ----------
    carbon_dioxide : float or array
        In dry exhaust, over that of the air. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity
        As in `from_oxygen`.

    Returns
    -------
    Balanced
        nan for a gas without carbon, for no carbon dioxide, and for more of it than the gas can make.

    References
    ----------
    .. [1] Balance of the elements (own derivation). Without pollutants it is lambda = 0.2095 (N - x - w/2 + a) / a
       with N = x / CO2, x and w the carbon and nitrogen, a the oxygen need of a mole of gas.

    Examples
    --------
    >>> print(f"{from_carbon_dioxide(0.070055, 1, 4, 0, 0).ratio:.3f}")
    1.600
    """
    gas = _gas(carbon, hydrogen, fuel_oxygen, nitrogen)
    co2, co, hc, no, no2, moist = _together(carbon_dioxide, *read, humidity)
    with np.errstate(all="ignore"):
        bound = no + 2 * no2 - co - hc * (2 + gas.slipped / 2)
        moles = (co2 + co + hc) / np.where(gas.carbon > 0, gas.carbon, np.nan)
        # oxygen and water are straight lines over the hydrogen g, and so is the water-gas balance
        oxygen0 = (1 - moles * gas.dry - (no + no2) / 2 - NITROGEN_OF_AIR * bound / 2) * OXYGEN_IN_DRY_AIR
        oxygen1 = (1 - NITROGEN_OF_AIR / 2) * OXYGEN_IN_DRY_AIR
        air0 = (moles * gas.need + oxygen0 + bound / 2) / OXYGEN_IN_DRY_AIR
        water0 = moles * gas.hydrogen / 2 - gas.slipped * hc / 2 + moist * air0
        water1 = 1 + moist * (oxygen1 + 0.5) / OXYGEN_IN_DRY_AIR
        g = co * water0 / (WATER_GAS * np.where(co2 > 0, co2, np.nan) + co * water1)
        oxygen = oxygen0 - oxygen1 * g
        # no oxygen can be below nothing by more than the readings are wrong: a tenth of the air's
        sound = np.where(oxygen > -0.1 * OXYGEN_IN_DRY_AIR, moles, np.nan)
        ratio = 1 + (oxygen + (bound - g) / 2) / (sound * gas.need)
        return Balanced(ratio, co2 + 0 * sound, oxygen + 0 * sound, g, sound)


def _gas(carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> _Gas:
    need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
    return _Gas(
        np.asarray(carbon, dtype=float),
        np.asarray(hydrogen, dtype=float),
        np.asarray(need),
        np.asarray(carbon + np.divide(nitrogen, 2) + NITROGEN_OF_AIR * need),
        slipped_hydrogen(carbon, hydrogen, fuel_oxygen),
    )


def _together(*values: Values) -> list[Array]:
    """Return the readings as arrays of floats."""
    return [np.asarray(one, dtype=float) for one in values]
