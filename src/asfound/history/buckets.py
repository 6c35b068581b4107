"""Buckets: what a stretch of time holds of each channel, kept so that buckets merge exactly.

A bucket has the number of values, their sum and sum of squares about the channel's fixed reference (``scale``), the
lowest and the highest. Sums are whole numbers, so buckets made in any order, of any split of the rows, by any number of
processes are the same to the byte, and mean and standard deviation come out without cancellation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.history.bucket_table import BUCKET, Table, add_into, empty, regroup, squares
from asfound.history.channels import SECOND, Times
from asfound.history.scale import Scale, scale_of
from asfound.history.tally import Tally
from asfound.quantities.typing import Array

TEN_MINUTES, HOUR, DAY = 600 * SECOND, 3600 * SECOND, 86400 * SECOND
LEVELS = (TEN_MINUTES, HOUR, DAY)
"""Widths of the buckets that a store keeps, microseconds; each a multiple of the one before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Buckets:
    """Buckets of several channels, side by side without holes.

    ``step``: width, microseconds. ``first``: left edge of the first, a multiple of the width since 1970-01-01 UTC.
    ``table``: structured array, shape (channels, buckets).
    """

    channels: tuple[str, ...]
    step: int
    first: int
    table: Table

    def __len__(self) -> int:
        return int(self.table.shape[1])

    @property
    def scales(self) -> tuple[Scale, ...]:
        """The grid of each channel."""
        return tuple(scale_of(name) for name in self.channels)

    @property
    def time(self) -> Times:
        """Left edges, microseconds, shape (buckets,)."""
        return self.first + self.step * np.arange(len(self), dtype=np.int64)

    @property
    def n(self) -> NDArray[np.int32]:
        """Number of values, shape (channels, buckets)."""
        return np.asarray(self.table["n"])

    @property
    def low(self) -> Array:
        """Lowest value, SI; nan where there is none."""
        return np.asarray(self.table["low"])

    @property
    def high(self) -> Array:
        """Highest value, SI; nan where there is none."""
        return np.asarray(self.table["high"])

    def mean(self) -> Array:
        """Return the mean, SI; nan where there is no value or one was too far from the usual to be summed."""
        reference, step = self._grid()
        with np.errstate(invalid="ignore", divide="ignore"):
            steps = self.table["sum"] / np.where(self.table["beyond"] == 0, self.table["n"], 0)
        return np.asarray(reference + step * np.where(np.isfinite(steps), steps, np.nan))

    def deviation(self) -> Array:
        """Return the standard deviation (n - 1), SI; nan below two values. Computed in whole numbers."""
        _, step = self._grid()
        found = np.full(self.table.shape, np.nan)
        enough = (self.table["n"] > 1) & (self.table["beyond"] == 0)
        part = self.table[enough]
        n, total = part["n"].astype(object), part["sum"].astype(object)
        if len(part):
            spread = (n * squares(part) - total * total) / (n * (n - 1))
            found[enough] = np.sqrt(spread.astype(float))
        return found * step

    def coarser(self, step: int) -> Buckets:
        """Return buckets of a width that is a multiple of this one."""
        if step % self.step:
            raise InputError("step", f"{step / SECOND:g} s", f"is not a multiple of {self.step / SECOND:g} s")
        group = self.time // step
        starts = (
            np.flatnonzero(np.concatenate(([True], group[1:] != group[:-1]))) if len(self) else np.empty(0, np.intp)
        )
        first = int(group[0]) * step if len(self) else self.first // step * step
        return Buckets(channels=self.channels, step=step, first=first, table=regroup(self.table, starts))

    def total(self) -> Buckets:
        """Return one bucket of all, its width the whole."""
        starts = np.zeros(min(len(self), 1), np.intp)
        step = self.step * max(len(self), 1)
        return Buckets(channels=self.channels, step=step, first=self.first, table=regroup(self.table, starts))

    def over(self, first: int, count: int, channels: tuple[str, ...] | None = None) -> Buckets:
        """Return ``count`` buckets from the left edge ``first`` on; those that are not here are empty."""
        names = self.channels if channels is None else channels
        table = empty(len(names), count)
        shift = (first - self.first) // self.step
        begin, end = max(shift, 0), min(shift + count, len(self))
        if end > begin:
            for row, name in enumerate(names):
                if name in self.channels:
                    table[row, begin - shift : end - shift] = self.table[self.channels.index(name), begin:end]
        return Buckets(channels=names, step=self.step, first=first, table=table)

    def merge(self, other: Buckets) -> Buckets:
        """Return both together: channels sorted by name, from the earlier first bucket to the later last."""
        if self.step != other.step:
            raise InputError("step", f"{other.step / SECOND:g} s", f"does not merge with {self.step / SECOND:g} s")
        if not len(self) or not len(other):
            whole, none = (other, self) if not len(self) else (self, other)
            names = tuple(sorted({*self.channels, *other.channels}))
            return whole.over(whole.first, len(whole), names) if len(whole) else _none(names, none.step, none.first)
        names = tuple(sorted({*self.channels, *other.channels}))
        first = min(self.first, other.first)
        last = max(self.first + self.step * len(self), other.first + other.step * len(other))
        count = (last - first) // self.step
        both = self.over(first, count, names)
        add_into(both.table, other.over(first, count, names).table)
        return both

    def tobytes(self) -> bytes:
        """Return the table as bytes: what 'identical' means."""
        return self.table.tobytes()

    def _grid(self) -> tuple[Array, Array]:
        scales = self.scales
        return (
            np.array([scale.reference for scale in scales]).reshape(-1, 1),
            np.array([scale.step for scale in scales]).reshape(-1, 1),
        )


def _none(names: tuple[str, ...], step: int, first: int) -> Buckets:
    return Buckets(channels=names, step=step, first=first, table=np.zeros((len(names), 0), BUCKET))


def of_rows(time: Times, values: Mapping[str, Array], step: int) -> Buckets:
    """Return the buckets of rows.

    Parameters
    ----------
    time : array of int64, shape (n,)
        Microseconds since 1970-01-01 UTC, in any order.
    values : mapping of channel to array, shape (n,)
        SI; nan is missing and is not counted.
    step : int
        Width of a bucket, microseconds.
    """
    names = tuple(sorted(values))
    if not len(time):
        return _none(names, step, 0)
    columns = [np.ascontiguousarray(values[name], np.float64) for name in names]
    first, last = int(time.min()) // step * step, int(time.max()) // step * step
    tally = Tally([scale_of(name) for name in names], step, first, (last - first) // step + 1)
    tally.add(time, columns)
    return Buckets(channels=names, step=step, first=first, table=tally.table)
