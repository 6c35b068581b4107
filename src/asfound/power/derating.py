"""The engine's own derate: the maker's tables against height, air, coolant and gas (`derating_file` reads them).

Where such tables are there they go before every formula. A table is never carried on beyond its ends: outside it there
is no answer, unless the file says that the end value holds there. Arguments are SI floats or arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array, Values

Combine = Literal["multiply", "add", "worst"]
COMBINE: tuple[Combine, ...] = ("multiply", "add", "worst")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """One table: the share of rated power allowed against one quantity, or against two."""

    against: tuple[str, ...]
    axes: tuple[Array, ...]
    """Ascending, SI; one for each quantity."""
    power: Array
    """Share of rated power; shape of the axes. [1]"""
    below: bool
    """The value at the first point holds below it, on every axis."""
    above: bool
    if_read: bool
    """Left out of account where nobody read its quantities."""

    @property
    def ends(self) -> tuple[tuple[float, float], ...]:
        """First and last point of each axis, infinite where an end value holds on. [SI]"""
        return tuple(
            (-np.inf if self.below else float(axis[0]), np.inf if self.above else float(axis[-1])) for axis in self.axes
        )

    def fraction(self, *values: Values) -> Values:
        """Return the share of rated power at values of its quantities, linear between points; nan outside. [1]"""
        given = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in values))
        inside = np.ones(given[0].shape, dtype=bool)
        held = []
        for one, axis, (low, high) in zip(given, self.axes, self.ends, strict=True):
            inside = inside & (one >= low) & (one <= high)
            held.append(np.clip(one, axis[0], axis[-1]))
        found = (
            np.interp(held[0], self.axes[0], self.power)
            if len(held) == 1
            else _between(self.axes, self.power, held[0], held[1])
        )
        return np.where(inside, found, np.nan)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Derate:
    """What one family of engines may give, by its own data."""

    family: str
    rated_power: float
    """That the shares count from. [W]"""
    combine: Combine
    tables: tuple[Table, ...]
    title: str
    """Of the file, with its edition."""
    document: str
    source: str

    @property
    def takes(self) -> tuple[str, ...]:
        """Quantities that its tables stand against, each once."""
        return tuple(dict.fromkeys(name for one in self.tables for name in one.against))

    def parts(self, values: Mapping[str, Values | None]) -> tuple[tuple[Table, Values], ...]:
        """Return each table that counts with its share.

        Parameters
        ----------
        values : mapping of str to float or array
            By quantity, SI. One that is None or missing leaves out the tables that count only if it was read.

        Raises
        ------
        InputError
            A quantity that a table cannot do without is missing.
        """
        found = []
        for table in self.tables:
            given = [values.get(name) for name in table.against]
            lacking = [name for name, one in zip(table.against, given, strict=True) if one is None]
            if lacking and table.if_read:
                continue
            if lacking:
                raise InputError(
                    lacking[0], "not read", "is what a derate table of this engine stands against",
                    try_next=f"Read {quantity(lacking[0]).title.lower()} first.",
                )  # fmt: skip
            found.append((table, table.fraction(*(one for one in given if one is not None))))
        return tuple(found)

    def fraction(self, values: Mapping[str, Values | None]) -> Values:
        """Return the share of rated power that all tables allow together; nan outside any of them. [1]

        See `parts` for ``values`` and what is raised.
        """
        shares = [share for _, share in self.parts(values)]
        if not shares:
            return np.ones(())
        stacked = np.stack(np.broadcast_arrays(*shares))
        if self.combine == "multiply":
            together = np.prod(stacked, axis=0)
        elif self.combine == "worst":
            together = np.min(stacked, axis=0)
        else:
            together = 1 - np.sum(1 - stacked, axis=0)
        return np.where(together > 0, together, np.nan)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Derating:
    """A file of derate tables."""

    name: str
    title: str
    edition: str
    source: str
    engines: Mapping[str, Derate]

    def of(self, family: str) -> Derate:
        """Return the tables of a family; UnknownNameError when the file has none."""
        try:
            return self.engines[family]
        except KeyError:
            raise UnknownNameError("family with derate tables", family, self.engines) from None


def _between(axes: tuple[Array, ...], power: Array, first: Values, second: Values) -> Array:
    """Return the value between four points of a grid, linear along both axes."""
    places = []
    for axis, given in zip(axes, (first, second), strict=True):
        at = np.clip(np.searchsorted(axis, given, side="right") - 1, 0, axis.size - 2)
        places.append((at, (given - axis[at]) / (axis[at + 1] - axis[at])))
    (i, u), (j, v) = places
    low: Array = (1 - u) * power[i, j] + u * power[i + 1, j]
    high: Array = (1 - u) * power[i, j + 1] + u * power[i + 1, j + 1]
    return (1 - v) * low + v * high
