"""How large a change is, and where it may lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from asfound.history.change_scales import Scale
from asfound.history.change_segments import Kind, joined_columns
from asfound.history.correlated import long_run_variance
from asfound.history.estimate import UNKNOWN, Estimate
from asfound.history.normal_equations import rest, solve
from asfound.quantities.typing import Array

LOCATION = -2.0 * math.log(1.0 - math.sqrt(0.95))
"""How far the squared error over the long-run variance may rise in the 95 % set of a change's place: 7.35 (Eo and
Morley 2015, Quantitative Economics 6, 463)."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change: index of the first sample after it, with the 95 % set of that index, and its size.

    The size is the step of the level; for joined lines, which have none, the change of the slope per sample; for the
    spread that of the standard deviation.
    """

    at: int
    earliest: int
    latest: int
    size: Estimate
    of: Literal["level", "slope", "spread"] = "level"


def sized(
    x: Array, fitted: Array, at: Sequence[int], kind: Kind, scale: Scale, spread: Sequence[int]
) -> list[Change]:  # fmt: skip
    """Return each change with its size and the set of its place, by place; sizes in the unit of the series.

    Parameters
    ----------
    x, fitted : array of shape (n,)
        On the scale.
    at, spread : sequence of int
        Where the level or the slope changes, and where only the spread does.
    """
    found = _joins(x, at, _noise(x, fitted, at)) if kind == "joined" else _steps(x, fitted, at, kind)
    slopes = scale.slope(fitted)
    in_unit = [
        replace(one, size=one.size.times(float(np.sqrt(slopes[one.at] * slopes[one.at - 1])))) for one in found
    ]  # fmt: skip
    return sorted([*in_unit, *_spreads((x - fitted) * slopes, spread)], key=lambda one: one.at)


def _noise(x: Array, fitted: Array, at: Sequence[int]) -> float:
    return max(long_run_variance(x - fitted) if at else math.nan, float((x - fitted).var()))


def _spreads(left: Array, at: Sequence[int]) -> list[Change]:
    """Return the changes of the standard deviation; the place is where the likelihood is within the 95 % set."""
    edges = [0, *at, left.size]
    found = []
    for before, one, after in zip(edges[:-2], edges[1:-1], edges[2:], strict=True):
        number = np.arange(before + 3, after - 2)
        squares = np.cumsum(left[before:after] ** 2)
        first, second = squares[number - before - 1], squares[-1] - squares[number - before - 1]
        cost = (number - before) * np.log(np.maximum(first, 1e-300) / (number - before))
        cost += (after - number) * np.log(np.maximum(second, 1e-300) / (after - number))
        inside = number[cost <= cost[number == one].min(initial=math.inf) + LOCATION] if number.size else number
        low, high = float(left[before:one].std()), float(left[one:after].std())
        error = math.sqrt(low**2 / (2.0 * (one - before)) + high**2 / (2.0 * (after - one)))
        ends = (min(int(inside[0]), one), max(int(inside[-1]), one)) if inside.size else (one, one)
        found.append(Change(one, *ends, Estimate.of(high - low, error), "spread"))
    return found


def _steps(x: Array, fitted: Array, at: Sequence[int], kind: Kind) -> list[Change]:
    """Return each step with its size and the set of its place, from the samples between its neighbours."""
    noise = _noise(x, fitted, at)
    edges = [0, *at, x.size]
    found = []
    for before, one, after in zip(edges[:-2], edges[1:-1], edges[2:], strict=True):
        low, high = _place_set(x, fitted, (before, one, after), noise)
        error = math.sqrt(noise * (1.0 / (one - before) + 1.0 / (after - one)))
        if kind == "trend":
            error *= 2.0  # a line at its end is four times as uncertain, in variance, as the mean
        step = float(fitted[one] - fitted[one - 1])
        if kind == "slope" and len(fitted) > 2:
            step -= float(fitted[min(one + 1, after - 1)] - fitted[one]) if after - one > 1 else 0.0
        size = Estimate.of(step, error) if math.isfinite(error) else UNKNOWN
        found.append(Change(one, low, high, size))
    return found


def _joins(x: Array, at: Sequence[int], noise: float) -> list[Change]:
    """Return the changes of slope of joined lines, and the places whose squared error is not clearly more."""
    n = x.size
    columns = joined_columns(n, at)
    scaled = columns / np.abs(columns).max(axis=0)
    inverse = np.linalg.inv(scaled.T @ scaled) * noise
    coefficients = solve(columns, x)
    found = []
    edges = [0, *at, n]
    for k, one in enumerate(at):
        others = [place for place in at if place != one]
        tried = np.unique(
            np.linspace(edges[k] + 1, edges[k + 2] - 2, min(edges[k + 2] - edges[k] - 2, 200)).astype(int)
        )
        errors = np.array(
            [float((rest(joined_columns(n, sorted([*others, int(place)])), x) ** 2).sum()) for place in tried]
        )
        inside = tried[errors - errors.min() <= LOCATION * noise]
        error = math.sqrt(max(float(inverse[k + 2, k + 2]), 0.0)) / float(np.abs(columns[:, k + 2]).max())
        size = Estimate.of(float(coefficients[k + 2]), error) if math.isfinite(error) else UNKNOWN
        found.append(Change(one, min(int(inside[0]), one), max(int(inside[-1]), one), size, "slope"))
    return found


def _place_set(x: Array, fitted: Array, edges: tuple[int, int, int], noise: float) -> tuple[int, int]:
    """Return the ends of the places whose squared error is not clearly more than the least."""
    before, one, after = edges
    step = float(fitted[one] - fitted[one - 1])
    # moving the change from `one` to k gives the samples between to the other side
    left = np.cumsum(((x - fitted - step) ** 2 - (x - fitted) ** 2)[before:one][::-1])[: one - before - 1]
    right = np.cumsum(((x - fitted + step) ** 2 - (x - fitted) ** 2)[one:after])[: after - one - 1]
    wall = LOCATION * noise
    near_left, near_right = np.flatnonzero(left <= wall), np.flatnonzero(right <= wall)
    low = one - (int(near_left.max()) + 1 if near_left.size else 0)
    high = one + (int(near_right.max()) + 1 if near_right.size else 0)
    return low, high
