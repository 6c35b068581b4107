"""Robust estimators: reconcile so that a wild reading does not drag the rest. A start, or a second opinion.

Each is given by its weight w(e) = psi(e) / e of an adjustment e in units of the reading's u; solved by iteratively
reweighted least squares. They give no probabilities. Those that let a far reading go altogether (Welsch, biweight,
Hampel) can have several solutions: the one next to least squares is found.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import starting_point
from asfound.crosscheck.steps import Linear, Point, settle
from asfound.errors import UnknownNameError
from asfound.quantities.typing import Array

TUNING: Mapping[str, float] = MappingProxyType(
    {
        "huber": 1.345,
        "fair": 1.3998,
        "cauchy": 2.3849,
        "welsch": 2.9846,
        "biweight": 4.6851,
        "logistic": 1.2047,
        "hampel": 0.9014,
        "contaminated": 0.05,
    }
)
"""Constants for 95 % efficiency on clean normal readings: usual table values (source ``robust_tunings``), recomputed.

Hampel: times 1.5, 3.5, 8; computed here. Contaminated normal: share of readings with ten times the uncertainty, a model
of how often that happens (form of Tjoa and Biegler 1991, the share from memory); its efficiency is 98.9 %.
"""
HAMPEL = (1.5, 3.5, 8.0)
WIDER = 10.0
"""Contaminated readings have so many times the uncertainty: Tjoa and Biegler 1991. [1]"""
FAINTEST = 1e-6
"""Weight of a reading that is let go: a thousand times its u, and the covariance stays regular. [1]"""
ROUNDS = 5000
NEAR_ROUNDS = 15
NEAR = 0.1
"""For a start, adjustments need not settle closer than this, in units of u. [1]"""


def _biweight(e: Array, c: float) -> Array:
    return np.where(np.abs(e) < c, (1 - (e / c) ** 2) ** 2, 0.0)


def _logistic(e: Array, c: float) -> Array:
    small = np.abs(e) < 1e-9
    return np.where(small, 1.0, c * np.tanh(e / c) / np.where(small, 1.0, e))


def _hampel(e: Array, c: float) -> Array:
    a, b, end = (one * c for one in HAMPEL)
    far = np.maximum(np.abs(e), 1e-300)
    falling = a * (end - far) / (end - b) / far
    return np.where(far <= a, 1.0, np.where(far <= b, a / far, np.clip(falling, 0.0, None)))


def _contaminated(e: Array, c: float) -> Array:
    narrow, wide = (1 - c) * np.exp(-(e**2) / 2), c / WIDER * np.exp(-((e / WIDER) ** 2) / 2)
    whole = narrow + wide
    return np.where(whole > 0, (narrow + wide / WIDER**2) / np.where(whole > 0, whole, 1.0), 1.0 / WIDER**2)


WEIGHTS: Mapping[str, Callable[[Array, float], Array]] = MappingProxyType(
    {
        "huber": lambda e, c: c / np.maximum(np.abs(e), c),
        "fair": lambda e, c: 1 / (1 + np.abs(e) / c),
        "cauchy": lambda e, c: 1 / (1 + (e / c) ** 2),
        "welsch": lambda e, c: np.exp(-((e / c) ** 2)),
        "biweight": _biweight,
        "logistic": _logistic,
        "hampel": _hampel,
        "contaminated": _contaminated,
    }
)
"""psi(e) / e by name of the estimator."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Robust:
    """What a robust estimator makes of the readings."""

    names: tuple[str, ...]
    x: Array
    """Shape (n,)."""
    unmeasured: Array
    """Shape (p,)."""
    weights: Array
    """1 for a reading that counts fully, near 0 for one that is let go, shape (n,)."""
    converged: bool
    iterations: int
    point: Point
    linear: Linear
    """The balances at the point."""


def robust_reconcile(
    balances: Balances,
    readings: Readings,
    kind: str = "cauchy",
    *,
    tuning: float | None = None,
    start: Mapping[str, float] | None = None,
    rounds: int = ROUNDS,
    settled: float = 1e-8,
) -> Robust:
    """Return readings reconciled by a robust estimator.

    Parameters
    ----------
    kind : str
        Key of `WEIGHTS`.
    tuning : float, optional
        Its constant; that of `TUNING` when left out.
    rounds, settled : int, float
        Most rounds, and the change of an adjustment (in units of u) at which it is done.

    Raises
    ------
    UnknownNameError
        No estimator is called so.
    """
    if kind not in WEIGHTS:
        raise UnknownNameError("robust estimator", kind, WEIGHTS)
    readings = readings.in_order(balances.readings)
    weight, constant = WEIGHTS[kind], TUNING[kind] if tuning is None else tuning
    point, none = starting_point(balances, readings, start), np.zeros((len(readings.names), 0))
    variance, linear = readings.correlation, Linear.at(balances, point)
    before = np.full(len(readings.names), np.inf)
    weights = np.ones(len(readings.names))
    done, count = False, 0
    while not done and count < rounds:
        count += 1
        end = settle(balances, readings, point, none, variance=variance, at_most=1, linear=linear)
        point, linear = end.point, end.linear
        off = (readings.values - point.x) / readings.scale
        done = bool(np.abs(off - before).max() < settled)
        before = off
        weights = np.maximum(weight(off, constant), FAINTEST)
        root = np.sqrt(weights)
        variance = readings.correlation / root[:, None] / root
    return Robust(
        names=readings.names,
        x=point.x,
        unmeasured=point.u,
        weights=weights,
        converged=done and end.residual < 1e-6,
        iterations=count,
        point=point,
        linear=linear,
    )


def robust_start(
    balances: Balances, readings: Readings, start: Mapping[str, float] | None = None, rounds: int = NEAR_ROUNDS
) -> Robust:
    """Return where the balances hold with weights that a wild reading cannot pull: a place to linearise at."""
    return robust_reconcile(balances, readings, "cauchy", start=start, rounds=rounds, settled=NEAR)
