"""Whether a typed firing order can be that of an engine: each cylinder once, and partners equally far apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asfound.cylinders.firing_order import (
    SAME,
    TURN,
    companions,
    crank_angles,
    cycle,
    firing_intervals,
    published_orders,
)
from asfound.cylinders.numbering import Convention, Layout, Position, positions


@dataclass(frozen=True, slots=True)
class OrderCheck:
    """What a typed order says and where it cannot be."""

    order: tuple[str, ...]
    faults: tuple[str, ...]
    """Why it cannot be; empty where nothing speaks against it."""
    remarks: tuple[str, ...]
    """What is unusual, and what could not be checked."""
    angles: dict[str, float]
    """When each cylinder fires; empty where the order has a fault. [rad]"""
    companions: dict[str, str]

    @property
    def possible(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.faults


def check_order(
    layout: Layout,
    convention: Convention,
    order: Sequence[str],
    *,
    bank_angle: float | None = None,
    intervals: Sequence[float] | None = None,
) -> OrderCheck:
    """Return what can be said of a typed order of a four-stroke engine.

    Parameters
    ----------
    convention : Convention
        In whose names the order is typed.
    bank_angle : float, optional
        Of a V engine. [rad]
    intervals : sequence of float, optional
        Of the engine's own data, after each cylinder of the order; worked out for an engine whose banks fire evenly
        where they are left out. [rad]
    """
    order = tuple(order)
    where = positions(layout, convention)
    faults: tuple[str, ...] = tuple(_each_once(order, where))
    if faults:
        return OrderCheck(order, faults, (), {}, {})
    if intervals is None:
        intervals, faults = _intervals(layout, where, order, bank_angle)
    elif abs(sum(intervals) - cycle()) > SAME:
        faults = (f"the intervals sum to {math.degrees(sum(intervals)):g}, not to 720 degrees",)
    if faults:
        return OrderCheck(order, faults, (), {}, {})
    angles = crank_angles(order, intervals)
    paired = companions(order, intervals)
    wrong: tuple[str, ...] = ()
    if layout.form == "vee":
        wrong = tuple(_partners(where, angles, bank_angle))
        remarks: tuple[str, ...] = ("there is no standard order of V engines: compare it with the engine's own data",)
    else:
        remarks = tuple(_in_line(layout, where, order, paired))
    return OrderCheck(order, wrong, remarks, {} if wrong else angles, {} if wrong else paired)


def _each_once(order: Sequence[str], where: dict[str, Position]) -> list[str]:
    found = []
    if unknown := [one for one in dict.fromkeys(order) if one not in where]:
        found.append(f"this engine has no cylinder {', '.join(unknown)}")
    if twice := [one for one in dict.fromkeys(order) if order.count(one) > 1]:
        found.append(f"{', '.join(twice)} fires more than once")
    if missing := [one for one in where if one not in order]:
        found.append(f"{', '.join(missing)} never fires")
    return found


def _intervals(
    layout: Layout, where: dict[str, Position], order: Sequence[str], bank_angle: float | None
) -> tuple[list[float] | None, tuple[str, ...]]:
    """Return the intervals after each cylinder: even, or the two that a V engine's bank angle gives in turn."""
    if layout.form == "inline" or bank_angle is None:
        return None, ()
    rows = [where[one].row for one in order]
    crossed = [row != following for row, following in zip(rows, rows[1:] + rows[:1], strict=True)]
    both = {
        later: firing_intervals(layout.cylinders, bank_angle, partner_a_turn_later=later) for later in (False, True)
    }
    if any(len(one) == 1 for one in both.values()):
        return None, ()
    if not all(crossed):
        return None, (f"at {math.degrees(bank_angle):g} degrees between the banks they must fire in turn",)
    for later in (False, True) if layout.per_row % 2 else (False,):
        short, long = both[later]
        for pair in ((short, long), (long, short)):
            steps = [pair[i % 2] for i in range(len(order))]
            if not _partners(where, crank_angles(order, steps), bank_angle):
                return steps, ()
    return None, ("with these intervals the partners on one crankpin would not stand the bank angle apart",)


def _partners(where: dict[str, Position], angles: dict[str, float], bank_angle: float | None) -> list[str]:
    """Return what is wrong with the cylinders that share a crankpin: their pistons stand the bank angle apart."""
    by_position = {position: name for name, position in where.items()}
    apart = {}
    for name, position in where.items():
        if position.row == "left":
            partner = by_position[Position("right", position.index)]
            apart[f"{name} and {partner}"] = (angles[partner] - angles[name]) % TURN
    first = next(iter(apart.values()))
    if any(_turned(one - first) > SAME for one in apart.values()):
        listed = ", ".join(f"{pair} {math.degrees(one):.3g}" for pair, one in apart.items())
        return [f"partners on one crankpin are not equally far apart (degrees of crank within a turn: {listed})"]
    if bank_angle is not None and min(_turned(first - bank_angle), _turned(first + bank_angle)) > SAME:
        return [
            f"partners on one crankpin fire {math.degrees(first):.3g} degrees of crank apart within a turn, but the "
            f"banks stand {math.degrees(bank_angle):.3g} degrees apart"
        ]
    return []


def _turned(angle: float) -> float:
    """Return how far an angle is from a whole turn. [rad]"""
    return abs((angle + math.pi) % TURN - math.pi)


def _in_line(
    layout: Layout, where: dict[str, Position], order: Sequence[str], paired: dict[str, str]
) -> list[str]:  # fmt: skip
    found = []
    listed = [one for one, _, _ in published_orders(layout.cylinders)]
    if listed and tuple(order) not in {one[i:] + one[:i] for one in listed for i in range(len(one))}:
        found.append(f"not among the orders that sources list for {layout.cylinders} in line")
    last = layout.per_row + 1
    if layout.cylinders % 2 == 0 and any(
        where[one].index + where[other].index != last for one, other in paired.items()
    ):  # fmt: skip
        found.append(
            "cylinders that are at the top together are not mirrored about the middle, as most crankshafts are"
        )
    if not listed:
        found.append(f"no source at hand lists an order for {layout.cylinders} in line")
    return found
