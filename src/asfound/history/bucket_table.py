"""Whole-number arithmetic of bucket tables: sums in 64 bits, sums of squares in 128, none of them ever rounded."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError

Table: TypeAlias = NDArray[Any]
"""Structured, shape (channels, buckets), dtype ``BUCKET``."""
BUCKET = np.dtype(
    [
        ("n", "<i4"),  # values, those beyond reach among them
        ("beyond", "<i4"),  # of these, too far from the reference to be summed
        ("sum", "<i8"),  # of steps from the reference
        ("squares_high", "<i8"),  # of squared steps: upper 64 bits of 128
        ("squares_low", "<u8"),  # lower 64 bits
        ("low", "<f8"),  # nan where n is 0
        ("high", "<f8"),
    ]
)
MOST = 2**18
"""Above this many values in one bucket the sums could leave 64 bits, so they are looked at."""
_HALF = np.uint64(32)
_LOW_HALF = np.uint64(2**32 - 1)


def empty(channels: int, buckets: int) -> Table:
    """Return a table in which nothing has been counted."""
    table = np.zeros((channels, buckets), BUCKET)
    table["low"] = np.nan
    table["high"] = np.nan
    return table


def add_into(table: Table, other: Table) -> None:
    """Count ``other`` (same shape) into ``table``."""
    _must_fit(table["n"] + other["n"], table["sum"].astype(float) + other["sum"].astype(float))
    table["n"] += other["n"]
    table["beyond"] += other["beyond"]
    table["sum"] += other["sum"]
    low = table["squares_low"] + other["squares_low"]
    table["squares_high"] += other["squares_high"] + (low < other["squares_low"])
    table["squares_low"] = low
    table["low"] = np.fmin(table["low"], other["low"])
    table["high"] = np.fmax(table["high"], other["high"])


def regroup(table: Table, starts: NDArray[np.intp]) -> Table:
    """Return coarser buckets: those from each start to the next become one (as ``ufunc.reduceat``)."""
    coarse = np.zeros((len(table), len(starts)), BUCKET)
    if not len(starts):
        return coarse
    for name in ("n", "beyond", "sum"):
        coarse[name] = np.add.reduceat(table[name], starts, axis=1)
    if int(coarse["n"].max(initial=0)) > MOST:
        _must_fit(coarse["n"], np.add.reduceat(table["sum"].astype(float), starts, axis=1))
    lower = np.add.reduceat(table["squares_low"] & _LOW_HALF, starts, axis=1)
    upper = np.add.reduceat(table["squares_low"] >> _HALF, starts, axis=1) + (lower >> _HALF)
    coarse["squares_low"] = (upper << _HALF) | (lower & _LOW_HALF)
    coarse["squares_high"] = np.add.reduceat(table["squares_high"], starts, axis=1) + (upper >> _HALF).astype(np.int64)
    coarse["low"] = np.fmin.reduceat(table["low"], starts, axis=1)
    coarse["high"] = np.fmax.reduceat(table["high"], starts, axis=1)
    return coarse


def _must_fit(n: NDArray[np.int32], sums: NDArray[np.float64]) -> None:
    """Refuse a sum that would leave 64 bits: only far beyond 2**18 values in a bucket, and far from the reference."""
    if int(n.max(initial=0)) > MOST and np.abs(sums).max(initial=0.0) >= 2.0**62:
        raise InputError(
            "values in one bucket", str(int(n.max())), "are too many, too far from the usual, to be summed exactly",
            try_next="Thin the log, or mark the values that cannot be as missing.",
        )  # fmt: skip


def squares(table: Table) -> NDArray[np.object_]:
    """Return the sums of squares as Python's whole numbers."""
    whole = table["squares_high"].astype(object) * 2**64 + table["squares_low"].astype(object)
    return np.asarray(whole, object)
