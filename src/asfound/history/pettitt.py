"""One change by ranks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class Pettitt:
    """One change by ranks: K, samples before it, probability of as large a K without change."""

    k: float
    before: int
    probability: float


def pettitt(x: Array) -> Pettitt:
    """Return Pettitt's test for one change (1979, Applied Statistics 28, 126), for independent samples.

    p is about 2 exp(-6 K^2 / (n^3 + n^2)).
    """
    good = np.asarray(x, dtype=float)[np.isfinite(x)]
    n = good.size
    ordered = np.sort(good)
    ranks = 0.5 * (np.searchsorted(ordered, good, "left") + np.searchsorted(ordered, good, "right") + 1)
    u = 2.0 * np.cumsum(ranks) - np.arange(1, n + 1) * (n + 1.0)
    at = int(np.abs(u[:-1]).argmax())
    k = float(abs(u[at]))
    return Pettitt(k, at + 1, min(1.0, 2.0 * math.exp(-6.0 * k * k / (n**3 + n**2))))
