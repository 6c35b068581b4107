"""Tasks that come round again and share the cost of a stop: a base interval and whole multiples of it.

Cost per unit of time = (S + sum s_i/m_i)/T + T/2 sum h_i m_i: set-up S of a stop, own cost s_i of a task, cost h_i that
grows with the time since the task. Silver's rule of 1976 (from memory) is good, not always best.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class SharedCycle:
    """A stop each ``interval``, task i in each ``multiples[i]``-th of them."""

    interval: float
    multiples: tuple[int, ...]
    cost: float


def shared_cycle(
    setup: float, own: Sequence[float], growing: Sequence[float], *, most_multiple: int = 12
) -> SharedCycle:
    """Return the cheapest cycle with some task in every stop; exact for multiples up to ``most_multiple``.

    For a given base interval the best multiple of each task is its own affair and changes at known intervals only, so a
    walk along these, with each task in turn in every stop, meets every set of multiples that can be best.
    """
    costs, slopes = _checked(setup, own, growing)
    best: SharedCycle | None = None
    # the interval at which a task goes from the multiple m + 1 to m: m (m + 1) T**2 = 2 s/h
    steps = np.arange(1, most_multiple)
    edges = np.sqrt(2.0 * (costs / slopes)[:, None] / (steps * (steps + 1))[None, :])
    inside = np.sort(edges.ravel())
    places = np.concatenate([inside * (1.0 - 1e-9), inside * (1.0 + 1e-9), [1.0]])
    multiples = 1 + (places[:, None, None] < edges[None, :, :]).sum(axis=2)
    for always in range(len(costs)):
        tried = multiples.copy()
        tried[:, always] = 1
        cost = cycle_cost(setup, costs, slopes, tried)
        at = int(np.argmin(cost))
        if best is None or cost[at] < best.cost * (1.0 - 1e-12):
            best = _cycle(setup, costs, slopes, tried[at])
    assert best is not None  # there is a task
    return best


def silver_cycle(setup: float, own: Sequence[float], growing: Sequence[float]) -> SharedCycle:
    """Return the cycle of Silver's rule: the task with the least own cost over growth is in every stop."""
    costs, slopes = _checked(setup, own, growing)
    ratios = costs / slopes
    first = int(np.argmin(ratios))
    wanted = np.sqrt(ratios / ratios[first] * costs[first] / (setup + costs[first])) if ratios[first] else ratios * 0.0
    multiples = np.maximum(1, np.rint(wanted)).astype(int)
    multiples[first] = 1
    return _cycle(setup, costs, slopes, multiples)


def apart(setup: float, own: Sequence[float], growing: Sequence[float]) -> float:
    """Return the cost per unit of time where each task has its own stops."""
    costs, slopes = _checked(setup, own, growing)
    return float(np.sqrt(2.0 * (setup + costs) * slopes).sum())


def cycle_cost(setup: float, own: Array, growing: Array, multiples: Array) -> Array:
    """Return the cost per unit of time at the best base interval, shape (...) for multiples (..., tasks)."""
    cost: Array = np.sqrt(2.0 * (setup + (own / multiples).sum(axis=-1)) * (growing * multiples).sum(axis=-1))
    return cost


def _cycle(setup: float, own: Array, growing: Array, multiples: Array) -> SharedCycle:
    interval = math.sqrt(2.0 * (setup + float((own / multiples).sum())) / float((growing * multiples).sum()))
    return SharedCycle(
        interval, tuple(int(one) for one in multiples), float(cycle_cost(setup, own, growing, multiples))
    )


def _checked(setup: float, own: Sequence[float], growing: Sequence[float]) -> tuple[Array, Array]:
    costs, slopes = np.asarray(own, dtype=float), np.asarray(growing, dtype=float)
    if costs.ndim != 1 or costs.shape != slopes.shape or not len(costs):
        raise InputError("own", str(costs.shape), "has no growing cost for each task", allowed="one of each per task")
    if not (setup >= 0.0 and (costs >= 0.0).all() and (slopes > 0.0).all() and setup + costs.min() > 0.0):
        raise InputError("own", "a cost", "cannot be planned with", allowed="0 or more, growing costs above 0")
    return costs, slopes
