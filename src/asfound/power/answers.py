"""Where a formula has no answer."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values


def positive(value: Values) -> Values:
    """Return the values, nan for those not above zero: a stopped engine has no power, its log has zeros."""
    given = np.asarray(value, dtype=float)
    return np.where(given > 0, given, np.nan)
