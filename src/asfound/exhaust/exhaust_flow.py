"""How much exhaust there is: from the gas burned and the carbon or oxygen found, or from the air drawn in.

Each needs one flow and no pitot tube. Moles per second; volumes follow by the law of the ideal gas.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.balance import MOLAR_MASS_WATER, air_fuel_ratio, molar_mass
from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE
from asfound.fuel.stoichiometry import MOLAR_MASS_DRY_AIR
from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT, NORMAL_TEMPERATURE
from asfound.quantities.typing import Values

NORMAL_VOLUME = GAS_CONSTANT * NORMAL_TEMPERATURE / ATMOSPHERE  # m3/mol
DRY_STANDARD_VOLUME = GAS_CONSTANT * DRY_STANDARD_TEMPERATURE / ATMOSPHERE  # m3/mol, 20 C


def dry_exhaust_from_carbon(
    gas_flow: Values, carbon: Values, carbon_dioxide: Values, co: Values = 0.0, hydrocarbons: Values = 0.0
) -> Values:
    """Return the dry exhaust that carries the carbon of the gas.

    Parameters
    ----------
    gas_flow : float or array
        [mol/s]
    carbon : float or array
        Atoms in a mole of the gas, that of its carbon dioxide included. [mol/mol]
    carbon_dioxide, co, hydrocarbons : float or array
        All dry; hydrocarbons counted as one carbon. [mol/mol]

    Returns
    -------
    float or array
        nan where no carbon was found. [mol/s]

    References
    ----------
    .. [1] Carbon balance; 40 CFR 1065.655 has it as the way from fuel flow to exhaust flow.

    Examples
    --------
    >>> print(f"{dry_exhaust_from_carbon(12.0, 1.035, 0.0705, 430e-6, 1650e-6):.4f}")
    171.1215
    """
    with np.errstate(all="ignore"):
        found = np.add(np.add(carbon_dioxide, co), hydrocarbons)
        return np.multiply(gas_flow, carbon) / np.where(found > 0, found, np.nan)


def dry_exhaust_from_air(air_mass_flow: Values, air_for_dry: Values, humidity: Values = 0.0) -> Values:
    """Return the dry exhaust that the air drawn in becomes.

    Parameters
    ----------
    air_mass_flow : float or array
        Moist air. [kg/s]
    air_for_dry : float or array
        Moles of dry air for each mole of dry exhaust, as a balance gives it. [mol/mol]
    humidity : float or array
        Water for each mole of dry air. [mol/mol]

    Returns
    -------
    float or array
        [mol/s]

    Examples
    --------
    A kilogram of dry air that burns no gas leaves as it came.

    >>> print(f"{dry_exhaust_from_air(1.0, 1.0):.3f}")
    34.524
    """
    with np.errstate(all="ignore"):
        dry_air = np.divide(air_mass_flow, MOLAR_MASS_DRY_AIR + np.multiply(humidity, MOLAR_MASS_WATER))
        return dry_air / np.where(np.asarray(air_for_dry, dtype=float) > 0, air_for_dry, np.nan)


def exhaust_from_intake_1065(
    intake_flow: Values, intake_for_dry: Values, raw_for_dry: Values, water_for_dry: Values
) -> Values:
    """Return the wet exhaust from the intake air, with the terms of the rule's balance.

    Parameters
    ----------
    intake_flow : float or array
        Moist air. [mol/s]
    intake_for_dry, raw_for_dry, water_for_dry : float or array
        Intake air, raw exhaust and water for each mole of dry exhaust. [mol/mol]

    Returns
    -------
    float or array
        [mol/s]

    References
    ----------
    .. [1] n_exh = n_int / (1 + (x_int - x_raw) / (1 + x_H2O)): 40 CFR 1065.655, Equation -24.

    Examples
    --------
    >>> print(f"{exhaust_from_intake_1065(310.0, 1.0021, 1.0568, 0.1241):.6f}")
    325.856555
    """
    with np.errstate(all="ignore"):
        return intake_flow / (1 + np.subtract(intake_for_dry, raw_for_dry) / np.add(1, water_for_dry))


def exhaust_mass_flow(
    gas_flow: Values,
    ratio: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    humidity: Values = 0.0,
) -> Values:
    """Return the mass of wet exhaust: that of gas and moist air together.

    Parameters
    ----------
    gas_flow : float or array
        [mol/s]
    ratio : float or array
        Excess air ratio. [1]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity : float or array
        Water for each mole of dry air. [mol/mol]

    Returns
    -------
    float or array
        [kg/s]
    """
    gas = np.multiply(gas_flow, molar_mass(carbon, hydrogen, fuel_oxygen, nitrogen))
    water = np.multiply(humidity, MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR)
    return gas * (1 + air_fuel_ratio(ratio, carbon, hydrogen, fuel_oxygen, nitrogen) * np.add(1, water))
