"""How sides take turns: processor time, median over turns, so that other work on the machine hits all alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from statistics import median
from time import process_time

import numpy as np

Sides = Mapping[str, tuple[Callable[[], object], int]]
"""Name to what is run and how many items (hours, gases, values) it does."""
Form = tuple[Callable[..., float], Callable[..., object], tuple[int, ...]]
"""A formula on floats alone, the program's own on arrays, and which columns both take."""


def seconds(work: Callable[[], object]) -> float:
    """Return the processor time of one call."""
    start = process_time()
    work()
    return process_time() - start


def race(turns: int, sides: Sides) -> dict[str, float]:
    """Return microseconds per item of each side."""
    return {name: median(found) for name, found in take_turns(turns, sides).items()}


def take_turns(turns: int, sides: Sides) -> dict[str, list[float]]:
    """Return microseconds per item of each side in every turn."""
    times: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(turns):
        for name, (run, count) in sides.items():
            times[name].append(1e6 * seconds(run) / count)
    return times


def hour_by_hour(
    form: Form, columns: Sequence[np.ndarray], *, alone: int, few: int, turns: int, close: float
) -> tuple[float, float, float]:
    """Return microseconds per hour of plain Python, of the program's function hour by hour, and in one call.

    Parameters
    ----------
    columns : sequence of array
        Readings, each of shape (hours,).
    alone, few : int
        Hours that plain Python does in a turn, and hours that the function does one by one.
    close : float
        Relative difference of the answers that is allowed; AssertionError beyond it.
    """
    by_hand, ours, at = form
    given = [columns[one] for one in at]
    rows = list(zip(*(one[:alone].tolist() for one in given), strict=True))
    np.testing.assert_allclose(
        np.asarray(ours(*(one[:alone] for one in given))), [by_hand(*row) for row in rows], rtol=close
    )
    found = race(
        turns,
        {
            "plain": (lambda: [by_hand(*row) for row in rows], alone),
            "single": (lambda: [ours(*row) for row in rows[:few]], few),
            "one call": (lambda: [ours(*given) for _ in range(10)], 10 * len(given[0])),
        },
    )
    return found["plain"], found["single"], found["one call"]
