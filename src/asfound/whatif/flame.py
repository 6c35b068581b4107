"""How fast a flame goes through the fresh charge: only its ratio between two settings is used.

A burn that was found from readings at one mixture is carried to another by this ratio. For methane and air the
correlation holds 300 to 400 K and 1 to 10 bar; leaner than lambda 1.25 it is carried on by detailed kinetics.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array

POINTS = {1.25: (0.259, 2.105, -0.504), 1.0: (0.360, 1.612, -0.374), 1 / 1.2: (0.314, 2.000, -0.438)}
"""Lambda: speed at 300 K and 0.1 MPa [m/s], power of temperature, power of pressure (Gu et al. 2000, from memory)."""
LEAN_SLOPE = -1.48
"""Of ln speed for 1 of lambda beyond 1.25: between 1.25 and 1.667, and 1.7 and 1.9, by GRI-3.0 (computed)."""


def diluted(residual: Array) -> Array:
    """Return the burning speed with burned gas in the charge over that without. [1]

    Parameters
    ----------
    residual : array
        Share of burned gas; by mass here, which differs little from moles. [1]

    References
    ----------
    .. [1] Rhodes, Keck, SAE 850047 (1985): 1 - 2.06 x^0.77 (from memory).
    """
    found: Array = np.maximum(1.0 - 2.06 * np.maximum(residual, 0.0) ** 0.77, 0.1)
    return found


def laminar_speed(excess_air_ratio: Array, temperature: Array, pressure: Array) -> Array:
    """Return the laminar burning speed of methane in air. [m/s]

    Parameters
    ----------
    excess_air_ratio : array
    temperature : array
        Of the fresh charge. [K]
    pressure : array
        [Pa]

    References
    ----------
    .. [1] Gu, Haq, Lawes, Woolley, Combust. Flame 121 (2000) 41 (from memory).
    """
    ratio = np.asarray(excess_air_ratio, dtype=float)
    grid = sorted(POINTS)
    speed, by_t, by_p = (np.interp(ratio, grid, [POINTS[one][k] for one in grid]) for k in range(3))
    lean = np.exp(LEAN_SLOPE * np.maximum(ratio - grid[-1], 0.0))
    found: Array = speed * lean * (np.asarray(temperature) / 300.0) ** by_t * (np.asarray(pressure) / 1e5) ** by_p
    return found
