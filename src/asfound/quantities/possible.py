"""Keep what can be: a number of a log that no running machine has becomes nan, at next to no cost where all can be."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array, Values


def above(value: Values, least: float = 0.0) -> Array:
    """Return a number as it is where it lies above the least, else nan; nan stays nan.

    Examples
    --------
    >>> above(np.array([0.5, 0.0, -1.0])).tolist()
    [0.5, nan, nan]
    """
    x = np.asarray(value, dtype=float)
    if x.size and x.min() > least:  # never for nan; most logs end here, after one look
        return x
    return _without(x, x <= least)


def at_least(value: Values, least: float = 0.0) -> Array:
    """Return a number as it is where it does not lie below the least, else nan; nan stays nan."""
    x = np.asarray(value, dtype=float)
    return _without(x, x < least)


def up_to_one(value: Values) -> Array:
    """Return an efficiency or power factor as it is above 0 and up to 1, else nan; nan stays nan."""
    x = np.asarray(value, dtype=float)
    return _without(x, (x <= 0.0) | (x > 1.0))


def _without(x: Array, bad: np.ndarray) -> Array:
    """Return x itself where nothing is bad: a log is mostly sound, and each copy costs more than a multiplication."""
    if not bad.any():
        return x
    kept = x.copy()
    kept[bad] = np.nan
    return kept
