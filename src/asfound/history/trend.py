"""What a plot of a log shows: for each column of pixels the lowest, the highest and the mean, from stored buckets.

A column is a whole number of buckets, so what it shows is exact, and a year costs no more than a day. Rows are read
only where a column is narrower than the finest bucket. A column without values stays empty: a gap is a gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.history import month as a_month
from asfound.history.buckets import LEVELS, Buckets, of_rows
from asfound.history.channels import Channels, Times
from asfound.history.store import Store
from asfound.quantities.typing import Array

ENOUGH = 8
"""A column of so many buckets or more is at most an eighth wider than asked for; else a finer width is looked for."""
JOINED = 2.5
"""Values further apart than this many times their usual distance have a gap between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Columns of a plot, from left to right; arrays of values have the shape (channels, columns), nan where empty."""

    engine: str
    channels: tuple[str, ...]
    start: int
    end: int
    """What was asked for, microseconds UTC."""
    step: int
    """Width of a column, microseconds; 0 where each row has a column of its own."""
    read_from: Literal["buckets", "rows"]
    time: Times
    """Left edge of each column (columns,)."""
    n: NDArray[np.int32]
    low: Array
    high: Array
    mean: Array
    broken: NDArray[np.bool_]
    """Whether a line must not be drawn from the filled column before to this one: nothing was logged between them."""

    @property
    def rows_behind(self) -> int:
        """Values that the picture stands for, of all channels."""
        return int(self.n.sum(dtype=np.int64))

    def gaps(self, channel: str) -> list[tuple[int, int]]:
        """Return the stretches without values of a channel, each from the end of a column to the next filled one."""
        row = self.channels.index(channel)
        filled = np.flatnonzero(self.n[row] > 0)
        ends = np.flatnonzero(self.broken[row])
        return [
            (int(self.time[filled[np.searchsorted(filled, column) - 1]]) + self.step, int(self.time[column]))
            for column in ends
        ]


def trend(store: Store, engine: str, channels: Iterable[str], start: int, end: int, width: int = 900) -> Trend:
    """Return what a plot of ``width`` pixels shows between two times (microseconds UTC).

    There are at most ``width + 1`` columns, at least about 8/9 of it (half, for a log that keeps wide buckets only).
    """
    names = tuple(channels)
    if end <= start:
        raise InputError("end", str(end), "is not after the start", allowed=f"above {start}")
    if width < 1:
        raise InputError("width", str(width), "is no number of columns", allowed="1 and more")
    wanted = (end - start) / width
    level = _level(store, engine, start, end, wanted)
    if level is None:
        return _of_rows(store, engine, names, start, end, width)
    step = -int(-wanted // level) * level
    first, last = start // step * step, -(-end // step) * step
    return _shown(engine, start, end, "buckets", store.buckets(engine, names, first, last, level).coarser(step))


def small_multiples(
    store: Store, engines: Sequence[str], channel: str, start: int, end: int, width: int = 240
) -> dict[str, Trend]:
    """Return the same plot of one channel for several engines."""
    return {engine: trend(store, engine, (channel,), start, end, width) for engine in engines}


def _level(store: Store, engine: str, start: int, end: int, wanted: float) -> int | None:
    """Return the width of buckets to read: the widest of which a column holds enough, else the finest that is kept."""
    fitting = [level for level in LEVELS if level <= wanted]
    months = store.manifests(engine, start, end) if fitting else []
    kept = [level for level in fitting if all(a_month.stored(one, level) for one in months)]
    return max((level for level in kept if wanted / level >= ENOUGH), default=kept[0] if kept else None)


def _of_rows(store: Store, engine: str, names: tuple[str, ...], start: int, end: int, width: int) -> Trend:
    rows = store.read(engine, names, start, end)
    if len(rows) <= 2 * width:
        return _each(engine, start, end, rows)
    step = max(-int(-(end - start) // width), 1)
    found = of_rows(rows.time, rows.values, step)
    first = start // step * step
    return _shown(engine, start, end, "rows", found.over(first, -(-(end - first) // step), names))


def _each(engine: str, start: int, end: int, rows: Channels) -> Trend:
    """Return each row as a column."""
    values = np.array(list(rows.values.values())).reshape(len(rows.values), len(rows))
    n = (~np.isnan(values)).astype(np.int32)
    broken = np.zeros(n.shape, bool)
    for row in range(len(n)):
        filled = np.flatnonzero(n[row])
        apart = np.diff(rows.time[filled])
        if len(apart):
            broken[row, filled[1:]] = apart > JOINED * np.median(apart)
    return Trend(
        engine=engine, channels=tuple(rows.values), start=start, end=end, step=0, read_from="rows", time=rows.time,
        n=n, low=values, high=values, mean=values, broken=broken,
    )  # fmt: skip


def _shown(engine: str, start: int, end: int, read_from: Literal["buckets", "rows"], columns: Buckets) -> Trend:
    n = columns.n
    broken = np.zeros(n.shape, bool)
    for row in range(len(n)):
        filled = np.flatnonzero(n[row])
        apart = np.diff(filled)
        if len(apart):  # a slow log has empty columns between its values when it is looked at closely
            broken[row, filled[1:]] = apart > max(
                1.0, JOINED * usual if (usual := float(np.median(apart))) > 1 else 1.0
            )
    return Trend(
        engine=engine, channels=columns.channels, start=start, end=end, step=columns.step, read_from=read_from,
        time=columns.time, n=n, low=columns.low, high=columns.high, mean=columns.mean(), broken=broken,
    )  # fmt: skip
