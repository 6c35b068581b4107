"""Fuel gas, load and exhaust on paper: pictures with their sentences, and the tables of each; only what there is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.exhaust.limits import NOT_YOURS, applicable
from asfound.exhaust.limits_of_case import facts_of
from asfound.exhaust.limits_table import rules
from asfound.exhaust.rule_facts import FACTS
from asfound.quantities.register import quantities
from asfound.report import content_fuel, content_heat, content_load
from asfound.report.agreement import lanes
from asfound.report.axis import Band, Wall
from asfound.report.content_compared import compared_of
from asfound.report.content_exhaust import catalysts, mixtures_for_limit
from asfound.report.content_lanes import both_states, mark_of, number_at
from asfound.report.content_methods import ways_of
from asfound.report.content_results import Assumed, of_room
from asfound.report.content_test_run import tests_shown
from asfound.report.gas_bars import gas_bars
from asfound.report.rooms import EXHAUST, FUEL, LOAD, ROOMS
from asfound.report.scales import scale
from asfound.report.stairs import stairs
from asfound.report.wording import clean, natural, place_words, say, title_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_exhaust import Catalyst
    from asfound.report.content_lanes import Number
    from asfound.report.content_methods import Ways
    from asfound.report.numbering import Sources
    from asfound.report.rooms import Room
    from asfound.report.wording import Said, System

HALF, WHOLE = 318.0, 672.0
"""Widths of pictures: two beside each other, and one over the sheet. [px]"""
MOST_ASKED = 4
"""Facts that are named as what general rules ask for."""
LEADING = {
    "fuel": ("gross_heating_value", "net_heating_value", "fuel_flow"),
    "load": ("engine_power", "site_rated_power", "compressor_power", "generator_power"),
    "exhaust": (),
}
"""Numbers whose ways are drawn though they agree, beside those that stand large. As on the pages."""


def rooms(view: VisitView, system: System, sources: Sources, assumed: Assumed) -> dict[str, Any]:
    """Return the sections of fuel gas, load and exhaust; a room of which nothing is known is None."""
    judged = [one.limit.quantity for one in view.limit_states]
    made = {"fuel": _fuel(view, system), "load": _load(view, system), "exhaust": _exhaust(view, system)}
    found: dict[str, Any] = {}
    for step, parts in made.items():
        room = ROOMS[step]
        found[step] = parts | {
            "title": view.steps[step].title if step in view.steps else step,
            "tables": of_room(view, room, system, sources, assumed, first=judged),
            **_ways(view, room, system, judged),
        }
        found[step]["shown"] = any(part for name, part in found[step].items() if name not in ("title", "tables"))
    return {step: one for step, one in found.items() if one["shown"] or one["tables"]}


def paper(draw: Callable[..., str], given: dict[str, Any], width: float) -> dict[str, str]:
    """Return a picture for the sheets, with its sentence; signs that the faces lack are written out."""
    return {"svg": clean(draw(**given, width=width, paper=True)), "alt": clean(given["label"])}


# ---------------------------------------------------------------------- fuel gas


def _fuel(view: VisitView, system: System) -> dict[str, Any]:
    burns = content_fuel.gas(view, system)
    line = content_fuel.line(view, system)
    needed = content_fuel.knock(view, system)
    scales = _scales(view, FUEL, system, "fuel", walls={"methane_number": (needed.wall, needed.undecided)} if needed
                     else {}, says={"methane_number": needed.says} if needed else {})  # fmt: skip
    return {
        "gas": _gas(view, burns, system) if burns else None,
        "scales": scales,
        "line": {**paper(lanes, line.picture, HALF), "says": list(line.says)} if line else None,
    }


def _gas(view: VisitView, burns: content_fuel.Gas, system: System) -> dict[str, Any]:
    """Return the analysis: the picture is its table, each component with its interval."""
    doubts = {}
    for one in view.worked.readings:
        if one.place == "fuel" and one.state == "as_found":
            doubts[title_of(one.quantity).removesuffix(" in the gas")] = say(one, system).interval
    rows = tuple(
        replace(one, text=f"{one.text}, {doubts[one.title]}" if doubts.get(one.title) else one.text)
        for one in burns.components
    )
    label = "What burns: " + "; ".join(f"{one.title} {one.text}" for one in rows) + "."
    return {
        **paper(gas_bars, {"parts": burns.parts, "components": rows, "label": label}, WHOLE),
        "analysed": burns.analysed,
        "age": burns.age,
        "total": burns.total,
        "then": burns.then,
    }


# ---------------------------------------------------------------------- load


def _load(view: VisitView, system: System) -> dict[str, Any]:
    rating = content_load.site_rating(view, system)
    heat = content_heat.heat_split(view, system)
    efficiency = content_heat.efficiency(view, system)
    walls = {"load_fraction": (Wall(100.0, "site rating"), None)}
    return {
        "scales": _scales(view, LOAD, system, "engine", walls=walls, only=() if rating else ("load_fraction",)),
        "rating": {**paper(stairs, rating.picture, WHOLE), "says": list(rating.says), "method": rating.method}
        if rating
        else None,
        "heat": {**paper(stairs, heat.picture, WHOLE), "lacks": list(heat.lacks), "complete": heat.complete}
        if heat
        else None,
        "efficiency": {**paper(lanes, efficiency.picture, HALF), "published": efficiency.published}
        if efficiency
        else None,
    }


# ---------------------------------------------------------------------- exhaust


def _exhaust(view: VisitView, system: System) -> dict[str, Any]:
    settings = mixtures_for_limit(view, system)
    target = number_at(view.worked, "as_found/engine/target_excess_air_ratio")
    wanted = {"excess_air_ratio": Band(*mark_of(target, system).ends)} if target is not None else {}
    by = getattr(target, "said_by", "")
    said = {"excess_air_ratio": f"Wanted {say(target, system).value}{f', from {by}' if by else ''}."} if target else {}
    return {
        "general": _general(view),
        "scales": [
            one
            for one in _scales(view, EXHAUST, system, "", wanted=wanted, says=said)
            if one["where"] not in {each.where for each in settings}
        ],
        "mixtures": [
            {
                **paper(lanes, one.picture, HALF),
                "title": one.limit,
                "where": one.where,
                "says": [f"{state}. {says}" for state, says in one.says],
                "warnings": list(one.warnings),
            }
            for one in settings
        ],
        "catalysts": [one for each in catalysts(view, system) if any((one := _catalyst(view, each, system)).values())],
        "tests": [
            {
                "title": one.title,
                "runs": list(one.runs),
                "rows": [
                    {"gas": r.gas, "unit": r.unit, "mean": r.mean, "values": [list(pair) for pair in r.values]}
                    for r in one.rows
                ],
                "complete": one.complete,
                "fails": list(one.fails),
                "open": list(one.open),
                "kept": one.kept,
                "problem": one.problem,
            }
            for one in tests_shown(view)
        ],
    }


def _catalyst(view: VisitView, one: Catalyst, system: System) -> dict[str, Any]:
    """Return what a catalyst does; a temperature rise that stands beside nothing is said, not drawn."""
    drops = [f"{title}: {_both(both)}" for title, both in one.drop]
    if not one.rise:
        place = one.where.replace(" ", "_") or "engine"
        numbers = both_states(view.worked, place, "catalyst_temperature_rise")
        if numbers:
            said = _both({state: say(number, system) for state, number in numbers.items()})
            drops.insert(0, f"{title_of('catalyst_temperature_rise')}: {said}")
    return {
        "where": one.where,
        "conversion": paper(lanes, one.conversion, HALF) if one.conversion else None,
        "rise": paper(lanes, one.rise, HALF) if one.rise else None,
        "says": list(one.says),
        "drops": drops,
    }


def _both(said: Mapping[State, Said]) -> str:
    return "; ".join(
        f"{state.replace('_', ' ')} {one.whole}" + (f" ({one.interval})" if one.interval else "")
        for state, one in said.items()
    )


def _general(view: VisitView) -> dict[str, Any] | None:
    """Return which limits stand, and what general rules say beside them; None where nothing of the exhaust is known."""
    known = quantities()
    mine = tuple(one for one in view.limits if one.quantity in known and known[one.quantity].step == "exhaust")
    numbers: tuple[Number, ...] = (*view.worked.readings, *view.worked.results)
    if not mine and not any(one.quantity in known and known[one.quantity].step == "exhaust" for one in numbers):
        return None
    facts, _ = facts_of(view.engine.content)
    found = applicable(facts, rules(), mine, day=date.fromisoformat(view.visit.date))
    rows = [
        {
            "says": one.rule.says,
            "where": one.rule.where,
            "status": one.rule.status_words,
            "aside": f"put aside for the {one.overridden_by.name} ({one.overridden_by.as_typed})"
            if one.overridden_by is not None
            else "",
        }
        for one in found.applying
    ]
    if not mine:
        head = "No limit of a permit is on the record: nothing is judged."
    elif all(one.name == NOT_YOURS for one in mine):
        head = "No limit of the permit is on the record; what is judged is a general rule, not your permit."
    else:
        head = "The limit of the permit at hand is the one used; it goes before every general rule."
    asks = ", ".join(FACTS[one].ask for one in found.questions[:MOST_ASKED])
    return {"says": head, "rows": rows, "may": len(found.may_apply), "asks": asks, "name": NOT_YOURS}


# ---------------------------------------------------------------------- what the rooms share


def _scales(
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


def _ways(view: VisitView, room: Room, system: System, judged: Iterable[str]) -> dict[str, Any]:
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
