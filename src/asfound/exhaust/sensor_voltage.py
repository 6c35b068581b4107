"""What the millivolts of a zirconia oxygen sensor say of a mixture near lambda 1: a cell between exhaust and air.

The sensor burns on its hot electrode what the cylinders left, so it sees the oxygen of exhaust in equilibrium at its
own temperature. Rich of lambda 1 that oxygen is next to none, and it tells carbon monoxide and hydrogen.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.balance import exhaust
from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, stoichiometric_oxygen
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.typing import Array, Values

FARADAY = 96_485.33212
"""CODATA 2018, exact. [C/mol]"""
MONOXIDE, HYDROGEN = (-282_400.0, 86.85), (-246_400.0, 54.8)
"""Gibbs energy of burning a mole with half a mole of oxygen, a + b T [J/mol], at 1 bar: the straight lines of
metallurgy (Gaskell, from memory); what is lacking of oxygen comes out within 12 % of a chemistry library
(own calculation): 0.0006 of lambda at 0.995."""


def oxygen_at_sensor(voltage: Values, temperature: Values, oxygen_of_air: Values = OXYGEN_IN_DRY_AIR) -> Values:
    """Return the oxygen that a zirconia cell sees, by Nernst. [mol/mol, or in the unit of the air's]

    Parameters
    ----------
    voltage : float or array
        Reference air against exhaust; above nought. [V]
    temperature : float or array
        Of the cell. [K]
    oxygen_of_air : float or array
        Behind it. [mol/mol]

    Examples
    --------
    In air it gives nothing; each tenth of the oxygen gives 46 mV more at 650 °C.

    >>> print(f"{float(oxygen_at_sensor(0.0, 923.15)):.4f}, {float(oxygen_at_sensor(0.0458, 923.15)):.4f}")
    0.2095, 0.0209
    """
    with np.errstate(all="ignore"):
        return oxygen_of_air * np.exp(-4.0 * FARADAY * np.asarray(voltage, dtype=float) / (GAS_CONSTANT * temperature))


def lambda_from_voltage(
    voltage: Values,
    temperature: Values,
    carbon: Values,
    hydrogen: Values,
    fuel_oxygen: Values,
    nitrogen: Values,
    humidity: Values = 0.0,
) -> Values:
    """Return lambda from the voltage of a zirconia sensor whose electrode brings the exhaust to equilibrium.

    Parameters
    ----------
    voltage, temperature : float or array
        As of `oxygen_at_sensor`.
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity : float or array
        Water for each mole of dry air. [mol/mol]

    Returns
    -------
    float or array
        nan for a gas that needs no air. [1]

    References
    ----------
    .. [1] Nernst equation; equilibrium of CO, H2 and O2 at the cell's temperature (`MONOXIDE`, `HYDROGEN`). A real
       sensor stands off by some thousandths of lambda, since hydrogen reaches the cell sooner than oxygen does.

    Examples
    --------
    >>> for millivolts in (100, 450, 750, 850):
    ...     print(millivolts, f"{float(lambda_from_voltage(millivolts / 1000, 923.15, 1, 4, 0, 0)):.4f}")
    100 1.0073
    450 1.0000
    750 0.9983
    850 0.9795
    """
    with np.errstate(all="ignore"):
        oxygen = np.asarray(oxygen_at_sensor(voltage, temperature))
        root = np.sqrt(oxygen)
        kelvin = np.asarray(temperature, dtype=float)
        monoxide, free = (_share(root, energy, kelvin) for energy in (MONOXIDE, HYDROGEN))
        at_one = exhaust(1.0, carbon, hydrogen, fuel_oxygen, nitrogen, humidity=humidity)
        need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
        lacking = monoxide * at_one.carbon_dioxide + free * at_one.water
        left = oxygen / np.maximum(1.0 - oxygen / OXYGEN_IN_DRY_AIR, 1e-9) * at_one.wet
        found: Values = 1.0 + (left - lacking / 2.0) / need
        return found


def _share(root: Array, energy: tuple[float, float], kelvin: Array) -> Array:
    """Return the share of a gas that is not burned at a root of oxygen (atmospheres for bars: 0.6 % in it)."""
    constant = np.exp(-(energy[0] + energy[1] * kelvin) / (GAS_CONSTANT * kelvin))
    found: Array = 1.0 / (1.0 + constant * root)
    return found
