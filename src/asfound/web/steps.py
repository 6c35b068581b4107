"""The pages on which readings are taken: fuel, load, exhaust, cylinders, all others. One handler serves them all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

from starlette.exceptions import HTTPException
from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.quantities.register import quantities, quantity
from asfound.quantities.words import Result
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web import page_cylinders, page_exhaust, page_fuel, page_load, words
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of, prefs_of, wants_parts
from asfound.web.readings import (
    PUT,
    UNIT,
    VALUE,
    Complaint,
    also_asked,
    items_of,
    keep,
    place_words,
    reading_content,
    rows_of,
    split_key,
    typed_at,
)
from asfound.web.results import cards_of, shared_assumptions, shown, waiting
from asfound.web.trail import assumption, folded, trail_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.visit import VisitView
    from asfound.web.frame import AtVisit

LONGEST_SETTING = 20_000


class OwnPage(Protocol):
    """A page with a layout of its own."""

    TEMPLATE: str

    def content(self, here: AtVisit) -> dict[str, Any]:
        """Return what the page shows beyond its readings."""


PLAIN: dict[str, Any] = {"folded_rows": (), "folded_title": "", "jumps": (), "limit_note": None}
"""What a page without a layout of its own leaves out."""
OWN: dict[str, OwnPage] = {
    "fuel": page_fuel,
    "load": page_load,
    "exhaust": page_exhaust,
    "cylinders": page_cylinders,
}
ORDERS = {"cylinders": page_cylinders.rows_in_order}
"""Steps whose readings stand in an order of their own."""
LEADS = {
    "fuel": "What burns: its analysis, pressure and temperature. An analysis carries its date.",
    "load": "What the engine gives, and what the site lets it give.",
    "exhaust": "Portable analyser, probe in dry exhaust. Results follow while you type; every figure is kept as typed.",
    "cylinders": "Exhaust temperatures against the median of their own bank; what can be behind one that stands apart.",
    "other": "The rest of the as-found set: pressures, temperatures, positions, settings.",
}


def show_step(
    request: Request, *, complaints: Mapping[str, Complaint] | None = None, extra: Mapping[str, Any] | None = None
) -> Response:
    """Show the readings of a step in two columns, and what they come to."""
    step = request.path_params["step"]
    if step not in LEADS:
        raise HTTPException(404)
    here = at_visit(request)
    made = _content(here, step)
    large = made["large"]
    chosen = _chosen(here.view, request.query_params.get("trail", ""), large)
    used = {
        tag
        for card in (*large, *(one for _, cards in made["groups"] for one in cards))
        for side in card.sides
        if isinstance(side.number, Result)
        for tag in side.number.cautions
    }
    cautions = cautions_for(used | set(made.get("caution_tags", ())))
    empty = {name for name, there in (("ways", made.get("ways")), ("cautions", cautions)) if not there}
    made["jumps"] = [jump for jump in made["jumps"] if jump[0] not in empty]
    status = 422 if complaints or extra else 200
    return visit_page(
        request,
        OWN[step].TEMPLATE if step in OWN else "step.html",
        here,
        step=step,
        title=words.STEPS[step][0],
        status=status,
        lead=LEADS[step],
        rows=rows_of(_items(here.view, step), here, complaints or {}),
        complaints=complaints or {},
        **made,
        waiting=waiting(here.view, step),
        elsewhere=_elsewhere(here, step),
        trail=folded(trail_of(here.view.worked, chosen, here.system)) if chosen else [],
        trail_of=chosen,
        cautions=cautions,
        defers=DEFER,
        instruments=here.view.instruments,
        instrument=request.cookies.get("instrument", ""),
        can_add=_can_add(step),
        also=also_asked(here.view, step),
        settings=_settings(here.view),
        extra=extra or {},
        VALUE=VALUE,
        UNIT=UNIT,
        PUT=PUT,
        assumption=assumption,
        assumed_by_several=shared_assumptions(large),
        taken=here.view.steps[step].found > 0 if step in here.view.steps else False,
    )


def _items(view: VisitView, step: str) -> list[tuple[str, str, str]]:
    """Return the readings of a step in the order of their fields, which is that of the keyboard."""
    items = items_of(view, step)
    return ORDERS[step](items) if step in ORDERS else items


def _content(here: AtVisit, step: str) -> dict[str, Any]:
    """Return what a page shows beyond its readings: by its own layout where it has one."""
    if step in OWN:
        return PLAIN | OWN[step].content(here)
    cards, small = cards_of(here.view, step, here.system)
    large = [one for one in cards if one.against]  # the rest of the set has no number that the visit is about
    small = [*(one for one in cards if not one.against), *small]
    groups = [("In other words, and on the way", small)] if small else []
    return {"large": large, "groups": groups, "decisions": {}, "card_says": {}} | PLAIN


def _chosen(view: VisitView, asked: str, large: list[Any]) -> Result | None:
    """Return the result whose trail is shown: the one asked for, else the first."""
    if asked:
        key, _, sheet = asked.partition("@")
        return view.worked.result(key, sheet or None)
    return next((card.best.number for card in large if isinstance(card.best.number, Result)), None)


FEW = 3
"""More lines than this from one place of one page are folded away: they are the way, not the destination."""


def _elsewhere(here: AtVisit, step: str) -> list[dict[str, Any]]:
    """Return what the results of this step take from other pages: shown with a link, not typed again."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for result in here.view.worked.results:
        if quantity(result.quantity).step != step:
            continue
        for one in result.inputs:
            about = quantity(one.quantity)
            if about.step == step or (not isinstance(one, Result) and one.origin == "assumed"):
                continue
            line = found.setdefault(
                (one.place, one.quantity), {"about": about, "where": place_words(one.place), "states": {}}
            )
            line["states"][result.state] = shown(one, here.system)
    return [line | {"folded": len(group) > FEW} for group in _by_page(found.values()) for line in group]


def _by_page(lines: Iterable[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Return lines that come from one place of one page together, in the order met."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for line in lines:
        groups.setdefault((line["about"].step, line["where"]), []).append(line)
    return list(groups.values())


def _settings(view: VisitView) -> dict[tuple[str, str], str]:
    """Return what was written down of the engine's settings, by name and state."""
    return {
        (str(one.content["name"]), str(one.content["state"])): str(one.content["as_typed"]) for one in view.settings
    }


def keep_setting(request: Request, form: FormData) -> Response:
    """Keep a setting of the engine's controls as it stands, by name."""
    here, house, step = at_visit(request), house_of(request), request.path_params["step"]
    typed = text(form, "as_typed")[:LONGEST_SETTING]
    if typed:
        content = {
            "name": text(form, "name"),
            "as_typed": typed,
            "state": here.prefs.column,
            "time": typed_at(request, house),
        }
        before = next(
            (
                one
                for one in here.view.settings
                if (one.content["name"], one.content["state"]) == (content["name"], content["state"])
            ),
            None,
        )
        house.records.append(
            "setting", content, visit=here.id, corrects=before.id if before else None, who=here.prefs.who
        )
    return go(f"{here.base}/{step}#also")


def _can_add(step: str) -> list[Any]:
    """Return quantities that can be added to this step."""
    steps = (step,) if step != "other" else tuple(words.STEPS)
    return sorted((one for one in quantities().values() if one.step in steps), key=lambda one: one.title)


def keep_readings(request: Request, form: FormData) -> Response:
    """Keep what was typed; what cannot be comes back beside its field."""
    here, house = at_visit(request), house_of(request)
    complaints = keep(request, form, here, house)
    if complaints or wants_parts(request):
        with house.records.steady():
            return show_step(request, complaints=complaints)
    answer = go(f"{here.base}/{request.path_params['step']}")
    if "instrument" in form:
        answer.set_cookie("instrument", text(form, "instrument"), path=here.base, samesite="strict")
    return answer


def add_reading(request: Request, form: FormData) -> Response:
    """Keep a reading that the step did not ask for."""
    here, house, step = at_visit(request), house_of(request), request.path_params["step"]
    typed = {name: text(form, name) for name in ("quantity", "place", "value", "unit", "state")}
    key = f"{typed['state'] or prefs_of(request).column}/{typed['place'] or 'engine'}/{typed['quantity']}"
    try:
        state, place, name = split_key(key)
        content = reading_content(
            typed["value"],
            quantity(name),
            place=place,
            state=state,
            when=typed_at(request, house),
            here=here,
            unit=typed["unit"],
            instrument=text(form, "instrument"),
            house=house,
        )
        house.records.append("reading", content, visit=here.id, who=here.prefs.who)
    except AsFoundError as refused:
        return show_step(request, extra={**typed, "says": str(refused)})
    return go(f"{here.base}/{quantity(name).step if quantity(name).step in LEADS else step}#{VALUE}{key}")


ROUTES = [
    Route("/engines/{engine}/{day}/{step:str}", show_step),
    Route("/engines/{engine}/{day}/{step:str}", acting(keep_readings), methods=["POST"]),
    Route("/engines/{engine}/{day}/{step:str}/setting", acting(keep_setting), methods=["POST"]),
    Route("/engines/{engine}/{day}/{step:str}/add", acting(add_reading), methods=["POST"]),
]
