"""A straight line through calibration readings by least squares, with covariance (JCGM 100:2008 H.3)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope (x - about)."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    """Between intercept and slope. [-1 to 1]"""
    residual: float
    """Standard deviation of the readings about the line."""
    nu: int
    about: float

    def at(self, x: float) -> tuple[float, float]:
        """Return the line's value at x and its standard uncertainty (without the scatter of a new reading)."""
        away = x - self.about
        shared = 2.0 * away * self.correlation * self.u_intercept * self.u_slope
        variance = self.u_intercept**2 + (away * self.u_slope) ** 2 + shared
        return self.intercept + self.slope * away, math.sqrt(max(variance, 0.0))


def straight_line(x: ArrayLike, y: ArrayLike, *, about: float = 0.0) -> Line:
    """Fit a straight line; all the scatter is taken to be of y, alike at every x.

    Parameters
    ----------
    x, y : array_like of shape (n,)
        At least 3 readings, at two or more different x.
    about : float
        Where the intercept is told: a reference in the middle of x keeps intercept and slope nearly uncorrelated.

    Raises
    ------
    InputError
        Too few readings, or all at one x.
    """
    away, read = np.asarray(x, dtype=float) - about, np.asarray(y, dtype=float)
    if away.shape != read.shape or away.ndim != 1 or away.size < 3:
        raise InputError("x", f"{away.size} readings", "make no line with its uncertainty", allowed="3 or more pairs")
    if np.ptp(away) == 0.0:
        raise InputError("x", f"{away[0] + about:g}", "is the same for all readings", allowed="two or more values")
    design = np.column_stack([np.ones_like(away), away])
    inverse = np.linalg.inv(design.T @ design)
    found = np.linalg.lstsq(design, read, rcond=None)[0]
    rest = read - design @ found
    nu = away.size - 2
    residual = math.sqrt(float(rest @ rest) / nu)
    u = residual * np.sqrt(np.diag(inverse))
    return Line(
        intercept=float(found[0]),
        slope=float(found[1]),
        u_intercept=float(u[0]),
        u_slope=float(u[1]),
        correlation=float(inverse[0, 1] / math.sqrt(inverse[0, 0] * inverse[1, 1])),
        residual=residual,
        nu=nu,
        about=about,
    )
