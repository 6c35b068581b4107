"""Air-fuel ratio by the method of Spindt (1965), for gases of carbon and hydrogen only."""

from __future__ import annotations

import numpy as np

from asfound.exhaust.balance import ATOMIC_MASS, molar_mass
from asfound.quantities.typing import Values

LITTLE_OXYGEN, MOST_OXYGEN = 0.04, 0.10
"""Atoms in a mole of gas, as 2 and 5 % carbon dioxide bring: the method is 1 and 2.5 % wrong there (own comparison)."""


def air_fuel_ratio_spindt(
    carbon_dioxide: Values,
    oxygen: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    co: Values = 0.0,
    hydrocarbons: Values = 0.0,
) -> Values:
    """Return the mass of air for a mass of gas.

    It knows nothing of oxygen or carbon dioxide in the gas: for a landfill gas it is 17 to 40 % wrong, the most near
    lambda 1. The formula counts a mass of carbon and hydrogen; what else the gas brings is added to that mass.

    Parameters
    ----------
    carbon_dioxide, oxygen, co, hydrocarbons : float or array
        All dry; hydrocarbons counted as one carbon. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]

    Returns
    -------
    float or array
        nan where there is no carbon dioxide. [kg/kg]

    References
    ----------
    .. [1] A/F = F_b (11.492 F_c (1 + R/2 + Q) / (1 + R) + 120 F_h / (3.5 + R)), Q = O2/CO2, R = CO/CO2, F_b the burned
       share of the carbon, F_c and F_h the mass fractions of carbon and hydrogen: R. S. Spindt, SAE 650507 (1965);
       constants from one copy, the paper was not seen. Within 0.4 % of the balance of the elements.

    Examples
    --------
    >>> print(f"{air_fuel_ratio_spindt(0.1135244, 0.0016232, 1, 4, 0, 0, co=0.003):.2f}")
    17.17
    """
    with np.errstate(all="ignore"):
        co2 = np.where(np.asarray(carbon_dioxide, dtype=float) > 0, carbon_dioxide, np.nan)
        q, r = np.divide(oxygen, co2), np.divide(co, co2)
        burned = (co2 + co) / (co2 + co + hydrocarbons)
        mass_c, mass_h = np.multiply(carbon, ATOMIC_MASS[0]), np.multiply(hydrogen, ATOMIC_MASS[1])
        burning = np.where(mass_c + mass_h > 0, mass_c + mass_h, np.nan)
        share, of_the_gas = mass_c / burning, burning / molar_mass(carbon, hydrogen, fuel_oxygen, nitrogen)
        ratio: Values = (
            of_the_gas * burned * (11.492 * share * (1 + r / 2 + q) / (1 + r) + 120 * (1 - share) / (3.5 + r))
        )
        return ratio
