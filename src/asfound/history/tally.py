"""Counts rows into buckets: the one place where floats become whole steps.

Adding ``1.5 * 2**52`` steps to a value leaves its number of steps in the last bits of the float: one addition rounds
it, and the bits are read as a whole number. Sums and squares are then taken of these bits modulo 2**64, and what the
constant brought in is taken off when many buckets are finished together (``tally_parts``), so a value costs six passes
of a vector unit and no conversion. Rows are taken in strips short enough for the processor's cache.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from asfound.errors import InputError
from asfound.history.bucket_table import MOST, Table, empty, regroup
from asfound.history.channels import Times
from asfound.history.scale import LARGEST, Scale
from asfound.history.tally_parts import Grid, Part, Starts, by_hand, finished
from asfound.quantities.typing import Array

STRIP = 61_440
"""Rows that are counted at once: a column of them and its bits stay in the processor's cache."""
TOGETHER = 1024
"""Buckets of strips that are finished at once: their arithmetic is as long for one as for many."""
_SAFE = float(2**63)


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
        self._table: Table = empty(len(self.scales), count)
        self._grid = Grid(self.scales)
        self._parts: list[Part] = []
        self._shifted = np.empty(STRIP)

    @property
    def table(self) -> Table:
        """What has been counted, shape (channels, buckets)."""
        self._finish()
        return self._table

    def add(self, time: Times, columns: Sequence[Array | None], gappy: Sequence[bool] | None = None) -> None:
        """Count rows; ``time`` (n,), one column of float64 (n,) for each channel, None where it has none.

        ``gappy`` says which columns may hold nan; without it all may.
        """
        if np.any(time[1:] < time[:-1]):
            order = np.argsort(time, kind="stable")
            time, columns = time[order], [None if column is None else column[order] for column in columns]
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
        if self._parts and (at[0] < self._parts[-1].at[-1] or sum(len(one.at) for one in self._parts) >= TOGETHER):
            self._finish()
        part = Part(at, np.diff(np.append(starts, len(time))), self._grid)
        for number, column in enumerate(columns):
            if column is None:
                part.without(number)
                continue
            np.fmin.reduceat(column, starts, out=part.low[number])
            np.fmax.reduceat(column, starts, out=part.high[number])
            bits = np.add(column, self._grid.shift[number], out=self._shifted[: len(column)]).view(np.uint64)
            if gappy[number]:
                missing = np.flatnonzero(np.isnan(column))
                part.n[number] -= np.diff(np.searchsorted(missing, starts), append=len(missing)).astype(np.int32)
                bits[missing] = self._grid.magic[number]
            np.add.reduceat(bits, starts, out=part.sums[number])
            np.add.reduceat(np.multiply(bits, bits, out=bits), starts, out=part.squares[number])
        for number in part.too_wide().tolist():
            column = columns[number]
            if column is not None:
                by_hand(part, number, column, starts)
        self._parts.append(part)

    def _finish(self) -> None:
        """Take what the strips counted into the table."""
        if not self._parts:
            return
        at = np.concatenate([part.at for part in self._parts])
        counted = finished(self._parts, self._grid)
        self._parts = []
        if len(at) > 1 and np.any(at[1:] == at[:-1]):  # a bucket that two strips have a part of
            starts = np.flatnonzero(np.concatenate(([True], at[1:] != at[:-1])))
            at, counted = at[starts], regroup(counted, starts)
        self._count_in(at, counted)

    def _count_in(self, at: Times, part: Table) -> None:
        side_by_side = int(at[-1] - at[0]) + 1 == len(at)
        there = self._table[:, at[0] : at[-1] + 1] if side_by_side else self._table[:, at]
        low = there["squares_low"] + part["squares_low"]
        there["squares_high"] += part["squares_high"] + (low < part["squares_low"])
        there["squares_low"] = low
        for name in ("n", "beyond", "sum"):
            there[name] += part[name]
        there["low"] = np.fmin(there["low"], part["low"])
        there["high"] = np.fmax(there["high"], part["high"])
        if int(there["n"].max(initial=0)) > MOST:
            self._must_fit(there)
        if not side_by_side:
            self._table[:, at] = there

    def _must_fit(self, there: Table) -> None:
        far = self._grid.distance(there["low"], there["high"])
        if np.any(there["n"] * np.minimum(np.nan_to_num(far), LARGEST) >= _SAFE):
            raise InputError(
                "values in one bucket", str(int(there["n"].max())),
                "are too many, too far from the usual, to be summed exactly",
                try_next="Thin the log, or mark the values that cannot be as missing.",
            )  # fmt: skip
