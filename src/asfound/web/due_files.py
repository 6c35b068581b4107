"""The due list as PDF, table and calendar, and the door for programs: what is due, and work kept as done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from asfound.errors import InputError
from asfound.records.upkeep_files import calendar_of
from asfound.records.upkeep_of_engine import fleet, upkeep_of
from asfound.records.upkeep_typed import keep_typed
from asfound.report.content_due_data import due_data
from asfound.report.due_files import due_calendar, due_csv
from asfound.web.api import _plain, taking
from asfound.web.api_bodies import body_of
from asfound.web.due_bodies import UpkeepBody
from asfound.web.pages import house_of, prefs_of

if TYPE_CHECKING:
    from starlette.requests import Request

    from asfound.report.due_files import Kind


def _file(content: bytes, name: str, media_type: str) -> Response:
    return Response(content, media_type=media_type, headers={"content-disposition": f'attachment; filename="{name}"'})


def _safe(tag: str) -> str:
    """Return a tag that can stand in a file name."""
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "_" for sign in tag)


def give_pdf(request: Request) -> Response:
    """Give the due list and stop plan of an engine as PDF."""
    from asfound.report.typeset import stop_sheets

    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    due = upkeep_of(house.records, engine)
    return _file(stop_sheets(due, engine), f"due_{_safe(engine.tag)}_{due.today}.pdf", "application/pdf")


def give_csv(request: Request) -> Response:
    """Give the due list of an engine as a table."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    due = upkeep_of(house.records, engine)
    text = due_csv([(engine.tag, engine.site.name if engine.site else "", due)])
    return _file(text.encode("utf-8-sig"), f"due_{_safe(engine.tag)}_{due.today}.csv", "text/csv; charset=utf-8")


def give_calendar(request: Request) -> Response:
    """Give due tasks and stops of an engine as a calendar file; `?kind=todo` gives tasks to be ticked off."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    content = due_calendar(calendar_of(house.records, [engine]), kind=_kind(request.query_params.get("kind", "event")))
    return _file(content, f"due_{_safe(engine.tag)}.ics", "text/calendar; charset=utf-8")


def give_fleet_csv(request: Request) -> Response:
    """Give the due list of all engines as one table."""
    house = house_of(request)
    rows = [(one.tag, one.site.name if one.site else "", due) for one, due in fleet(house.records)]
    return _file(due_csv(rows).encode("utf-8-sig"), "due.csv", "text/csv; charset=utf-8")


def give_fleet_calendar(request: Request) -> Response:
    """Give due tasks and stops of all engines as one calendar file."""
    records = house_of(request).records
    content = due_calendar(
        calendar_of(records, records.engines()), kind=_kind(request.query_params.get("kind", "event"))
    )
    return _file(content, "due.ics", "text/calendar; charset=utf-8")


def _kind(text: str) -> Kind:
    """Return how tasks are written into a calendar."""
    if text == "event":
        return "event"
    if text == "todo":
        return "todo"
    raise InputError("kind", text, "is no kind of entry in a calendar", allowed="event, todo")


def show_due(request: Request) -> Response:
    """Return what is due on an engine as JSON."""
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    return JSONResponse(_plain(due_data(upkeep_of(house.records, engine))))


def show_fleet(request: Request) -> Response:
    """Return what is due on every engine as JSON."""
    return JSONResponse(_plain([due_data(due) for _, due in fleet(house_of(request).records)]))


def keep_upkeep(request: Request, body: Any) -> Response:
    """Keep one entry of upkeep."""
    asked = body_of(UpkeepBody, body)
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    who = prefs_of(request).who
    decimal = prefs_of(request).decimal_sign
    entry = keep_typed(house.records, engine, asked.kind, asked.fields, who=who, decimal=decimal)
    return JSONResponse(_plain(entry.as_dict()), status_code=201)


ROUTES = [
    Route("/due.csv", give_fleet_csv),
    Route("/due.ics", give_fleet_calendar),
    Route("/engines/{engine}/due.pdf", give_pdf),
    Route("/engines/{engine}/due.csv", give_csv),
    Route("/engines/{engine}/due.ics", give_calendar),
    Route("/api/due", show_fleet),
    Route("/api/engines/{engine}/due", show_due),
    Route("/api/engines/{engine}/upkeep", taking(keep_upkeep), methods=["POST"]),
]
