"""Bucket tables on disk: one NumPy file for each width, a channel's buckets one behind the other.

Not Parquet: a view of years opens a file a month, and takes a strip of a few channels out of each; that is one seek and
one read here (measured in ``benchmarks/history_store.py``).
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from asfound.history.bucket_table import BUCKET, Table, empty
from asfound.history.rows_file import DamagedError


def write_table(path: Path, table: Table) -> None:
    """Write a table, shape (channels, buckets)."""
    with path.open("wb") as out:
        np.lib.format.write_array(out, np.ascontiguousarray(table), version=(1, 0), allow_pickle=False)


def table_bytes(table: Table) -> bytes:
    """Return what ``write_table`` writes."""
    out = io.BytesIO()
    np.lib.format.write_array(out, np.ascontiguousarray(table), version=(1, 0), allow_pickle=False)
    return out.getvalue()


@lru_cache(maxsize=256)
def _shape(header: bytes) -> tuple[int, int]:
    """Return the shape that a file's header tells; there are few different ones, and to parse one takes long."""
    source = io.BytesIO(header)
    np.lib.format.read_magic(source)
    shape, by_column, kind = np.lib.format.read_array_header_1_0(source)
    if by_column or kind != BUCKET or len(shape) != 2:
        raise ValueError("it is no table of buckets")
    return int(shape[0]), int(shape[1])


def read_rows(path: Path, rows: Sequence[int], begin: int, end: int) -> Table:
    """Return some channels' buckets from ``begin`` to ``end``; a row of -1 is a channel that the file does not have."""
    try:
        with path.open("rb") as source:
            start = source.read(10)
            channels, buckets = _shape(start + source.read(int.from_bytes(start[8:10], "little")))
            if not 0 <= begin <= end <= buckets:
                raise DamagedError(path, "it is too short")
            data = source.tell()
            table = empty(len(rows), end - begin)
            for number, row in enumerate(rows):
                if 0 <= row < channels:
                    source.seek(data + (row * buckets + begin) * BUCKET.itemsize)
                    strip = np.frombuffer(source.read((end - begin) * BUCKET.itemsize), BUCKET)
                    if len(strip) < end - begin:
                        raise DamagedError(path, "it ends too early")
                    table[number] = strip
            return table
    except ValueError as broken:
        raise DamagedError(path, str(broken)) from broken
