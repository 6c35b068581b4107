"""The page of fault codes: pasted frames or a log of the engine's data bus, what they say, kept in the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.datastructures import UploadFile
from starlette.routing import Route

from asfound.errors import InputError
from asfound.records.trouble_codes import read_fault_codes
from asfound.report.content_trouble_codes import codes_shown
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

BASE = "/engines/{engine}/{day}/trouble/codes"


def show_codes(
    request: Request, *, complaint: InputError | None = None, typed: dict[str, str] | None = None
) -> Response:
    """Show the fault codes that were read, and where to put more."""
    here = at_visit(request)
    return visit_page(
        request,
        "trouble_codes.html",
        here,
        step="trouble",
        title="Fault codes",
        status=422 if complaint else 200,
        reads=codes_shown(here.view.trouble),
        complaint=complaint,
        typed=typed or {},
    )


def keep_codes(request: Request, form: FormData) -> Response:
    """Keep pasted frames or a log; what is no frame is refused with its line, and stays as it was typed."""
    here, house = at_visit(request), house_of(request)
    typed = {name: text(form, name) for name in ("frames", "source", "note")}
    log = form.get("log")
    given: str | bytes = typed["frames"]
    name = ""
    if isinstance(log, UploadFile) and log.filename:
        given, name = log.file.read(), log.filename
    try:
        if not given:
            raise InputError(
                "frames",
                "",
                "is missing",
                allowed="frames as a bus log has them, one a line",
                try_next="Paste them, or choose the file of a log.",
            )
        read_fault_codes(
            house.records,
            here.view,
            given,
            filename=name,
            source=typed["source"],
            note=typed["note"],
            who=here.prefs.who,
            time=typed_at(request, house),
        )
    except InputError as refused:
        return show_codes(request, complaint=refused, typed=typed)
    return go(f"{here.base}/trouble/codes#read")


ROUTES = [Route(BASE, show_codes), Route(BASE, acting(keep_codes), methods=["POST"])]
