"""The log of an engine on one time axis: what moved, since when, where it goes; page of a visit and of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.responses import HTMLResponse
from starlette.routing import Route

from asfound.quantities.days import day_text
from asfound.report.content_history import WIDTHS, history_view
from asfound.report.content_history_channels import MOST, grouped
from asfound.report.content_history_tables import Tables, effects_of, tables_of
from asfound.report.history_logs import logs_of, zone_of
from asfound.report.history_window import window_of
from asfound.report.time_axis import SECOND, span_said
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web.frame import at_visit, visit_page
from asfound.web.held_pages import unfinished
from asfound.web.pages import Crumb, environment, house_of, page, prefs_of

if TYPE_CHECKING:
    from datetime import date

    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.report.content_history import HistoryView
    from asfound.report.history_logs import LogsOf
    from asfound.report.wording import System
    from asfound.web.house import House

SPANS = (("all", "All"), ("year", "Year"), ("month", "Month"), ("week", "Week"), ("day", "Day"))
CAUTIONS = ("local",)
MONTH = 365.25 / 12 * 86_400_000_000
"""[us]"""


def show_for_engine(request: Request) -> Response:
    """Show the whole log of an engine."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    base = house.engine_base(engine)
    system = prefs_of(request).system(engine.units)
    return page(
        request,
        "history_engine.html",
        title=f"History, {engine.tag}",
        heading="History",
        crumbs=(Crumb("/", "Engines"), Crumb(base, engine.tag), Crumb(f"{base}/history", "History")),
        base=base,
        **content(request, house, engine, None, base, system),
    )


def show_for_visit(request: Request) -> Response:
    """Show the log of an engine up to the day of a visit."""
    here = at_visit(request)
    engine = here.view.engine
    return visit_page(
        request,
        "history.html",
        here,
        step="history",
        title="History",
        **content(request, house_of(request), engine, here.view.visit, here.base, here.system),
    )


def _day(began: str) -> date:
    from datetime import datetime

    return datetime.fromisoformat(began).date()


def content(
    request: Request, house: House, engine: EngineRecord, visit: VisitRecord | None, base: str, system: System
) -> dict[str, Any]:
    """Return what both pages show."""
    from asfound.web.history_jobs import jobs_of

    logs = logs_of(house.records, engine, _day(visit.began) if visit is not None else None, visit)
    engine_base, jobs = house.engine_base(engine), jobs_of(house.records, engine.id)
    if any(one.going for one in jobs):
        unfinished(request)
    shared: dict[str, Any] = {
        "engine": engine,
        "logs": logs,
        "page_base": f"{base}/history",
        "engine_base": engine_base,
        "jobs": jobs,
        "fleet_size": len(house.engine_list()),
        "defers": DEFER,
        "cautions": cautions_for(CAUTIONS),
    }
    if logs is None:
        return shared
    shown = _shown(request, logs, system)
    tables = tables_of(logs.look, system, logs.zone) if logs.look is not None else Tables()
    there = logs.store.channels(logs.stored)
    return shared | {
        "shown": shown,
        "tables": tables,
        "did": effects_of(logs.newest, logs.visit, system),
        "did_day": day_text(logs.newest.day) if logs.newest is not None else "",
        "span_words": span_said(logs.span[0], logs.span[1] - 1, logs.zone),
        "months": max(round((logs.span[1] - logs.span[0]) / MONTH), 1),
        "channel_count": len(there),
        "groups": _found(grouped(there, system), request.query_params.get("find", "")),
        "find": request.query_params.get("find", ""),
        **links(request, shown, f"{base}/history"),
    }


def _shown(request: Request, logs: LogsOf, system: System) -> HistoryView:
    window = window_of(request.query_params, logs.span, logs.zone)
    return history_view(logs, request.query_params.getlist("row")[: 4 * MOST], window, system)


def _found(groups: list[tuple[str, list[Any]]], find: str) -> list[tuple[str, list[Any]]]:
    """Return the groups with the channels that hold every word typed."""
    words = find.casefold().split()
    if not words:
        return groups
    kept = [(title, [one for one in ones if all(w in one.title.casefold() for w in words)]) for title, ones in groups]
    return [(title, ones) for title, ones in kept if ones]


def links(request: Request, shown: HistoryView, where: str) -> dict[str, Any]:
    """Return the addresses of the stretches beside the one that is shown."""
    window = shown.window
    asked = request.query_params.getlist("row")
    rows = urlencode([("row", one) for one in asked])

    def to(query: str) -> str:
        return f"{where}?{query}{'&' + rows if rows else ''}#trend"

    spans = []
    for name, words in SPANS:
        query = f"span={name}" if name == "all" or window.named == "all" else f"span={name}&to={window.end // SECOND}"
        spans.append((to(query), words, window.named == name))
    return {
        "asked_rows": asked,
        "spans": spans,
        "earlier": to(window.moved(-0.5)),
        "later": to(window.moved(0.5)),
        "closer": to(window.zoomed(0.5)),
        "wider": to(window.zoomed(2.0)),
        "here_query": to(window.query()),
        "row_query": rows,
        "widths": WIDTHS,
        "only": 0,
    }


def show_part(request: Request) -> Response:
    """Return the picture alone, in one width, for the script that moves it."""
    house = house_of(request)
    if "day" in request.path_params:
        engine, visit = house.visit(request.path_params["engine"], request.path_params["day"])
        base = house.visit_base(visit, engine)
        logs = logs_of(house.records, engine, _day(visit.began), visit)
    else:
        engine = house.records.engine(request.path_params["engine"])
        base = house.engine_base(engine)
        logs = logs_of(house.records, engine)
    if logs is None:
        return HTMLResponse("", status_code=404)
    shown = _shown(request, logs, prefs_of(request).system(engine.units))
    given = links(request, shown, f"{base}/history") | {"shown": shown, "page_base": f"{base}/history"}
    width = request.query_params.get("only", "")
    given["only"] = int(width) if width in {str(one) for one in WIDTHS} else 0
    return HTMLResponse(environment().get_template("_history_trend.html").render(**given))


__all__ = ["ROUTES", "zone_of"]

ROUTES = [
    Route("/engines/{engine}/history", show_for_engine),
    Route("/engines/{engine}/history/part", show_part),
    Route("/engines/{engine}/{day}/history", show_for_visit),
    Route("/engines/{engine}/{day}/history/part", show_part),
]
