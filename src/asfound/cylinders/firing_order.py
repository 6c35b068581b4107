"""Firing intervals and orders: what an even engine does, and whether a typed order can be.

Angles in rad of crank. A cycle is two turns in a four-stroke engine, one in a two-stroke engine. V engines are taken to
have one crankpin for the two cylinders of a pair (common crankpins), each bank firing evenly.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from functools import cache

from asfound.errors import InputError
from asfound.sources.tables import load_csv

TURN = 2 * math.pi
SAME = math.radians(0.5)
"""Angles nearer than this are one: plates round them (51.4 for 360/7). Engineering judgement."""


def cycle(strokes: int = 4) -> float:
    """Return the crank angle of a working cycle. [rad]"""
    if strokes not in (2, 4):
        raise InputError("strokes", str(strokes), "is no working cycle", allowed="2 or 4")
    return TURN * strokes / 2


def firing_interval(cylinders: int, strokes: int = 4) -> float:
    """Return the interval of an evenly firing engine: 720°/z, two-stroke 360°/z. [rad]"""
    if cylinders < 1:
        raise InputError("cylinders", str(cylinders), "is no number of cylinders", allowed="1 or more")
    return cycle(strokes) / cylinders


def even_bank_angles(cylinders: int, strokes: int = 4) -> tuple[float, ...]:
    """Return the bank angles below 180° at which a V engine with common crankpins fires evenly. [rad]

    Odd multiples of the firing interval.

    >>> [round(math.degrees(one), 1) for one in even_bank_angles(14)]
    [51.4, 154.3]
    """
    step = firing_interval(_paired(cylinders), strokes)
    count = math.ceil(math.pi / step)
    return tuple(step * n for n in range(1, count + 1, 2) if step * n < math.pi - SAME)


def firing_intervals(
    cylinders: int, bank_angle: float, *, partner_a_turn_later: bool = False, strokes: int = 4
) -> tuple[float, ...]:
    """Return the intervals of a V engine, smallest first; one where it fires evenly. [rad]

    Parameters
    ----------
    bank_angle : float
        Between the rows. [rad]
    partner_a_turn_later : bool
        The cylinder on the same crankpin fires a turn and the bank angle after its partner; makes a difference only
        with an odd number in a row.

    Examples
    --------
    >>> [round(math.degrees(one)) for one in firing_intervals(16, math.radians(60))]
    [30, 60]
    """
    of_bank = cycle(strokes) / (_paired(cylinders) // 2)
    between = (bank_angle + (TURN if partner_a_turn_later else 0.0)) % of_bank
    found = sorted((between, of_bank - between))
    return (of_bank / 2,) if found[1] - found[0] < SAME else tuple(found)


def parse_order(text: str) -> tuple[str, ...]:
    """Return the names in a typed order: ``1-5-3-6-2-4``, ``A1 B4 A3``, ``1, 5, 3``.

    Raises
    ------
    InputError
        There is no name in it.
    """
    found = tuple(one for one in re.split(r"[\s,;\-–—/>]+", text.strip()) if one)
    if not found:
        raise InputError("firing_order", text, "names no cylinder", try_next="Write it as 1-5-3-6-2-4.")
    return found


def crank_angles(
    order: Sequence[str], intervals: Sequence[float] | None = None, *, strokes: int = 4
) -> dict[str, float]:
    """Return when each cylinder fires, from the first of the order on. [rad]

    Parameters
    ----------
    intervals : sequence of float, optional
        After each cylinder of the order, to the next. Even when left out. [rad]
    """
    steps = [firing_interval(len(order), strokes)] * len(order) if intervals is None else list(intervals)
    if len(steps) != len(order) or abs(sum(steps) - cycle(strokes)) > SAME:
        raise InputError(
            "intervals", " ".join(f"{math.degrees(one):g}" for one in steps), "do not make one cycle",
            allowed=f"{len(order)} intervals with the sum {math.degrees(cycle(strokes)):g} degrees",
        )  # fmt: skip
    at, found = 0.0, {}
    for name, step in zip(order, steps, strict=True):
        found[name] = at
        at += step
    return found


def companions(
    order: Sequence[str], intervals: Sequence[float] | None = None, *, strokes: int = 4
) -> dict[str, str]:  # fmt: skip
    """Return for each cylinder the one that is at the top with it, a turn apart: one fires, the other breathes.

    Where several stand so, the one nearest to a turn; a cylinder without any is left out, as in an engine with an odd
    number of cylinders.
    """
    if strokes == 2:
        return {}
    angles = crank_angles(order, intervals, strokes=strokes)
    found = {}
    for name, at in angles.items():
        apart = {other: abs(abs(angle - at) - TURN) for other, angle in angles.items() if other != name}
        nearest = min(apart, key=lambda other: apart[other], default=None)
        if nearest is not None and apart[nearest] < SAME:
            found[name] = nearest
    return found


def renamed(order: Sequence[str], names: Mapping[str, str]) -> tuple[str, ...]:
    """Return an order in the names of another convention, begun where its first name stands.

    >>> renamed(parse_order("1-5-3-6-2-4"), {str(n): str(7 - n) for n in range(1, 7)})
    ('1', '5', '3', '6', '2', '4')
    """
    found = tuple(names[one] for one in order)
    first = min(range(len(found)), key=lambda i: (len(found[i]), found[i]))
    return found[first:] + found[:first]


@cache
def published_orders(cylinders: int) -> tuple[tuple[tuple[str, ...], str, str], ...]:
    """Return the orders of in-line engines that a source lists: order, note, source; none for most engines."""
    return tuple(
        (parse_order(row["order"]), row["note"], row["source"])
        for row in load_csv("asfound.cylinders", "data/firing_orders.csv")
        if int(row["cylinders"]) == cylinders
    )


def _paired(cylinders: int) -> int:
    if cylinders < 2 or cylinders % 2:
        raise InputError("cylinders", str(cylinders), "do not stand in two rows", allowed="an even number")
    return cylinders
