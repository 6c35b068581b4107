"""The numbers of a drift: one robust regression of all samples, steps put where the error is least, onset, slope."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.history.changes import LOCATION
from asfound.history.correlated import long_run_variance
from asfound.history.drift_model import Model, onset_profile, time_columns
from asfound.history.estimate import Estimate
from asfound.history.normal_equations import rest
from asfound.history.regression import RobustFit, robust_fit
from asfound.history.timeline import DAY, block_means
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class Onset:
    """When a drift began."""

    time: float
    earliest: float
    latest: float


def fitted(
    y: Array, base: Array, x: Array, names: Sequence[str], steps: list[int], trend: int, begun: int | None,
    which: npt.NDArray[np.int64], known: Sequence[int | None],
) -> tuple[RobustFit, list[int], list[tuple[int, int]]]:  # fmt: skip
    """Fit all samples; move each step to the sample where the error is least, and fit again."""
    steps = [one if k is None else k for one, k in zip(steps, known, strict=True)]
    labels = [*names, *["hours", "hours^2"][:trend], *(f"step {k + 1}" for k in range(len(steps)))]
    fit = robust_fit(np.hstack([base, time_columns(x, trend, steps, begun)]), y, labels, block=which)
    if not steps:
        return fit, steps, []
    sets: list[tuple[int, int]] = []
    for again in (True, False):
        left = y - np.hstack([base, time_columns(x, trend, steps, begun)]) @ fit.coefficients
        left = np.clip(left, -3.0 * fit.scale, 3.0 * fit.scale)
        noise = max(long_run_variance(left), float(left.var()))
        edges = [0, *steps, y.size]
        placed = [
            _place(left, float(fit.coefficients[labels.index(f"step {k + 1}")]), edges[k : k + 3], noise)
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
        fit = robust_fit(np.hstack([base, time_columns(x, trend, steps, begun)]), y, labels, block=which)
    return fit, steps, sets


def _place(left: Array, size: float, edges: Sequence[int], noise: float) -> tuple[int, int, int]:
    """Return the place of least squared error of a step and the ends of the set of its places.

    Moving a step from m to an earlier k makes the residuals between them smaller by the size of the step.
    """
    before, one, after = edges
    back = np.cumsum(((left - size) ** 2 - left**2)[before:one][::-1])[: max(one - before - 1, 0)]
    ahead = np.cumsum(((left + size) ** 2 - left**2)[one:after])[: max(after - one - 1, 0)]
    whole = np.concatenate([back[::-1], [0.0], ahead])
    places = np.arange(one - back.size, one + ahead.size + 1)
    inside = places[whole - whole.min() <= LOCATION * noise]
    return int(places[whole.argmin()]), int(inside[0]), int(inside[-1])


def slope_of(
    fit: RobustFit, trend: int, x: Array, base: Array, y: Array, steps: Sequence[int], names: Sequence[str],
    which: npt.NDArray[np.int64], level: float,
) -> tuple[Estimate, Estimate | None]:  # fmt: skip
    """Return the slope per 1,000 h at the end, and how it bends where it does."""
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


def onset_of(
    model: Model, y: Array, base: Array, x: Array, which: npt.NDArray[np.int64], at: Array, fit: RobustFit
) -> Onset:
    """Return when the drift began, with the places whose squared error is not clearly more (3.84 long-run
    variances).
    """
    assert model.onset is not None
    bounded = y - base[:, 1:] @ fit.coefficients[1 : base.shape[1]]
    daily = block_means(which, np.column_stack([bounded, x]))
    steps = time_columns(daily[:, 1], 0, model.steps)
    errors, places = onset_profile(
        daily[:, 0], np.hstack([np.ones((len(daily), 1)), steps]), daily[:, 1], max(5, len(daily) // 100)
    )
    ramp = np.maximum(daily[:, 1] - daily[model.onset, 1], 0.0)[:, None]
    columns = np.hstack([np.ones((len(daily), 1)), ramp, steps])
    left = rest(columns, daily[:, 0])
    noise = max(long_run_variance(left), float(left.var()))
    inside = places[errors - errors.min() <= 3.84 * noise]
    begins = at[np.searchsorted(which, [model.onset, inside[0], inside[-1]])]
    return Onset(float(begins[0]), float(begins[1]), float(begins[2]))


def onset_error_of(
    began: Onset, y: Array, base: Array, x: Array, names: Sequence[str], steps: Sequence[int],
    which: npt.NDArray[np.int64], at: Array,
) -> tuple[float, float]:  # fmt: skip
    """Return what not knowing the onset adds to the standard errors of slope and level, from the ends of its set."""
    labels = [*names, "hours", *(f"step {k + 1}" for k in range(len(steps)))]
    fits = [
        robust_fit(
            np.hstack([base, time_columns(x, 1, steps, int(np.searchsorted(at, begin)))]), y, labels, block=which
        )
        for begin in (began.earliest, began.latest)
    ]
    slope, level = (
        abs(fits[1].coefficient(name).value - fits[0].coefficient(name).value) / (2.0 * 1.96)
        for name in ("hours", "level")
    )
    return slope, level
