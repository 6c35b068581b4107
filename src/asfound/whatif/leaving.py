"""What leaves the cylinder, dry: oxygen, and near lambda 1 carbon monoxide and hydrogen.

Burned gas is in equilibrium while it is hot; on the way out carbon monoxide and hydrogen freeze at the water-gas ratio
of about 1,720 K. No engine is mixed evenly: cylinders and cycles lie about the mean mixture, so that near lambda 1
oxygen and carbon monoxide leave together, and both go through lambda 1 without a kink.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from asfound.exhaust.balance import monoxide_by_water_gas
from asfound.fuel.stoichiometry import WATER_GAS
from asfound.quantities.typing import Array
from asfound.whatif.charge import Charge
from asfound.whatif.gases import R

UNEVEN = 0.02
"""Standard deviation of lambda over cylinders and cycles (engineering judgement, no source). [1]"""
LEAN = 1.15
"""Lambda beyond which no cylinder is rich: complete burning, and carbon monoxide is left to others. [1]"""


class Leaving(NamedTuple):
    """Of a kilogram of charge, arrays of shape (cases,). [mol/kg]"""

    dry: Array
    oxygen: Array
    monoxide: Array
    """nan leaner than `LEAN`."""
    hydrogen: Array


def left_over(loaded: Charge, burned: Array, *, uneven: float = UNEVEN, water_gas: float = WATER_GAS) -> Leaving:
    """Return dry exhaust and what of it is oxygen, carbon monoxide and hydrogen.

    Parameters
    ----------
    loaded : Charge
    burned : array
        Share of the charge that burned. [kg/kg]
    uneven : float
        Spread of lambda over cylinders and cycles; 0: all alike. [1]
    water_gas : float
        CO H2O / (CO2 H2) at which it freezes. [1]

    References
    ----------
    .. [1] Water-gas ratio: Spindt, SAE 650507; equilibrium at 1,721 K (own calculation with a chemistry library).
    """
    carbon, hydrogen, oxygen, nitrogen, argon, sulfur = loaded.elements
    need = 2 * carbon + hydrogen / 2 + 2 * sulfur
    left = (oxygen - 2 * carbon - hydrogen / 2 - 2 * sulfur) / 2
    lean = oxygen > LEAN * need
    surplus = np.where(lean, left, _positive_part(left, uneven * need / 2))
    lacking = 2.0 * np.maximum(surplus - left, 0.0)  # atoms of oxygen short where it is rich
    monoxide = monoxide_by_water_gas(carbon, hydrogen / 2 - lacking, lacking, water_gas)
    dihydrogen = lacking - monoxide
    gas = carbon + nitrogen / 2 + argon + sulfur + surplus + np.where(lean, 0.0, dihydrogen)
    fresh = loaded.fresh.gas_constant / R - loaded.water
    rest = 1.0 - burned
    hidden = np.where(lean, np.nan, burned)
    return Leaving(
        dry=burned * gas + rest * fresh,
        oxygen=burned * surplus + rest * loaded.oxygen,
        monoxide=hidden * monoxide,
        hydrogen=hidden * dihydrogen,
    )


def _positive_part(mean: Array, spread: Array) -> Array:
    """Return the mean of what lies above nothing, of a logistic distribution with a mean and a standard deviation."""
    scale = np.maximum(spread * np.sqrt(3.0) / np.pi, 1e-9)
    found: Array = scale * np.logaddexp(0.0, mean / scale)
    return found
