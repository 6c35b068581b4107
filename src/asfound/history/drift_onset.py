"""When a drift began, whatever course it took: onsets and courses weighed by how well they fit.

Each onset is tried with each of some courses (`drift_courses`); the effects of load and ambient, the steps and the
level are fitted anew for each, in a series freed of the memory of its noise (generalised least squares). Each gets the
weight of its likelihood (Bayesian model averaging, Hoeting, Madigan, Raftery and Volinsky 1999, Statistical Science 14,
382; flat prior over time, a quarter for the straight line). The onset's interval, the course, and what all this adds
to the doubt of level and slope now are those of the weighted whole; it is looked at coarsely first, then closely where
the weight lies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.changes_beside_memory import filtered
from asfound.history.drift_courses import SHAPES, Shape, closer
from asfound.history.normal_equations import of_products
from asfound.quantities.typing import Array

COARSE, FINE = 64, 48
"""Onsets tried at first, and closely."""
TRUST = 0.6
"""Power of the likelihood by which onsets and courses are weighed: the memory of the noise is taken from the same days,
and no course is quite that of the log (power likelihood, Holmes and Walker 2017, Biometrika 104, 497). Set where logs
made here hold their intervals (`benchmarks.history_coverage`)."""
LITTLE = 1e-4
"""Share of the largest weight below which an onset is not looked at closely."""


@dataclass(frozen=True, slots=True)
class Course:
    """A drift from its onset to the last day, as the weighted whole of courses has it."""

    place: npt.NDArray[np.int64]
    """Days that may be the first of it, shape (k,)."""
    weight: Array
    """Probability of each, shape (k,)."""
    hours: Array
    """Thousands of hours run, 0 on the last day, shape (n,)."""
    gone: Array
    """Share of the drift on each day, 0 before, 1 on the last, shape (n,)."""
    pace: float
    """Change of the share per 1,000 hours at the end."""
    apart: Array
    """Covariance of level and slope now between the ways that may be, shape (2, 2)."""
    middle: Array
    """Level now and slope now, means over the ways, shape (2,)."""

    def quantile(self, share: float) -> int:
        """Return the day before which the drift began with a given probability."""
        return int(np.interp(share, np.cumsum(self.weight) - 0.5 * self.weight, self.place))


@dataclass(frozen=True, slots=True)
class Grid:
    """Every onset with every course; arrays (places * shapes,) but for places."""

    places: npt.NDArray[np.int64]
    shapes: tuple[Shape, ...]
    courses: Array
    """Share gone on each day, shape (n, places * shapes)."""
    pace: Array
    """Change of that share per 1,000 hours at the end."""
    prior: Array


def grid_of(x: Array, places: npt.NDArray[np.int64], shapes: Sequence[Shape] = SHAPES) -> Grid:
    """Return onsets and courses, the straight one first, over thousands of hours run before the last day."""
    places = places[(places > 0) & (x[places] < -1e-9)]
    share = np.clip((x[:, None] - x[places]) / -x[places], 0.0, 1.0)
    courses = np.stack([shape.gone(share) for shape in shapes], axis=2).reshape(x.size, -1)
    pace = np.tile([shape.pace for shape in shapes], places.size) / np.repeat(-x[places], len(shapes))
    prior = np.tile([shape.prior for shape in shapes], places.size) / max(places.size, 1)
    return Grid(places, tuple(shapes), courses, pace, prior)


@dataclass(frozen=True, slots=True)
class Fits:
    """The grid fitted beside the rest of the model; arrays (places * shapes,)."""

    grid: Grid
    errors: Array
    """Squared innovations left; inf where the course is told from the rest of the model by nothing."""
    total: Array
    """Whole drift."""
    level: Array
    """Level on the last day."""
    freedom: int

    @property
    def best(self) -> tuple[int, int]:
        """Return place and shape of least error."""
        place, shape = divmod(int(self.errors.argmin()), len(self.grid.shapes))
        return int(self.grid.places[place]), shape

    @property
    def best_straight(self) -> int:
        """Return the place of least error of a straight line."""
        return int(self.grid.places[self.errors[:: len(self.grid.shapes)].argmin()])

    def weighed(self, trust: float) -> Array:
        """Return prior times a power of the likelihood over that of the best."""
        likely = -0.5 * self.freedom * np.log(np.maximum(self.errors, 1e-300) / max(float(self.errors.min()), 1e-300))
        found: Array = self.grid.prior * np.exp(trust * likely)
        return found

    @property
    def weight(self) -> Array:
        """Return the weight of each course for the intervals."""
        return self.weighed(TRUST)

    @property
    def price(self) -> float:
        """Return what not knowing onset and course costs, in twice natural logarithms of probability."""
        return -2.0 * math.log(max(float(self.weighed(1.0).sum()), 1e-300))


def fits_of(y: Array, columns: Array, grid: Grid, memory: Array) -> Fits | None:
    """Return onsets and courses fitted; None where there is no room for any.

    Parameters
    ----------
    y, columns : arrays
        Daily values (n,); ones first, then load, ambient ..., steps that are 0 at the end (n, p).
    grid : Grid
        What is tried.
    memory : array
        Autoregression of the noise.
    """
    p = columns.shape[1]
    if not grid.places.size or y.size - memory.size < p + 10:
        return None
    rest_too = filtered(np.column_stack([columns, y]), memory)
    own = filtered(grid.courses, memory)
    across = rest_too.T @ own
    squares = np.einsum("ij,ij->j", own, own)
    with_y = rest_too[:, :p].T @ rest_too[:, p]
    # one solution gives the effects of the rest on the series and on every course
    fitted = of_products(rest_too[:, :p].T @ rest_too[:, :p], np.column_stack([with_y, across[:p]]))
    size = squares - np.einsum("ij,ij->j", across[:p], fitted[:, 1:])
    usable = size > 1e-9 * np.maximum(squares, 1e-300)
    if not usable.any():
        return None
    total = np.where(usable, (across[p] - with_y @ fitted[:, 1:]) / np.where(usable, size, 1.0), 0.0)
    alone = rest_too[:, p] - rest_too[:, :p] @ fitted[:, 0]
    errors = np.where(usable, float(alone @ alone) - total**2 * size, math.inf)
    level = fitted[0, 0] - total * fitted[0, 1:] + total
    return Fits(grid, errors, total, level, len(own) - p - 2)


def onsets(n: int, shortest: int) -> npt.NDArray[np.int64]:
    """Return the onsets that are tried at first."""
    if n < 4 * shortest:
        return np.zeros(0, dtype=np.int64)
    return np.unique(np.linspace(shortest, n - 2 * shortest - 1, COARSE).astype(np.int64))


def course_of(y: Array, columns: Array, x: Array, memory: Array, coarse: Grid) -> Course | None:
    """Return when and how a drift began and went; None where nothing could be fitted. Parameters as `fits_of`."""
    first = fits_of(y, columns, coarse, memory)
    if first is None:
        return None
    places = coarse.places
    table = first.weight.reshape(places.size, -1)
    some = np.flatnonzero(table.sum(axis=1) > LITTLE * table.sum(axis=1).max())
    low, high = places[max(int(some[0]) - 1, 0)], places[min(int(some[-1]) + 1, places.size - 1)]
    fine = np.unique(np.linspace(low, high, FINE).astype(np.int64))
    grid = grid_of(x, fine, closer(table.sum(axis=0) / table.sum()))
    fits = fits_of(y, columns, grid, memory)
    if fits is None:
        return None
    weight = fits.weight / fits.weight.sum()
    slope = fits.total * grid.pace
    both = np.stack([fits.level, slope])
    middle = both @ weight
    away = both - middle[:, None]
    drifted = float(fits.total @ weight)
    if abs(drifted) < 1e-12 * (float(np.abs(y).max()) + 1e-300):
        return None
    gone = grid.courses @ (weight * fits.total) / drifted
    return Course(
        grid.places, weight.reshape(grid.places.size, -1).sum(axis=1), x, gone, float(slope @ weight) / drifted,
        (away * weight) @ away.T, middle,
    )  # fmt: skip


def course_column(x: Array, place: int, shape: int) -> Array:
    """Return the share gone on each day, 0 before the place, 1 at the end."""
    share = np.clip((x - x[place]) / (x[-1] - x[place]), 0.0, 1.0) if x[-1] > x[place] else np.zeros(x.size)
    return SHAPES[shape].gone(share)
