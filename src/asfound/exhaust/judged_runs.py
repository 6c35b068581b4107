"""How rules judge what was measured: the mean of the runs, each run with its uncertainty, a rolling mean, a change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

FULL_LOAD = (0.9, 1.1)
"""Within 10 % of full load. [1]"""
WINDOW = 16
"""Quarter-hour values in the 4 hours of 40 CFR 63.6640, Table 6."""
LARGEST_CHANGE = 2.0 * 249.08891
"""Of a catalyst's pressure drop since the initial performance test: 2 inches of water at 4 degrees Celsius. [Pa]"""
ROUNDING = 1e-9
"""What is just at a limit stays there when units are converted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunsJudged:
    """The same runs under two rules: one judges the mean, the other each run with its uncertainty added."""

    mean: float
    mean_holds: bool
    worst_with_uncertainty: float
    each_holds: bool


def judge_runs(runs: Sequence[float], expanded_uncertainty: float, limit: float) -> RunsJudged:
    """Return what the US rule (mean of the runs) and the German rule (each run plus its uncertainty) say.

    The same three runs can pass one and fail the other: the page must say by which rule it judges.

    References
    ----------
    .. [1] 40 CFR 60.4244(c), Table 2 of the subpart; 44. BImSchV, section 31(7).

    Examples
    --------
    >>> judged = judge_runs((92.0, 97.0, 95.0), 4.0, 100.0)
    >>> judged.mean_holds, judged.each_holds
    (True, False)
    """
    mean = float(np.mean(runs))
    worst = float(np.max(runs)) + expanded_uncertainty
    return RunsJudged(
        mean=mean, mean_holds=mean <= limit, worst_with_uncertainty=worst, each_holds=bool(worst <= limit)
    )


def rolling_means(values: Array, window: int = WINDOW) -> Array:
    """Return the mean of each full window of values that follow each other; nan where the window holds a nan.

    Parameters
    ----------
    values : array [n]
        One value for each quarter of an hour, for example catalyst inlet temperature. [any]
    window : int
        Values in a window.

    Returns
    -------
    array [n - window + 1]
        Empty where there are fewer values than a window. A standing engine's nan spoils only its own windows.
    """
    taken = np.asarray(values, dtype=float)
    if taken.size < window:
        return np.empty(0)
    found: Array = np.lib.stride_tricks.sliding_window_view(taken, window).mean(axis=1)
    return found


def pressure_drop_within(baseline: float, baseline_load: float, drop: float, load: float) -> bool | None:
    """Return whether a catalyst's pressure drop is within 2 in of water of that of the test; None: not comparable.

    Parameters
    ----------
    baseline, drop : float
        At the initial performance test, and now. [Pa]
    baseline_load, load : float
        Over full load. Only within 10 % of full load are they compared. [1]

    References
    ----------
    .. [1] 40 CFR 63 Subpart ZZZZ, Tables 1b and 2b.
    """
    low, high = FULL_LOAD[0] * (1 - ROUNDING), FULL_LOAD[1] * (1 + ROUNDING)
    if not (low <= load <= high and low <= baseline_load <= high):
        return None
    return abs(drop - baseline) <= LARGEST_CHANGE * (1 + ROUNDING)
