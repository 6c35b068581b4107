"""Blow-by: what passes the rings, over the charge that the engine takes, and what crankcase pressure says of it.

Published limits that hold for every engine were not found: compare with this engine's own figure at like load.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

STROKES_TURNS = 2.0
"""Turns of a four-stroke cycle."""


def charge_flow(swept_volume: Values, speed: Values, turns: Values = STROKES_TURNS) -> Values:
    """Return the volume that the pistons sweep for charge, at manifold state. [m3/s]

    Parameters
    ----------
    swept_volume : float or array
        Of all cylinders. [m3]
    speed : float or array
        [rad/s]
    turns : float
        Turns of one cycle: 2 for four strokes, 1 for two.
    """
    return swept_volume * speed / (2.0 * np.pi * turns)


def blow_by_share(
    blow_by: Values,
    ambient_pressure: Values,
    blow_by_temperature: Values,
    charge: Values,
    manifold_pressure: Values,
    manifold_temperature: Values,
) -> Values:
    """Return blow-by over charge, both as amounts of gas; nan while no charge flows. [mol/mol]

    Parameters
    ----------
    blow_by : float or array
        As it flows at the breather. [m3/s]
    ambient_pressure, blow_by_temperature : float or array
        At the breather. [Pa], [K]
    charge : float or array
        Swept for charge (`charge_flow`). [m3/s]
    manifold_pressure, manifold_temperature : float or array
        [Pa], [K]
    """
    taken = np.asarray(charge * manifold_pressure / manifold_temperature, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share: Values = np.where(taken > 0.0, blow_by * ambient_pressure / blow_by_temperature / taken, np.nan)
    return share


def flow_ratio(pressure: Values, pressure_then: Values) -> Values:
    """Return blow-by over that of another day from crankcase pressure, breather unchanged: square root of the ratio.

    The breather acts as an orifice; one that is blocked by oil raises the pressure without any blow-by. nan where
    either is no overpressure, as with a suction fan on the breather.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        good = (np.asarray(pressure) > 0.0) & (np.asarray(pressure_then) > 0.0)
        ratio: Values = np.where(good, np.sqrt(np.asarray(pressure) / np.asarray(pressure_then)), np.nan)
    return ratio
