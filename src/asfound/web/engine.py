"""An engine: describe it, put its description right, its limits, its visits, and what was believed of it over time."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.quantities.limits import limit_value
from asfound.quantities.parse import parse_amount, parse_number
from asfound.quantities.register import quantities, quantity
from asfound.records.points import left_by_visits
from asfound.web.findings import change_left
from asfound.web.forms import acting, text
from asfound.web.held_pages import unfinished
from asfound.web.home_rows import summaries
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.web.house import House

PLATE = ("family", "works_number", "generation")
TWICE = timedelta(minutes=1)
"""An empty visit that was opened less than this ago is the one that is meant when the button is pressed again."""


def new_engine(
    request: Request, *, typed: Mapping[str, str] | None = None, complaints: Mapping[str, str] | None = None
) -> Response:
    """Show the form that describes an engine."""
    house = house_of(request)
    return page(
        request,
        "engine_new.html",
        title="Describe an engine",
        status=422 if complaints else 200,
        crumbs=(Crumb("/", "Engines"), Crumb("/engines/new", "Describe an engine")),
        typed=typed or {},
        complaints=complaints or {},
        sites=house.records.sites().values(),
        families=house.catalogue.families.values(),
    )


def keep_new_engine(request: Request, form: FormData) -> Response:
    """Keep a new engine and, if it was typed, its site."""
    from asfound.records.store import Draft

    house = house_of(request)
    typed = {name: text(form, name) for name in form}
    complaints: dict[str, str] = {}
    drafts = []
    if typed.get("site") == "new":
        drafts.append(Draft(kind="site", content=_site(typed, complaints), who=prefs_of(request).who))
    content = engine_content(typed, complaints)
    if not content["tag"]:
        complaints["tag"] = "An engine needs a tag, as the site calls it. Write A2, or G1."
    if complaints:
        return new_engine(request, typed=typed, complaints=complaints)
    if typed.get("site") and not drafts:
        content["site"] = typed["site"]
    try:
        if drafts:
            content["site"] = house.records.append_many(drafts)[0].id
        written = house.records.append("engine", content, who=prefs_of(request).who).id
    except InputError as refused:
        return new_engine(request, typed=typed, complaints={refused.field.rsplit(".", 1)[-1]: str(refused)})
    return go(house.engine_base(house.records.engine(written)))


def _site(typed: Mapping[str, str], complaints: dict[str, str]) -> dict[str, Any]:
    """Return a site from the form."""
    content: dict[str, Any] = {"name": typed.get("site_name", ""), "units": typed.get("site_units", "si")}
    if not content["name"]:
        complaints["site_name"] = "A new site needs a name."
    height = _amount(typed.get("site_height", ""), "site_height", complaints, quantity_name="site_height")
    if height is not None:
        content["height"] = height
    return content


def _amount(typed: str, field: str, complaints: dict[str, str], *, quantity_name: str) -> float | None:
    if not typed:
        return None
    try:
        return parse_amount(typed, quantity=quantity_name, field=field).value
    except InputError as refused:
        complaints[field] = str(refused)
        return None


def engine_content(typed: Mapping[str, str], complaints: dict[str, str]) -> dict[str, Any]:
    """Return the content of an engine entry from the form; what was left empty is left out."""
    content: dict[str, Any] = {
        "tag": typed.get("tag", ""),
        "family": typed.get("family", ""),
        "works_number": typed.get("works_number", ""),
        "driven": typed.get("driven", ""),
        "driven_text": typed.get("driven_text", ""),
        "plate": {name: value for name in PLATE if (value := typed.get(f"plate_{name}", ""))},
        "note": typed.get("note", ""),
    }
    cylinders = _count(typed, "cylinders", complaints, low=1, high=24)
    if cylinders and typed.get("layout"):
        content["layout"] = {"form": typed["layout"], "cylinders": cylinders}
    if typed.get("first_at"):
        names = "L1" if typed.get("layout") == "vee" else "1"
        content["numbering"] = {"first_at": typed["first_at"], "names": names}
    turbochargers = _count(typed, "turbochargers", complaints, low=0, high=8)
    if turbochargers is not None:
        content["turbochargers"] = {"count": turbochargers, "end": typed.get("turbo_end", "")}
    for name in ("catalyst", "bearings_measured"):
        if typed.get(name) in {"yes", "no"}:
            content[name] = typed[name] == "yes"
    return content


def _count(typed: Mapping[str, str], name: str, complaints: dict[str, str], *, low: int, high: int) -> int | None:
    """Return a whole number, or None where nothing was typed."""
    given = typed.get(name, "")
    if not given:
        return None
    try:
        value = parse_number(given).value
    except InputError as refused:
        complaints[name] = str(refused)
        return None
    if value is None or value != int(value) or not low <= value <= high:
        complaints[name] = f"'{given}' cannot be: {low} to {high}, a whole number."
        return None
    return int(value)


def show_engine(
    request: Request, *, complaints: Mapping[str, str] | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """Show an engine: what it is, what was believed of it at each visit, its limits."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    newest_first = list(reversed(house.records.visits(engine.id)))
    known = summaries(house, newest_first)
    visits = [(one, known.get(one.id), house.visit_base(one, engine)) for one in newest_first]
    waiting = sum(one is None for _, one, _ in visits)
    if waiting:
        unfinished(request)
    limits = [one for one in house.records.fold(engine.id).current if one.kind == "limit"]
    return page(
        request,
        "engine.html",
        title=engine.tag,
        status=422 if complaints else 200,
        crumbs=(Crumb("/", "Engines"), Crumb(house.engine_base(engine), engine.tag)),
        engine=engine,
        base=house.engine_base(engine),
        visits=visits,
        waiting=waiting,
        limits=limits,
        left=left_by_visits(house.records, engine),
        quantity=quantity,
        open_visit=next((base for one, _, base in visits if not one.sealed), ""),
        complaints=complaints or {},
        typed=typed or {},
        can_limit=[one for one in quantities().values() if one.step != "fitted"],
    )


def open_visit(request: Request, form: FormData) -> Response:
    """Begin a visit now."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    now = house.records.clock.now()
    content: dict[str, Any] = {
        "purpose": text(form, "purpose"),
        "began": now.isoformat(timespec="seconds"),
        "people": [prefs_of(request).who],
        "catalogue_digest": house.catalogue.digest,
    }
    until = text(form, "permit_until")
    if until:
        hours, _, rest = until.partition(":")
        if not (hours.isdigit() and rest.isdigit() and int(hours) < 24 and int(rest) < 60):
            return show_engine(
                request, complaints={"permit_until": f"'{until}' is no time of day. Write 16:00."}, typed=dict(content)
            )
        content["permit_until"] = now.replace(hour=int(hours), minute=int(rest), second=0).isoformat(timespec="seconds")
    again = _pressed_twice(house, engine, now)
    if again is not None:
        return go(house.visit_base(again, engine))
    entry = house.records.append("visit_opened", content, engine=engine.id, who=prefs_of(request).who)
    return go(house.visit_base(house.records.visit(entry.id), engine))


def _pressed_twice(house: House, engine: EngineRecord, now: datetime) -> VisitRecord | None:
    """Return the visit that was opened a moment ago and holds nothing yet: the button was pressed twice."""
    last = next(iter(house.records.visits(engine.id)[-1:]), None)
    if last is None or last.sealed or not timedelta() <= now - datetime.fromisoformat(last.began) < TWICE:
        return None
    return last if len(house.records.entries(visit=last.id)) <= 1 else None


def keep_limit(request: Request, form: FormData) -> Response:
    """Keep a limit of this engine: what it is of, its value, its text."""
    house, prefs = house_of(request), prefs_of(request)
    engine = house.records.engine(request.path_params["engine"])
    typed = {name: text(form, name) for name in ("quantity", "value", "side", "name", "text", "basis", "place")}
    try:
        amount = parse_amount(
            typed["value"],
            quantity=typed["quantity"],
            field="value",
            decimal=prefs.decimal_sign,
            system=prefs.system(engine.units),
        )
        content = {
            **typed,
            "value": limit_value(amount, typed["quantity"], "value"),
            "as_typed": amount.as_typed,
            "side": typed["side"] or "upper",
            "name": typed["name"] or "permit",
        }
        house.records.append("limit", content, engine=engine.id, who=prefs.who)
    except AsFoundError as refused:
        return show_engine(request, complaints={"value": str(refused)}, typed=typed)
    return go(f"{house.engine_base(engine)}#limits")


def close_point(request: Request, form: FormData) -> Response:
    """Say that an open point which a visit left is done, or take that back."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    change_left(house, engine, form, who=prefs_of(request).who)
    return go(f"{house.engine_base(engine)}#points")


def withdraw(request: Request, form: FormData) -> Response:
    """Make a limit void by adding a line."""
    from asfound.records.log_import import take_back

    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    take_back(house.records, house.records.entry(text(form, "entry")), who=prefs_of(request).who)
    return go(f"{house.engine_base(engine)}#limits")


ROUTES = [
    Route("/engines/new", new_engine),
    Route("/engines/new", acting(keep_new_engine), methods=["POST"]),
    Route("/engines/{engine}", show_engine),
    Route("/engines/{engine}/visits", acting(open_visit), methods=["POST"]),
    Route("/engines/{engine}/limits", acting(keep_limit), methods=["POST"]),
    Route("/engines/{engine}/undo", acting(withdraw), methods=["POST"]),
    Route("/engines/{engine}/point_done", acting(close_point), methods=["POST"]),
]
