"""How much each reading counts in each balance, for the drawing."""

from __future__ import annotations

import numpy as np

from asfound.crosscheck.outcome import CrossCheck

COUNTS = 0.05
"""A reading whose doubt moves a balance by less than this share of the largest in it counts little there. [1]"""


def weights(found: CrossCheck) -> dict[tuple[str, str], float]:
    """Return for each reading and balance how much the reading's doubt moves the balance, the largest in each being 1.

    Derivative of the balance by the reading times the reading's standard uncertainty, where the balances were
    solved; what is assumed counts in the largest too. [1]
    """
    by_x, u = np.abs(found.solution.linear.by_x), found.solution.readings.u
    names = found.solution.readings.names
    moved = np.nan_to_num(by_x * u)
    largest = moved.max(axis=1, keepdims=True, initial=0.0)
    share = np.divide(moved, largest, out=np.zeros_like(moved), where=largest > 0)
    return {
        (name, balance.name): float(share[row, names.index(name)])
        for row, balance in enumerate(found.balances)
        for name in balance.takes
        if name in names
    }
