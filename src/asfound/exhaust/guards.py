"""What a formula must not divide by, made nan: a stopped engine in a log, a gas that is not there."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array, Values


def above_zero(values: Values) -> Array:
    """Return values where they are above zero, nan elsewhere.

    A log whose values are all above zero, as most are, is looked at once and not copied.

    Examples
    --------
    >>> above_zero(np.array([0.5, 0.0, -1.0])).tolist()
    [0.5, nan, nan]
    """
    found: Array = np.asarray(values, dtype=float)
    if found.size and found.min() > 0:  # never for nan
        return found
    return np.where(found > 0, found, np.nan)
