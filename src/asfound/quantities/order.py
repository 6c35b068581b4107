"""The order of dependence among worksheets: what gives a quantity comes before what takes it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from asfound.quantities.worksheets import Worksheet

if TYPE_CHECKING:
    from collections.abc import Iterator

BAROMETER = "barometric_pressure"
"""The quantity that turns a gauge pressure into an absolute one."""


@lru_cache(maxsize=8)
def groups_in_order(worksheets: tuple[Worksheet, ...]) -> tuple[tuple[tuple[Worksheet, ...], bool], ...]:
    """Return groups of worksheets in the order of dependence; True beside a group that goes round in a circle.

    Two methods that are each other's inverse, or one quantity handed on from place to place, make a circle: such a
    group has to be tried until nothing new comes of it. Groups are the strongly connected components (Tarjan 1972).
    """
    needs = _needs(worksheets)
    found = []
    for group in _components(len(worksheets), needs):
        circular = len(group) > 1 or group[0] in needs[group[0]]
        found.append((tuple(worksheets[at] for at in sorted(group)), circular))
    return tuple(found)


def _needs(worksheets: tuple[Worksheet, ...]) -> list[list[int]]:
    """Return for each worksheet those that give what it takes; what gives the barometer comes before all takers."""
    givers: dict[str, list[int]] = {}
    for at, sheet in enumerate(worksheets):
        for quantity in sheet.gives:
            givers.setdefault(quantity, []).append(at)
    barometers = givers.get(BAROMETER, [])
    feeds = _closure(barometers, givers, worksheets)
    needs = []
    for at, sheet in enumerate(worksheets):
        direct = [giver for take in sheet.takes for giver in givers.get(take.quantity, ())]
        needs.append(sorted({*direct, *(() if at in feeds else barometers)}))
    return needs


def _closure(start: list[int], givers: dict[str, list[int]], worksheets: tuple[Worksheet, ...]) -> set[int]:
    """Return the worksheets under those of the start, and these."""
    seen: set[int] = set()
    todo = list(start)
    while todo:
        at = todo.pop()
        if at not in seen:
            seen.add(at)
            todo += [giver for take in worksheets[at].takes for giver in givers.get(take.quantity, ())]
    return seen


def _components(number: int, needs: list[list[int]]) -> Iterator[list[int]]:
    """Yield strongly connected components, each after all that it needs (Tarjan, without recursion)."""
    index: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    waiting: set[int] = set()
    for root in range(number):
        if root in index:
            continue
        work = [(root, iter(needs[root]))]
        index[root] = low[root] = len(index)
        stack.append(root)
        waiting.add(root)
        while work:
            at, rest = work[-1]
            for other in rest:
                if other not in index:
                    index[other] = low[other] = len(index)
                    stack.append(other)
                    waiting.add(other)
                    work.append((other, iter(needs[other])))
                    break
                if other in waiting:
                    low[at] = min(low[at], index[other])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[at])
                if low[at] == index[at]:
                    group = []
                    while at in waiting:
                        group.append(stack.pop())
                        waiting.discard(group[-1])
                    yield group
