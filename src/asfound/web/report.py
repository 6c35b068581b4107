"""The report: what will be handed over, the files it becomes, closing the visit, and what is added afterwards."""

from __future__ import annotations

import json
import tempfile
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.language import LANGUAGES
from asfound.records.lock import passing_in
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.ledger import ledger
from asfound.web.pages import Crumb, go, house_of, page, prefs_of
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from typing import IO

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from asfound.web.frame import AtVisit

TABLES = {
    "readings": "Readings",
    "results": "Results",
    "looks": "Looks",
    "differences": "As found and as left",
    "trouble": "What was told of a trouble",
}


def show_report(request: Request, *, complaint: str = "", verification: Any = None) -> Response:
    """Show what the report says, before it is a paper."""
    from asfound.report.content import report_content
    from asfound.web.readers import listed

    here = at_visit(request)
    return visit_page(
        request,
        "report.html",
        here,
        step="report",
        title="Report",
        content=report_content(here.view, system=here.system, proof=False, full=False),
        rows=ledger(here),
        complaint=complaint,
        verification=verification,
        tables=TABLES,
        listed=listed(house_of(request), here),
        languages=LANGUAGES,
        status=409 if complaint else 200,
    )


def _file(name: str, here: AtVisit, data: bytes | str, kind: str) -> Response:
    return _named(name, here.view.visit.name, data, kind)


def _named(name: str, visit: str, data: bytes | str, kind: str) -> Response:
    """Return a file that is called by its visit."""
    stem = visit.replace("/", "-")
    plain = "".join(one if one.isascii() and (one.isalnum() or one in "-_.") else "_" for one in stem)
    return Response(data, media_type=kind, headers={"content-disposition": f'attachment; filename="{plain}{name}"'})


def report_pdf(request: Request) -> Response:
    """Return the report as PDF: set, or as it was kept; with ``full``, every result, trail, look and weight."""
    from asfound.report.kept_paper import report_of

    house = house_of(request)
    engine, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    full = "full" in request.query_params
    content = report_of(house.records, visit, system=prefs_of(request).system(engine.units), full=full)
    return _named("-full.pdf" if full else ".pdf", visit.name, content, "application/pdf")


def operator_pdf(request: Request) -> Response:
    """Typeset the half page for the shift."""
    from asfound.report.typeset import operator_sheet

    here = at_visit(request)
    return _file("-shift.pdf", here, operator_sheet(here.view, system=here.system), "application/pdf")


def record_json(request: Request) -> Response:
    """Return the record of the visit by the published schema; with ``files``, photos are inside."""
    from asfound.records.export import as_json, visit_record

    here, house = at_visit(request), house_of(request)
    record = visit_record(house.records, here.id, files="files" in request.query_params)
    return _file(".json", here, as_json(record), "application/json")


def record_csv(request: Request) -> Response:
    """Return one table of the visit."""
    from asfound.records import tables_csv

    table = request.path_params["table"]
    if table not in TABLES:
        raise HTTPException(404)
    here = at_visit(request)
    return _file(f"-{table}.csv", here, getattr(tables_csv, f"{table}_csv")(here.view), "text/csv; charset=utf-8")


def record_schema(_request: Request) -> Response:
    """Return the schema that the data file follows."""
    from asfound.records.schema import schema

    return Response(json.dumps(schema(), ensure_ascii=False, indent=1), media_type="application/schema+json")


def close_visit(request: Request, form: FormData) -> Response:
    """Seal the visit: from then on only addenda can be written."""
    from asfound.records.seal import seal

    here, house = at_visit(request), house_of(request)
    try:
        seal(house.records, here.id, who=here.prefs.who, statement=text(form, "statement"))
    except AsFoundError as refused:
        return show_report(request, complaint=str(refused))
    return go(f"{here.base}/report")


def add_addendum(request: Request, form: FormData) -> Response:
    """Add to a closed visit."""
    here, house = at_visit(request), house_of(request)
    said = text(form, "says")
    if said:
        content = {"says": said, "time": typed_at(request, house)}
        try:
            house.records.append("addendum", content, visit=here.id, who=here.prefs.who)
        except AsFoundError as refused:
            return show_report(request, complaint=str(refused))
    return go(f"{here.base}/report#seal")


def check_seal(request: Request, _form: FormData) -> Response:
    """Compare every entry and file with what was sealed."""
    from asfound.records.seal import verify

    here, house = at_visit(request), house_of(request)
    return show_report(request, verification=verify(house.records, here.id))


def show_take_in(request: Request, *, complaint: str = "") -> Response:
    """Show the form that takes in the data file of a visit."""
    return page(
        request,
        "take_in.html",
        title="Take in",
        crumbs=(Crumb("/", "Engines"), Crumb("/take-in", "Take in")),
        complaint=complaint,
        status=422 if complaint else 200,
    )


def take_in(request: Request, form: FormData) -> Response:
    """Take in a visit from elsewhere: the record becomes the union of both, nothing here is lost."""
    from starlette.datastructures import UploadFile

    from asfound.records.bundle_locked import is_locked, open_bundle
    from asfound.records.export import take_over

    house = house_of(request)
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return show_take_in(request, complaint="Choose a file first.")
    try:
        if file.file.read(2) == b"PK":
            return _take_in_bundle(request, file.file)
        if is_locked(file.file):
            with tempfile.TemporaryFile(dir=passing_in(house.records.home.folder)) as plain:
                open_bundle(file.file, plain, str(form.get("passphrase", "")))
                return _take_in_bundle(request, plain)
        data = file.file.read()
        if not data.lstrip().startswith(b"{"):
            return show_take_in(request, complaint=NO_FILE_OF_OURS)
        came = take_over(house.records, data)
    except AsFoundError as refused:
        return show_take_in(request, complaint=str(refused))
    return go(house.visit_base(house.records.visit(came.visit)))


def _take_in_bundle(request: Request, file: IO[bytes]) -> Response:
    """Take in a bundle, and say what came of it."""
    from asfound.records.bundle_in import take_in as take_in_bundle
    from asfound.records.conflicts import clashes

    house = house_of(request)
    came = take_in_bundle(house.records, file)
    engines = [(one.tag, house.engine_base(one)) for one in house.engine_list() if one.id in came.engines]
    return page(
        request,
        "taken_in.html",
        title="Taken in",
        crumbs=(Crumb("/", "Engines"), Crumb("/take-in", "Take in")),
        came=came,
        engines=engines,
        to_settle=len(clashes(house.records)),
    )


NO_FILE_OF_OURS = (
    "That is none of the files that are handed over: one of several engines or visits ends in .zip or .locked, the "
    "data file of one visit in .json. Write it again on the other laptop."
)
BASE = "/engines/{engine}/{day}"
LARGEST_RECORD = 4 * 1024**3
ROUTES = [
    Route("/take-in", show_take_in),
    Route("/take-in", acting(take_in), methods=["POST"], max_body_size=LARGEST_RECORD),
    Route("/record.schema.json", record_schema),
    Route(f"{BASE}/report", show_report),
    Route(f"{BASE}/report.pdf", report_pdf),
    Route(f"{BASE}/shift.pdf", operator_pdf),
    Route(f"{BASE}/record.json", record_json),
    Route(f"{BASE}/{{table}}.csv", record_csv),
    Route(f"{BASE}/report/close", acting(close_visit), methods=["POST"]),
    Route(f"{BASE}/report/addenda", acting(add_addendum), methods=["POST"]),
    Route(f"{BASE}/report/check", acting(check_seal), methods=["POST"]),
]
