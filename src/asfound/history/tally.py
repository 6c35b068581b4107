"""Counts rows into buckets: the one place where floats become whole steps.

Adding ``1.5 * 2**52`` steps to a value leaves its number of steps in the last bits of the float: one addition rounds
it, and the bits are read as a whole number. Sums and squares are then taken of these bits modulo 2**64, and what the
constant brought in is taken off at the end of a bucket, so a value costs about six passes of a vector unit and no
conversion. Rows are taken in strips short enough for the processor's cache.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError
from asfound.history.bucket_table import BUCKET, MOST, Table, empty
from asfound.history.channels import Times
from asfound.history.scale import LARGEST, Scale
from asfound.quantities.typing import Array

STRIP = 32_768
"""Rows that are counted at once."""
_MAGIC = 1.5 * 2.0**52
_SAFE = float(2**63)
Starts = NDArray[np.intp]
Words = NDArray[np.uint64]
Mask = NDArray[np.bool_]


class Tally:
    """A table of buckets that rows are counted into, batch by batch, in any order of batches.

    Parameters
    ----------
    scales : sequence of Scale
        One for each channel.
    step, first : int
        Width of a bucket and left edge of the first, microseconds.
    count : int
        Number of buckets.
    """

    def __init__(self, scales: Sequence[Scale], step: int, first: int, count: int) -> None:
        self.scales, self.step, self.first = tuple(scales), step, first
        self.table: Table = empty(len(self.scales), count)
        self._reference = np.array([scale.reference for scale in scales])[:, None]
        self._reach = np.array([scale.reach for scale in scales])[:, None]
        self._width = np.array([scale.step for scale in scales])[:, None]
        magic = _MAGIC * self._width
        self._shift = (magic - self._reference)[:, 0]
        self._magic = magic.view(np.uint64)
        self._shifted = np.empty(STRIP)
        self._squared = np.empty(STRIP, np.uint64)

    def add(self, time: Times, columns: Sequence[Array | None], gappy: Sequence[bool] | None = None) -> None:
        """Count rows; ``time`` (n,) ascending, one column (n,) for each channel, None where it has none.

        ``gappy`` says which columns may hold nan; without it all may.
        """
        may = [True] * len(columns) if gappy is None else list(gappy)
        for begin in range(0, len(time), STRIP):
            strip = slice(begin, begin + STRIP)
            cut = [None if column is None else column[strip] for column in columns]
            self._strip(time[strip], cut, may)

    def _starts(self, time: Times) -> tuple[Starts, Times]:
        """Return where each bucket begins in the rows, and its number."""
        earliest, latest = int(time[0] - self.first) // self.step, int(time[-1] - self.first) // self.step
        if latest - earliest < len(time):  # few buckets: look for their edges
            at = np.arange(earliest, latest + 1, dtype=np.int64)
            starts = np.searchsorted(time, self.first + self.step * at)
            filled = np.diff(np.append(starts, len(time))) > 0
            return starts[filled], at[filled]
        bucket = (time - self.first) // self.step
        starts = np.flatnonzero(np.concatenate(([True], bucket[1:] != bucket[:-1])))
        return starts, bucket[starts]

    def _strip(self, time: Times, columns: Sequence[Array | None], gappy: Sequence[bool]) -> None:
        starts, at = self._starts(time)
        counts = np.diff(np.append(starts, len(time)))
        part = np.zeros((len(columns), len(starts)), BUCKET)
        low, high = np.full(part.shape, np.nan), np.full(part.shape, np.nan)
        sums, squares = np.zeros(part.shape, np.uint64), np.zeros(part.shape, np.uint64)
        there = np.array([column is not None for column in columns], bool)
        part["n"][there] = counts
        for number, column in enumerate(columns):
            if column is not None:
                np.fmin.reduceat(column, starts, out=low[number])
                np.fmax.reduceat(column, starts, out=high[number])
                missing = None
                if gappy[number]:
                    missing = np.isnan(column)
                    part["n"][number] -= np.add.reduceat(missing, starts, dtype=np.int32)
                self._sum(number, column, starts, missing, sums[number], squares[number])
        part["low"], part["high"] = low, high
        far = np.fmax(np.abs(low - self._reference), np.abs(high - self._reference))
        wide = counts * np.square(np.nan_to_num(far / self._width) + 1) >= _SAFE
        for number in np.flatnonzero(wide.any(axis=1)).tolist():
            self._wide(number, columns[number], starts, part[number], sums[number], squares[number])
        n, two, magic = counts.astype(np.uint64), np.uint64(2), self._magic * there[:, None]
        sums -= n * magic
        part["sum"] = sums.view(np.int64)
        part["squares_low"] = squares - two * magic * sums - n * magic * magic
        self._count_in(at, part)

    def _sum(
        self, number: int, column: Array, starts: Starts, left_out: Mask | None, sums: Words, squares: Words
    ) -> Words:
        """Sum up the bits and their squares, modulo 2**64; return the bits."""
        shifted: Array = np.add(column, self._shift[number], out=self._shifted[: len(column)])
        bits = shifted.view(np.uint64)
        if left_out is not None:
            np.copyto(bits, self._magic[number], where=left_out)
        np.add.reduceat(bits, starts, out=sums)
        np.add.reduceat(np.multiply(bits, bits, out=self._squared[: len(bits)]), starts, out=squares)
        return bits

    def _wide(
        self, number: int, column: Array | None, starts: Starts, part: Table, sums: Words, squares: Words
    ) -> None:
        """Do a channel again whose squares may need more than 64 bits, or that has values beyond reach."""
        if column is not None:
            beyond = np.abs(column - self._reference[number]) > self._reach[number]
            part["beyond"] = np.add.reduceat(beyond, starts, dtype=np.int32)
            bits = self._sum(number, column, starts, beyond | np.isnan(column), sums, squares)
            part["squares_high"] = _upper((bits - self._magic[number]).view(np.int64), starts)

    def _count_in(self, at: Times, part: Table) -> None:
        there = self.table[:, at]
        low = there["squares_low"] + part["squares_low"]
        there["squares_high"] += part["squares_high"] + (low < part["squares_low"])
        there["squares_low"] = low
        for name in ("n", "beyond", "sum"):
            there[name] += part[name]
        there["low"] = np.fmin(there["low"], part["low"])
        there["high"] = np.fmax(there["high"], part["high"])
        if int(there["n"].max(initial=0)) > MOST:
            self._must_fit(there)
        self.table[:, at] = there

    def _must_fit(self, there: Table) -> None:
        far = np.fmax(np.abs(there["low"] - self._reference), np.abs(there["high"] - self._reference)) / self._width
        if np.any(there["n"] * np.minimum(np.nan_to_num(far), LARGEST) >= _SAFE):
            raise InputError(
                "values in one bucket", str(int(there["n"].max())),
                "are too many, too far from the usual, to be summed exactly",
                try_next="Thin the log, or mark the values that cannot be as missing.",
            )  # fmt: skip


def _upper(steps: NDArray[np.int64], starts: Starts) -> NDArray[np.int64]:
    """Return the upper 64 bits of the sums of squares, by parts of 32 bits."""
    upper, lower = steps >> 32, steps & (2**32 - 1)
    both = upper * lower * 2  # below 2**46 each
    square = lower.view(np.uint64) * lower.view(np.uint64)
    half, mask = np.uint64(32), np.uint64(2**32 - 1)
    sum_low = np.add.reduceat(square & mask, starts)
    sum_mid = np.add.reduceat(square >> half, starts).astype(np.int64) + np.add.reduceat(both, starts)
    sum_mid += (sum_low >> half).astype(np.int64)
    return np.asarray(np.add.reduceat(upper * upper, starts) + (sum_mid >> 32))
