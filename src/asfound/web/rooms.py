"""Which module answers which address: the first page at once, the others loaded when something asks for one of them."""

from __future__ import annotations

import importlib
import inspect
import threading
from functools import partial, wraps
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute, Match, NoMatchFound, Route, Router

from asfound.web.held_pages import HELD, made_to_hold
from asfound.web.kept_pages import OF_ALL, PAGES, kept_or_made
from asfound.web.pages import house_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from starlette.datastructures import URLPath
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import Receive, Scope, Send

ROOMS = (
    "home",
    "engine",
    "rules",
    "upgrade",
    "due",
    "due_files",
    "history",
    "history_api",
    "history_import",
    "fleet",
    "visit",
    "fitted",
    "findings",
    "crosscheck",
    "whatif",
    "readers",
    "report",
    "photos",
    "labels",
    "gas",
    "gas_mix",
    "gas_api",
    "trouble_api",
    "worksheets",
    "catalogue",
    "instruments",
    "sources",
    "proof",
    "find",
    "settings",
    "several",
    "sharing",
    "door",
    "api",
    "agreement",
    "emission_tests",
    "cylinder_looks",
    "judged",
    "trouble",
    "trouble_codes",
    "steps",
)
"""``steps`` comes last: its addresses end in any word, the others in fixed ones."""


def first_routes() -> list[BaseRoute]:
    """Return what a browser asks for first."""
    from asfound.web import home

    return _routes(one for one in home.ROUTES if one.path == "/")


def _routes(routes: Iterable[Any]) -> list[BaseRoute]:
    """Return routes whose pages look once whether another program wrote, not at each question to the record."""
    return [_steady(one) if isinstance(one, Route) else one for one in routes]


def _steady(route: Route) -> Route:
    if "GET" not in (route.methods or ()) or inspect.iscoroutinefunction(route.endpoint):
        return route
    handler: Callable[[Request], Response] = route.endpoint
    make = partial(kept_or_made, route.path, handler=handler) if route.path in PAGES | OF_ALL else handler
    held = route.path in HELD

    @wraps(handler)
    def answer(request: Request) -> Response:
        with house_of(request).records.steady():
            return made_to_hold(route.path, request, make) if held else make(request)

    return Route(route.path, answer, methods=list(route.methods or ()), name=route.name)


class Rest(BaseRoute):
    """All addresses; their modules are loaded when the first of them is asked for, or ahead of that by `load`."""

    def __init__(self) -> None:
        self._router: Router | None = None
        self._lock = threading.Lock()

    def load(self) -> Router:
        """Load every room and return the router; safe to call again and from other threads."""
        with self._lock:
            if self._router is None:
                modules = [importlib.import_module(f"asfound.web.{name}") for name in ROOMS]
                self._router = Router(_routes(route for one in modules for route in one.ROUTES))
            return self._router

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Match every request: what no room answers is refused by the router inside."""
        return (Match.FULL if scope["type"] == "http" else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the room answer that the address belongs to."""
        router = await run_in_threadpool(self.load) if self._router is None else self._router
        await router(scope, receive, send)

    def url_path_for(self, name: str, /, **path_params: Any) -> URLPath:
        """Return no address: nothing here is looked up by name."""
        raise NoMatchFound(name, path_params)
