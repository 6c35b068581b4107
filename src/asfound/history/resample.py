"""Rows at an even step, for whoever computes with a log: from buckets where the step is made of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

import numpy as np

from asfound.errors import InputError
from asfound.history.buckets import LEVELS, Buckets, of_rows
from asfound.history.channels import SECOND, Channels
from asfound.history.store import Store
from asfound.quantities.typing import Array

How = Literal["mean", "deviation", "low", "high", "count", "last"]
DEVIATION = ":deviation"


def resample(
    store: Store, engine: str, channels: Iterable[str], start: int, end: int, step: int, how: How = "mean"
) -> Channels:
    """Return one row for each step from the one that holds ``start``, time its left edge; nan where nothing was logged.

    Parameters
    ----------
    start, end, step : int
        Microseconds; steps are counted from 1970-01-01 UTC.
    how : str
        ``mean``, ``deviation`` (n - 1), ``low``, ``high``, ``count``, or ``last`` (the last value in the step).
    """
    names = tuple(channels)
    if how == "last":
        return _last(store, engine, names, start, end, step)
    found = _buckets(store, engine, names, start, end, step)
    tables: dict[str, Callable[[], Array]] = {
        "mean": found.mean, "deviation": found.deviation, "low": lambda: found.low, "high": lambda: found.high,
        "count": lambda: found.n.astype(np.float64),
    }  # fmt: skip
    table = tables[how]()
    return Channels(time=found.time, values=dict(zip(names, table, strict=True)))


def steady_inputs(
    store: Store, engine: str, channels: Iterable[str], start: int, end: int, step: int = 600 * SECOND
) -> Channels:
    """Return mean and, as ``<channel>:deviation``, standard deviation at an even step: what steady windows ask for."""
    names = tuple(channels)
    found = _buckets(store, engine, names, start, end, step)
    means, deviations = found.mean(), found.deviation()
    values = dict(zip(names, means, strict=True))
    values |= {name + DEVIATION: deviations[row] for row, name in enumerate(names)}
    return Channels(time=found.time, values=values)


def _buckets(store: Store, engine: str, names: tuple[str, ...], start: int, end: int, step: int) -> Buckets:
    if step <= 0:
        raise InputError("step", str(step), "is no width", allowed="above 0 microseconds")
    first, last = start // step * step, -(-end // step) * step
    for level in reversed(LEVELS):
        if step % level == 0:
            return store.buckets(engine, names, first, last, level).coarser(step)
    rows = store.read(engine, names, first, last)
    return of_rows(rows.time, rows.values, step).over(first, (last - first) // step, names)


def _last(store: Store, engine: str, names: tuple[str, ...], start: int, end: int, step: int) -> Channels:
    first, last = start // step * step, -(-end // step) * step
    rows = store.read(engine, names, first, last)
    time = first + step * np.arange((last - first) // step, dtype=np.int64)
    values = {}
    for name in names:
        there = ~np.isnan(rows.values[name])
        values[name] = np.full(len(time), np.nan)
        values[name][(rows.time[there] - first) // step] = rows.values[name][there]  # the last one written stays
    return Channels(time=time, values=values)
