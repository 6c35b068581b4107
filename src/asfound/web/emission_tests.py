"""The door for a formal test of the exhaust: a file comes in, the tests of the visit are listed, one is taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.datastructures import UploadFile
from starlette.routing import Route

from asfound.errors import AsFoundError, UnknownNameError
from asfound.exhaust.test_run_files import GAS_COLUMNS, RUN_COLUMNS
from asfound.records.emission_tests import OF_A_TEST, bring_in, read_content
from asfound.report.content_test_run import tests_shown
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.security import BODY_LIMIT

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response


def show(request: Request, *, complaint: str = "") -> Response:
    """Show how a test is brought in, and those that the visit holds."""
    here = at_visit(request)
    entries = [one for one in here.view.entries if one.kind == "emission_test"]
    return visit_page(
        request,
        "emission_test.html",
        here,
        step="exhaust",
        title="Formal test",
        status=422 if complaint else 200,
        complaint=complaint,
        tests=list(zip(entries, tests_shown(here.view), strict=True)),
        accept=",".join(OF_A_TEST),
        gas_columns=GAS_COLUMNS,
        run_columns=RUN_COLUMNS,
    )


def keep(request: Request, form: FormData) -> Response:
    """Bring in the file of a test; what cannot be is named with its row, and nothing is kept."""
    here, house = at_visit(request), house_of(request)
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return show(request, complaint="No file was chosen.")
    content = file.file.read(BODY_LIMIT)
    try:
        test = read_content(content, file.filename)
        bring_in(
            house.records, here.view, test, content=content, filename=file.filename, who=here.prefs.who,
            source=text(form, "source"),
        )  # fmt: skip
    except AsFoundError as refused:
        return show(request, complaint=str(refused))
    return go(f"{here.base}/exhaust#tests")


def take_back(request: Request, form: FormData) -> Response:
    """Take a test back: a line is added, none is removed."""
    here, house = at_visit(request), house_of(request)
    named = text(form, "entry")
    if named not in {one.id for one in here.view.entries if one.kind == "emission_test"}:
        raise UnknownNameError("test of this visit", named, [])
    house.records.undo(named, who=here.prefs.who)
    return go(f"{here.base}/exhaust/test")


AT = "/engines/{engine}/{day}/exhaust/test"
ROUTES = [
    Route(AT, show),
    Route(AT, acting(keep), methods=["POST"]),
    Route(f"{AT}/back", acting(take_back), methods=["POST"]),
]
