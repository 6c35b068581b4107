"""Cycles that can be worked out by hand: what the model must come to when told so, and a yardstick beside an engine."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array, Values

POINTS = 20_001


def otto_efficiency(compression_ratio: Values, exponent: Values) -> Values:
    """Return the efficiency of the Otto cycle with constant heat capacities. [1]"""
    return 1.0 - np.asarray(compression_ratio) ** (1.0 - np.asarray(exponent))


def finite_heat_release(
    compression_ratio: float,
    exponent: float,
    heat: float,
    *,
    start: float,
    duration: float,
    a: float = 5.0,
    power: float = 3.0,
) -> tuple[float, float, float]:
    """Return greatest pressure over that at the start, its crank angle, and the efficiency, of one ideal zone.

    Constant heat capacities, no heat to the walls, an endless rod, heat given by a Wiebe function. Since p V^k only
    grows by the heat, d(p V^k) = (k - 1) Q V^(k-1) dx, the pressure is one integral.

    Parameters
    ----------
    compression_ratio, exponent : float
    heat : float
        Over pressure times volume at the bottom dead centre before. [1]
    start, duration : float
        Of burning. [deg after top dead centre]
    a, power : float
        Of the Wiebe function x = 1 - exp(-a z^power).

    References
    ----------
    .. [1] Ferguson and Kirkpatrick, Internal Combustion Engines, 2.6: finite heat release (from memory).
    """
    angle = np.linspace(-180.0, 180.0, POINTS)
    volume = (1 + (compression_ratio - 1) / 2 * (1 - np.cos(np.radians(angle)))) / compression_ratio
    z = np.clip((angle - start) / duration, 0.0, None)
    burned = -np.expm1(-a * z**power)
    middle = 0.5 * (volume[1:] + volume[:-1])
    given = np.concatenate([[0.0], np.cumsum(middle ** (exponent - 1.0) * np.diff(burned))])
    pressure: Array = (1.0 + (exponent - 1.0) * heat * given) / volume**exponent
    top = int(np.argmax(pressure))
    work = float(np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.diff(volume)))
    return float(pressure[top]), float(angle[top]), work / heat
