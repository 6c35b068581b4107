"""Compression pressures: each cylinder beside the others, and the pressure that geometry and intake air would give.

The spread between cylinders is the sound figure. The expected level rests on a polytropic exponent and on the geometric
ratio, while valve timing, leakage and starter speed move it: a trend over visits, not a limit.
"""

from __future__ import annotations

import numpy as np

from asfound.cylinders.robust import median
from asfound.quantities.typing import Array, Values

ROD_RATIO = 4.0
"""Length of connecting rod over crank radius, 3.5 to 4.5 in such engines: it moves the volume at the spark by 2 %."""
EXPONENT = 1.32
"""Polytropic exponent of compression of a lean charge; common practice. [1]"""
LOW_SHARE = 0.10
"""A cylinder this share below the median is looked into; common practice, no source."""


def share_off(pressures: Array) -> Array:
    """Return each cylinder's pressure against the median, over the median. Shape (..., n) as given.

    Parameters
    ----------
    pressures : array, shape (..., n)
        Absolute, all taken the same way; nan where not read. [Pa]
    """
    middle = median(pressures)[..., None]
    off: Array = pressures / middle - 1.0
    return off


def volume_ratio(before_top: Values, compression_ratio: Values, rod_ratio: Values = ROD_RATIO) -> Values:
    """Return cylinder volume over clearance volume at an angle from top dead centre (slider-crank).

    Parameters
    ----------
    before_top : float or array
        Crank angle from top dead centre, either way. [rad]
    compression_ratio : float or array
        Geometric.
    rod_ratio : float or array
        Connecting rod over crank radius.
    """
    lift = rod_ratio + 1.0 - np.cos(before_top) - np.sqrt(rod_ratio**2 - np.sin(before_top) ** 2)
    ratio: Values = 1.0 + 0.5 * (compression_ratio - 1.0) * lift
    return ratio


def polytropic_pressure(intake: Values, volumes: Values, exponent: Values = EXPONENT) -> Values:
    """Return the pressure after compression by a ratio of volumes. [Pa, as given]

    Parameters
    ----------
    intake : float or array
        Absolute, in the manifold. [Pa]
    volumes : float or array
        Volume at bottom over volume now: the compression ratio at top dead centre.
    exponent : float or array
        Polytropic.
    """
    return intake * np.asarray(volumes) ** exponent


def polytropic_temperature(intake: Values, volumes: Values, exponent: Values = EXPONENT) -> Values:
    """Return the temperature after compression by a ratio of volumes. [K]"""
    return intake * np.asarray(volumes) ** (np.asarray(exponent) - 1.0)


def exponent_of(intake: Values, pressure: Values, compression_ratio: Values) -> Values:
    """Return the polytropic exponent that a compression pressure tells; below 1.2 it leaks or turns slowly."""
    found: Values = np.log(np.asarray(pressure) / intake) / np.log(compression_ratio)
    return found
