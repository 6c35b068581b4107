"""What the sections of fuel gas, load and exhaust share on paper: scales, methods beside each other, the last visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.agreement import lanes
from asfound.report.content_compared import compared_of
from asfound.report.content_lanes import both_states, mark_of
from asfound.report.content_methods import ways_of
from asfound.report.rooms import EXHAUST, FUEL, LOAD
from asfound.report.scales import scale
from asfound.report.wording import clean, natural, place_words, say, title_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from asfound.records.visit import VisitView
    from asfound.report.axis import Band, Wall
    from asfound.report.content_lanes import Number
    from asfound.report.content_methods import Ways
    from asfound.report.rooms import Room
    from asfound.report.wording import System

HALF, WHOLE = 318.0, 672.0
"""Widths of pictures: two beside each other, and one over the sheet. [px]"""
LEADING = {
    "fuel": ("gross_heating_value", "net_heating_value", "fuel_flow"),
    "load": ("engine_power", "site_rated_power", "compressor_power", "generator_power"),
    "exhaust": (),
}
"""Numbers whose ways are drawn though they agree, beside those that stand large. As on the pages."""


def paper(draw: Callable[..., str], given: dict[str, Any], width: float) -> dict[str, str]:
    """Return a picture for the sheets, with its sentence; signs that the faces lack are written out."""
    return {"svg": clean(draw(**given, width=width, paper=True)), "alt": clean(given["label"])}


def scales_of(
    view: VisitView,
    room: Room,
    system: System,
    place: str,
    *,
    walls: Mapping[str, tuple[Wall, Band | None]] | None = None,
    wanted: dict[str, Band] | None = None,
    says: dict[str, str] | None = None,
    only: tuple[str, ...] | None = None,
) -> list[dict[str, Any]]:
    """Return the scale of each number that stands large and that no limit has a picture of."""
    judged = {(one.limit.quantity, n.place) for one in view.limit_states for n in (*one.found, *one.left)}
    found = []
    for name in room.large if only is None else only:
        for where in [place] if place else _places(view, name):
            numbers = both_states(view.worked, where, name)
            if not numbers or (name, where) in judged:
                continue
            wall, undecided = (walls or {}).get(name, (None, None))
            spoken = ", ".join(f"{state.replace('_', ' ')} {say(one, system).whole}" for state, one in numbers.items())
            given = {
                "label": f"{title_of(name)}: {spoken}" + (f"; {wall.text}" if wall else ""),
                "found": mark_of(numbers["as_found"], system) if "as_found" in numbers else None,
                "left": mark_of(numbers["as_left"], system) if "as_left" in numbers else None,
                "limit": wall or (),
                "undecided": undecided,
                "wanted": (wanted or {}).get(name),
            }
            found.append(
                {
                    "name": title_of(name),
                    "where": place_words(where) if not place else "",
                    "values": [
                        {"state": state.replace("_", " "), **say(one, system).as_dict()}
                        for state, one in numbers.items()
                    ],
                    "says": (says or {}).get(name, ""),
                    **paper(scale, given, HALF),
                }
            )
    return _before_the_catalyst(found)


def _before_the_catalyst(scales: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out the mixture behind the catalyst where it is known before it: that is the engine's."""
    behind = [one for one in scales if one["where"] == "after catalyst"]
    others = [one for one in scales if one not in behind]
    return others if any(one["name"] == other["name"] for one in behind for other in others) else scales


def _places(view: VisitView, name: str) -> list[str]:
    numbers: tuple[Number, ...] = (*view.worked.results, *view.worked.readings)
    found = {one.place for one in numbers if one.quantity == name and not one.place.startswith("run_")}
    return sorted(found, key=natural)


def ways_beside(view: VisitView, room: Room, system: System, judged: Iterable[str]) -> dict[str, Any]:
    """Return the methods beside each other: drawn where they lead or do not agree, the others in a sentence each."""
    first = {*judged, *room.large, *LEADING[room.step]}
    taken = {one.taken.quantity for one in view.worked.agreements if not one.taken.place.startswith("run_")}
    ways = [
        one for one in ways_of(view, room.in_order(taken), system, leading=first) if not one.place.startswith("run_")
    ]
    drawn = [one for one in ways if one.quantity in first or one.clashes]
    return {
        "ways": [
            {
                "title": one.title,
                "where": one.where,
                "clashes": one.clashes,
                "chosen": one.chosen,
                "says": list(one.says),
                **paper(lanes, one.picture, HALF),
            }
            for one in drawn
        ],
        "ways_agree": [_in_a_row(one) for one in ways if one not in drawn],
    }


def _in_a_row(one: Ways) -> dict[str, Any]:
    return {
        "title": one.title,
        "where": one.where,
        "ways": [
            {
                "title": way.title,
                "used": way.used,
                "values": "; ".join(f"{state.replace('_', ' ')} {said.whole}" for state, said in way.said.items()),
            }
            for way in one.ways
        ],
        "says": " ".join(one.says),
    }


def since_last(view: VisitView, system: System) -> dict[str, Any] | None:
    """Return what can be compared with the visit before, each number once; None where there is no such visit."""
    judged = [one.limit.quantity for one in view.limit_states]
    names = (*judged, *EXHAUST.compared, *LOAD.compared, *FUEL.compared)
    found = compared_of(view, names, system)
    if found is None or not found.rows:
        return None
    rows = [
        {
            "name": one.title,
            "where": one.where,
            "then": {**one.then.as_dict(), "state": "as found" if one.then_state == "as_found" else "as left"},
            "now": {**one.now.as_dict(), "state": "as found" if one.now_state == "as_found" else "as left"},
            "sure": one.change.sure,
            "same": one.change.same,
            "change": f"{one.change.value} {one.change.unit}".strip(),
            "interval": one.change.interval,
            "chance": f"{one.change.chance} that it went {one.change.direction}" if one.change.sure else "",
            "other_road": not one.same_road,
        }
        for one in found.rows
        if not one.place.startswith("run_")
    ]
    return {"day": found.day, "as_left": found.as_left, "rows": rows}
