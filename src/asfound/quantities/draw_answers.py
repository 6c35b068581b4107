"""What the draws of a visit answer: how probable, how far from a limit, how much lower than another."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Beyond:
    """How probable it is that a number is beyond a limit: a count over the draws."""

    probability: float
    count: int
    draws: int
    """Draws that have an answer: the resolution is one in so many."""
    says: str
    """``42 in 100``, ``fewer than 1 in 1,000``: no finer than the draws can tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardBand:
    """How far a number must stay from its limit to be inside it with a probability (JCGM 106:2012 8)."""

    width: float
    """Between the limit and the acceptance limit; not negative. [unit of the quantity]"""
    acceptance_limit: float
    probability: float
    accepted: bool
    """The number is on the right side of the acceptance limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One number minus another, what they share taken into account."""

    value: float
    standard_uncertainty: float
    interval: tuple[float, float]
    probability_lower: float
    """That the first is lower than the second: a count."""


def chance_by_count(count: int, draws: int) -> str:
    """Say a probability found by counting, no finer than the number of draws can tell.

    None of n draws means, with 95 % confidence, fewer than 3 in n ('rule of three', Hanley and Lippman-Hand 1983); it
    is said as the round number above that.

    Examples
    --------
    >>> chance_by_count(0, 10_000), chance_by_count(9_999, 10_000), chance_by_count(1_490, 10_000)
    ('fewer than 1 in 1,000', 'more than 999 in 1,000', '15 in 100')
    """
    if draws < 30:
        return f"{count} of {draws} draws"
    floor = _round_floor(draws / 3.0)
    if count * floor < draws:
        return f"fewer than 1 in {floor:,}"
    if (draws - count) * floor < draws:
        return f"more than {floor - 1:,} in {floor:,}"
    percent = 100.0 * count / draws
    return f"{percent:.1f} in 100" if percent < 1.0 or percent > 99.0 else f"{percent:.0f} in 100"


def _round_floor(number: float) -> int:
    """Return the power of ten below a number; below 1,000 also twice or five times one.

    >>> [_round_floor(one) for one in (3333.3, 66.7, 30.0, 10.0)]
    [1000, 50, 20, 10]
    """
    power: int = 10 ** int(math.log10(number))
    return power if power >= 1_000 else max(m * power for m in (1, 2, 5) if m * power <= number)
