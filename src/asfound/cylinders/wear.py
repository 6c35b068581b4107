"""Wear since new and the hours that are left: valves that recede, plugs whose gap grows.

With two points (new and now) the mean rate; with more, a line with its interval (`regression.lines`, `reaches`).
"""

from __future__ import annotations

import numpy as np

from asfound.cylinders.regression import Line, Reaches, lines, reaches
from asfound.quantities.typing import Array, Values

READABLE = 0.02e-3
"""Below this a recession or gap change read by gauge is no change: it is said to be less. [m]"""


def rate(now: Values, new: Values, hours: Values) -> Values:
    """Return the mean rate since new; nan without hours. [m/s]

    Parameters
    ----------
    now, new : float or array
        [m]
    hours : float or array
        Running time between them. [s]
    """
    hours = np.asarray(hours, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Values = np.where(hours > 0.0, (np.asarray(now) - new) / hours, np.nan)
    return found


def time_left(now: Values, limit: Values, rate_: Values) -> Values:
    """Return the running time until a limit at a rate: 0 when there already, infinite (never) where it does not grow.

    Parameters
    ----------
    now, limit : float or array
        [m]
    rate_ : float or array
        [m/s]

    Returns
    -------
    float or array
        [s]
    """
    room = np.asarray(limit, dtype=float) - now
    with np.errstate(divide="ignore", invalid="ignore"):
        left: Values = np.where(room <= 0.0, 0.0, np.where(np.asarray(rate_) > 0.0, room / rate_, np.inf))
    return np.where(np.isnan(rate_) | np.isnan(room), np.nan, left)


def line_of_readings(hours: Array, worn: Array, limit: Values, *, readable: float = READABLE) -> tuple[Line, Reaches]:
    """Return the line of a series of readings of each cylinder, and when it reaches the limit.

    Parameters
    ----------
    hours : array, shape (points,)
        Running time at each reading. [s]
    worn : array, shape (points, cylinders)
        nan where not read. A reading of zero, or of less than what a gauge shows, counts as half of it: it says 'less
        than', and as 0 it would make the start too flat. [m]
    limit : float or array, shape (cylinders,)
        [m]
    readable : float
        Least change that the gauge shows. [m]
    """
    worn = np.asarray(worn, dtype=float)
    counted = np.where(np.abs(worn) < readable, 0.5 * readable, worn)
    line = lines(hours, counted)
    return line, reaches(line, limit)
