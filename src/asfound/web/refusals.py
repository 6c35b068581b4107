"""Pages for what cannot be answered: each says what was asked, why not, what is near, and what to do."""

from __future__ import annotations

import json
import logging
from difflib import get_close_matches
from html import escape
from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, Response

from asfound.errors import AsFoundError, InputError, KnowledgeError, RecordError, UnknownNameError
from asfound.web.pages import house_of, page

if TYPE_CHECKING:
    from starlette.requests import Request

log = logging.getLogger(__name__)

STATUS: tuple[tuple[type[AsFoundError], int], ...] = (
    (UnknownNameError, 404),
    (InputError, 422),
    (KnowledgeError, 422),
    (RecordError, 409),
)
TITLES = {
    400: "That cannot be read",
    403: "Not allowed here",
    404: "There is no such page",
    405: "That cannot be done here",
    409: "The record refuses",
    413: "That is too large",
    422: "Something typed cannot be",
    500: "Something went wrong here",
}
SHELVES = ("/", "/worksheets", "/catalogue", "/instruments", "/sources", "/prove", "/settings", "/engines/new", "/find")


def problem(status: int, says: str, **more: object) -> Response:
    """Return an error as RFC 9457 has it; what was given may stand in it, even half a sign that UTF-8 cannot write."""
    body = {"type": "about:blank", "title": TITLES.get(status, "Refused"), "status": status, "detail": says, **more}
    return Response(json.dumps(body), status, media_type="application/problem+json")


def http_error(request: Request, error: Exception) -> Response:
    """Answer an address that leads nowhere, a wrong method, a body that is too large."""
    if not isinstance(error, HTTPException):  # how Starlette types its handlers
        raise error
    if request.url.path.startswith("/api/"):
        answer = problem(error.status_code, str(error.detail))
    else:
        says = str(error.detail)
        if error.status_code == 404:
            says = f"Nothing here has the address {request.url.path}."
        elif error.status_code == 413:
            says = "It is larger than 25 MB. Make the photo smaller, or keep it outside and note where."
        answer = _page(request, error.status_code, says, near=_near(request) if error.status_code == 404 else ())
    answer.headers.update(error.headers or {})
    return answer


def refused(request: Request, error: Exception) -> Response:
    """Answer what a room refused, where no page showed it beside its field."""
    status = next((code for kind, code in STATUS if isinstance(error, kind)), 400)
    if request.url.path.startswith("/api/"):
        parts = error.as_dict() if isinstance(error, InputError) else {}
        return problem(status, str(error), **{name: value for name, value in parts.items() if name != "says"})
    near = tuple((name, "") for name in error.near) if isinstance(error, UnknownNameError) else ()
    return _page(request, status, str(error), near=near)


def forbidden(request: Request, says: str) -> Response:
    """Answer what the role of whoever asks does not allow: a page for a person, a line for a program."""
    if "text/html" in request.headers.get("accept", ""):
        return _page(request, 403, says)
    return PlainTextResponse(says, 403)


def unexpected(request: Request, error: Exception) -> Response:
    """Answer a fault of the program: the trace goes to the log, the page says that nothing typed before is lost."""
    log.error("unexpected error at %s", request.url.path, exc_info=error)
    says = (
        "This is a fault of the program, not of what you did. What was kept before is kept; the last entry may not be."
    )
    if request.url.path.startswith("/api/"):
        return problem(500, says)
    return _page(request, 500, says)


def _page(request: Request, status: int, says: str, near: tuple[tuple[str, str], ...] = ()) -> Response:
    title = TITLES.get(status, "Refused")
    try:
        return page(request, "error.html", title=title, status=status, says=says, near=near, code=status)
    except AsFoundError:  # nothing at all can be read, as when the stick with the home was pulled out
        return _bare(title, says, status)


def _bare(title: str, says: str, status: int) -> Response:
    """Return a page that needs nothing of the record."""
    head = f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(title)} – asfound</title>'
    view = '<meta name="viewport" content="width=device-width, initial-scale=1">'
    body = f'<main><h1>{escape(title)}</h1><p>{escape(says)}</p><p><a href="/">Try again</a></p></main></html>'
    return Response(head + view + body, status, media_type="text/html")


def _near(request: Request) -> tuple[tuple[str, str], ...]:
    """Return addresses like the one asked for, and where they lead: shelves, engines by tag, visits."""
    known = {path: path for path in SHELVES}
    for one in house_of(request).engine_list():
        known[f"/engines/{one.tag}"] = f"/engines/{one.id}"
    asked = request.url.path.rstrip("/") or "/"
    return tuple((path, known[path]) for path in get_close_matches(asked, known, n=3, cutoff=0.5))
