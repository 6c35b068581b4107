"""Swept volume and mean effective pressure of a four-stroke engine, by definition: checks of what a catalogue
prints.
"""

from __future__ import annotations

import math

REVOLUTIONS_PER_WORKING_STROKE = 2.0  # four-stroke


def swept_volume(*, bore: float, stroke: float, cylinders: int) -> float:
    """Return the swept volume of an engine.

    Parameters
    ----------
    bore, stroke : float
        [m]
    cylinders : int

    Returns
    -------
    float
        n pi/4 d2 s. [m³]

    Examples
    --------
    >>> print(f"{1e3 * swept_volume(bore=0.233, stroke=0.283, cylinders=9):.1f} L")
    108.6 L
    """
    return cylinders * math.pi / 4.0 * bore**2 * stroke


def mean_effective_pressure(power: float, *, swept_volume: float, speed: float) -> float:
    """Return the brake mean effective pressure of a four-stroke engine: work per cycle over swept volume.

    Parameters
    ----------
    power : float
        At the shaft. [W]
    swept_volume : float
        [m³]
    speed : float
        [1/s]

    Returns
    -------
    float
        2 P / (V n). [Pa]

    Examples
    --------
    >>> print(f"{1e-5 * mean_effective_pressure(1470e3, swept_volume=0.1086, speed=15.0):.1f} bar")
    18.0 bar
    """
    return REVOLUTIONS_PER_WORKING_STROKE * power / (swept_volume * speed)
