"""Published and proved answers of work that shares a stop, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep import grouping, shared_cycle
from asfound.upkeep.published import cases


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases("grouping", {"joint_cycle": _cycle, "group_stops": _group})


def _cycle(setup: float, own: list[float], slope: list[float], max_multiple: int = 12) -> dict[str, Any]:
    best = shared_cycle.shared_cycle(setup, own, slope, most_multiple=max_multiple)
    rule = shared_cycle.silver_cycle(setup, own, slope)
    return {
        "cost": best.cost, "base_interval": best.interval, "multiples": list(best.multiples), "rule_cost": rule.cost,
        "rule_interval": rule.interval, "rule_multiples": list(rule.multiples),
        "separate_cost": shared_cycle.apart(setup, own, slope),
    }  # fmt: skip


def _group(setup: float, tasks: dict[str, dict[str, float]], capacity_minutes: float = float("inf")) -> dict[str, Any]:
    given = [grouping.Task(name=name, **task) for name, task in tasks.items()]
    found = grouping.group(given, setup, most_minutes=capacity_minutes)
    groups = sorted(" ".join(sorted(task.name for task in stop.tasks)) for stop in found.stops)
    return {"cost": found.cost, "separate_cost": found.apart, "groups": ", ".join(groups)}
