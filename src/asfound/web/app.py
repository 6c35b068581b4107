"""The application: which address is answered by which page, behind what it refuses."""

from __future__ import annotations

import getpass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from asfound.errors import AsFoundError
from asfound.language import LANGUAGES
from asfound.language.scripts import SCRIPTS
from asfound.web import refusals
from asfound.web.held_pages import Held
from asfound.web.house import House
from asfound.web.pages import drawn_css, told_script
from asfound.web.rooms import Rest, first_routes
from asfound.web.security import BODY_LIMIT, LOOPBACK, Guard
from asfound.web.speaking import Speaking

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.requests import Request

    from asfound.records.store import Records
    from asfound.web.pairing import Sharing


def create_app(
    records: Records,
    *,
    who: str | None = None,
    token: str | None = None,
    hosts: Sequence[str] = LOOPBACK,
    catalogue_folder: Path | str | None = None,
    debug: bool = False,
    share: Sharing | None = None,
    beside: Starlette | None = None,
) -> Starlette:
    """Return the application that serves one home.

    Parameters
    ----------
    records : Records
        What has been recorded; every page reads it and every form adds to it.
    who : str, optional
        Name written into entries until the settings give one; the name of the account when None.
    token : str, optional
        Asked of every browser before anything is shown.
    hosts : sequence of str
        Names by which this server may be addressed; any other Host is refused.
    catalogue_folder : path, optional
        What can be fitted; None takes what ships with the program.
    debug : bool
        Let an unexpected error through to the caller (for tests).
    share : Sharing, optional
        The door for tablets; the pages of this laptop show it.
    beside : Starlette, optional
        The application of this laptop's own pages: the one made now is the door for tablets beside it. It asks every
        browser for the token of a device that was let in.
    """
    devices = share.devices if share is not None and beside is not None else None
    routes, rest = [Held(), *first_routes()], Rest()
    routes.append(Route("/static/css/drawn.css", drawn_sheet))
    routes.append(Route("/static/words/{language}/{name}", script_in_language))
    routes.append(Mount("/static", StaticFiles(directory=str(resources.files("asfound.web") / "static"))))
    routes.append(rest)
    app = Starlette(
        routes=routes,
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False),
            Middleware(Guard, token=token, devices=devices),
            Middleware(Speaking),
        ],
        exception_handlers={
            HTTPException: refusals.http_error,
            AsFoundError: refusals.refused,
            **({} if debug else {Exception: refusals.unexpected}),
        },
        max_body_size=BODY_LIMIT,
    )
    house = House(records, who=who or _account(), catalogue_folder=catalogue_folder)
    app.state.house = beside.state.house if beside is not None else house
    app.state.share, app.state.shared = share, beside is not None
    app.state.load = rest.load
    return app


def drawn_sheet(_request: Request) -> Response:
    """Return the style sheet of the pictures."""
    return Response(drawn_css(), media_type="text/css")


def script_in_language(request: Request) -> Response:
    """Return a script of the pages that says what it says in a language."""
    language, name = request.path_params["language"], request.path_params["name"]
    if language not in LANGUAGES or name not in SCRIPTS:
        raise HTTPException(404)
    return Response(told_script(language, name), media_type="text/javascript")


def _account() -> str:
    """Return the name of this computer's account; a machine without one still gets a name."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "service"
