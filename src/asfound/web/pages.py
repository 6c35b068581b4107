"""One way to make a page: the Jinja environment, what every template may call, and the frame around a visit."""

from __future__ import annotations

import hashlib
import importlib
import os
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs
from jinja2 import Environment, FileSystemBytecodeCache, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse

from asfound.language import Written, reader
from asfound.language.catalogues import messages
from asfound.language.scripts import SCRIPTS, translated
from asfound.records.office import who_acts
from asfound.web import belief, words
from asfound.web.preferences import IN_COOKIES, Preferences, preferences
from asfound.web.speaking import ToldLoader, told_marked, told_plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.web.house import House

SHEETS = (
    "tokens.css",
    "base.css",
    "frame.css",
    "parts.css",
    "marks.css",
    "drawn.css",
    "visit.css",
    "small.css",
    "fitted.css",
    "home.css",
    "worksheet.css",
    "rooms.css",
    "crosscheck.css",
    "cylinders.css",
    "due.css",
    "trouble.css",
    "whatif.css",
    "history.css",
    "shelves.css",
    "sharing.css",
    "hand_and_print.css",
)


FIRST_DRAWN = {
    "due_row": "ruler",
    "home_ruler": "ruler",
    "house_sign": "marks",
    "icon": "icons",
    "mini_drawing": "drawing",
    "page_defs": "marks",
    "severity_sign": "icons",
}
"""Where the pictures of the first page are drawn: for these not all others are loaded."""


class Drawn:
    """`report.svg` as templates see it: each function gives markup that is put on the page as it is."""

    def __getattr__(self, name: str) -> Callable[..., Markup]:
        module = importlib.import_module(f"asfound.report.{FIRST_DRAWN.get(name, 'svg')}")
        function = getattr(module, name)

        def draw(*args: Any, **options: Any) -> Markup:
            return Markup(function(*args, **options))

        return draw


@cache
def static(name: str) -> str:
    """Return the address of a static file, with a digest so that a browser may keep it."""
    data = (resources.files("asfound.web") / "static" / name).read_bytes() if name != "css/drawn.css" else drawn_css()
    return f"/static/{name}?v={hashlib.sha256(data).hexdigest()[:10]}"


@cache
def told_script(language: str, name: str) -> bytes:
    """Return a script of the pages that says what it says in a language."""
    source = (resources.files("asfound.web") / "static" / name).read_text("utf-8")
    return translated(name, source, messages(language).get).encode()


@cache
def script(language: str, name: str) -> str:
    """Return the address of a script in a language."""
    digest = hashlib.sha256(told_script(language, name)).hexdigest()[:10]
    return f"/static/words/{language}/{name}?v={digest}"


@cache
def drawn_css() -> bytes:
    """Return the style sheet of the pictures, which lives beside the functions that draw them."""
    return (resources.files("asfound.report") / "marks.css").read_bytes()


def environment() -> Environment:
    """Return the Jinja environment of whoever reads what is being made."""
    who = reader()
    return environment_in("" if who.plain else who.language)


def compiled_before() -> FileSystemBytecodeCache | None:
    """Return where compiled templates are kept for the next start; None where this user has no folder for it."""
    try:
        folder = Path(platformdirs.user_cache_dir("asfound", appauthor=False)) / "templates"
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        usable = os.access(folder, os.W_OK) and (os.name == "nt" or folder.stat().st_uid == os.getuid())
    except OSError:
        return None
    return FileSystemBytecodeCache(str(folder)) if usable else None


@cache
def environment_in(language: str) -> Environment:
    """Return the environment of a language: escaping always on, an unknown name is an error.

    Parameters
    ----------
    language : str
        Empty for English with its own numbers and dates: then templates are as they stand.
    """
    made = Environment(
        loader=ToldLoader(language) if language else PackageLoader("asfound.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=compiled_before(),
    )
    made.globals.update(
        draw=Drawn(),
        static=static,
        sheets=SHEETS,
        words=words,
        shares=belief.shares,
        chance_of=belief.chance_of,
        title_of=belief.title_of,
        drawing_of_engine=belief.drawing_of_engine,
        caption_of=belief.caption_of,
        state_titles=belief.state_titles,
    )
    made.globals.update(told_plain=told_plain, told_marked=told_marked)
    if language:
        made.globals.update(static=lambda name: script(language, name) if name in SCRIPTS else static(name))
    made.filters.update(
        as_written=Written,
        day=words.day,
        clock=words.clock,
        day_short=words.day_short,
        in_100=words.in_100,
        plural=words.plural,
        minutes=words.minutes,
        number=words.number,
        sentence=words.sentence,
        headed=words.title,
        lower_first=words.inside,
    )
    return made


@dataclass(frozen=True, slots=True)
class Crumb:
    """One step of the path in the strip; ``long`` and ``after`` are left out where there is little room."""

    href: str
    text: str
    long: str = ""
    after: str = ""


def house_of(request: Request) -> House:
    """Return the house that the application was made with."""
    house: House = request.app.state.house
    return house


def chosen_light(request: Request) -> str:
    """Return the light that this browser chose; empty where the system decides. Nothing of the record is asked."""
    light = request.cookies.get("light", "")
    return light if light in IN_COOKIES["light"] else ""


def prefs_of(request: Request) -> Preferences:
    """Return the choices of this browser."""
    house = house_of(request)
    person = who_acts()
    found = preferences(request, house.records.settings, house.who)
    return replace(found, who=person.name) if person else found


def page(
    request: Request,
    template: str,
    *,
    title: str,
    crumbs: Sequence[Crumb] = (),
    status: int = 200,
    page_name: str = "",
    **context: Any,
) -> HTMLResponse:
    """Render a whole page. Parts that the script puts in place are marked in the same HTML."""
    house = house_of(request)
    html = (
        environment()
        .get_template(template)
        .render(
            title=title,
            crumbs=crumbs or (Crumb("/", "Engines"),),
            page_name=page_name or template,
            prefs=prefs_of(request),
            here=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
            kept_at=context.pop("kept_at") if "kept_at" in context else house.kept_at(),
            in_demo=house.in_demo,
            signed_in=who_acts(),
            shared=request.app.state.shared,
            home_id=house.records.settings.device,
            told=house.told,
            **context,
        )
    )
    return HTMLResponse(html, status_code=status)


def wants_parts(request: Request) -> bool:
    """Return whether the script asks: it gets the page at once instead of a redirect to it."""
    return request.headers.get("x-asfound-part") == "1"


def go(where: str) -> Response:
    """Send the browser on after something was kept, so that loading the page again repeats nothing."""
    return RedirectResponse(where, status_code=303)


def back_or(typed: str, otherwise: str) -> str:
    """Return the address to go back to; only a path of this server is taken."""
    inside = typed.startswith("/") and not typed.startswith("//") and "\\" not in typed and "\n" not in typed
    return typed if inside else otherwise
