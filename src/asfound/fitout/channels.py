"""Thermocouple channels: how many an engine needs, which units hold them, and whether the count seen agrees.

Channels = cylinders + turbine inlets + turbine outlets + main bearings where measured + catalyst in and out + extras
(common practice, no source). Where a unit serves one group only (the exhaust of one row, the bearings, the hot side),
the count goes group by group: the fewest, then the shortest, units that hold the group. Free entries are a clue, a
shortfall is a contradiction.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.fitout.catalogue import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelPlan:
    """What is to be measured on one engine."""

    rows: tuple[int, ...]
    """Cylinders of each row: ``(9,)``, ``(5, 5)``."""
    turbine_inlets: int
    turbine_outlets: int
    bearings: int
    """Main bearings measured; 0 where they are not."""
    catalyst: int
    """2 (in and out) or 0."""
    extras: int = 0

    @property
    def total(self) -> int:
        """All channels."""
        return sum(self.rows) + self.turbine_inlets + self.turbine_outlets + self.bearings + self.catalyst + self.extras

    @property
    def formula(self) -> str:
        """As one would write it down: ``9 + 1 + 1 + 10 + 2 = 23``; the cylinders always stand first."""
        parts = [sum(self.rows), self.turbine_inlets, self.turbine_outlets, self.bearings, self.catalyst, self.extras]
        return " + ".join(str(one) for n, one in enumerate(parts) if n == 0 or one) + f" = {self.total}"

    @property
    def groups(self) -> tuple[tuple[str, str, int], ...]:
        """Kind, title and channels of each group: exhaust of each row, bearings, hot side."""
        names = ("left row", "right row") if len(self.rows) == 2 else ("",)
        found = [
            ("exhaust", f"exhaust of the {name}" if name else "exhaust", cylinders)
            for name, cylinders in zip(names, self.rows, strict=True)
        ]
        found.append(("bearings", "main bearings", self.bearings))
        hot = self.turbine_inlets + self.turbine_outlets + self.catalyst + self.extras
        found.append(("hot_side", "hot side (turbines, catalyst)" if self.catalyst else "hot side (turbines)", hot))
        return tuple(one for one in found if one[2])


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsNeeded:
    """The units that hold a plan, group by group or all together."""

    groups: tuple[tuple[str, int, tuple[int, ...]], ...]
    """Title, channels, and the entries of each unit."""

    @property
    def units(self) -> int:
        """How many units."""
        return sum(len(units) for _, _, units in self.groups)

    @property
    def entries(self) -> int:
        """Entries of all units."""
        return sum(sum(units) for _, _, units in self.groups)

    @property
    def channels(self) -> int:
        """Channels that they hold."""
        return sum(channels for _, channels, _ in self.groups)

    @property
    def free(self) -> int:
        """Entries left free."""
        return self.entries - self.channels


def main_bearings(*, layout: str, cylinders: int) -> int:
    """Return the main bearings: in line, cylinders + 1; V with two rods per throw, half of them + 1 (common practice).

    >>> main_bearings(layout="inline", cylinders=9), main_bearings(layout="vee", cylinders=18)
    (10, 10)
    """
    if cylinders < 1 or (layout == "vee" and cylinders % 2):
        raise InputError(
            "cylinders", str(cylinders), f"do not make a {layout} engine", allowed="1 or more; even for a V"
        )
    return cylinders + 1 if layout == "inline" else cylinders // 2 + 1


def plan(
    *, layout: str, cylinders: int, turbochargers: int, bearings: int | None, catalyst: bool, extras: int = 0
) -> ChannelPlan:
    """Return the channels of an engine; ``bearings`` counts those measured, None takes them from the layout.

    >>> plan(layout="vee", cylinders=18, turbochargers=2, bearings=None, catalyst=True).formula
    '18 + 2 + 2 + 10 + 2 = 34'
    """
    rows = (cylinders // 2, cylinders // 2) if layout == "vee" else (cylinders,)
    return ChannelPlan(
        rows=rows,
        turbine_inlets=turbochargers,
        turbine_outlets=turbochargers,
        bearings=main_bearings(layout=layout, cylinders=cylinders) if bearings is None else bearings,
        catalyst=2 if catalyst else 0,
        extras=extras,
    )


def fewest_shortest(channels: int, sizes: Sequence[int]) -> tuple[int, ...]:
    """Return the units that hold these channels: the fewest, and of those the shortest together.

    >>> fewest_shortest(9, (5, 7)), fewest_shortest(6, (5, 7)), fewest_shortest(28, (8,))
    ((5, 5), (7,), (8, 8, 8, 8))
    """
    if channels < 0 or not sizes or min(sizes) < 1:
        raise InputError(
            "channels", str(channels), "cannot be put on units", allowed="0 or more, on units of 1 or more"
        )
    if channels == 0:
        return ()
    count = -(-channels // max(sizes))
    sets = (one for one in combinations_with_replacement(sorted(sizes), count) if sum(one) >= channels)
    return min(sets, key=lambda one: (sum(one), one))


def units_needed(planned: ChannelPlan, units: Units) -> UnitsNeeded:
    """Return how many units of a kind the plan needs."""
    if not units.group_by_group:
        return UnitsNeeded(groups=(("all groups", planned.total, fewest_shortest(planned.total, units.entries)),))
    return UnitsNeeded(
        groups=tuple(
            (title, channels, fewest_shortest(channels, units.entries))
            for kind, title, channels in planned.groups
            if kind in units.groups
        )
    )


def backwards(entry: int, entries: int) -> int:
    """Return the place under which an entry shows on a strip that counts backwards: k of n shows as n + 1 - k.

    >>> backwards(2, 5)
    4
    """
    if not 1 <= entry <= entries:
        raise InputError("entry", str(entry), "is not on the strip", allowed=f"1 to {entries}")
    return entries + 1 - entry
