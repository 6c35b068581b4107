"""Pages of visits, kept beside the record as they were made: what was looked at is there at once after a new start.

What they rest on may change: entries of the engine, sites and instruments, closed cases, files in the home, settings,
the reader, the program itself. All of that goes into the key; the visit's own entries go into it byte by byte. What
stands at another key is made anew. While the program runs `held_pages` answers before this is asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import HTMLResponse

from asfound.errors import AsFoundError
from asfound.language import reader
from asfound.records.kept_store import kept_store
from asfound.records.office import who_acts
from asfound.records.stamps import digest_of, log_folders, state_stamp, times_of
from asfound.web.held_pages import BY_MINUTE, UNFINISHED, VISIT, is_plain_page
from asfound.web.history_jobs import folders
from asfound.web.pages import house_of, prefs_of
from asfound.web.speaking import OF_THE_READER

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.responses import Response

STEPS = frozenset({"fuel", "load", "exhaust", "cylinders", "other"})
PAGES = frozenset({VISIT, *(f"{VISIT}/{name}" for name in ("{step:str}", "fitted", "crosscheck", "findings", "trouble",
                                                         "due", "report", "log"))})  # fmt: skip
HISTORY = f"{VISIT}/history"
OF_ALL = frozenset({f"{VISIT}/whatif", HISTORY})
"""Pages that speak of other engines too: any entry of the home makes them anew."""
COOKIES = ("instrument", "column", "light", "hand", *OF_THE_READER)


def kept_or_made(path: str, request: Request, handler: Callable[[Request], Response]) -> Response:
    """Return a page of a visit as it was kept, or what the handler makes, which is kept."""
    store = kept_store(house_of(request).records)
    found = _key(path, request) if store is not None else None
    if store is None or found is None:
        return handler(request)
    name, key = found
    kept = store.page(name, key)
    if kept is not None:
        return HTMLResponse(kept)
    made = handler(request)
    if is_plain_page(made) and UNFINISHED not in request.scope:
        store.keep_page(name, key, bytes(made.body))
    return made


def _key(path: str, request: Request) -> tuple[str, str] | None:
    """Return under what a page is kept and for which state of everything; None where it is not kept."""
    house = house_of(request)
    records = house.records
    step = request.path_params.get("step")
    if "x-asfound-part" in request.headers or "x-asfound-column" in request.headers or (step and step not in STEPS):
        return None
    try:
        engine, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    except AsFoundError:  # the page says it
        return None
    who = who_acts()
    asked = (
        request.url.path, request.url.query, str(house.in_demo), str(request.app.state.shared), repr(reader()),
        repr(prefs_of(request)), repr(who), repr([request.cookies.get(one, "") for one in COOKIES]), engine.id,
        repr(request.scope.get("asfound_device")),
    )  # fmt: skip
    stands = (
        *state_stamp(records, engine, visit, minutes=path in BY_MINUTE), str(house.catalogue_folder),
        house.engine_key(engine),
        repr(records.newest) if path in OF_ALL else "",
        repr(times_of((*log_folders(records, engine), *folders(records)))) if path == HISTORY else "",
    )  # fmt: skip
    return digest_of(asked), digest_of(stands)
