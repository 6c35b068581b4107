"""Arrays as a run makes them: joined of several inputs, cut to what a formula takes, checked as it answers."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from asfound.quantities.typing import Array
    from asfound.quantities.worksheets import Worksheet

KEPT_HEAP = 31 * 2**20
"""Bytes of the block that is taken and given back once, see `keep_heap`."""


@cache
def keep_heap() -> None:
    """Let the C library keep freed memory for the next working out instead of handing it back to the system.

    Arrays of 10,000 draws are freed and taken again at each change of a visit; fetching their pages anew each time cost
    as much as most of the formulas. The GNU C library learns from a freed block how much to keep: twice its size
    (mallopt(3), M_MMAP_THRESHOLD and M_TRIM_THRESHOLD). The block is never written to, so it takes no memory; other C
    libraries do as they always do.
    """
    np.empty(KEPT_HEAP, dtype=np.uint8)


def summed(parts: tuple[Any, ...]) -> Any:
    """Return gauge pressure and barometer together, over the draws that both have."""
    size = min([one.size for one in parts if isinstance(one, np.ndarray)], default=0)
    gauge, barometer = (one[:size] if isinstance(one, np.ndarray) else one for one in parts)
    return gauge + barometer


def stacked(named: tuple[Any, ...]) -> Array:
    """Return the numbers of several places as rows, over the draws that all have."""
    parts = named[1:]
    size = min([one.size for one in parts if isinstance(one, np.ndarray)], default=1)
    stacked = np.empty((len(parts), size))
    for row, one in zip(stacked, parts, strict=True):
        row[:] = one[:size] if isinstance(one, np.ndarray) else one
    return stacked


def first_draws(number: Any, size: int) -> Any:
    """Return the first draws of a number: the same object where it has no more, so that what is kept is found again."""
    if isinstance(number, np.ndarray) and number.shape[-1] > size:
        return number[..., :size]
    return number


def arrays_of(answer: object, size: int, sheet: Worksheet) -> tuple[Array, ...]:
    """Return a formula's answers as arrays of the draws; a constant answers for all of them."""
    parts = answer if isinstance(answer, tuple) else (answer,)
    if len(parts) != len(sheet.gives):
        raise ValueError(f"worksheet '{sheet.name}' gives {len(sheet.gives)} quantities, its formula {len(parts)}")
    found = []
    for part in parts:
        array = np.asarray(part, dtype=np.float64)
        if array.shape in ((), (1,)):
            array = np.full(size, array.item())
        if array.shape != (size,):
            raise ValueError(f"worksheet '{sheet.name}' answers an array of shape {array.shape} for {size} draws")
        found.append(array)
    return tuple(found)
