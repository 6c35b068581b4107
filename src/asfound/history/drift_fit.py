"""The numbers of a drift: one robust regression of all samples, steps put where the error is least, onset, slope."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.correlated import long_run_variance
from asfound.history.drift_model import time_columns
from asfound.history.drift_onset import Course
from asfound.history.estimate import Estimate
from asfound.history.regression import RobustFit, robust_fit
from asfound.history.timeline import DAY
from asfound.quantities.typing import Array

SHARE_OF_STEP = 0.05


@dataclass(frozen=True, slots=True)
class Onset:
    """When a drift began: the middle of what may be and the ends of its interval, s."""

    time: float
    earliest: float
    latest: float


def time_part(x: Array, trend: int, course: Course | None) -> Array:
    """Return the columns of a trend over thousands of hours run, 0 at the end of the data. Shape (n, k)."""
    if course is not None:
        return (np.interp(x, course.hours, course.gone) - 1.0)[:, None]
    return time_columns(x, trend, ())


def fitted(
    y: Array, base: Array, ramp: Array, names: Sequence[str], steps: list[int], which: npt.NDArray[np.int64],
    known: Sequence[int | None], level: float,
) -> tuple[RobustFit, list[int], list[tuple[int, int]]]:  # fmt: skip
    """Fit all samples; move each step to the sample where the error is least, and fit again.

    ``names`` are those of ``base`` and ``ramp``.
    """
    steps = [one if k is None else k for one, k in zip(steps, known, strict=True)]
    labels = [*names, *(f"step {k + 1}" for k in range(len(steps)))]

    def design() -> Array:
        return np.hstack([base, ramp, time_columns(base[:, 0], 0, steps)])

    fit = robust_fit(design(), y, labels, block=which)
    if not steps:
        return fit, steps, []
    sets: list[tuple[int, int]] = []
    for again in (True, False):
        left = y - design() @ fit.coefficients
        left = np.clip(left, -3.0 * fit.scale, 3.0 * fit.scale)
        noise = max(long_run_variance(left), float(left.var()))
        edges = [0, *steps, y.size]
        placed = [
            _place(left, float(fit.coefficients[labels.index(f"step {k + 1}")]), edges[k : k + 3], noise, level)
            for k in range(len(steps))
        ]
        sets = [(low, high) for _, low, high in placed]
        moved = [
            old if k is not None and low <= old <= high else new
            for old, k, (new, low, high) in zip(steps, known, placed, strict=True)
        ]
        if not again or moved == steps or len(set(moved)) < len(moved):
            break
        steps = moved
        fit = robust_fit(design(), y, labels, block=which)
    left = y - design() @ fit.coefficients
    edges = [0, *steps, y.size]
    sizes = [float(fit.coefficients[labels.index(f"step {k + 1}")]) for k in range(len(steps))]
    return fit, steps, [
        _with_passage(left, size, edges[k : k + 3], ends, fit.scale)
        for k, (size, ends) in enumerate(zip(sizes, sets, strict=True))
    ]  # fmt: skip


def _with_passage(
    left: Array, size: float, edges: Sequence[int], ends: tuple[int, int], scale: float
) -> tuple[int, int]:  # fmt: skip
    """Return the set of a step's places with the passage about it: what lies on the way from one level to the other.

    A reading is on its way where the median of three has left its level by three standard deviations of the noise, and
    by a twentieth of the step.
    """
    before, one, after = edges
    low, high = ends
    if size == 0.0:
        return ends
    least = max(SHARE_OF_STEP, 3.0 * scale / abs(size))
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(left / size, 1, mode="edge"), 3)
    gone = np.median(windows, axis=1)
    back, ahead = gone[before:one][::-1] > least, -gone[one:after] > least
    return (
        min(low, one - (int(back.argmin()) if not back.all() else 0)),
        max(high, one + (int(ahead.argmin()) if not ahead.all() else 0)),
    )


def _place(left: Array, size: float, edges: Sequence[int], noise: float, level: float) -> tuple[int, int, int]:
    """Return the place of least squared error of a step and the ends of the set of its places.

    Moving a step from m to an earlier k makes the residuals between them smaller by the size of the step.
    """
    before, one, after = edges
    back = np.cumsum(((left - size) ** 2 - left**2)[before:one][::-1])[: max(one - before - 1, 0)]
    ahead = np.cumsum(((left + size) ** 2 - left**2)[one:after])[: max(after - one - 1, 0)]
    whole = np.concatenate([back[::-1], [0.0], ahead])
    places = np.arange(one - back.size, one + ahead.size + 1)
    inside = places[whole - whole.min() <= -2.0 * math.log(1.0 - math.sqrt(level)) * noise]
    return int(places[whole.argmin()]), int(inside[0]), int(inside[-1])


def slope_of(
    fit: RobustFit, trend: int, course: Course | None, x: Array, base: Array, y: Array, steps: Sequence[int],
    names: Sequence[str], which: npt.NDArray[np.int64], level: float,
) -> tuple[Estimate, Estimate | None]:  # fmt: skip
    """Return the slope per 1,000 h at the end, and how it bends where it does."""
    if course is not None:
        return fit.coefficient("gone", level).times(course.pace), None
    if trend:
        bend = fit.coefficient("hours^2", level).times(2.0) if trend > 1 else None
        return fit.coefficient("hours", level), bend
    # no trend in the shortest description: the slope beside the steps still bounds what may hide
    labels = [*names, "hours", *(f"step {k + 1}" for k in range(len(steps)))]
    beside = robust_fit(np.hstack([base, time_columns(x, 1, steps)]), y, labels, block=which)
    return beside.coefficient("hours", level), None


def visit_of(times: Array, visits: Array) -> int | None:
    """Return which visit lies within a day of the set of a step's times, the nearest."""
    low, one, high = (float(t) for t in times)
    near = np.flatnonzero((visits >= low - DAY) & (visits <= high + DAY))
    return int(near[np.abs(visits[near] - one).argmin()]) if near.size else None
