"""Name, units, decimal sign for this home; light and hand for this browser."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.errors import InputError
from asfound.language import LANGUAGES
from asfound.records.office import who_acts
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, back_or, go, house_of, page
from asfound.web.preferences import remember
from asfound.web.speaking import chosen

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

LONGEST_NAME = 80
OF_THE_READER = ("language", "numbers", "dates")
"""For this browser; for this home as well where one person uses it alone, so that its reports come out alike."""
OF_THE_HOME = ("person", "units", "decimal", "photo_time", "photo_place")


def show_settings(request: Request, *, complaint: InputError | None = None, status: int = 200) -> Response:
    """Show the choices, with what was refused beside its field."""
    house = house_of(request)
    return page(
        request,
        "settings.html",
        title="Settings",
        crumbs=(Crumb("/", "Engines"), Crumb("/settings", "Settings")),
        status=status,
        complaint=complaint,
        settings=house.records.settings,
        languages=LANGUAGES,
        chosen={name: chosen(request, house.records.settings, name) for name in OF_THE_READER},
        folder=str(house.records.home.folder),
        account=house.who,
    )


def keep_settings(request: Request, form: FormData) -> Response:
    """Keep what was chosen, then show the page again."""
    home = house_of(request).records.home
    alone = who_acts() is None and not request.app.state.shared
    names = (*OF_THE_HOME, *OF_THE_READER) if alone else OF_THE_HOME
    changes = {name: text(form, name) for name in names if name in form}
    try:
        if len(changes.get("person", "")) > LONGEST_NAME:
            raise InputError("person", changes["person"], "is too long", allowed=f"up to {LONGEST_NAME} characters")
        if changes:
            home.change(**changes)
    except InputError as complaint:
        return show_settings(request, complaint=complaint, status=422)
    answer = go(back_or(text(form, "back"), "/settings"))
    for name in ("light", "hand", *OF_THE_READER):
        if name in form:
            remember(answer, name, text(form, name))
    return answer


def keep_light(_request: Request, form: FormData) -> Response:
    """Keep day, night or sunlight for this browser and go back."""
    answer = go(back_or(text(form, "back"), "/"))
    remember(answer, "light", text(form, "light"))
    return answer


ROUTES = [
    Route("/settings", show_settings),
    Route("/settings", acting(keep_settings), methods=["POST"]),
    Route("/settings/light", acting(keep_light), methods=["POST"]),
]
