"""A straight line through readings, and where it reaches a limit, with an interval.

The interval is the exact one (Fieller), a little lopsided; where the slope may be zero there is none, and no date.
Sources: Greenwell and Schubert Kabban 2014; Graybill and Iyer 1996 (second hand).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.upkeep.student import quantile


@dataclass(frozen=True, slots=True)
class Line:
    """Least squares through readings; ``t`` is Student's for the level of the intervals."""

    slope: float
    intercept: float
    scatter: float
    """Standard deviation of the readings about the line."""
    number: int
    middle: float
    spread: float
    """Sum of squares of x about its mean."""
    t: float

    @property
    def slope_limits(self) -> tuple[float, float]:
        """Interval of the slope; one that holds zero means that nothing is known to rise or fall."""
        half = self.t * self.scatter / math.sqrt(self.spread)
        return self.slope - half, self.slope + half

    @property
    def moves(self) -> bool:
        """Whether the slope's interval leaves zero out."""
        low, high = self.slope_limits
        return low > 0.0 or high < 0.0


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a line reaches a value: estimate, exact interval (None where the slope may be zero)."""

    at: float
    lower: float | None
    upper: float | None
    about: float
    """Half-width of the approximate, even interval; for comparison only."""


def fit_line(x: Sequence[float], y: Sequence[float], *, level: float = 0.95) -> Line:
    """Return the line through readings ``y`` at ``x``; three or more, at two or more places."""
    at, value = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if at.shape != value.shape or at.ndim != 1 or len(at) < 3 or not np.isfinite(at + value).all():
        raise InputError("readings", str(len(at)), "give no line with an interval", allowed="3 or more, in pairs")
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g}", "is no level", allowed="between 0 and 1")
    middle = float(at.mean())
    spread = float(((at - middle) ** 2).sum())
    if spread == 0.0:
        raise InputError("readings", "all at one place", "give no line", allowed="readings at different hours")
    slope = float(((at - middle) * value).sum()) / spread
    intercept = float(value.mean()) - slope * middle
    free = len(at) - 2
    scatter = math.sqrt(float(((value - intercept - slope * at) ** 2).sum()) / free)
    return Line(slope, intercept, scatter, len(at), middle, spread, quantile(level, free))


def reaches(line: Line, value: float, *, single: bool = False) -> Crossing:
    """Return where the line reaches a value; ``single``: where one more reading would show it, which scatters too."""
    if line.slope == 0.0:
        return Crossing(math.nan, None, None, math.nan)
    at = (value - line.intercept) / line.slope
    one = 1.0 / line.number + (1.0 if single else 0.0)
    noise = (line.t * line.scatter) ** 2
    about = math.sqrt(noise * (one + (at - line.middle) ** 2 / line.spread)) / abs(line.slope)
    ahead = value - (line.intercept + line.slope * line.middle)
    a, b, c = line.slope**2 - noise / line.spread, line.slope * ahead, ahead**2 - noise * one
    if a <= 0.0:
        return Crossing(at, None, None, about)
    root = math.sqrt(max(0.0, b * b - a * c))
    return Crossing(at, line.middle + (b - root) / a, line.middle + (b + root) / a, about)
