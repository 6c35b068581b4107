"""Main bearings: each over the oil that goes into the engine, against the others, and whether one rises against them.

No published limit that holds for every engine was found. The limits here are common practice and can be set; the
engine's own document goes first. One bearing rising against the others counts more than its level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.cylinders.regression import Line, lines
from asfound.cylinders.robust import median
from asfound.cylinders.spread import Spread, spread
from asfound.quantities.typing import Array, Values

LIMIT = 8.0
"""Off the median of the bearings; common practice, no source. [K]"""
RISE_LIMIT = 3.0
"""Rise against the others since the last visit, at like load; common practice, no source. [K]"""


def over_oil(bearings: Array, oil: Values) -> Array:
    """Return how much warmer each bearing is than the oil into the engine. Shape (..., n); K.

    Parameters
    ----------
    bearings : array, shape (..., n)
        nan where not read. [K]
    oil : float or array, shape (...)
        Oil temperature into the engine. [K]
    """
    rise: Array = np.asarray(bearings, dtype=float) - np.asarray(oil, dtype=float)[..., None]
    return rise


def at_equal_oil(bearings: Array, oil: Values, reference: float, carry: float = 1.0) -> Array:
    """Return bearing temperatures brought to one oil temperature, so that two days compare. Shape (..., n); K.

    Parameters
    ----------
    bearings, oil
        As in `over_oil`.
    reference : float
        Oil temperature to bring them to. [K]
    carry : float
        How much of a change of the oil shows in the bearings: 1 unless this engine's own log says otherwise.
    """
    moved: Array = np.asarray(bearings, dtype=float) + carry * (reference - np.asarray(oil, dtype=float))[..., None]
    return moved


def bearing_spread(bearings: Array, *, limit: float = LIMIT) -> Spread:
    """Return the spread of the bearings: as that of cylinders, one row, smaller limit.

    Oil temperature is common to all bearings and drops out of the deviations; it matters for level and trend.
    """
    return spread(bearings, limit=limit)


@dataclass(frozen=True, slots=True)
class Rising:
    """How each bearing moves against the median of the others."""

    line: Line
    """Of each bearing's rise over the others by time. [K/s]"""
    rising: Array
    """Probability that the slope is positive. Shape (n,)."""


def rising(bearings: Array, oil: Values, time: Array) -> Rising:
    """Return how fast each bearing rises against the others at equal oil temperature.

    Parameters
    ----------
    bearings : array, shape (times, n)
        At like load; nan where stopped or masked. [K]
    oil : float or array, shape (times,)
        [K]
    time : array, shape (times,)
        [s]
    """
    rise = over_oil(bearings, oil)
    others = np.stack([median(np.delete(rise, one, axis=1)) for one in range(rise.shape[1])], axis=1)
    line = lines(time, rise - others)
    return Rising(line, line.probability_rising)
