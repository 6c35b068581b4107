"""A sensor that shows the same number although the engine runs.

A run of equal values is judged by how often neighbours of this channel are equal anyway: a coarse logger repeats itself
by chance. The flat-line test of open data quality manuals (QARTOD, from memory) has a fixed number of repeats instead.
"""

from __future__ import annotations

import numpy as np

from asfound.history.channels import SECOND, Times
from asfound.history.sensor_fault import Fault, Mask
from asfound.quantities.typing import Array

CHANCE = 1e-4
"""Runs as long as this that chance may give in the whole log."""
LEAST = 6
"""Samples that a run has at least."""
LEAST_TIME = 3600.0
"""[s]"""
NEAR = 150
"""Neighbours on each side that tell how often the channel repeats itself thereabouts."""
MARGIN = 1.25
"""A channel repeats itself more at times: runs are this much longer than even chance makes them."""
HARDLY_MOVES = 0.9
"""Share of equal neighbours above which a channel cannot be judged: a setting, a state."""


def stuck(
    time: Times, value: Array, use: Mask, channel: str = "", *, chance: float = CHANCE, least: int = LEAST,
    least_time: float = LEAST_TIME,
) -> tuple[Fault, ...]:  # fmt: skip
    """Return the stretches in which a channel stood still.

    Parameters
    ----------
    time : array (n,)
        In order. [µs]
    value : array (n,)
        nan is missing.
    use : array (n,)
        Where the engine runs; a stretch ends with it.
    """
    rows = np.flatnonzero(use & np.isfinite(value))
    if len(rows) < 100:
        return ()
    kept, when = value[rows], time[rows]
    usual = float(np.median(np.diff(when)))
    joined = (np.diff(rows) == 1) & (np.diff(when) <= 3 * usual)
    ends = (kept[1:] == kept.max()) | (kept[1:] == kept.min())  # a sensor at its end, fog at 100 %: not stuck
    equal = joined & (kept[1:] == kept[:-1]) & ~ends
    first = np.flatnonzero(equal & ~np.concatenate([[False], equal[:-1]]))
    last = np.flatnonzero(equal & ~np.concatenate([equal[1:], [False]]))
    long = last - first + 1  # pairs; samples are one more
    repeats = _repeats(long.astype(float), int(joined.sum()))
    if repeats > HARDLY_MOVES:
        return ()
    found = []
    for begin, end in zip(first.tolist(), last.tolist(), strict=True):
        samples = end - begin + 2
        if samples < least or when[end + 1] - when[begin] < least_time * SECOND:
            continue
        needed = max(least, _needed(max(repeats, _repeats_near(equal, begin, end)), len(rows), chance))
        if samples >= needed:
            found.append(
                Fault(
                    kind="stuck", channel=channel, start=int(when[begin]), end=int(when[end + 1]),
                    size=float(kept[begin]),
                    says=f"the same number {samples} times; chance repeats it {needed - 1} times at most",
                )
            )  # fmt: skip
    return tuple(found)


def _needed(repeats: float, samples: int, chance: float) -> int:
    """Return the least length of a run that chance does not give: n p^(k-1) (1-p) below ``chance``."""
    if repeats <= 0:
        return 0
    if repeats >= HARDLY_MOVES:
        return samples + 1
    return int(np.ceil(1 + MARGIN * np.log(chance / (samples * (1 - repeats))) / np.log(repeats)))


def _repeats_near(equal: Mask, begin: int, end: int, near: int = NEAR) -> float:
    """Return the share of equal neighbours before and after a run."""
    about = np.concatenate([equal[max(begin - near, 0) : begin], equal[end + 1 : end + 1 + near]])
    return float(about.mean()) if len(about) else 0.0


def _repeats(long: Array, pairs: int) -> float:
    """Return the share of neighbours that are equal by the channel's nature: without runs that stand out. [1]"""
    share = 0.0
    keep = np.ones(len(long), dtype=bool)
    for _ in range(4):
        equal = float(long[keep].sum())
        share = equal / max(pairs - float(long[~keep].sum()), 1.0)
        if share <= 0 or share > HARDLY_MOVES:
            break
        expected = np.log(1e-2 / max(pairs, 1)) / np.log(share)
        keep = long <= max(expected, 3)
    return share
