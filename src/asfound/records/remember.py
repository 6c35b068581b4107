"""What was computed for a state of the record, kept up to so many bytes: the longest unused goes first."""

from __future__ import annotations

import sys
import threading
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator

BYTES = 80 * 2**20
"""Of all values together; a sheet of a large visit is 20 MB of draws. What is not counted is about twice as much."""
DROPPED = 20 * 2**20
"""After so much was dropped the system gets back what lies free between what is held: else it stays taken for good."""
SMALL = 20_000
"""Taken for what holds no draws. [byte]"""
PER_RESULT = 3_000
"""What a result is beside its draws: the object, its words, what is asked of it. [byte]"""


class Remembered:
    """Values by slot, each for one key; safe between threads."""

    def __init__(self, most: int = BYTES) -> None:
        self.most, self.bytes = most, 0
        self._dropped = 0
        """Bytes of what was dropped since free memory was given back."""
        self._lock = threading.Lock()
        self._kept: dict[Hashable, tuple[Hashable, Any, dict[int, int]]] = {}
        """By slot: key, value, and the bytes of what it holds by identity; two values may hold the same sheet."""
        self._holders: dict[int, int] = {}

    def ask(self, slot: Hashable, key: Hashable, compute: Callable[[], Any], count: int) -> Any:
        """Return what was computed for a key, computing it where the slot holds nothing or another key's.

        Parameters
        ----------
        count : int
            Slots that are kept at most, whatever they weigh.
        """
        with self._lock:
            found = self._kept.get(slot)
            if found is not None and found[0] == key:
                del self._kept[slot]
                self._kept[slot] = found  # as the newest
                return found[1]
        value = compute()
        held = weights(value)
        with self._lock:
            self._drop(slot)
            self._kept[slot] = (key, value, held)
            for one, size in held.items():
                self._holders[one] = self._holders.get(one, 0) + 1
                self.bytes += size if self._holders[one] == 1 else 0
            while len(self._kept) > 1 and (len(self._kept) > count or self.bytes > self.most):
                self._drop(next(iter(self._kept)))
            enough = self._dropped > DROPPED
            if enough:
                self._dropped = 0
        if enough:
            give_back()
        return value

    def holds(self, slot: Hashable) -> bool:
        """Return whether a slot holds a value."""
        return slot in self._kept

    def _drop(self, slot: Hashable) -> None:
        found = self._kept.pop(slot, None)
        for one, size in found[2].items() if found is not None else ():
            self._holders[one] -= 1
            if self._holders[one] == 0:
                del self._holders[one]
                self.bytes -= size
                self._dropped += size


def give_back() -> None:
    """Give the system the memory that lies free; some milliseconds. Done where the C library can be told to."""
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _trim() -> Callable[[int], int] | None:
    if sys.platform != "linux":
        return None
    import ctypes

    found: Callable[[int], int] | None = getattr(ctypes.CDLL(None), "malloc_trim", None)
    return found


def weights(value: Any) -> dict[int, int]:
    """Return about how many bytes a value holds, by the identity of what holds them: the draws of its sheets."""
    held = {id(value): SMALL}
    for sheet in _sheets(value):
        held[id(sheet)] = SMALL
        for one in sheet.results:
            held[id(one)] = PER_RESULT
            array = getattr(one, "array", None)
            if array is not None:
                held[id(array)] = int(array.nbytes)
    return held


def _sheets(value: Any) -> Iterator[Any]:
    """Yield the sheets in a value: itself, those of a tuple, those of a visit and of the one before it."""
    if isinstance(value, tuple):
        yield from (each for one in value[:4] for each in _sheets(one))
        return
    if hasattr(value, "results") and hasattr(value, "readings"):
        yield value
    for name in ("worked", "previous"):
        inside = getattr(value, name, None)
        if inside is not None:
            yield from _sheets(inside)
