"""The charge cooler as one balance: how near it brings the air from the compressor to its water.

Its effectiveness is found at the setting that was read, and carried to another: with less boost the compressor heats
less, on a hotter day the air comes in hotter and the water, cooled by that air, is as much warmer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.whatif.turbocharger import AIR_EXPONENT, RESERVE

COMPRESSOR = (0.75, 0.04)
"""Isentropic efficiency of the compressor, middle and standard uncertainty (engineering judgement, no source). [1]"""
LEAST, MOST = 0.30, 0.98
"""Effectiveness beyond which the readings cannot be (engineering judgement). [1]"""
AIR = (-25.0, 25.0)
"""How much colder and hotter than read the air outside may be asked (engineering judgement). [K]"""
AIR_ENDS = (238.15, 323.15)
"""[K]"""


@dataclass(frozen=True, slots=True)
class ChargeCooler:
    """What the cooler does, draw by draw."""

    effectiveness: Array
    """Of the way from the compressor's outlet to the water, how much is gone. [1]"""
    compressor: Array
    """Isentropic efficiency. [1]"""
    coolant: float
    """Water into the cooler. [K]"""
    inlet_temperature: float
    """Before the compressor. [K]"""
    inlet_pressure: float
    """[Pa]"""

    def charge_temperature(self, manifold_pressure: Values, air: float = 0.0) -> Array:
        """Return the temperature behind the cooler at another boost and with other air outside. [K]

        Parameters
        ----------
        manifold_pressure : float or array
            Absolute. [Pa]
        air : float
            How much hotter the air outside is than it was read; the water is as much warmer. [K]
        """
        out = _outlet(manifold_pressure, self.inlet_pressure, self.inlet_temperature + air, self.compressor)
        found: Array = out - self.effectiveness * (out - (self.coolant + air))
        return found


def cooler_of(
    charge_temperature: Values,
    manifold_pressure: Values,
    draws: int,
    *,
    coolant: float,
    inlet_temperature: float,
    inlet_pressure: float,
    seed: int = 11,
) -> tuple[ChargeCooler, str]:
    """Return the cooler that the readings speak of, and what is odd about it (empty: nothing).

    Parameters
    ----------
    charge_temperature, manifold_pressure : float or array, shape (draws,)
        As they were read, behind the cooler. [K], [Pa] absolute
    draws : int
    coolant : float
        Water into the cooler. [K]
    inlet_temperature, inlet_pressure : float
        Before the compressor. [K], [Pa]
    """
    middle, u = COMPRESSOR
    efficiency = np.clip(middle + u * np.random.default_rng(seed).standard_normal(draws), 0.55, 0.88)
    out = _outlet(manifold_pressure, inlet_pressure, inlet_temperature, efficiency)
    found = (out - charge_temperature) / np.maximum(out - coolant, 1.0)
    typical = float(np.median(found))
    odd = "" if LEAST <= typical <= MOST else (
        f"Charge air and cooling water ask for a cooler that does {100 * typical:.0f} % of the way; "
        f"{100 * LEAST:.0f} to {100 * MOST:.0f} % is usual"
    )  # fmt: skip
    cooler = ChargeCooler(np.clip(found, LEAST, MOST), efficiency, coolant, inlet_temperature, inlet_pressure)
    return cooler, odd


def _outlet(manifold: Values, inlet_pressure: float, inlet_temperature: float, efficiency: Array) -> Array:
    """Return the temperature behind the compressor. [K]"""
    ratio = np.maximum(RESERVE * np.asarray(manifold, dtype=float) / inlet_pressure, 1.0)
    found: Array = inlet_temperature * (1.0 + (ratio ** ((AIR_EXPONENT - 1.0) / AIR_EXPONENT) - 1.0) / efficiency)
    return found
