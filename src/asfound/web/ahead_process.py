"""The process that makes pages ahead: lowest in rank, told by the server what was looked at, gone when that is gone.

A process of its own, so that who asks for a page shares neither an interpreter nor what it remembers with work that
nobody waits for.
"""

from __future__ import annotations

import contextlib
import json
import sys
import threading
import time
from collections import deque
from typing import IO, TYPE_CHECKING

from asfound.web.machine import IDLE_CLASS, give_way, has_time, on_mains

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from asfound.records.things import VisitRecord
    from asfound.web.work_ahead import WorkAhead

WISHES = 60
"""What was looked at or shown and waits; the oldest is dropped first."""
LOOK_AGAIN = 30.0
"""So often it is seen whether the machine has time again. [s]"""
LINGER = 90.0
"""So long the process waits for another wish before it ends. [s]"""


class Process:
    """The process as the server holds it."""

    def __init__(self, folder: Path, who: str) -> None:
        self.folder, self.who = folder, who
        self._running: subprocess.Popen[str] | None = None

    @property
    def running(self) -> bool:
        """Whether it is there."""
        return self._running is not None and self._running.poll() is None

    def begin(self, *, cookie: str, language: str, every: bool) -> None:
        """Start it, for a reader; ``every``: for all visits, not only for what is wished."""
        import subprocess

        asked = {"home": str(self.folder), "who": self.who, "cookie": cookie, "language": language, "all": every}
        with contextlib.suppress(OSError):  # a machine that has no room for it does without
            self._running = subprocess.Popen(
                [sys.executable, "-m", "asfound.web.ahead_process"],
                stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, text=True,
                creationflags=IDLE_CLASS if sys.platform == "win32" else 0,
            )  # fmt: skip
            self._tell(json.dumps(asked))

    def wish(self, visits: Iterable[str]) -> None:
        """Name visits, by address or identifier, that are likely to be opened next."""
        for one in visits:
            self._tell(one)

    def _tell(self, line: str) -> None:
        pipe = self._running.stdin if self._running is not None else None
        if pipe is not None:
            with contextlib.suppress(OSError, ValueError):  # it has ended meanwhile
                pipe.write(f"{line}\n")
                pipe.flush()

    def end(self) -> None:
        """Let it end: it does with the page in hand when nobody tells it anything any more, and is not waited for."""
        if self._running is not None:
            with contextlib.suppress(OSError):
                if self._running.stdin is not None:
                    self._running.stdin.close()
            threading.Thread(target=self._running.wait, daemon=True).start()
            self._running = None


class Told:
    """What the server told, read by a thread of its own."""

    def __init__(self, lines: IO[str], work: WorkAhead) -> None:
        self.lines, self.work = lines, work
        self.wishes: deque[str] = deque(maxlen=WISHES)
        self.something = threading.Event()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in self.lines:
            self.wishes.append(line.strip())
            self.something.set()
        self.work.over = True
        self.something.set()

    def wait(self, seconds: float) -> bool:
        """Wait for a wish; return whether there is one."""
        self.something.wait(seconds)
        self.something.clear()
        return bool(self.wishes)


def main(lines: IO[str] = sys.stdin) -> int:
    """Make pages until the server is gone, or nothing is left to do."""
    give_way()
    asked = json.loads(lines.readline())
    from asfound.records.store import Records
    from asfound.web.work_ahead import WorkAhead

    with Records.open(asked["home"]) as records:
        work = WorkAhead(records, who=asked["who"], cookie=asked["cookie"], language=asked["language"])
        run(work, Told(lines, work), every=bool(asked["all"]))
    return 0


def run(work: WorkAhead, told: Told, *, every: bool) -> None:
    """Make what is wished; between wishes, where the machine has time, everything, the newest visits first."""
    rest: Iterator[VisitRecord] = iter(work.order() if every else ())
    last = time.monotonic()
    while not work.over:
        if told.wishes:
            _wished(work, told.wishes.pop())
            last = time.monotonic()
            continue
        spare = on_mains() and has_time()
        visit = next(rest, None) if spare and not work.full else None
        if visit is not None:
            work.make(visit)
            last = time.monotonic()
        elif not told.wait(LOOK_AGAIN) and (spare or time.monotonic() - last > LINGER):
            return


def _wished(work: WorkAhead, wish: str) -> None:
    for visit in work.near(wish):
        if not work.full:
            work.make(visit)


if __name__ == "__main__":
    raise SystemExit(main())
