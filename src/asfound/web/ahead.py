"""Work done ahead of being asked: while nobody asks for a page, visits that a list wants to speak of are worked out.

One at a time, and only while the server is idle: who waits for a page goes before. Pages of what somebody is likely to
open next, and in the end of every visit, are made by a process of its own (`ahead_process`).
"""

from __future__ import annotations

import contextlib
import gc
import threading
import time
from typing import TYPE_CHECKING

from asfound.errors import AsFoundError
from asfound.records.kept_store import kept_store
from asfound.records.remember import give_back
from asfound.web.ahead_process import WISHES, Process

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from starlette.types import ASGIApp, Receive, Scope, Send

    from asfound.records.store import Records
    from asfound.web.house import House

IDLE = 0.6
"""So long nobody has asked for anything before work is done ahead. [s]"""
FIRST = 2.0
"""So long the first page is waited for before the rest of the program is loaded. [s]"""
RARELY, USUAL = (100_000, 20, 50), gc.get_threshold()
"""How often Python looks for what goes in circles: at its usual pace that is a seventh of the time of a start."""
MOST = 500
"""Visits that wait at most; what was wanted first is dropped first."""
TICK = 2.0
"""So often it is seen whether pages may be made ahead. [s]"""
NEAR, EVERY = 4.0, 30.0
"""So long nobody has asked for anything before pages near to what was looked at are made, and those of all. [s]"""
AGAIN = 1800.0
"""So long after pages of all visits were begun they are gone through again, where something was written. [s]"""
HTML, COOKIE, LANGUAGE = b"text/html", b"cookie", b"accept-language"


class Ahead:
    """A thread that works out visits while nothing is asked for."""

    def __init__(self, house: House, load: Callable[[], object]) -> None:
        self.house, self.load = house, load
        self._wanted: dict[str, None] = {}
        self._changed, self._counting = threading.Condition(), threading.Lock()
        self._asking, self._last, self._stopped = 0, time.monotonic(), False
        self._tidied = self._last
        self._answered = threading.Event()
        self._process = Process(house.own.home.folder, house.who)
        self._reader = ("", "")
        """Cookies of the last reader and the languages that their browser asks for."""
        self._near: dict[str, None] = {}
        """Addresses of visits that were looked at, and visits that lists showed, since pages were last made ahead."""
        self._began: tuple[float, int] | None = None
        """When all visits were last begun, and the newest entry then."""

    def want(self, visits: Iterable[str]) -> None:
        """Note visits that a page would speak of; the newest wish goes first."""
        with self._changed:
            for one in visits:
                self._wanted.pop(one, None)
                self._wanted[one] = None
            while len(self._wanted) > MOST:
                self._wanted.pop(next(iter(self._wanted)))
            self._changed.notify()

    def saw(self, scope: Scope) -> None:
        """Note what a browser looks at, and how its reader reads."""
        if scope["type"] != "http" or scope["method"] != "GET":
            return
        headers = dict(scope["headers"])
        if HTML not in headers.get(b"accept", b""):
            return
        self._reader = (headers.get(COOKIE, b"").decode("latin-1"), headers.get(LANGUAGE, b"").decode("latin-1"))
        parts = str(scope["path"]).split("/")
        if len(parts) > 3 and parts[1] == "engines":
            self._note("/".join(parts[:4]))

    def _note(self, visit: str) -> None:
        """Note a visit that is near to what is looked at: as many as the process takes wishes, the newest."""
        near = self._near  # another thread may begin a new one meanwhile
        near[visit] = None
        if len(near) > WISHES:
            near.pop(next(iter(near)), None)

    def begin(self) -> None:
        """Begin; the thread ends with the program."""
        threading.Thread(target=self._run, name="ahead", daemon=True).start()

    def stop(self) -> None:
        """Do nothing more."""
        with self._changed:
            self._stopped = True
            self._changed.notify()
        self._process.end()

    @contextlib.contextmanager
    def asked(self) -> Iterator[None]:
        """Hold work back while a page is being made."""
        with self._counting:
            self._asking += 1
        try:
            yield
        finally:
            with self._counting:
                self._asking -= 1
            self._last = time.monotonic()
            self._answered.set()

    def _idle(self, seconds: float = IDLE) -> bool:
        return self._asking == 0 and time.monotonic() - self._last > seconds

    def _run(self) -> None:
        self._answered.wait(FIRST)  # the first page goes before everything
        while self._asking and not self._stopped:
            time.sleep(IDLE / 20)
        with contextlib.suppress(Exception):  # a page that needs it will say what is wrong
            self.load()
        gc.collect()
        gc.freeze()  # what is there now stays: looking through it again and again for what could go is in vain
        gc.set_threshold(*USUAL)
        while not self._stopped:
            with self._changed:
                if not self._wanted:
                    self._changed.wait(TICK)
                visit = next(reversed(self._wanted), None)
            if visit is None or self._stopped:
                if not self._stopped:
                    self._tidy()
                    self._make_pages()
                continue
            while not self._idle() and not self._stopped:
                time.sleep(IDLE / 5)
            self._wanted.pop(visit, None)
            self._note(visit)
            with contextlib.suppress(AsFoundError, OSError):  # the page of the visit says what is wrong with it
                self.house.view(visit)

    def _tidy(self) -> None:
        """Give the system the memory that making pages left free; once after they were asked for."""
        if self._tidied < self._last and self._idle():
            self._tidied = time.monotonic()
            give_back()

    def _make_pages(self) -> None:
        """Let pages be made ahead where it is time for it."""
        records = self.house.own
        chosen = records.settings.ahead
        if chosen == "off" or not self._idle(NEAR) or self.house.in_demo or not may_keep(records):
            return
        near, self._near = list(self._near), {}
        stale = self._began is None or (time.monotonic() - self._began[0] > AGAIN and self._began[1] != records.newest)
        every = chosen == "all" and stale and self._idle(EVERY)
        if not near and not every:
            return
        if every and self._process.running:
            self._process.end()
        if every:
            self._began = (time.monotonic(), records.newest)
        if not self._process.running:
            cookie, language = self._reader
            self._process.begin(cookie=cookie, language=language, every=every)
        self._process.wish(near)


def may_keep(records: Records) -> bool:
    """Return whether pages of a record may be kept beside it, and another process can read it."""
    return kept_store(records) is not None and records.home.exists


def make_ready(house: House, load_rooms: Callable[[], object]) -> None:
    """Load what the second page would wait for: the other rooms, what they know, which visits there are."""
    from asfound.quantities.findings import load as load_findings
    from asfound.quantities.worksheets import load as load_worksheets

    load_rooms()
    load_worksheets()
    load_findings()
    _ = house.catalogue
    house.records.visits()
    house.records.standing("trouble_closed")


class Asked:
    """Tell who works ahead that a page is being asked for."""

    def __init__(self, app: ASGIApp, ahead: Ahead) -> None:
        self.app, self.ahead = app, ahead

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""
        self.ahead.saw(scope)
        with self.ahead.asked():
            await self.app(scope, receive, send)
