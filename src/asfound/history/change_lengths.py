"""How long the description of a series with given changes is, in twice natural logarithms; see `changes`."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.history.change_segments import Kind, columns_of, fit_segments
from asfound.history.changes_beside_memory import filtered
from asfound.history.noise_length import MEMORY, noise_length
from asfound.history.normal_equations import solve
from asfound.quantities.typing import Array

REFITS = 3
WIDTHS = (3, 5, 8)
"""Samples that all passages of a series may last."""
WALK, LOCAL = 8.0, (20.0, 10.0)
"""What a line that turns takes off a walk for nothing: the squares of the 1 and 5 % points of the test of a walk beside
one turn (-4.93, -4.42; Zivot and Andrews 1992, J. Bus. Econ. Stat. 10, 251, from memory) lie 8 to 9 above those by a
line (-3.96, -3.41; Dickey and Fuller). Counted where the memory is so near to a walk's, in samples for no turn and for
each."""


@dataclass(frozen=True, slots=True)
class Description:
    """One description of a series."""

    length: float
    kind: Kind
    at: tuple[int, ...]
    memory: Array
    variance: float


def describe(x: Array, at: tuple[int, ...], kind: Kind) -> Description:
    """Return the description length, twice the natural logarithm of the likelihood and what the model costs."""
    n = x.size
    sizes = np.diff([0, *at, n])
    price = 2.0 * len(at) * math.log(n) + (2.0 if kind == "trend" else 1.0) * float(np.log(sizes).sum())
    price += math.log(n) if kind in ("slope", "joined") else 0.0
    noise = noise_length(x - fit_segments(x, at, kind)[0])
    if at and kind != "trend":  # beside strong memory the size of a step is its jump, not a difference of means
        columns = columns_of(n, at, kind)
        for _ in range(REFITS):
            if not noise.memory.size or (kind != "joined" and noise.memory[0] > 1.0):
                break  # what is smoother than a random walk has no level that could step, only slopes
            coefficients = solve(filtered(columns, noise.memory), filtered(x[:, None], noise.memory)[:, 0])
            again = noise_length(x - columns @ coefficients)
            if again.length >= noise.length:
                break
            noise = again
    order = noise.memory.size if noise.memory.size <= MEMORY else 2
    own = 1 + 2 * len(at) + order + (1 if kind in ("slope", "joined") else 0) + (len(at) + 1 if kind == "trend" else 0)
    few = n / (n - own - 2.0) if n > own + 3 else math.inf
    length = noise.length + few * price + (few - 1.0) * order * math.log(n)
    length += _beside_a_walk(n, len(at), noise.memory, lines=kind != "level")
    return Description(length, kind, at, noise.memory, noise.variance)


def passing(x: Array, at: tuple[int, ...], width: int) -> Description:
    """Return the description of levels with passages of one width between them, which steps leave as memory."""
    n = x.size
    columns = np.column_stack(
        [np.ones(n), *(np.clip((np.arange(n) - one + width / 2.0) / width, 0.0, 1.0) for one in at)]
    )
    noise = noise_length(x - columns @ solve(columns, x))
    order = noise.memory.size if noise.memory.size <= MEMORY else 2
    own = 2 + 2 * len(at) + order
    few = n / (n - own - 2.0) if n > own + 3 else math.inf
    price = 2.0 * len(at) * math.log(n) + float(np.log(np.diff([0, *at, n])).sum()) + 2.0 * math.log(len(WIDTHS) + 1.0)
    length = noise.length + few * price + (few - 1.0) * order * math.log(n)
    length += _beside_a_walk(n, len(at), noise.memory, lines=False)
    return Description(length, "level", at, noise.memory, noise.variance)


def _beside_a_walk(n: int, changes: int, memory: Array, *, lines: bool) -> float:
    """Return what changes have to pay besides, where the noise may be a walk.

    Steps of a level pay only beside noise smoother than a walk, which has no level; a jump of a walk is one innovation.
    """
    near = n * (1.0 - float(memory.sum())) < LOCAL[0] + LOCAL[1] * changes
    smooth = memory.size > 0 and memory[0] > 1.0
    return WALK * changes if near and (lines or smooth) else 0.0


def describe_series(x: Array, at: tuple[int, ...], kind: Kind) -> float:
    """Return the description length of one series with given changes, in twice natural logarithms."""
    return describe(x, at, kind).length
