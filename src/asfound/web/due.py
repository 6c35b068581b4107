"""What is due on an engine: on the ruler, in stops, by its oil; what was done, and forms to say so. Page and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError, UnknownNameError
from asfound.records.upkeep_of_engine import of_kind, tasks_of, upkeep_of
from asfound.records.upkeep_typed import NUMBERS, keep_typed
from asfound.report.content_due import DAYS, due_shown
from asfound.report.content_due_words import day_text, hours_text
from asfound.report.content_failures import left_open, proposals
from asfound.sources.cautions import DEFER, cautions_for
from asfound.upkeep.oil_of_engine import PROPERTIES
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.upkeep.engine_due import EngineDue

FORMS: Mapping[str, str] = {
    "done": "task_done",
    "meter": "meter_exchanged",
    "oil": "oil_sample",
    "limit": "oil_limit",
    "order": "work_order",
    "failure": "failure",
    "plan": "upkeep_plan",
}
"""What an address calls a form, and the kind of entry that it keeps."""
OIL_FIRST = ("acid_number", "base_number", "viscosity_100", "water", "oxidation", "nitration", "iron", "copper", "lead",
             "silicon")  # fmt: skip
CAUTIONS = ("loto", "local")
MOST_DONE = 30


def show_for_engine(request: Request) -> Response:
    """Show what is due on an engine, as of today."""
    return _engine_page(request, {}, {}, "")


def _engine_page(request: Request, typed: Mapping[str, str], complaints: Mapping[str, str], form: str) -> Response:
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    base = house.engine_base(engine)
    due = upkeep_of(house.records, engine)
    return page(
        request,
        "due_engine.html",
        title=f"Due and upgrade, {engine.tag}",
        heading="Due and upgrade",
        crumbs=(Crumb("/", "Engines"), Crumb(base, engine.tag), Crumb(f"{base}/due", "Due", after=" and upgrade")),
        status=422 if complaints else 200,
        engine=engine,
        base=base,
        sealed=False,
        **_content(house.records, engine, due, base, typed, complaints, form),
    )


def show_for_visit(request: Request) -> Response:
    """Show what is due on the engine of a visit; of a closed visit as it was known then."""
    return _visit_page(request, {}, {}, "")


def _visit_page(request: Request, typed: Mapping[str, str], complaints: Mapping[str, str], form: str) -> Response:
    here = at_visit(request)
    house = house_of(request)
    view = here.view
    base = house.engine_base(view.engine)
    content = _content(house.records, view.engine, view.due, here.base, typed, complaints, form)
    return visit_page(
        request,
        "due.html",
        here,
        step="due",
        title="Due and upgrade",
        status=422 if complaints else 200,
        engine=view.engine,
        engine_base=base,
        sealed=bool(view.seal),
        **content,
    )


def _content(
    records: Records,
    engine: EngineRecord,
    due: EngineDue,
    base: str,
    typed: Mapping[str, str],
    complaints: Mapping[str, str],
    form: str,
) -> dict[str, Any]:
    """Return what both pages show."""
    shown = due_shown(due)
    tags = {*CAUTIONS, *(tag for one in (due.stops.stops if due.stops else ()) for tag in one.tags)}
    tasks = tasks_of(records)[0].tasks
    orders = list(reversed(of_kind(records, engine.id, "work_order", due.today)))
    failures = list(reversed(of_kind(records, engine.id, "failure", due.today)))
    return {
        "due": due,
        "shown": shown,
        "days": DAYS,
        "post": f"{base}/due",
        "files": f"{_engine_base(base)}/due",
        "cautions": cautions_for(tags),
        "defers": DEFER,
        "done_rows": _done_rows(records, engine, due),
        "meter_rows": _meter_rows(due),
        "exchange_rows": of_kind(records, engine.id, "meter_exchanged", due.today),
        "order_rows": orders,
        "failure_rows": failures,
        "proposed": proposals(orders),
        "left_open": left_open(failures, engine.tag),
        "sample_rows": list(reversed(of_kind(records, engine.id, "oil_sample", due.today)))[:MOST_DONE],
        "task_choices": [(one.id, one.title) for one in sorted(tasks.values(), key=lambda each: each.title)],
        "task_titles": {one.id: one.title for one in tasks.values()},
        "oil_fields": [(name, *PROPERTIES[name]) for name in OIL_FIRST],
        "oil_choices": [(name, title) for name, (title, _) in PROPERTIES.items()],
        "oil_more": [(name, *PROPERTIES[name]) for name in PROPERTIES if name not in OIL_FIRST],
        "typed": typed,
        "complaints": complaints,
        "form": form,
        "today": due.today,
    }


def _engine_base(base: str) -> str:
    """Return the address of the engine, from its own or from that of a visit."""
    return base if base.count("/") == 2 else base.rsplit("/", 1)[0]


def _done_rows(records: Records, engine: EngineRecord, due: EngineDue) -> list[dict[str, str]]:
    """Return what was noted as done, the newest first."""
    titles = {one.id: one.title for one in tasks_of(records)[0].tasks.values()}
    found = reversed(of_kind(records, engine.id, "task_done", due.today))
    return [
        {
            "title": titles.get(str(one.content["task"]), str(one.content["task"])),
            "day": day_text(_day(one), year=True),
            "hours": hours_text(float(one.content["hours"])),
            "by": str(one.content.get("by") or one.who),
            "note": str(one.content.get("note", "")),
            "entry": one.id,
        }
        for one in found
    ]


def _meter_rows(due: EngineDue) -> list[dict[str, str]]:
    """Return the readings of the hour meter, the newest first, one for each day."""
    where = {
        "visit": "visit",
        "task_done": "work done",
        "oil_sample": "oil sample",
        "work_order": "order",
        "failure": "failure",
        "meter_exchanged": "meter exchanged",
    }
    by_day = {one.day: one for one in due.readings}
    return [
        {
            "day": day_text(one.day, year=True),
            "shown": hours_text(one.shown),
            "true": hours_text(one.true),
            "where": where.get(one.source, one.source),
        }
        for one in reversed(list(by_day.values()))
    ]


def _day(entry: Entry) -> Any:
    from datetime import date

    return date.fromisoformat(str(entry.content["date"]))


def keep(request: Request, form: FormData) -> Response:
    """Keep one entry of upkeep from a form; what cannot be is said beside its field."""
    house, prefs = house_of(request), prefs_of(request)
    name = request.path_params["what"]
    engine = house.records.engine(request.path_params["engine"])
    visit, base = None, house.engine_base(engine)
    if "day" in request.path_params:
        here = at_visit(request)
        visit, base = (None if here.view.seal else here.id), here.base
    if name == "undo":
        entry = house.records.entry(text(form, "entry"))
        if entry.engine != engine.id or entry.visit is not None or entry.kind not in (*FORMS.values(), "upgrade_plan"):
            raise UnknownNameError("entry of this engine's upkeep", entry.id, ())
        house.records.undo(entry.id, who=prefs.who)
        return go(f"{base}/due#{text(form, 'back') or 'work'}")
    if name not in FORMS:
        raise UnknownNameError("form", name, FORMS)
    typed = {field: text(form, field) for field in form}
    try:
        keep_typed(house.records, engine, FORMS[name], typed, who=prefs.who, decimal=prefs.decimal_sign, visit=visit)
    except AsFoundError as refused:
        field = refused.field.rsplit(".", 1)[-1] if isinstance(refused, InputError) else "task"
        return (_visit_page if "day" in request.path_params else _engine_page)(
            request, typed, {field: str(refused)}, name
        )
    return go(f"{base}/due#{ANCHORS[name]}")


ANCHORS = {
    "done": "work",
    "meter": "meter",
    "oil": "oil",
    "limit": "oil",
    "order": "orders",
    "failure": "orders",
    "plan": "list",
}
"""Where the page opens after a form was kept."""

assert set(FORMS.values()) == set(NUMBERS)

ROUTES = [
    Route("/engines/{engine}/due", show_for_engine),
    Route("/engines/{engine}/due/{what}", acting(keep), methods=["POST"]),
    Route("/engines/{engine}/{day}/due", show_for_visit),
    Route("/engines/{engine}/{day}/due/{what}", acting(keep), methods=["POST"]),
]
