"""Pages held in memory as they were made, for as long as nothing has changed that they rest on.

Whether that is so is asked of the file system at each request, in some 50 us: the count of changes of the record, the
files of the home, the folders of logs and catalogues that the page is made from, the day or the minute. What comes with
the request (address, cookies, language, person, device) chooses among the pages held. So a second look takes what
sending a page takes, whatever it took to make it, of an open visit too; and any entry, by any program, ends it.
"""

from __future__ import annotations

import hashlib
import threading
import time
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Match, NoMatchFound

from asfound.errors import AsFoundError
from asfound.records.office import who_acts
from asfound.records.stamps import files_stamp, log_folders, times_of
from asfound.web.history_jobs import folders

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Sequence

    from starlette.datastructures import URLPath
    from starlette.requests import Request
    from starlette.types import Receive, Scope, Send

    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.web.house import House

BYTES = 24 * 2**20
"""Of all held pages together, compressed; a page of a visit takes some 15 kB."""
SETTLED = 2.0
"""A file that was changed less long ago may change again within one tick of its clock; no page is held then. [s]"""
ENGINE, VISIT = "/engines/{engine}", "/engines/{engine}/{day}"
BY_MINUTE = frozenset({VISIT, f"{VISIT}/report"})
"""Pages that show the line of the day, which goes on by itself while a visit is open."""
OF_ONE_ENGINE = frozenset({
    ENGINE, f"{ENGINE}/due", f"{ENGINE}/history", VISIT, *(f"{VISIT}/{name}" for name in (
        "{step:str}", "fitted", "crosscheck", "findings", "trouble", "whatif", "history", "due", "report", "log",
    ))
})  # fmt: skip
OF_ALL = frozenset({
    "/", "/fleet", "/find", "/settings", "/sources", "/worksheets", "/catalogue", "/catalogue/slots/{slot}",
    "/catalogue/families/{family}", "/instruments", "/engines/new",
})  # fmt: skip
HELD = OF_ONE_ENGINE | OF_ALL
UNFINISHED = "asfound_unfinished"


@dataclass(frozen=True, slots=True)
class Page:
    """A page as it was made."""

    stamp: Hashable
    paths: tuple[str, ...]
    """Files and folders beside the record and the home's own files that it rests on."""
    minutes: bool
    body: bytes
    """Compressed."""
    tag: str
    """Digest of what it says: a browser that has it need not be sent it again."""


class HeldPages:
    """Pages by what was asked; the longest unused go when all weigh too much. Safe between threads."""

    def __init__(self, most: int = BYTES) -> None:
        self.most, self.bytes = most, 0
        self._lock = threading.Lock()
        self._pages: dict[Hashable, Page] = {}

    def find(self, house: House, key: Hashable) -> Page | None:
        """Return the page that was asked for, where it is held and nothing has changed since."""
        page = self._pages.get(key)
        if page is None:
            return None
        if stamp_of(house, page.paths, minutes=page.minutes) != page.stamp:
            self._drop(key)
            return None
        with self._lock:
            if self._pages.pop(key, None) is not None:
                self._pages[key] = page  # as the newest
        return page

    def hold(self, key: Hashable, page: Page) -> None:
        """Hold a page."""
        self._drop(key)
        with self._lock:
            self._pages[key] = page
            self.bytes += len(page.body)
        while self.bytes > self.most and len(self._pages) > 1:
            self._drop(next(iter(self._pages)))

    def _drop(self, key: Hashable) -> None:
        with self._lock:
            found = self._pages.pop(key, None)
            if found is not None:
                self.bytes -= len(found.body)


def stamp_of(house: House, paths: tuple[str, ...], *, minutes: bool) -> Hashable | None:
    """Return what is another whenever a page may say something else; None where that cannot be told now.

    Parameters
    ----------
    paths : tuple of str
        Files and folders that the page rests on beside the record and the home's own files.
    minutes : bool
        Whether it shows the time of day.
    """
    records = house.records
    version = records.database.version()
    if version is None:
        return None
    try:
        files, times = files_stamp(str(records.home.folder)), times_of(paths)
    except OSError:  # the page says that the home is gone
        return None
    now = records.clock.now()
    return version, files, times, now.isoformat()[:16] if minutes else now.toordinal(), now.tzinfo


def _settled(house: House, paths: tuple[str, ...]) -> bool:
    """Tell whether no file changed so lately that the next change might not show."""
    changed = (*times_of(paths), *(one[1] for one in files_stamp(str(house.records.home.folder))))
    return max(changed, default=0) < (time.time() - SETTLED) * 1e9


def key_of(scope: Scope) -> Hashable | None:
    """Return what was asked, and by whom; None where another answer is wanted than the plain page."""
    if scope["type"] != "http" or scope["method"] != "GET":
        return None
    cookie = language = b""
    for name, value in scope["headers"]:
        if name.startswith(b"x-asfound-"):
            return None
        if name == b"cookie":
            cookie += value + b";"
        elif name == b"accept-language":
            language += value + b","
    shared, device = scope["app"].state.shared, scope.get("asfound_device")
    return scope["path"], scope["query_string"], cookie, language, shared, repr(device), who_acts()


def unfinished(request: Request) -> None:
    """Note that a page speaks of something that is being worked out: it will say more without any change."""
    request.scope[UNFINISHED] = True


def is_plain_page(made: Response) -> bool:
    """Return whether an answer is a page that says the same to whoever asks the same again."""
    return made.status_code == 200 and isinstance(made, HTMLResponse) and "set-cookie" not in made.headers


def made_to_hold(path: str, request: Request, handler: Callable[[Request], Response]) -> Response:
    """Return what a handler makes, and hold it where it is a page that can be.

    Parameters
    ----------
    path : str
        Of the route.
    """
    house: House = request.app.state.house
    key = key_of(request.scope)
    paths = _paths(path, request, house) if key is not None else None
    if key is None or paths is None:
        return handler(request)
    minutes = path in BY_MINUTE and _is_open(request, house)
    before = stamp_of(house, paths, minutes=minutes)
    made = handler(request)
    if not is_plain_page(made):
        return made
    body = bytes(made.body)
    tag = made.headers["etag"] = f'"{hashlib.blake2b(body, digest_size=12).hexdigest()}"'
    if before is None or request.scope.get(UNFINISHED) or not _settled(house, paths):
        return made
    if stamp_of(house, paths, minutes=minutes) == before:  # nothing came while it was made
        house.held.hold(key, Page(before, paths, minutes, zlib.compress(body, 1), tag))
    return made


def _paths(path: str, request: Request, house: House) -> tuple[str, ...] | None:
    """Return the files and folders that a page rests on; None where its address names nothing."""
    records = house.records
    try:
        if path in OF_ALL:
            return *log_folders(records), *_catalogues(records, records.engines())
        engine = records.engine(request.path_params["engine"])
        found = (*log_folders(records, engine), *_catalogues(records, [engine]))
        return (*found, *folders(records)) if path.endswith("/history") else found
    except (AsFoundError, OSError):  # the page says it
        return None


def _catalogues(records: Records, engines: Sequence[EngineRecord]) -> tuple[str, ...]:
    """Return files and folders of the company's own catalogues; the first page loads nothing for those of others."""
    if not records.settings.catalogue and not any(one.content.get("catalogue") for one in engines):
        return ()
    from asfound.records.catalogues import paths_of

    return paths_of(records, engines)


def _is_open(request: Request, house: House) -> bool:
    """Tell whether the visit of an address is open: only then does the line of its day go on."""
    try:
        _, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    except AsFoundError:  # the page says it
        return True
    return not visit.sealed


class Held(BaseRoute):
    """Addresses whose page is held: it is sent as it is."""

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Match a request whose answer is held."""
        key = key_of(scope)
        house: House = scope["app"].state.house
        found = house.held.find(house, key) if key is not None else None
        return (Match.FULL, {"asfound_page": found}) if found is not None else (Match.NONE, {})

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the page, or word that the browser's own is still right."""
        page: Page = scope["asfound_page"]
        asked = next((value for name, value in scope["headers"] if name == b"if-none-match"), b"")
        if asked.decode("latin-1") == page.tag:
            answer = Response(status_code=304, headers={"etag": page.tag})
        else:
            answer = HTMLResponse(zlib.decompress(page.body), headers={"etag": page.tag})
        await answer(scope, receive, send)

    def url_path_for(self, name: str, /, **path_params: Any) -> URLPath:
        """Return no address: nothing here is looked up by name."""
        raise NoMatchFound(name, path_params)
