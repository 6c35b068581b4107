"""The chemical balance of raw exhaust as 40 CFR 1065.655 prescribes it for laboratories."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from asfound.fuel.stoichiometry import WATER_GAS
from asfound.quantities.typing import Array, Values

OXYGEN_OF_THE_RULE = 0.209820
"""Of dry air free of carbon dioxide, mol/mol: 0.15 % more than the 20.95 % of dry air, and so is lambda."""
ROUNDS = 6
"""Each settles three digits: only the carbon dioxide of the air is guessed, the rest is solved at each round."""


class Balance1065(NamedTuple):
    """What the balance gives for each mole of dry exhaust; arrays."""

    ratio: Array
    """All air over stoichiometric air. [1]"""
    water: Array
    """In wet exhaust. [mol/mol]"""
    intake_air: Array
    """Moist air that the combustion used. [mol/mol]"""
    excess_air: Array
    """Moist air that stayed: the rule calls it dilution. Forgetting it is the usual mistake. [mol/mol]"""
    hydrogen: Array
    """[mol/mol]"""
    fuel_carbon: Array
    """Carbon of the gas. [mol/mol]"""


def balance_1065(
    carbon_dioxide: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    co: Values = 0.0,
    hydrocarbons: Values = 0.0,
    no: Values = 0.0,
    no2: Values = 0.0,
    humidity: Values = 0.0,
    carbon_dioxide_in_air: Values = 0.0,
) -> Balance1065:
    """Return the balance of raw exhaust that the rule asks to be solved by iteration.

    Its equations are linear but for the carbon dioxide of the air, so they are solved, and only that is iterated.

    Parameters
    ----------
    carbon_dioxide, co, hydrocarbons, no, no2 : float or array
        All dry; hydrocarbons counted as one carbon. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity : float or array
        Water for each mole of dry air. [mol/mol]
    carbon_dioxide_in_air : float or array
        Of dry air; zero where the analyser was zeroed on ambient air, as on site. The rule takes 375e-6 where nobody
        measured it (from memory), which raises lambda 1.6 by 0.008. [mol/mol]

    Returns
    -------
    Balance1065
        nan where there is no carbon dioxide, or more carbon than the gas could bring without any excess air.

    References
    ----------
    .. [1] 40 CFR 1065.655(c), Equations -1 to -9, read through public implementations that cite the section, and
       recomputed by the balance of the elements: with the same air about 1e-4, with unburned biogas 1e-3, because the
       rule gives the unburned gas the formula of all the gas.

    Examples
    --------
    >>> found = balance_1065(0.071101, 1.035, 4.02, 0.01, 0.03)
    >>> print(f"{found.ratio:.4f}")
    1.6024
    """
    with np.errstate(all="ignore"):
        c = np.where(np.asarray(carbon, dtype=float) > 0, carbon, np.nan)
        alpha, beta, delta = hydrogen / c, fuel_oxygen / c, nitrogen / c
        co2, co, hc, no, no2, moist, air_co2 = (
            np.asarray(one, dtype=float)
            for one in (carbon_dioxide, co, hydrocarbons, no, no2, humidity, carbon_dioxide_in_air)
        )
        co2 = np.where(co2 > 0, co2, np.nan)
        co2_air, water_air = air_co2 / (1 + moist), moist / (1 + moist)
        oxygen_air = (OXYGEN_OF_THE_RULE - air_co2) / (1 + moist)
        excess = used = np.zeros_like(co2 + alpha + moist)
        for _ in range(ROUNDS if np.any(air_co2) else 1):
            fuel_carbon = co2 + co + hc - co2_air * (excess + used)
            burned = fuel_carbon - hc
            # with that known, hydrogen is the root of a straight line: intake air and water lie on lines over it
            used0 = ((alpha / 2 - beta + 2) * burned - (co - no - 2 * no2)) / (2 * oxygen_air)
            used1 = 1 / (2 * oxygen_air)
            steam = alpha / 2 * burned + water_air * used0
            h2 = co * steam / (WATER_GAS * (co2 - co2_air * excess) + co * (1 + water_air * used1))
            used = used0 - used1 * h2
            raw = ((alpha / 2 + beta + delta) * burned + (2 * hc + co - no2 + h2)) / 2 + used
            from_used = alpha / 2 * burned + water_air * used - h2
            excess = (1 + from_used - raw) / (1 - water_air)
            water = from_used + water_air * excess
        sound = np.where((used > 0) & (excess > -0.1 * used), 1.0, np.nan)
        need = fuel_carbon * (1 + alpha / 4 - beta / 2)
        ratio = (used + excess) * oxygen_air / np.where(need > 0, need, np.nan)
        return Balance1065(ratio * sound, water / (1 + water) * sound, used * sound, excess * sound, h2, fuel_carbon)
