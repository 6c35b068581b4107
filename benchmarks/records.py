"""What a record costs: a durable entry, a visit's view after each kind of entry, the demo home, a seal and its check.

Ratios in one run: a durable entry against a bare durable write of as many bytes to the same disk (write, fsync, rename,
fsync of the folder), a view against the bare sheet and identification that it cannot do without. Writing is timed by
the clock on the wall; computing, which is done by one thread, by the time of the processor: other work does not count.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from asfound.fitout.looks import SeenLook

ANOTHER = SeenLook(slot="coil", character="kind", states=("on_cover",))
TARGET_VIEW = 60.0  # ms, a view after a reading; the sheet with 10,000 draws is in it


def timed(run: Callable[[], object], times: int, clock: Callable[[], float] = time.process_time) -> float:
    """Return the median time of a call. [ms]"""
    took = []
    for _ in range(times):
        began = clock()
        run()
        took.append(1e3 * (clock() - began))
    return statistics.median(took)


def main() -> int:
    """Print the table; non-zero when the view after a reading misses its target."""
    from asfound.fitout.identify import identify
    from asfound.quantities.sheet import work_out
    from asfound.records.catalogues import catalogue_of
    from asfound.records.demo import make_demo_home
    from asfound.records.home import write_durably
    from asfound.records.seal import seal, verify
    from asfound.records.store import Records
    from asfound.records.visit import view

    rows: list[tuple[str, float, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        home = make_demo_home(Path(folder) / "home")
        rows.append(("demo home made", 1e3 * (time.perf_counter() - began), "seven engines, seven visits"))
        with Records.open(home.folder) as records:
            visit = records.visit("A2").id
            seen = view(records, visit)
            note = {"text": "x" * 300, "time": seen.visit.began}
            size = len(json.dumps(note)) + 200
            bare = timed(lambda: write_durably(Path(folder) / "bare", b"x" * size), 50, time.perf_counter)
            entry = timed(lambda: records.append("note", note, visit=visit), 50, time.perf_counter)
            rows.append(("durable write, bare", bare, "file, fsync, rename, fsync"))
            rows.append(("durable entry", entry, f"{entry / bare:.1f} x the bare write"))
            rows.append(("view, nothing new", timed(lambda: view(records, visit), 200), ""))
            sheet = timed(lambda: work_out(seen.worked.readings, number=10_000), 15)
            after_reading = _after(lambda: _reading(records, visit), lambda: view(records, visit), 15)
            rows.append(("sheet alone, 10,000 draws", sheet, f"{len(seen.worked.results)} results"))
            rows.append(
                (
                    "view after a reading",
                    after_reading,
                    f"target {TARGET_VIEW:.0f} ms; {after_reading / sheet:.1f} x the sheet",
                )
            )
            catalogue = catalogue_of(records, seen.engine)
            looks = list(seen.looks)
            alone = _after(lambda: looks.append(ANOTHER), lambda: identify(catalogue, seen.facts, looks), 5)
            after_look = _after(lambda: _look(records, visit), lambda: view(records, visit), 5)
            rows.append(("identification alone", alone, f"{len(seen.looks)} looks and one more each time"))
            rows.append(("view after a look", after_look, f"{after_look / alone:.1f} x the identification"))
            rows.append(
                ("seal", timed(lambda: seal(records, visit), 1), f"{len(records.entries(visit=visit))} entries")
            )
            rows.append(("verify", timed(lambda: verify(records, visit), 5), "every byte of them and of the files"))
    for name, took, says in rows:
        print(f"{name:28s} {took:9.2f} ms   {says}")
    return int(after_reading > TARGET_VIEW)


def _after(change: Callable[[], object], look: Callable[[], object], times: int) -> float:
    """Return the median time of a call after a change that is not counted. [ms]"""
    took = []
    for _ in range(times):
        change()
        took.append(timed(look, 1))
    return statistics.median(took)


def _reading(records: object, visit: str) -> None:
    """Write a reading."""
    content = {
        "quantity": "exhaust_co_dry", "place": "stack", "state": "as_left", "time": "2032-07-08T11:55:00-06:00",
        "as_typed": "395 ppm", "value": 395e-6, "unit": "ppm",
    }  # fmt: skip
    records.append("reading", content, visit=visit)  # type: ignore[attr-defined]


def _look(records: object, visit: str) -> None:
    """Write the same look as an entry."""
    content = {"slot": "coil", "character": "kind", "states": ["on_cover"], "time": "2032-07-08T11:55:00-06:00"}
    records.append("look", content, visit=visit)  # type: ignore[attr-defined]


if __name__ == "__main__":
    sys.exit(main())
