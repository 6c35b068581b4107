"""Lambda by the formula of Brettschneider (1979): both oxygen and carbon dioxide, with what did not burn."""

from __future__ import annotations

import numpy as np

from asfound.fuel.stoichiometry import WATER_GAS
from asfound.quantities.typing import Values


def lambda_brettschneider(
    carbon_dioxide: Values,
    oxygen: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    co: Values = 0.0,
    hydrocarbons: Values = 0.0,
    no: Values = 0.0,
    no2: Values = 0.0,
) -> Values:
    """Return the oxygen in the exhaust, free and bound, over the oxygen that its carbon and hydrogen need.

    Nothing in it hangs on nitrogen or on the air's oxygen, and it holds lean and rich. From a sample that air dilutes
    it counts that air as the engine's, as every method does. Its hydrogen is that of dry air: at lambda 0.95 on a humid
    day it reads 0.003 high.

    Parameters
    ----------
    carbon_dioxide, oxygen, co, hydrocarbons, no, no2 : float or array
        All dry; hydrocarbons counted as one carbon (a flame ionisation analyser does; an infrared one that counts as
        hexane needs a factor of its own for natural gas). [mol/mol]
    carbon, hydrogen, fuel_oxygen : float or array
        Atoms in a mole of the gas. [mol/mol]

    Returns
    -------
    float or array
        nan where there is no carbon dioxide, or the gas has no carbon. [1]

    References
    ----------
    .. [1] J. Brettschneider, Technische Berichte 6 (1979) no. 4, 177-186, as one full copy has it (the paper
       was not seen); NO2, where read apart, counts as one O2. Recomputed by the balance of the elements: within 4e-4
       with 2 to 3 % of the fuel unburned.

    Examples
    --------
    >>> print(f"{lambda_brettschneider(0.070055, 0.084066, 1, 4, 0):.4f}")
    1.6000
    """
    with np.errstate(all="ignore"):
        c = np.where(np.asarray(carbon, dtype=float) > 0, carbon, np.nan)
        h, o = hydrogen / c, fuel_oxygen / c
        co2 = np.where(np.asarray(carbon_dioxide, dtype=float) > 0, carbon_dioxide, np.nan)
        burned = np.add(co2, co)
        water = h / 4 * WATER_GAS / (WATER_GAS + np.divide(co, co2))
        supplied = co2 + np.divide(co, 2) + oxygen + np.divide(no, 2) + no2 + (water - o / 2) * burned
        need = (1 + h / 4 - o / 2) * np.add(burned, hydrocarbons)
        return supplied / np.where(need > 0, need, np.nan)
