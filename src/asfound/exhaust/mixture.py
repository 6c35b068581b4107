"""How lean the engine burns, told by what oxygen is left."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

OXYGEN_IN_DRY_AIR = 0.2095  # mol/mol; the rest counts as nitrogen


def excess_air_ratio(oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> Values:
    """Return lambda from dry oxygen, for the gas that is burned.

    For complete combustion and lean mixtures. Unburned fuel that the analyser does not see makes it read high (1 %
    of the fuel slipping: about +0.02); air that enters before the probe does too. Humidity of the intake air does not
    matter to a dry reading. The handy 20.95 / (20.95 - O2) reads 1.67 where the engine runs at 1.60.

    Parameters
    ----------
    oxygen : float or array
        In dry exhaust. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the fuel gas, inerts included. [mol/mol]

    Returns
    -------
    float or array
        Air over stoichiometric air; nan at or above the oxygen of air, and for a gas that needs no air. [1]

    References
    ----------
    .. [1] lambda = 1 + (V/L) O2 / (0.2095 - O2) with V the dry stoichiometric exhaust and L the air, both per mole
       of gas: element balance; agrees with an equilibrium solver to 3e-5 in oxygen (own calculation).

    Examples
    --------
    Methane burned at lambda 1.6 leaves 8.4066 % oxygen.

    >>> print(f"{excess_air_ratio(0.084066, 1, 4, 0, 0):.4f}")
    1.6000
    """
    with np.errstate(all="ignore"):
        need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
        air = need / OXYGEN_IN_DRY_AIR
        dry_exhaust = np.add(carbon, np.divide(nitrogen, 2)) + (1 - OXYGEN_IN_DRY_AIR) * air
        left = np.subtract(OXYGEN_IN_DRY_AIR, oxygen)
        return 1 + dry_exhaust / air * oxygen / np.where(left > 0, left, np.nan)


def stoichiometric_oxygen(carbon: Values, hydrogen: Values, fuel_oxygen: Values) -> Values:
    """Return the oxygen that a mole of gas needs to burn completely; nan where it needs none. [mol/mol]

    >>> float(stoichiometric_oxygen(1, 4, 0))
    2.0
    """
    need = np.asarray(carbon + np.divide(hydrogen, 4) - np.divide(fuel_oxygen, 2), dtype=float)
    return np.where(need > 0, need, np.nan)


def dry_oxygen(ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> Values:
    """Return the dry oxygen that lambda leaves: the inverse of :func:`excess_air_ratio`. [mol/mol]

    >>> print(f"{float(dry_oxygen(1.6, 1, 4, 0, 0)):.6f}")
    0.084066
    """
    with np.errstate(all="ignore"):
        need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
        surplus = np.subtract(ratio, 1) * need
        dry = (
            np.add(carbon, np.divide(nitrogen, 2))
            + (1 - OXYGEN_IN_DRY_AIR) * need / OXYGEN_IN_DRY_AIR * ratio
            + surplus
        )
        return surplus / dry
