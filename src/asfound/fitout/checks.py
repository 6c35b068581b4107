"""Recompute what the packaged catalogue prints: swept volumes, mean effective pressures, channel counts.

The engines are invented: these checks show that the invented world agrees with itself and that the formulas are right;
the channel formula is also checked with the examples of the generic slots (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.fitout.catalogue import Units, load_catalogue
from asfound.fitout.channels import plan, units_needed
from asfound.fitout.engine_size import mean_effective_pressure, swept_volume
from asfound.fitout.generic import generic
from asfound.sources.prove import Check
from asfound.sources.tables import load_yaml

ROOM = "fitout"
HALF_DIGIT = 0.05 + 1e-9
"""Half of the last printed digit, for one decimal."""


def checks() -> Iterator[Check]:
    """Yield every check of this room."""
    yield from _sizes()
    yield from _examples_of_the_world()
    yield from _generic_examples()


def _sizes() -> Iterator[Check]:
    for family in load_catalogue().families.values():
        volume = swept_volume(bore=family.bore_mm / 1e3, stroke=family.stroke_mm / 1e3, cylinders=family.cylinders)
        yield Check(
            f"swept volume of {family.id}",
            ROOM,
            1e3 * volume,
            family.swept_l,
            HALF_DIGIT,
            "demo_scenario",
            "families",
            "L",
            "invented engine; formula by definition",
        )
        for rating in family.rated:
            pressure = mean_effective_pressure(rating.kw * 1e3, swept_volume=volume, speed=rating.rpm / 60.0)
            yield Check(
                f"mean effective pressure of {family.id} at {rating.rpm:g} r/min",
                ROOM,
                pressure / 1e5,
                rating.bmep_bar,
                HALF_DIGIT,
                "demo_scenario",
                "families",
                "bar",
                "invented engine; formula by definition",
            )


def _examples_of_the_world() -> Iterator[Check]:
    catalogue = load_catalogue()
    for one in load_yaml("asfound.fitout", "data/channel_examples.yaml")["examples"]:
        family = catalogue.families[one["family"]]
        planned = plan(
            layout=family.layout,
            cylinders=family.cylinders,
            turbochargers=family.turbochargers,
            bearings=None if one["bearings"] else 0,
            catalyst=one["catalyst"],
        )
        needed = units_needed(planned, _units(one["units"]))
        found = {"channels": planned.total, "count": needed.units, "entries": needed.entries, "free": needed.free}
        for name, value in found.items():
            title = {"count": f"{one['units']['kind']}s"}.get(name, name)
            yield Check(f"{one['engine']}: {title}", ROOM, value, one[name], 0.0, "demo_scenario", "channels", "1")


def _units(given: dict[str, Any]) -> Units:
    return Units(kind=given["kind"], entries=tuple(given["entries"]), group_by_group=given.get("group_by_group", False))


def _generic_examples() -> Iterator[Check]:
    for one in generic().channel_examples:
        planned = plan(
            layout=one["layout"],
            cylinders=one["cylinders"],
            turbochargers=one["turbochargers"],
            bearings=None if one["bearings"] else 0,
            catalyst=one["catalyst"],
        )
        yield Check(
            f"channels: {one['engine']}",
            ROOM,
            planned.total,
            one["channels"],
            0.0,
            "slots_practice",
            "channel count",
            "1",
        )
