"""The barometer that belongs to a height, and the other way: the standard atmosphere."""

from __future__ import annotations

import numpy as np

from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.typing import Values

TEMPERATURE, LAPSE = 288.15, 0.0065  # K, K/m
GRAVITY, GAS_CONSTANT = 9.80665, 287.05287  # m/s², J/(kg K)
EARTH = 6_356_766.0  # m, nominal radius of the standard
EXPONENT = GRAVITY / (LAPSE * GAS_CONSTANT)
LOWEST, HIGHEST = -2_000.0, 11_000.0


def standard_pressure(height: Values) -> Values:
    """Return the pressure of the standard atmosphere at a height.

    The weather moves a barometer 3 % about it: for a rating, read the barometer.

    Parameters
    ----------
    height : float or array
        Geometric, above sea level. [m]

    Returns
    -------
    float or array
        nan outside -2,000 to 11,000 m. [Pa]

    References
    ----------
    .. [1] ISO 2533, lowest layer: p = p_0 (1 - L H / T_0)^(g / (R L)), H = r z / (r + z).

    Examples
    --------
    >>> print(f"{standard_pressure(1000.0) / 100:.2f} hPa")
    898.76 hPa
    """
    z = np.asarray(height, dtype=float)
    with np.errstate(all="ignore"):
        inside = np.where((z >= LOWEST) & (z <= HIGHEST), z, np.nan)
        return ATMOSPHERE * (1 - LAPSE * (EARTH * inside / (EARTH + inside)) / TEMPERATURE) ** EXPONENT


def pressure_height(pressure: Values) -> Values:
    """Return the height at which the standard atmosphere has a pressure.

    Parameters
    ----------
    pressure : float or array
        Barometer, not reduced to sea level. [Pa]

    Returns
    -------
    float or array
        nan where the standard's lowest layer has no such pressure. [m]
    """
    p = np.asarray(pressure, dtype=float)
    with np.errstate(all="ignore"):
        above = (1 - (np.where(p > 0, p, np.nan) / ATMOSPHERE) ** (1 / EXPONENT)) * TEMPERATURE / LAPSE
        z = EARTH * above / (EARTH - above)
        return np.where((z >= LOWEST - 1e-6) & (z <= HIGHEST + 1e-6), z, np.nan)
