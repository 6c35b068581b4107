"""Quantiles of Student's t for whole degrees of freedom, without a library that takes a second to load.

Abramowitz and Stegun 1964, 26.7.3 and 26.7.4: the share inside plus and minus t is a finite sum of powers of cosines.
"""

from __future__ import annotations

import math
from functools import lru_cache

from asfound.errors import InputError


def inside(t: float, free: int) -> float:
    """Return the share of Student's t with whole degrees of freedom that lies between -t and t. [1]"""
    angle = math.atan(t / math.sqrt(free))
    sine, cosine = math.sin(angle), math.cos(angle)
    term = total = cosine if free % 2 else 1.0
    for power in range(3 if free % 2 else 2, free - 1, 2):
        term *= cosine * cosine * (power - 1) / power
        total += term
    if free == 1:
        return 2.0 * angle / math.pi
    if free % 2:
        return 2.0 / math.pi * (angle + sine * total)
    return sine * total


@lru_cache(maxsize=256)
def quantile(level: float, free: int) -> float:
    """Return the t between whose minus and plus ``level`` of the distribution lies.

    Raises
    ------
    InputError
        A level outside 0 to 1, or no degree of freedom.
    """
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g}", "is no level", allowed="between 0 and 1")
    if free < 1:
        raise InputError("readings", str(free + 2), "leave no degree of freedom", allowed="one reading more")
    low, high = 0.0, 2.0
    while inside(high, free) < level:
        low, high = high, 2.0 * high
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if inside(middle, free) < level else (low, middle)
    return 0.5 * (low + high)
