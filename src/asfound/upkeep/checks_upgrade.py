"""Proved answers of the upgrade gap, searched for again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep.published import cases
from asfound.upkeep.upgrade import Barred, Change, Problem, Some
from asfound.upkeep.upgrade_search import cheapest, equal_ways, is_way

_Plain = Mapping[str, list[str]]


def checks() -> Iterator[Check]:
    """Yield each proved value with what the room's functions give now."""
    yield from cases("upgrade", {"upgrade_path": _path})


def problem(
    slots: _Plain, start: Mapping[str, str], target: _Plain, changes: list[dict[str, Any]],
    never: Sequence[_Plain] = (), not_running: Sequence[_Plain] = (), stop_cost: float = 0.0,
    stop_minutes: float = math.inf,
) -> Problem:  # fmt: skip
    """Return a problem from the form in which the cases are written."""
    return Problem(
        places=_some(slots),
        start=start,
        target=_some(target),
        changes=tuple(
            Change(
                id=one["id"], puts=one["set"], cost=one["cost"], minutes=one.get("minutes", 0.0),
                stopped=one.get("when", "stopped") == "stopped", needs=_some(one.get("if", {})),
            )
            for one in changes
        ),
        barred=(
            *(Barred(build=_some(one)) for one in never),
            *(Barred(build=_some(one), when="running") for one in not_running),
        ),
        stop_cost=stop_cost,
        stop_minutes=stop_minutes,
    )  # fmt: skip


def _some(plain: _Plain) -> Some:
    return {place: tuple(values) for place, values in plain.items()}


def _path(**inputs: Any) -> dict[str, Any]:
    given = problem(**inputs)
    found = cheapest(given)
    if found is None:
        return {"feasible": False}
    sets = " | ".join(" + ".join(sorted(one)) for one in equal_ways(given))
    return {"feasible": is_way(given, found.moves), "cost": found.cost, "sets": sets}
