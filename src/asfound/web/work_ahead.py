"""Pages made before anybody asks for them, and kept beside the record: what is opened next is there at once.

The pages are made by the very routes that answer a browser, asked as the last reader asked, so what is kept is what
that reader would have been given. A visit whose pages are kept as it stands is passed over in a few milliseconds.
"""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import timedelta
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.records.entries import time_of
from asfound.records.kept_store import kept_store
from asfound.records.stamps import digest_of, state_stamp
from asfound.web.held_pages import BY_MINUTE, VISIT
from asfound.web.kept_pages import COOKIES

if TYPE_CHECKING:
    from collections.abc import Iterable, MutableMapping

    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

PAGES = (
    "", "/fitted", "/fuel", "/load", "/exhaust", "/cylinders", "/other", "/crosscheck", "/trouble", "/whatif",
    "/history", "/due", "/findings", "/report", "/log",
)  # fmt: skip
"""Pages of a visit, behind its address."""
WHAT = "pages made ahead 1"
STILL = timedelta(minutes=15)
"""So long nothing was written on an engine before pages of its visits are made: each entry would make them anew."""
FULL = 0.9
"""Share of what may be kept from which on no more is made ahead: the rest is for what is looked at."""


def reader_headers(cookie: str, language: str) -> list[tuple[bytes, bytes]]:
    """Return what tells how somebody reads, without anything that lets them in or belongs to one visit.

    Parameters
    ----------
    cookie, language : str
        Headers ``Cookie`` and ``Accept-Language`` of a request.
    """
    try:
        given = SimpleCookie(cookie)
    except CookieError:
        given = SimpleCookie()
    kept = "; ".join(f"{name}={given[name].coded_value}" for name in COOKIES if name in given)
    headers = [(b"host", b"localhost"), (b"accept", b"text/html")]
    headers += [(b"cookie", kept.encode("latin-1", "replace"))] if kept else []
    headers += [(b"accept-language", language.encode("latin-1", "replace"))] if language else []
    return headers


class WorkAhead:
    """Makes the pages of visits, one visit at a time."""

    def __init__(
        self, records: Records, *, who: str | None = None, cookie: str = "", language: str = "",
        still: timedelta = STILL,
    ) -> None:  # fmt: skip
        from asfound.web.app import create_app

        self.records, self.still = records, still
        self.app = create_app(records, who=who)
        self.app.state.load()
        self.house = self.app.state.house
        self.headers = reader_headers(cookie, language)
        self.made, self.over = 0, False
        """Visits made; whether to stop before the next page."""

    @property
    def full(self) -> bool:
        """Whether as much is kept as may be, or nothing can be kept."""
        store = kept_store(self.records)
        return store is None or store.megabytes() > FULL * self.records.settings.kept_mb

    def order(self) -> list[VisitRecord]:
        """Return all visits in the order in which their pages are made: the newest first."""
        return sorted(self.records.visits(), key=lambda one: (one.began, one.id), reverse=True)

    def near(self, wish: str) -> list[VisitRecord]:
        """Return the visit of an address and those before and after it of its engine, or that of an identifier."""
        try:
            if "/" not in wish:
                return [self.records.visit(wish)]
            key, day = wish.removeprefix("/engines/").split("/")[:2]
            engine, visit = self.house.visit(key, day)
        except (AsFoundError, ValueError):
            return []
        known = self.records.visits(engine.id)
        at = next((i for i, one in enumerate(known) if one.id == visit.id), 0)
        return [visit, *known[max(at - 1, 0) : at], *known[at + 1 : at + 2]]

    def make(self, visit: VisitRecord) -> bool:
        """Make what is not kept of a visit's pages; return whether there was anything to do."""
        engine = self.records.engine(visit.engine)
        store = kept_store(self.records)
        if store is None or self._in_hand(engine):
            return False
        key = self._key(engine, visit)
        if store.get(WHAT, {visit.id: key}):
            return False
        base = self.house.visit_base(visit, engine)
        asked = [f"{base}{page}" for page in PAGES if visit.sealed or VISIT + page not in BY_MINUTE]
        with ThreadPoolExecutor(1) as alone:  # a loop of its own, whoever asks from within one
            alone.submit(lambda: asyncio.run(self._ask(asked))).result()
        if self.over:
            return False
        store.put(WHAT, visit.id, key, True)
        self.made += 1
        return True

    def _key(self, engine: EngineRecord, visit: VisitRecord) -> str:
        """Return what changes whenever a page of a visit may, for this reader; other engines' entries left aside."""
        with self.records.steady():
            stamp = state_stamp(self.records, engine, visit, minutes=False)
        return digest_of((*stamp, repr(self.headers), self.house.who))

    def _in_hand(self, engine: EngineRecord) -> bool:
        """Return whether somebody wrote on an engine a moment ago."""
        _, newest = self.records.newest_of(engine.id)
        if not newest:
            return False
        return abs(self.records.clock.now() - time_of(newest)) < self.still

    async def _ask(self, paths: Iterable[str]) -> None:
        """Ask for pages; one that cannot be made says so when a person asks for it."""
        for path in paths:
            if self.over:
                return
            with suppress(Exception):
                await self.app(self._scope(path), _nothing_sent, _let_go)

    def _scope(self, path: str) -> dict[str, Any]:
        return {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
            "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "", "headers": self.headers,
            "client": ("127.0.0.1", 0), "server": ("127.0.0.1", 80),
        }  # fmt: skip


async def _nothing_sent() -> MutableMapping[str, Any]:
    return {"type": "http.request", "body": b"", "more_body": False}


async def _let_go(_message: MutableMapping[str, Any]) -> None:
    return None
