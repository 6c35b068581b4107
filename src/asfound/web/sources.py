"""The register of published sources: what each number of the program stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.sources.register import KINDS, sources
from asfound.web.pages import Crumb, page

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

KIND_TITLES = {
    "standard": "Standards",
    "regulation": "Regulations",
    "handbook": "Handbooks",
    "paper": "Papers",
    "data": "Data",
    "practice": "Practice and judgement",
}
SEEN_WORDS = {
    "read": "text read",
    "secondary": "as given by a secondary source",
    "memory": "from memory, unverified",
    "none": "nothing to see",
}


def list_sources(request: Request) -> Response:
    """Show every source, by kind, with how it was seen."""
    register = sources().values()
    shelves = [(KIND_TITLES[kind], [one for one in register if one.kind == kind]) for kind in KINDS]
    return page(
        request,
        "sources.html",
        title="Sources",
        crumbs=(Crumb("/", "Engines"), Crumb("/sources", "Sources")),
        shelves=[shelf for shelf in shelves if shelf[1]],
        seen_words=SEEN_WORDS,
        count=len(register),
    )


ROUTES = [Route("/sources", list_sources)]
