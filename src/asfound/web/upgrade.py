"""Upgrade gap and money of an engine: targets compared, the way by stops, what it hangs on; choose, change, print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.quantities.parse import parse_number
from asfound.records.upgrade_of_engine import keep_plan, upgrade_of
from asfound.report.content_upgrade import upgrade_shown
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web.api import _plain
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from asfound.records.things import EngineRecord

CAUTIONS = ("config", "local")
PREFIX = "a:"
"""Before the name of an assumption in the form."""


def show(request: Request) -> Response:
    """Show the upgrade study of an engine; `?target=` looks at another target without choosing it."""
    return _page(request, {}, {})


def _page(request: Request, typed: Mapping[str, str], complaints: Mapping[str, str]) -> Response:
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    base = house.engine_base(engine)
    target = typed.get("target", "") or request.query_params.get("target", "")
    shown = upgrade_shown(upgrade_of(house.records, engine, target=target))
    content: dict[str, Any] = {
        "engine": engine,
        "shown": shown,
        "typed": typed,
        "complaints": complaints,
        "prefix": PREFIX,
        "cautions": cautions_for({*CAUTIONS, *shown.tags}),
        "defers": DEFER,
        "engine_base": base,
        "heading": "Upgrade gap and money",
        "status": 422 if complaints else 200,
    }
    if "day" in request.path_params:
        here = at_visit(request)
        content |= {"here_base": here.base, "sealed": bool(here.view.seal)}
        title = content.pop("heading")
        return visit_page(request, "upgrade.html", here, step="due", title=title, **content)
    crumbs = (Crumb("/", "Engines"), Crumb(base, engine.tag), Crumb(f"{base}/due", "Due", after=" and upgrade"))
    return page(
        request, "upgrade_engine.html", title=f"Upgrade, {engine.tag}", crumbs=crumbs, here_base=base, sealed=False,
        **content,
    )  # fmt: skip


def keep(request: Request, form: FormData) -> Response:
    """Keep the target that is chosen, and the assumptions that were changed."""
    house, prefs = house_of(request), prefs_of(request)
    engine = house.records.engine(request.path_params["engine"])
    typed = {name: text(form, name) for name in form}
    complaints: dict[str, str] = {}
    values = _values(house_of(request).records, engine, typed, complaints, prefs.decimal_sign)
    base = house.engine_base(engine)
    if "day" in request.path_params:
        base = at_visit(request).base
    if not complaints:
        try:
            keep_plan(house.records, engine, typed.get("target", ""), values, who=prefs.who, why=typed.get("why", ""))
        except AsFoundError as refused:
            complaints[refused.field if isinstance(refused, InputError) else "target"] = str(refused)
    if complaints:
        return _page(request, typed, complaints)
    return go(f"{base}/due/upgrade#money")


def _values(
    records: Any, engine: EngineRecord, typed: Mapping[str, str], complaints: dict[str, str], decimal: Any
) -> dict[str, float]:
    """Return the assumptions that differ from what stands without a person's hand."""
    found = upgrade_of(records, engine, target=typed.get("target", ""))
    now = {one.name: one.best for one in found.inputs.assumptions} if found.inputs else {}
    kept = dict(found.by_person.content.get("assumptions", {})) if found.by_person else {}
    values: dict[str, float] = {str(name): float(value) for name, value in kept.items()}
    for field, given in typed.items():
        if not field.startswith(PREFIX) or not given:
            continue
        name = field.removeprefix(PREFIX)
        try:
            number = parse_number(given, field=name, decimal=decimal).value
        except AsFoundError as refused:
            complaints[name] = str(refused)
            continue
        if number is None:
            complaints[name] = f"{name}: '{given}' is no number. Write digits, or leave it empty."
        elif name not in now or f"{number:g}" != f"{now[name]:g}":
            values[name] = float(number)
    if typed.get("add") and typed.get("add_value"):
        one = {"target": typed.get("target", ""), f"{PREFIX}{typed['add']}": typed["add_value"]}
        values |= _values(records, engine, one, complaints, decimal)
    return values


def give_pdf(request: Request) -> Response:
    """Give the page for the manager as PDF."""
    from asfound.report.typeset import manager_sheet

    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    target = request.query_params.get("target", "")
    content = manager_sheet(upgrade_of(house.records, engine, target=target), engine, house.records.clock.now().date())
    name = "".join(one if one.isascii() and one.isalnum() else "_" for one in engine.tag)
    return Response(
        content, media_type="application/pdf",
        headers={"content-disposition": f'attachment; filename="upgrade_{name}.pdf"'},
    )  # fmt: skip


def show_data(request: Request) -> Response:
    """Return the upgrade study as JSON."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    found = upgrade_of(house.records, engine, target=request.query_params.get("target", ""))
    return JSONResponse(
        _plain(
            {
                "problem": found.problem,
                "chosen": found.chosen.id if found.chosen else None,
                "study": found.study.as_dict() if found.study else None,
                "case": found.case.as_dict() if found.case else None,
                "assumptions_fit": found.fits,
            }
        )
    )


ROUTES = [
    Route("/engines/{engine}/due/upgrade", show),
    Route("/engines/{engine}/due/upgrade", acting(keep), methods=["POST"]),
    Route("/engines/{engine}/due/upgrade.pdf", give_pdf),
    Route("/engines/{engine}/{day}/due/upgrade", show),
    Route("/engines/{engine}/{day}/due/upgrade", acting(keep), methods=["POST"]),
    Route("/api/engines/{engine}/upgrade", show_data),
]
"""Before `due`: its forms take any word behind `due/`."""
