"""Recompute every published value that ships with the program, on the machine of whoever doubts it.

A room that computes has a module ``checks`` with a generator ``checks()``; each `Check` holds what the room's own
functions give now beside what the publication prints. Nothing here knows a room by name.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from asfound.errors import UnknownNameError
from asfound.sources.register import ROOMS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping


@dataclass(frozen=True, slots=True)
class Check:
    """One published value and what the program makes of it.

    ``tolerance`` is absolute, in the unit of the value; it is counted in the last printed digit unless ``note`` says
    otherwise. ``source`` is a key of the register of sources, ``clause`` the place in it.
    """

    check: str
    room: str
    value: float
    published: float
    tolerance: float
    source: str
    clause: str = ""
    unit: str = ""
    note: str = ""

    @classmethod
    def of_row(cls, room: str, value: float, row: Mapping[str, str]) -> Check:
        """Return the check of a row with the columns ``check, published, tolerance, source, clause, unit, note``."""
        return cls(
            check=row["check"],
            room=room,
            value=value,
            published=float(row["published"]),
            tolerance=float(row["tolerance"]),
            source=row["source"],
            clause=row["clause"],
            unit=row["unit"],
            note=row["note"],
        )

    @property
    def deviation(self) -> float:
        """Value less published, in ``unit``."""
        return self.value - self.published

    @property
    def holds(self) -> bool:
        """Whether the value lies within the tolerance; never for nan, so a calculation without answer is a miss.

        A billionth of the tolerance is added, for decimal digits that are no binary ones.
        """
        return abs(self.deviation) <= self.tolerance * (1 + 1e-9) and math.isfinite(self.published)

    def as_dict(self) -> dict[str, object]:
        """Return all fields, with ``deviation`` and ``holds``; a number that JSON cannot hold becomes None."""
        found = asdict(self) | {"deviation": self.deviation, "holds": self.holds}
        return {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in found.items()}


def rooms_with_checks() -> tuple[str, ...]:
    """Return the rooms that bring published values, by name."""
    rooms = (room.name for room in ROOMS.iterdir() if room.is_dir() and (room / "checks.py").is_file())
    return tuple(sorted(rooms))


def checks_of(room: str) -> Iterator[Check]:
    """Yield the checks of one room as they are computed; UnknownNameError when it has none."""
    if room not in rooms_with_checks():
        raise UnknownNameError("room with published checks", room, rooms_with_checks())
    yield from import_module(f"asfound.{room}.checks").checks()


def prove(rooms: Iterable[str] | None = None) -> list[Check]:
    """Return every check of the rooms named, or of all rooms."""
    return [check for room in (rooms_with_checks() if rooms is None else rooms) for check in checks_of(room)]
