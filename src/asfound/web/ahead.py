"""Work done ahead of being asked: while nobody asks for a page, visits that a list wants to speak of are worked out.

One at a time, and only while the server is idle: who waits for a page goes before.
"""

from __future__ import annotations

import contextlib
import gc
import threading
import time
from typing import TYPE_CHECKING

from asfound.errors import AsFoundError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from starlette.types import ASGIApp, Receive, Scope, Send

    from asfound.web.house import House

IDLE = 0.6
"""So long nobody has asked for anything before work is done ahead. [s]"""
FIRST = 2.0
"""So long the first page is waited for before the rest of the program is loaded. [s]"""
RARELY, USUAL = (100_000, 20, 50), gc.get_threshold()
"""How often Python looks for what goes in circles: at its usual pace that is a seventh of the time of a start."""
MOST = 500
"""Visits that wait at most; what was wanted first is dropped first."""


class Ahead:
    """A thread that works out visits while nothing is asked for."""

    def __init__(self, house: House, load: Callable[[], object]) -> None:
        self.house, self.load = house, load
        self._wanted: dict[str, None] = {}
        self._changed, self._counting = threading.Condition(), threading.Lock()
        self._asking, self._last, self._stopped = 0, time.monotonic(), False
        self._answered = threading.Event()

    def want(self, visits: Iterable[str]) -> None:
        """Note visits that a page would speak of; the newest wish goes first."""
        with self._changed:
            for one in visits:
                self._wanted.pop(one, None)
                self._wanted[one] = None
            while len(self._wanted) > MOST:
                self._wanted.pop(next(iter(self._wanted)))
            self._changed.notify()

    def begin(self) -> None:
        """Begin; the thread ends with the program."""
        threading.Thread(target=self._run, name="ahead", daemon=True).start()

    def stop(self) -> None:
        """Do nothing more."""
        with self._changed:
            self._stopped = True
            self._changed.notify()

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

    def _idle(self) -> bool:
        return self._asking == 0 and time.monotonic() - self._last > IDLE

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
                    self._changed.wait()
                visit = next(reversed(self._wanted), None)
            if visit is None or self._stopped:
                continue
            while not self._idle() and not self._stopped:
                time.sleep(IDLE / 5)
            self._wanted.pop(visit, None)
            with contextlib.suppress(AsFoundError, OSError):  # the page of the visit says what is wrong with it
                self.house.view(visit)


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
        with self.ahead.asked():
            await self.app(scope, receive, send)
