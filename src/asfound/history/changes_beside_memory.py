"""Changes sought with the memory of the noise known: added one by one where they help most, moved, taken away.

The series and each possible change are filtered by the autoregression of what the present description leaves
(generalised least squares), so that a step beside strong memory is seen as what it is, one large innovation that does
not come back. After each change the memory is estimated anew on what is left (Bai 1997, Econometric Theory 13, 315, for
one change after the other).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from asfound.history.change_segments import joined_columns
from asfound.history.normal_equations import orthonormal, rest
from asfound.history.pelt import Index
from asfound.quantities.typing import Array

MOST_CHANGES = 12
FEW_TURNS = 4
PLACES = 500
"""Places tried of joined lines."""
Length = Callable[[tuple[int, ...]], tuple[float, Array]]
"""Description length and memory of a set of changes."""


def bettered(x: Array, at: tuple[int, ...], kind: str, smallest: int, length_of: Length) -> tuple[int, ...]:
    """Return the set of changes after adding, moving and taking away as long as the description gets shorter.

    Parameters
    ----------
    x : array of shape (n,)
        Without nan.
    at : tuple of int
        Changes to begin with.
    kind : {"level", "slope", "joined"}
    smallest : int
        Fewest samples of a segment.
    length_of : callable
        Also keeps what was tried, if the caller wants it.
    """
    least, memory = length_of(at)
    for _ in range(MOST_CHANGES):
        if len(at) >= max(MOST_CHANGES, x.size // 50):
            break
        place = _best_place(x, at, kind, smallest, memory)
        if place is None:
            break
        new = _moved(x, tuple(sorted([*at, place])), kind, smallest, length_of)
        # two may be needed before one helps: a fault that comes and goes
        second = _best_place(x, new, kind, smallest, length_of(new)[1]) if length_of(new)[0] >= least else None
        if second is not None:
            new = min(new, tuple(sorted([*new, second])), key=lambda one: length_of(one)[0])
        new = _thinned(new, length_of)
        if length_of(new)[0] >= least:
            break
        at = new
        least, memory = length_of(at)
    return at


def turns_without_memory(x: Array, smallest: int) -> list[tuple[int, ...]]:
    """Return the sets of turns of joined lines, none and more, as long as each pays for noise without memory.

    What a straight line leaves of a turn looks like memory, beside which the turn is not seen any more.
    """
    none = np.zeros(0)
    sets: list[tuple[int, ...]] = [()]
    least = _left(x, ())
    for _ in range(FEW_TURNS):
        place = _best_place(x, sets[-1], "joined", smallest, none)
        if place is None:
            break
        at = tuple(sorted([*sets[-1], place]))
        left = _left(x, at)
        if x.size * math.log(least / max(left, 1e-300)) < 2.0 * math.log(x.size):
            break
        for one in at if len(at) > 1 else ():  # each once more, beside the others
            others = tuple(k for k in at if k != one)
            again = _best_place(x, others, "joined", smallest, none)
            at = tuple(sorted([*others, one if again is None else again]))
        least = min(left, _left(x, at))
        sets.append(at)
    return sets


def _left(x: Array, at: Sequence[int]) -> float:
    left = rest(joined_columns(x.size, at), x)
    return float(left @ left)


def _moved(x: Array, at: tuple[int, ...], kind: str, smallest: int, length_of: Length) -> tuple[int, ...]:
    """Return the changes, each put where it helps most beside the others."""
    if len(at) < 2:
        return at
    for one in at:
        others = tuple(place for place in at if place != one)
        place = _best_place(x, others, kind, smallest, length_of(at)[1])
        if place is None:
            continue
        new = tuple(sorted([*others, place]))
        if length_of(new)[0] < length_of(at)[0]:
            at = new
    return at


def _thinned(at: tuple[int, ...], length_of: Length) -> tuple[int, ...]:
    while at:
        fewer = min((tuple(p for p in at if p != one) for one in at), key=lambda less: length_of(less)[0])
        if length_of(fewer)[0] >= length_of(at)[0]:
            break
        at = fewer
    return at


def _best_place(x: Array, at: tuple[int, ...], kind: str, smallest: int, memory: Array) -> int | None:
    """Return where one more change takes away most of the squared innovations."""
    n = x.size
    places = allowed_places(n, at, smallest)
    t = np.arange(n, dtype=float)
    if kind != "joined":
        columns = [np.ones(n), *([t - t.mean()] if kind == "slope" else []), *((t >= one).astype(float) for one in at)]
        return best_step(x, np.stack(columns, axis=1), places, memory)
    if not places.size:
        return None
    places = places[:: max(1, places.size // PLACES)]
    columns = [np.ones(n), t - t.mean(), *(np.maximum(t - one, 0.0) for one in at)]
    q, left = _off(x, np.stack(columns, axis=1), memory)
    ramps = filtered(np.maximum(t[:, None] - places, 0.0), memory)
    return _largest(ramps.T @ np.column_stack([left, q]), (ramps * ramps).sum(axis=0), places)


def allowed_places(n: int, at: Sequence[int], smallest: int) -> Index:
    """Return the places for one more change, none nearer to another or to an end than ``smallest`` samples."""
    places = np.arange(smallest, n - smallest + 1)
    for one in at:
        places = places[np.abs(places - one) >= smallest]
    return places


def best_step(x: Array, columns: Array, places: Index, memory: Array) -> int | None:
    """Return the place at which a step, beside the other columns, takes away most of the squared innovations."""
    if not places.size:
        return None
    q, left = _off(x, columns, memory)
    along = _with_steps(np.column_stack([left, q]), memory, places)
    return _largest(along, _size_of_steps(len(x), memory, places), places)


def _off(x: Array, columns: Array, memory: Array) -> tuple[Array, Array]:
    """Return the filtered columns made orthonormal, and what they leave of the filtered series."""
    q = orthonormal(filtered(columns, memory))
    white = filtered(x[:, None], memory)
    return q, (white - q @ (q.T @ white))[:, 0]


def _largest(along: Array, size: Array, places: Index) -> int:
    free = size - (along[:, 1:] ** 2).sum(axis=1)
    gain = np.where(free > 1e-6 * np.maximum(size, 1e-300), along[:, 0] ** 2 / np.maximum(free, 1e-300), -1.0)
    return int(places[gain.argmax()])


def filtered(columns: Array, memory: Array) -> Array:
    """Return columns less what their past foretells; the first samples, without a past, are left out."""
    order = memory.size
    found = columns[order:].copy()
    for lag, coefficient in enumerate(memory, 1):
        found -= coefficient * columns[order - lag : len(columns) - lag]
    return found


def _with_steps(rows: Array, memory: Array, places: Index) -> Array:
    """Return the products of columns with the filtered step at each place; from running sums. Shape (places, k)."""
    order = memory.size
    after = np.vstack([np.cumsum(rows[::-1], axis=0)[::-1], np.zeros((order + 1, rows.shape[1]))])
    wide = np.vstack([rows, np.zeros((order + 1, rows.shape[1]))])
    heights = 1.0 - np.concatenate([[0.0], np.cumsum(memory)])
    start = np.maximum(places - order, 0)
    found: Array = heights[-1] * after[start]
    for lag in range(order):
        found = found + (heights[lag] - heights[-1]) * wide[start + lag]
    return found


def _size_of_steps(n: int, memory: Array, places: Index) -> Array:
    order = memory.size
    heights = 1.0 - np.concatenate([[0.0], np.cumsum(memory)])
    start = np.maximum(places - order, 0)
    rows = n - order - start
    found = heights[-1] ** 2 * np.maximum(rows - order, 0)
    for lag in range(order):
        found = found + np.where(rows > lag, heights[lag] ** 2, 0.0)
    return np.asarray(found, dtype=float)
