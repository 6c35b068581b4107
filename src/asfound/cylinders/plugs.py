"""Voltage that a spark plug needs, by gap and by density of the charge at the spark.

The breakdown of air between plane electrodes goes with density times gap only (Paschen). Edges of a plug lower it, heat
and ions of the last cycle too: the level is good to a third, the trend with gap and boost much better. So the sound use
is to carry a demand that was read to another gap (`demand_at_gap`).
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

LINEAR, ROOT = 24.22e3, 6.08e3
"""Breakdown of air between planes: 24.22 d x + 6.08 sqrt(d x) kV, gap x in cm, d density relative to 20 degC, 1 atm."""
CENTIMETRE = 0.01
REFERENCE_TEMPERATURE, REFERENCE_PRESSURE = 293.15, 101_325.0


def relative_density(pressure: Values, temperature: Values) -> Values:
    """Return the density of the charge over that of air at 20 degC, 101.325 kPa. [1]

    Parameters
    ----------
    pressure, temperature : float or array
        Of the charge at the spark. [Pa], [K]
    """
    return pressure / REFERENCE_PRESSURE * REFERENCE_TEMPERATURE / temperature


def uniform_breakdown(gap: Values, density: Values) -> Values:
    """Return the breakdown voltage of air between plane electrodes. [V]

    Parameters
    ----------
    gap : float or array
        [m]
    density : float or array
        Relative, of `relative_density`.

    Notes
    -----
    Holds for density times gap of about 0.01 to 20 cm; below, the Paschen minimum is near.
    """
    reduced = np.asarray(gap, dtype=float) / CENTIMETRE * density
    with np.errstate(invalid="ignore"):
        volts: Values = LINEAR * reduced + ROOT * np.sqrt(reduced)
    return volts


def demand_at_gap(demand: Values, gap: Values, other_gap: Values, density: Values) -> Values:
    """Return the demand that a plug would have at another gap in the same charge. [V]

    Parameters
    ----------
    demand : float or array
        Read at ``gap``. [V]
    gap, other_gap : float or array
        [m]
    density : float or array
        Relative, at the spark.
    """
    return demand * uniform_breakdown(other_gap, density) / uniform_breakdown(gap, density)
