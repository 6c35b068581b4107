"""Numbers, words and times as cells of a text file, whole columns at once.

A column is a matrix of bytes (n, width) in which 0 is no character; rows joined and the zeros taken out are the file.
Thirty months of ten-minute rows take seconds so, where formatting cell by cell takes minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import Times
from asfound.quantities.typing import Array

Cells: TypeAlias = NDArray[np.uint8]
_PAIRS = np.array([list(f"{number:02d}".encode()) for number in range(100)], dtype=np.uint8)
_ZERO = ord("0")


def numbers(values: Array, decimals: int, *, mark: str = ".", missing: str = "") -> Cells:
    """Return the cells of numbers with a fixed count of decimals; nan becomes ``missing``."""
    good = np.isfinite(values)
    scaled = np.rint(np.where(good, values, 0.0) * 10.0**decimals)
    negative = (scaled < 0) & good
    left = np.abs(scaled).astype(np.uint64)
    most = int(left.max()) if len(left) else 0
    if most < 2**32:
        left = left.astype(np.uint32)
    digits = max(len(str(most)), decimals + 1)
    width = 1 + digits + (decimals > 0)
    found = np.zeros((len(values), width), dtype=np.uint8)
    column = width - 1
    for place in range(digits):
        if decimals and place == decimals:
            found[:, column] = ord(mark)
            column -= 1
        rest = left // 10
        digit = (left - rest * 10).astype(np.uint8)
        shown = digit + _ZERO
        found[:, column] = shown if place <= decimals else np.where(left > 0, shown, 0)
        left = rest
        column -= 1
    if negative.any():
        rows = np.flatnonzero(negative)
        found[rows, np.argmax(found[rows] > 0, axis=1) - 1] = ord("-")
    return put(found, ~good, missing)


def words(codes: NDArray[np.integer], table: Sequence[str], encoding: str = "utf-8") -> Cells:
    """Return the cells of words; a code counts into ``table``."""
    coded = [list(word.encode(encoding)) for word in table]
    width = max(len(word) for word in coded)
    letters = np.array([word + [0] * (width - len(word)) for word in coded], dtype=np.uint8)
    return np.asarray(letters[codes])


def times(local: Times, form: str) -> Cells:
    """Return the cells of local times. [µs]

    In ``form`` Y is the year, M the month, D the day, H the hour of 24, h that of 12, m minutes, s seconds, P AM or PM;
    each letter stands for all its digits, anything else for itself.
    """
    when = local.astype("datetime64[us]")
    day = when.astype("datetime64[D]")
    month = day.astype("datetime64[M]")
    year = month.astype("datetime64[Y]").astype(np.int64) + 1970
    second = ((when - day).astype(np.int64)) // 1_000_000
    hour = second // 3600
    parts = {
        "Y": np.hstack([_PAIRS[year // 100], _PAIRS[year % 100]]),
        "M": _PAIRS[month.astype(np.int64) % 12 + 1],
        "D": _PAIRS[(day - month).astype(np.int64) + 1],
        "H": _PAIRS[hour],
        "h": _PAIRS[(hour + 11) % 12 + 1],
        "m": _PAIRS[second // 60 % 60],
        "s": _PAIRS[second % 60],
        "P": words((hour >= 12).astype(np.int64), ("AM", "PM")),
    }
    plain = [parts.get(letter, np.full((len(local), 1), ord(letter), dtype=np.uint8)) for letter in form]
    return np.hstack(plain)


def put(cells: Cells, rows: NDArray[np.bool_] | NDArray[np.intp], text: str) -> Cells:
    """Return the cells with some replaced by a text."""
    letters = np.frombuffer(text.encode(), dtype=np.uint8)
    if len(letters) > cells.shape[1]:
        cells = np.hstack([np.zeros((len(cells), len(letters) - cells.shape[1]), dtype=np.uint8), cells])
    cells[rows] = 0
    if len(letters):
        cells[rows, -len(letters) :] = letters
    return cells


def lines(columns: Sequence[Cells], separator: str, end: str = "\n") -> bytes:
    """Return the rows of a file."""
    number = len(columns[0])
    between = np.full((number, 1), ord(separator), dtype=np.uint8)
    pieces: list[Cells] = []
    for column in columns:
        pieces += [column, between]
    pieces[-1] = np.broadcast_to(np.frombuffer(end.encode(), dtype=np.uint8), (number, len(end)))
    flat = np.hstack(pieces).ravel()
    return bytes(flat[flat != 0].tobytes())


def fixed(columns: Sequence[Cells], widths: Sequence[int], end: str = "\n") -> bytes:
    """Return the rows of a file with columns of fixed width, each cell on the right of its column."""
    number = len(columns[0])
    pieces: list[Cells] = []
    for column, width in zip(columns, widths, strict=True):
        cells = np.where(column == 0, np.uint8(32), column)
        lead = np.full((number, max(width - cells.shape[1], 0)), 32, dtype=np.uint8)
        pieces += [lead, cells[:, max(cells.shape[1] - width, 0) :]]
    pieces.append(np.broadcast_to(np.frombuffer(end.encode(), dtype=np.uint8), (number, len(end))))
    return bytes(np.hstack(pieces).tobytes())
