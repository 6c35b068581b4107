"""Calendar months in UTC: which rows lie in which, and where one begins and ends."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import Times


@lru_cache(maxsize=4096)
def month_bounds(month: str) -> tuple[int, int]:
    """Return begin and end of a month, microseconds.

    >>> month_bounds("1970-02")
    (2678400000000, 5097600000000)
    """
    begin = np.datetime64(month, "M")
    return _microseconds(begin), _microseconds(begin + np.timedelta64(1, "M"))


def month_of(time: int) -> str:
    """Return the month of an instant.

    >>> month_of(2678400000000 - 1)
    '1970-01'
    """
    return str(np.datetime64(int(time), "us").astype("datetime64[M]"))


def by_month(time: Times) -> Iterator[tuple[str, NDArray[np.intp]]]:
    """Yield each month with the numbers of its rows, in the order they came."""
    months = time.view("datetime64[us]").astype("datetime64[M]")
    if len(time) and np.all(months == months[0]):
        yield str(months[0]), np.arange(len(time))
        return
    for month in np.unique(months):
        yield str(month), np.flatnonzero(months == month)


def overlapping(months: tuple[str, ...], start: int | None, end: int | None) -> tuple[str, ...]:
    """Return those of the months (ascending) that have a part in start <= time < end."""
    first = month_of(start) if start is not None else ""
    last = month_of(end - 1) if end is not None else "9"
    return tuple(month for month in months if _not_before(month, first) and not _later(month, last))


def _not_before(month: str, first: str) -> bool:
    return not first or month >= first


def _later(month: str, last: str) -> bool:
    return last != "9" and month > last


def _microseconds(month: np.datetime64) -> int:
    return int(month.astype("datetime64[us]").astype(np.int64))
