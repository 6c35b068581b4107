"""Excess air with nitrogen as the tie between air and exhaust: no analysis of the gas is needed.

What is neither carbon dioxide nor oxygen nor carbon monoxide is taken for nitrogen of the air. That fails for a gas
that brings nitrogen of its own.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR
from asfound.quantities.typing import Values


def lambda_from_nitrogen(
    oxygen: Values, carbon_dioxide: Values, co: Values = 0.0, oxygen_in_air: float = OXYGEN_IN_DRY_AIR
) -> Values:
    """Return lambda from dry oxygen, carbon dioxide and carbon monoxide alone.

    Parameters
    ----------
    oxygen, carbon_dioxide, co : float or array
        All dry. [mol/mol]
    oxygen_in_air : float
        0.2095; 0.21 in textbooks. [mol/mol]

    Returns
    -------
    float or array
        nan where more oxygen is left than this nitrogen brought. [1]

    References
    ----------
    .. [1] lambda = N q / (N q - (O2 - CO/2)), N = 1 - CO2 - O2 - CO, q oxygen over nitrogen of air: the usual flue-gas
       arithmetic of textbooks, as in Bhatt and Thakore, chapter 7.

    Examples
    --------
    >>> print(f"{100 * (lambda_from_nitrogen(0.042, 0.114, oxygen_in_air=0.21) - 1):.2f} % excess air")
    23.03 % excess air
    """
    with np.errstate(all="ignore"):
        nitrogen = 1 - np.add(np.add(oxygen, carbon_dioxide), co)
        brought = nitrogen * (oxygen_in_air / (1 - oxygen_in_air))
        used = brought - (oxygen - np.divide(co, 2))
        return np.where((used > 0) & (brought > 0), brought / np.where(used > 0, used, np.nan), np.nan)


def air_from_nitrogen(
    oxygen: Values, carbon_dioxide: Values, co: Values, carbon: Values, oxygen_in_air: float = OXYGEN_IN_DRY_AIR
) -> Values:
    """Return moles of dry air for a mole of gas, by nitrogen over carbon.

    Parameters
    ----------
    oxygen, carbon_dioxide, co : float or array
        All dry. [mol/mol]
    carbon : float or array
        Atoms in a mole of the gas. [mol/mol]
    oxygen_in_air : float
        [mol/mol]

    Returns
    -------
    float or array
        nan where no carbon was found. [mol/mol]
    """
    with np.errstate(all="ignore"):
        nitrogen = 1 - np.add(np.add(oxygen, carbon_dioxide), co)
        found = np.add(carbon_dioxide, co)
        return nitrogen / (1 - oxygen_in_air) * carbon / np.where(found > 0, found, np.nan)
