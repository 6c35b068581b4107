"""What a locked home costs over a plain one: opening, a durable entry, a page's view, a photo, a log of a month.

Both homes hold the same demo record; each pair is timed in turns in one run. There is no target: a person decides
whether the disk may be read by whoever takes it.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

WORD = "lantern gravel seven herons"
NOTE = {"text": "x" * 300, "time": "2032-07-08T15:00:00Z"}


def in_turns(plain: Callable[[], object], locked: Callable[[], object], times: int) -> tuple[float, float]:
    """Return the median times of both. [ms]"""
    took: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for run, kept in zip((plain, locked), took, strict=True):
            began = time.perf_counter()
            run()
            kept.append(1e3 * (time.perf_counter() - began))
    return statistics.median(took[0]), statistics.median(took[1])


def main() -> int:
    """Print the table."""
    from asfound.history.channels import Channels
    from asfound.records import lock
    from asfound.records.demo import make_demo_home
    from asfound.records.lock_home import lock_home
    from asfound.records.logs_of_engine import logs
    from asfound.records.store import Records
    from asfound.records.visit import view

    seconds = np.arange(30 * 86_400 // 10, dtype=np.int64) * 10_000_000 + 1_900_000_000_000_000
    draws = np.random.default_rng(1)
    block = Channels.of(
        seconds, {f"number_{n}@engine": np.round(draws.normal(300, 5, len(seconds)), 1) for n in range(8)}
    )
    photo = os.urandom(1_000_000)
    with tempfile.TemporaryDirectory() as folder:
        homes = [make_demo_home(Path(folder) / name).folder for name in ("plain", "locked")]
        began = time.perf_counter()
        lock_home(homes[1], WORD)
        print(f"locking the demo home, everything compared: {time.perf_counter() - began:.2f} s")
        began = time.perf_counter()
        Records.open(homes[1], passphrase=WORD).close()
        print(f"the passphrase, once in a process (scrypt): {time.perf_counter() - began:.2f} s\n")
        both = [Records.open(home) for home in homes]
        visits = [one.visit("A2").id for one in both]

        def pair(work: Callable[[Records, str], object], times: int) -> tuple[float, float]:
            return in_turns(lambda: work(both[0], visits[0]), lambda: work(both[1], visits[1]), times)

        def added(name: str) -> Callable[[Records, str], object]:
            number = iter(range(100))
            return lambda one, _visit: logs(one).add(f"{name}{next(number)}", block)

        digests = [one.attach(photo, "a.jpg", "image/jpeg") for one in both]
        rows = {
            "open the record": in_turns(
                lambda: Records.open(homes[0]).close(), lambda: Records.open(homes[1]).close(), 15
            ),
            "a durable entry": pair(lambda one, visit: one.append("note", NOTE, visit=visit, who="T"), 40),
            "a visit's view after an entry": pair(
                lambda one, visit: (one.append("note", NOTE, visit=visit, who="T"), view(one, visit)), 5
            ),
            "a photo of 1 MB kept": pair(lambda one, _: one.attach(os.urandom(1_000_000), "a.jpg", "image/jpeg"), 15),
            "a photo of 1 MB read": in_turns(
                lambda: both[0].attachment(digests[0]), lambda: both[1].attachment(digests[1]), 15
            ),
            "a month of a log every 10 s, 8 channels, taken in": pair(added("E"), 3),
        }
        name = "E0"
        logs(both[1]).add(name, block)
        logs(both[0]).add(name, block)
        rows["the same read, 2 channels"] = pair(lambda one, _: logs(one).read(name, list(block.values)[:2]), 7)
        for what, (plain, locked) in rows.items():
            print(f"{what:<52} plain {plain:8.1f} ms   locked {locked:8.1f} ms   {locked / plain:5.2f} times")
        for one in both:
            one.close()
    lock.forget()
    return 0


if __name__ == "__main__":
    sys.exit(main())
