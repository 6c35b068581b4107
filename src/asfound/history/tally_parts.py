"""What a strip of rows leaves of each bucket, and how these sums of bits become sums of whole steps.

A value's bits are ``magic + steps``. Sums of bits and of their squares are known modulo 2**64; taking off what
``magic`` brought in leaves sums of steps and of their squares, still modulo 2**64. That is all of a sum (values beyond
2**44 steps are left out). Of a sum of squares it may be only the lower half: the upper one follows, exactly and without
the rows, from the steps above the lowest value of the bucket, which are few where a bucket is narrow. Where it is not,
the rows are gone through again (``by_hand``).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from asfound.history.bucket_table import BUCKET, Table
from asfound.history.channels import Times
from asfound.history.scale import LARGEST, Scale
from asfound.quantities.typing import Array

_MAGIC = 1.5 * 2.0**52
_FITS = float(2**63)
Starts: TypeAlias = NDArray[np.intp]
Words: TypeAlias = NDArray[np.uint64]


class Grid:
    """Reference, reach, step (channels, 1) of each channel; what is added to a value, and its bits (channels,)."""

    def __init__(self, scales: Sequence[Scale]) -> None:
        self.reference = np.array([scale.reference for scale in scales])[:, None]
        self.reach = np.array([scale.reach for scale in scales])[:, None]
        self.width = np.array([scale.step for scale in scales])[:, None]
        magic = _MAGIC * self.width
        self.shift: Array = (magic - self.reference)[:, 0]
        self.magic: Words = magic.view(np.uint64)[:, 0]

    def distance(self, low: Array, high: Array) -> Array:
        """Return how many steps the farther of lowest and highest lies from the reference; nan where there is none."""
        return np.asarray(np.fmax(np.abs(low - self.reference), np.abs(high - self.reference)) / self.width)


class Part:
    """Sums of one strip: ``at`` (buckets,) ascending, ``counts`` (buckets,) its rows, the rest (channels, buckets)."""

    def __init__(self, at: Times, counts: NDArray[np.intp], grid: Grid) -> None:
        shape = (len(grid.shift), len(at))
        self.at, self.counts, self._grid = at, counts, grid
        self.n = np.empty(shape, np.int32)
        self.n[:] = counts
        self.low, self.high = np.empty(shape), np.empty(shape)
        self.sums, self.squares = np.empty(shape, np.uint64), np.empty(shape, np.uint64)
        self.by_hand: dict[int, tuple[NDArray[np.int32], NDArray[np.int64]]] = {}
        """Of channels whose rows were gone through again: values beyond reach, and upper 64 bits of squares."""

    def without(self, number: int) -> None:
        """Note that the strip has no value of a channel."""
        magic, rows = self._grid.magic[number], self.counts.astype(np.uint64)
        self.n[number] = 0
        self.low[number] = self.high[number] = np.nan
        self.sums[number], self.squares[number] = rows * magic, rows * magic * magic

    def too_wide(self) -> Starts:
        """Return the channels with values beyond reach, or a bucket too wide to be counted from its lowest value."""
        grid, most = self._grid, self.counts.max()
        lowest, highest = np.fmin.reduce(self.low, axis=1)[:, None], np.fmax.reduce(self.high, axis=1)[:, None]
        near = np.fmax(np.abs(lowest - grid.reference), np.abs(highest - grid.reference)) <= grid.reach
        with np.errstate(invalid="ignore"):
            near &= most * np.square(np.minimum((highest - lowest) / grid.width, 2 * LARGEST) + 1) < _FITS
            doubtful = np.flatnonzero(~near[:, 0])
            low, high = self.low[doubtful], self.high[doubtful]
            wide = self.counts * np.square(np.minimum((high - low) / grid.width[doubtful], 2 * LARGEST) + 1) >= _FITS
        reference = grid.reference[doubtful]
        wide |= np.fmax(np.abs(low - reference), np.abs(high - reference)) > grid.reach[doubtful]
        return np.asarray(doubtful[wide.any(axis=1)])


def by_hand(part: Part, number: int, column: Array, starts: Starts) -> None:
    """Sum up a channel of a strip again, leaving out what is beyond reach, with the upper half of its squares."""
    grid = part._grid
    magic = grid.magic[number]
    beyond = np.abs(column - grid.reference[number]) > grid.reach[number]
    bits = (column + grid.shift[number]).view(np.uint64)
    bits[beyond | np.isnan(column)] = magic
    part.sums[number] = np.add.reduceat(bits, starts)
    part.squares[number] = np.add.reduceat(bits * bits, starts)
    upper = _upper((bits - magic).view(np.int64), starts)
    part.by_hand[number] = np.add.reduceat(beyond, starts, dtype=np.int32), upper


def finished(parts: Sequence[Part], grid: Grid) -> Table:
    """Return the buckets of strips side by side, shape (channels, buckets of all)."""
    n, low, high = _beside(parts, "n"), _beside(parts, "low"), _beside(parts, "high")
    rows = np.concatenate([part.counts for part in parts]).astype(np.uint64)
    magic = grid.magic[:, None]
    sums = _beside(parts, "sums") - rows * magic  # a row without a value stands as ``magic``: no step
    table = np.empty(n.shape, BUCKET)
    table["n"], table["low"], table["high"], table["beyond"] = n, low, high, 0
    table["sum"] = sums.view(np.int64)
    table["squares_low"] = _beside(parts, "squares") - magic * (sums + sums + rows * magic)
    table["squares_high"] = 0
    done, begin = np.zeros(n.shape, bool), 0
    for part in parts:
        here = slice(begin, begin + len(part.at))
        for number, (beyond, upper) in part.by_hand.items():
            table["beyond"][number, here], table["squares_high"][number, here] = beyond, upper
            done[number, here] = True
        begin = here.stop
    _upper_halves(table, grid, done)
    return table


def _beside(parts: Sequence[Part], name: str) -> NDArray[Any]:
    found: list[NDArray[Any]] = [getattr(part, name) for part in parts]
    return found[0] if len(found) == 1 else np.concatenate(found, axis=1)


def _upper_halves(table: Table, grid: Grid, done: NDArray[np.bool_]) -> None:
    """Write the upper halves of the sums of squares that need one and are not done, from steps above the lowest value.

    With b the lowest value's steps and e those above it, all whole: squares = sum e^2 + 2 b sum e + n b^2. The first
    sum fits 64 bits, so that it is known from what is known modulo 2**64.
    """
    far = np.nan_to_num(np.minimum(grid.distance(table["low"], table["high"]), LARGEST)) + 1
    channel, bucket = np.nonzero((table["n"] * np.square(far) >= _FITS) & ~done)
    if not len(channel):
        return
    cells = table[channel, bucket]
    base = (cells["low"] + grid.shift[channel]).view(np.uint64) - grid.magic[channel]
    n = cells["n"].astype(np.uint64)
    above = cells["sum"].view(np.uint64) - n * base
    own = cells["squares_low"] - base * (above + above + n * base)
    b, e = base.view(np.int64).astype(object), above.astype(object)
    whole = own.astype(object) + b * (2 * e + n.astype(object) * b)
    table["squares_high"][channel, bucket] = (whole >> 64).astype(np.int64)


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
