"""A document for each reader of a visit: the list on the report page, each document as a page, its files, over HTTP."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from asfound.report.readers import document, readers
from asfound.report.readers.blocks import bare
from asfound.report.readers.files import FORMS, forms_of, write
from asfound.web.api import AT_VISIT, _plain
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.report import BASE, _file

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request

    from asfound.report.readers.files import Form
    from asfound.report.readers.making import Made, Reader
    from asfound.web.frame import AtVisit
    from asfound.web.house import House

ENDINGS = {form.ending: name for name, form in FORMS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A reader in the list: what the document is, its files, what the record does not hold for it."""

    reader: Reader
    href: str
    forms: tuple[Form, ...]
    lacks: tuple[str, ...] | None
    """None: it rests on a study that is worked out when its page is opened."""


def listed(house: House, here: AtVisit) -> list[Listed]:
    """Return the readers with what is missing for each; worked out once for each state of the record."""
    return [
        Listed(
            reader=one,
            href=f"{here.base}/report/for/{one.name}",
            forms=forms_of(one),
            lacks=None if one.studies else _lacks(house, here, one),
        )
        for one in readers().values()
    ]


def _lacks(house: House, here: AtVisit, one: Reader) -> tuple[str, ...]:
    view = here.view
    key = ("what a reader lacks", one.name, here.system, view.day.now, house.records.revision(view.engine.id))

    def work() -> tuple[str, ...]:
        return tuple(lack.what for lack in document(house.records, view, one.name, system=here.system).lacks)

    found: tuple[str, ...] = house.records.remembered(key, work, slot=("what a reader lacks", one.name, view.id))
    return found


def _made(request: Request) -> tuple[AtVisit, Made]:
    name = request.path_params["reader"]
    if name not in readers():
        raise HTTPException(404)
    here, house = at_visit(request), house_of(request)
    return here, document(house.records, here.view, name, system=here.system)


def show_reader(request: Request, *, complaint: str = "", typed: FormData | None = None) -> Response:
    """Show the document of a reader as a page, with what is missing for that reader and its files."""
    here, made = _made(request)
    return visit_page(
        request,
        "reader.html",
        here,
        step="report",
        title=made.reader.title,
        made=made,
        content=bare(made.content),
        forms=forms_of(made.reader),
        complaint=complaint,
        typed=dict(typed) if typed is not None else {},
        status=422 if complaint else 200,
    )


def give_file(request: Request) -> Response:
    """Give a document in one of its forms, by the ending of the address."""
    form = ENDINGS.get(f".{request.path_params['ending']}", "")
    here, made = _made(request)
    if form not in {one.name for one in forms_of(made.reader)}:
        raise HTTPException(404)
    known = FORMS[form]
    name = f"-{made.reader.name.replace('_', '-')}{known.ending}"
    return _file(name, here, write(made, form), known.media_type)


def keep_hours(request: Request, form: FormData) -> Response:
    """Keep hours for the office that somebody types: travel, waiting, writing."""
    from asfound.errors import AsFoundError
    from asfound.records.office_hours import keep_time

    here, house = at_visit(request), house_of(request)
    try:
        keep_time(
            house.records,
            here.view,
            text(form, "what"),
            text(form, "length"),
            who=here.prefs.who,
            person=text(form, "person"),
            day=text(form, "day"),
            warranty=text(form, "warranty"),
            note=text(form, "note"),
        )
    except AsFoundError as refused:
        request.scope["path_params"]["reader"] = "office"
        return show_reader(request, complaint=str(refused), typed=form)
    return go(f"{here.base}/report/for/office#hours")


def take_hours_back(request: Request, form: FormData) -> Response:
    """Take typed hours back; the line stays readable."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    if entry.kind != "time_spent" or entry.content.get("visit") != here.id:
        raise HTTPException(404)
    house.records.undo(entry.id, who=here.prefs.who)
    return go(f"{here.base}/report/for/office#hours")


# ---------------------------------------------------------------------- for programs


def list_readers(request: Request) -> Response:
    """Return the readers of a visit: what each document is, its forms, what the record does not hold for it."""
    here, house = at_visit(request), house_of(request)
    rows: list[dict[str, Any]] = [
        {
            "name": one.name, "title": one.title, "wants": one.wants, "form": one.form,
            "forms": [form.name for form in forms_of(one)],
            "lacks": list(_lacks(house, here, one)),
        }
        for one in readers().values()
    ]  # fmt: skip
    return JSONResponse(_plain(rows))


def give_document(request: Request) -> Response:
    """Return the document of a reader: as data, or with ``?form=pdf`` (text, csv, calendar) as a file."""
    here, made = _made(request)
    form = request.query_params.get("form", "json")
    content = write(made, form)
    return _file(f"-{made.reader.name.replace('_', '-')}{FORMS[form].ending}", here, content, FORMS[form].media_type)


ROUTES = [
    Route(f"{BASE}/report/for/{{reader}}.{{ending}}", give_file),
    Route(f"{BASE}/report/for/{{reader}}", show_reader),
    Route(f"{BASE}/report/hours", acting(keep_hours), methods=["POST"]),
    Route(f"{BASE}/report/hours/back", acting(take_hours_back), methods=["POST"]),
    Route(f"{AT_VISIT}/readers", list_readers),
    Route(f"{AT_VISIT}/readers/{{reader}}", give_document),
]
