"""Pages in the reader's language and number form: who reads a request, and what a template does with a text.

The language is the one that was chosen on this browser, else the one of the home, else what the browser asks for. A
template is made over once for each language when it is loaded (`language.pages`); English in its own number form is
the template as it stands, with nothing added.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from jinja2 import PackageLoader
from markupsafe import Markup, escape
from starlette.requests import Request

from asfound.errors import InputError
from asfound.language import DATES, LANGUAGES, NUMBERS, PAPERS, Reader, of_header, reading_as, told, told_parts
from asfound.language.catalogues import messages
from asfound.language.marks import by_sentence
from asfound.language.pages import translated
from asfound.quantities import own_units
from asfound.quantities.own_units import SYSTEMS

if TYPE_CHECKING:
    from jinja2 import Environment
    from starlette.types import ASGIApp, Receive, Scope, Send

    from asfound.records.home import Settings

ALLOWED = {"language": tuple(LANGUAGES), "numbers": tuple(NUMBERS), "dates": DATES, "units": SYSTEMS, "paper": PAPERS}
"""What the cookies of these names may hold."""
OF_THE_READER = (*ALLOWED, "own_units")
"""What one person chose for the own eyes, on this browser."""
_ENGLISH = re.compile(
    r"\b(?:the|is|are|was|of|at|and|not|no|to|it|with|by|for|this|that|from|what|on|in)\b", re.IGNORECASE
)


def chosen(request: Request, settings: Settings, name: str) -> str:
    """Return what was chosen: by the address (``?language=de``, for one paper), on this browser, for the home."""
    for value in (request.query_params.get(name, ""), request.cookies.get(name, "")):
        if value and allowed(name, value):
            return value
    return str(getattr(settings, name))


def allowed(name: str, value: str) -> bool:
    """Return whether a choice of this name may have this value."""
    if name != "own_units":
        return value in ALLOWED[name]
    try:
        own_units.chosen(value)
    except InputError:
        return False
    return True


def reader_of(request: Request, settings: Settings) -> Reader:
    """Return how whoever sent a request reads."""
    language = chosen(request, settings, "language") or of_header(request.headers.get("accept-language", ""))
    numbers, dates, paper = (chosen(request, settings, name) for name in ("numbers", "dates", "paper"))
    if request.url.path.startswith("/api/"):  # programs read it: the same whoever asks
        return Reader(language, numbers, dates, paper=paper)
    units, own = chosen(request, settings, "units"), chosen(request, settings, "own_units")
    return Reader(language, numbers, dates, units, own, paper)


class Speaking:
    """Make every answer for the one who asked."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        house = scope["app"].state.house
        with reading_as(reader_of(Request(scope), house.records.settings)):
            await self.app(scope, receive, send)


class ToldLoader(PackageLoader):
    """Loads the templates of pages in one language."""

    def __init__(self, language: str) -> None:
        super().__init__("asfound.web")
        self.language = language

    def get_source(self, environment: Environment, template: str) -> Any:
        """Return a template, made over."""
        source, name, is_new = super().get_source(environment, template)
        return translated(source, messages(self.language).get, language=self.language), name, is_new


def told_plain(value: Any) -> Any:
    """Return a value for a place where no element may stand: an attribute, an option, the title."""
    return told(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def told_marked(value: Any) -> Any:
    """Return a value for the text of a page; English that has no translation is marked as English."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    said, known = told_parts(value)
    if known or not _ENGLISH.search(said):
        return said
    pieces = [
        escape(part) if sure or not _ENGLISH.search(part) else Markup('<span lang="en">{}</span>').format(part)
        for part, sure in by_sentence(value)
    ]
    whole = Markup("").join(pieces)
    return whole if len(pieces) == 1 else Markup("<span>{}</span>").format(whole)  # one item of a row, as the text was
