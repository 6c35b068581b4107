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
from asfound.report.content_exhaust import catalysts, mixtures_for_limit
from asfound.report.content_lanes import both_states, mark_of, number_at
from asfound.report.content_paper import HALF, WHOLE, paper, scales_of, ways_beside
from asfound.report.content_results import Assumed, of_room
from asfound.report.content_test_run import tests_shown
from asfound.report.gas_bars import gas_bars
from asfound.report.rooms import EXHAUST, FUEL, LOAD, ROOMS
from asfound.report.stairs import stairs
from asfound.report.wording import say, title_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_exhaust import Catalyst
    from asfound.report.content_lanes import Number
    from asfound.report.numbering import Sources
    from asfound.report.wording import Said, System

MOST_ASKED = 4
"""Facts that are named as what general rules ask for."""


def rooms(view: VisitView, system: System, sources: Sources, assumed: Assumed, *, full: bool = True) -> dict[str, Any]:
    """Return the sections of fuel gas, load and exhaust; a room of which nothing is known is None."""
    judged = [one.limit.quantity for one in view.limit_states]
    made = {"fuel": _fuel(view, system), "load": _load(view, system), "exhaust": _exhaust(view, system)}
    found: dict[str, Any] = {}
    for step, parts in made.items():
        room = ROOMS[step]
        found[step] = parts | {
            "title": view.steps[step].title if step in view.steps else step,
            "tables": of_room(view, room, system, sources, assumed, first=judged, full=full),
            **ways_beside(view, room, system, judged),
        }
        found[step]["shown"] = any(part for name, part in found[step].items() if name not in ("title", "tables"))
    return {step: one for step, one in found.items() if one["shown"] or one["tables"]}


# ---------------------------------------------------------------------- fuel gas


def _fuel(view: VisitView, system: System) -> dict[str, Any]:
    burns = content_fuel.gas(view, system)
    line = content_fuel.line(view, system)
    needed = content_fuel.knock(view, system)
    scales = scales_of(view, FUEL, system, "fuel", walls={"methane_number": (needed.wall, needed.undecided)} if needed
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
        "scales": scales_of(view, LOAD, system, "engine", walls=walls, only=() if rating else ("load_fraction",)),
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
            for one in scales_of(view, EXHAUST, system, "", wanted=wanted, says=said)
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
