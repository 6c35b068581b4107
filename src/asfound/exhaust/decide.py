"""An undecided result: which reading, taken better, would decide it, and how well it must be taken.

The result's value is held where it is and only its doubt shrinks; so the answer is what to aim at, not a promise: a
better reading also moves the value. The variance of the result is split over its readings (`Worked.shares`), and the
share of one is scaled until the limit lies outside the guard band (JCGM 106:2012 8).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from asfound.quantities.display import number_text, unit_words
from asfound.quantities.limits import SURE
from asfound.quantities.register import quantity
from asfound.quantities.shares import REST, TOGETHER
from asfound.quantities.words import Limit, Reading, Result
from asfound.quantities.worked import Worked

BEST = 0.2
"""A reading is hardly ever bettered to less than this part of its uncertainty on the spot (engineering judgement)."""
HOPELESS = 0.1
"""Nearer to the limit than this part of the guard band, better readings settle nothing (engineering judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One reading, or several of one instrument, and how well it must be known."""

    readings: tuple[Reading, ...]
    share: float
    """Of the result's variance. [0 to 1]"""
    factor: float
    """Part of its present standard uncertainty that would still decide. [0 to 1]"""

    @property
    def needed(self) -> tuple[float, ...]:
        """The standard uncertainty that each must reach, in its unit."""
        return tuple(self.factor * one.standard_uncertainty for one in self.readings)

    def says(self, system: Literal["si", "us"] = "si") -> str:
        """Name, place and the uncertainty to reach, in words."""
        said = []
        for one, needed in zip(self.readings, self.needed, strict=True):
            now = _doubt(one, one.standard_uncertainty, system)
            there = _doubt(one, needed, system)
            title = quantity(one.quantity).title
            how = "read it instead of assuming it, to" if one.origin == "assumed" else "to"
            said.append(f"{title} at {one.place.replace('_', ' ')} {how} a standard uncertainty of {there} (now {now})")
        return " and ".join(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decide:
    """What would settle on which side of a limit a number lies."""

    decided: bool
    """It is decided already: nothing to improve."""
    factor: float
    """Part to which the whole standard uncertainty must go. [0 to 1; 1 where decided]"""
    single: tuple[Need, ...]
    """Readings each of which alone would do, the one that needs the least betterment first."""
    together: Need | None
    """The two with the largest shares, where both bettered alike would do and none alone does."""
    system: Literal["si", "us"] = "si"

    @property
    def says(self) -> str:
        """What to measure better, in words for the person at the engine."""
        if self.decided:
            return "It is decided: no reading need be improved."
        if self.factor < HOPELESS:
            return (
                "It lies so near to the limit that better readings will hardly settle it: move away from the limit, or "
                "have an accredited test made."
            )
        if self.single:
            first, *others = self.single
            said = f"Most easily decided by measuring {first.says(self.system)}, if the value stays where it is."
            also = [f"Or by {one.says(self.system)}." for one in others[:2]]
            return " ".join((said, *also))
        if self.together is not None:
            return (
                "No single reading suffices. Two would, if the value stays where it is: "
                f"{self.together.says(self.system)}."
            )
        return (
            f"No single reading suffices, nor any two: all must be known to {number_text(100 * self.factor, 2)} % of "
            "their present uncertainty. Take another method beside it, or repeat the whole test."
        )


def to_decide(
    worked: Worked,
    number: Result | Reading,
    limit: Limit,
    *,
    sure: float = SURE,
    system: Literal["si", "us"] = "si",
) -> Decide:
    """Return which readings would settle whether a number is beyond a limit.

    Parameters
    ----------
    worked : Worked
        The visit's sheet.
    number : Result or Reading
        What is judged; for a reading only itself can be improved.
    limit : Limit
        Of the same quantity.
    sure : float
        Probability from which on it counts as decided, on either side. [0.5 to 1]

    References
    ----------
    .. [1] With w = z u the guard band (JCGM 106:2012 8.3.2) and d the distance to the limit, u must fall to d / z. One
       reading with share s of the variance, scaled by k, gives u'^2 = u^2 (1 - s + k^2 s).
    """
    distance = limit.value - number.value if limit.side == "upper" else number.value - limit.value
    beyond = worked.probability_beyond(number, limit)
    if beyond >= sure or beyond <= 1.0 - sure:
        return Decide(decided=True, factor=1.0, single=(), together=None, system=system)
    width = _width(worked, number, limit, sure, beyond=distance < 0)
    factor = min(abs(distance) / width, 1.0) if width > 0 else 1.0
    if isinstance(number, Reading):
        one = Need(readings=(number,), share=1.0, factor=factor)
        return Decide(
            decided=False, factor=factor, single=(one,) if factor >= BEST else (), together=None, system=system
        )
    readings = {one.key: one for one in number.readings()}
    shares = [
        (tuple(readings[key] for key in name.split(TOGETHER)), share)
        for name, share in worked.shares(number)
        if name != REST
    ]
    needs = [
        Need(readings=group, share=share, factor=part) for group, share in shares if (part := _part(factor, share))
    ]
    single = tuple(sorted((one for one in needs if one.factor >= BEST), key=lambda one: -one.factor))
    both = None
    if not single and len(shares) > 1:
        joined = shares[0][1] + shares[1][1]
        part = _part(factor, joined)
        if part >= BEST:
            both = Need(readings=(*shares[0][0], *shares[1][0]), share=joined, factor=part)
    return Decide(decided=False, factor=factor, single=single, together=both, system=system)


def _part(factor: float, share: float) -> float:
    """Return to which part a share's uncertainty must go for the whole to go to ``factor``; 0 where nothing does."""
    left = factor**2 - (1.0 - share)
    return math.sqrt(left / share) if left > 0 and share > 0 else 0.0


def _width(worked: Worked, number: Result | Reading, limit: Limit, sure: float, *, beyond: bool) -> float:
    """Return the guard band on the side where the number lies: to be sure that it is inside, or beyond."""
    side: Literal["upper", "lower"] = limit.side
    if beyond:
        side = "lower" if side == "upper" else "upper"
    seen = Limit(quantity=limit.quantity, value=limit.value, as_typed=limit.as_typed, side=side, place=limit.place)
    return worked.guard_band(number, seen, probability=sure).width


def _doubt(reading: Reading, doubt: float, system: Literal["si", "us"]) -> str:
    """Return a standard uncertainty in the unit people see."""
    about = quantity(reading.quantity)
    symbol = about.display(system)
    shown = abs(about.to_unit(reading.value + doubt, symbol) - about.to_unit(reading.value, symbol))
    return f"{number_text(shown, 2)} {unit_words(about, symbol)}".strip()
