"""How near the fresh charge comes to burning by itself: the integral of dt over the ignition delay.

Only a relative margin: the delay was measured at 1,200 to 2,000 K in shock tubes, the end gas of an engine is at 800 to
1,000 K, and heavier hydrocarbons than propane are not in it. What counts is how the integral changes from one setting
to another on the same engine.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.charge import Charge

LEAST_METHANE = 0.5
"""Of what burns, below which the delay of natural gas says nothing: hydrogen, producer gas. [mol/mol]"""
LAST_BURNED = 0.90
"""Share of the charge burned beyond which the rest is too little to knock (engineering judgement)."""


def ignition_delay(temperature: Array, oxygen: Array, methane: Array, heavier: Array) -> Array:
    """Return the ignition delay of natural gas. [s]

    Parameters
    ----------
    temperature : array
        [K]; the correlation was fitted between about 1,200 and 2,000 K.
    oxygen, methane, heavier : array
        Concentrations, the last of all heavier hydrocarbons. [mol/m³]

    References
    ----------
    .. [1] Spadaccini and Colket, Prog. Energy Combust. Sci. 20 (1994) 431 (from memory).
    """
    o2, ch4, hc = (np.asarray(one) * 1e-6 for one in (oxygen, methane, heavier))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        pure = 2.21e-14 * np.exp(22659.0 / temperature) * o2**-1.05 * ch4**0.33
        mixed = 1.77e-14 * np.exp(18693.0 / temperature) * o2**-1.05 * ch4**0.66 * hc**-0.39
    # the mixed form runs away where there is next to nothing heavier: never slower than methane alone
    found: Array = np.where(hc > 0.0, np.minimum(pure, mixed), pure)
    return found


def knock_integral(time: Array, temperature: Array, pressure: Array, burned: Array, charge: Charge) -> Array:
    """Return the integral of dt over the ignition delay of the fresh charge up to `LAST_BURNED`. Shape (cases,)

    It is nan for a gas of which methane is less than half of what burns.

    Parameters
    ----------
    time : array of shape (steps, cases)
        Length of each step. [s]
    temperature, pressure, burned : array of shape (steps + 1, cases)
        Of the fresh charge [K], [Pa]; mass fraction burned.
    charge : Charge

    References
    ----------
    .. [1] Livengood and Wu, Symp. (Int.) on Combustion 5 (1955) 347 (from memory).
    """
    density = pressure / (charge.fresh.gas_constant * temperature)
    oxygen, methane, heavier = (density * one for one in (charge.oxygen, charge.methane, charge.heavier))
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = 1.0 / ignition_delay(temperature, oxygen, methane, heavier)
    rate = np.where(charge.natural >= LEAST_METHANE, rate, np.nan)
    grown = np.maximum(burned[1:] - burned[:-1], 1e-12)
    part = np.minimum(np.maximum((LAST_BURNED - burned[:-1]) / grown, 0.0), 1.0)  # of a step in which it ends
    total: Array = np.sum(_between(rate[:-1], rate[1:]) * time * part, axis=0)
    return total


def _between(one: Array, two: Array) -> Array:
    """Return the mean of a rate that grows like an exponential from one step to the next."""
    low, high = np.maximum(np.minimum(one, two), 1e-30), np.maximum(one, two)
    ratio = high / low
    bent = (high - low) / np.log(np.maximum(ratio, 1.0 + 1e-9))
    found: Array = np.where((ratio > 1.0 + 1e-6) & (np.minimum(one, two) > 0.0), bent, 0.5 * (one + two))
    return found
