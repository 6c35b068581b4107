"""First looks at visits, by page and by engine: cold, and after the pages were made ahead as an idle server makes them.

Every visit is looked at once, by one page, in a server that has not seen it. *Cold*: nothing of it was ever worked out
in this store. *Made ahead*: `asfound.web.work_ahead` had made its pages before, in another process, as the idle
server's own does; told are the time and the room that this took, so that anybody can say how many visits an idle hour
covers. The second table is never instead of the first.

python -m benchmarks.first_look [--store FOLDER] [--visits N]
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from random import Random

from benchmarks.big_store import big_store
from benchmarks.felt import OF_VISIT, PAGE, Client, Server, Times, names, serving

KEPT = ".kept.sqlite"
HOUR = 3600.0
QUIET = 0.005
"""A server that used less of the processor in two seconds has loaded what it loads. [s]"""


def main() -> int:
    """Print both tables; 1 when the target is missed after work ahead."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--store", type=Path)
    asked.add_argument("--visits", type=int, default=45)
    asked.add_argument("--ahead", nargs=2, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.ahead:
        print(json.dumps(make_ahead(Path(given.ahead[0]), json.loads(Path(given.ahead[1]).read_text()))))
        return 0
    home = big_store(given.store)
    visits = Random(5).sample(names(home), given.visits)
    (home / KEPT).unlink(missing_ok=True)
    cold = look(home, visits)
    table("cold: never worked out", cold)
    (home / KEPT).unlink(missing_ok=True)
    made = in_another_process(home, visits)
    each, size = made["seconds"] / len(visits), made["mb"] / len(visits)
    print(
        f"made ahead: {each:.2f} s of the processor and {1e3 * size:.0f} kB a visit, all {len(OF_VISIT)} pages of it; "
        f"an idle hour of one core makes {HOUR / each:,.0f} visits, all of the store takes "
        f"{made['all'] * each / HOUR:.1f} hours and {made['all'] * size:,.0f} MB; "
        f"one that is there is passed over in {1e3 * made['again']:.1f} ms\n"
    )
    after = look(home, visits)
    table("made ahead", after)
    at = whole(after).at(0.95, 1)
    met = at <= PAGE
    print(f"first looks after work ahead, 95th percentile: {at:.3g} s of the processor (target {PAGE:g})", end=" ")
    print("met" if met else "MISSED")
    return int(not met)


def look(home: Path, visits: Sequence[str]) -> dict[str, list[tuple[str, tuple[float, float]]]]:
    """Return by page the pattern of engine and the times of each first look at a visit."""
    found: dict[str, list[tuple[str, tuple[float, float]]]] = {}
    with serving(home) as server:
        for page in ("/", "/settings"):
            Client(server).get(page)
        settle(server)
        client = Client(server)
        client.get("/settings")
        for at, visit in enumerate(visits):
            page = OF_VISIT[at % len(OF_VISIT)]
            found.setdefault(page, []).append((visit.split("/")[2][0], client.timed(visit + page)))
    return found


def settle(server: Server) -> None:
    """Wait until the server has loaded what it loads after its first page."""
    before = -1.0
    while server.busy() - before > QUIET:
        before = server.busy()
        time.sleep(2)


def whole(found: dict[str, list[tuple[str, tuple[float, float]]]]) -> Times:
    """Return all times together."""
    return Times("**all pages**", [took for rows in found.values() for _, took in rows])


def table(title: str, found: dict[str, list[tuple[str, tuple[float, float]]]]) -> None:
    """Print a table by page, and one line for all."""
    print(
        f"\n{title}\n\n| page | asked | p50 ms | p95 ms | p99 ms | processor p50 | processor p95 |\n| --- |"
        + " ---: |" * 6
    )
    for page, rows in found.items():
        print(Times(f"…{page}", [took for _, took in rows]).row())
    print(whole(found).row(), flush=True)


def in_another_process(home: Path, visits: Iterable[str]) -> dict[str, float]:
    """Make the pages of visits in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder) / "visits.json"
        listed.write_text(json.dumps(list(visits)))
        words = [sys.executable, "-m", "benchmarks.first_look", "--ahead", str(home), str(listed)]
        out = subprocess.run(words, check=True, capture_output=True, text=True).stdout
    made: dict[str, float] = json.loads(out.splitlines()[-1])
    return made


def make_ahead(home: Path, visits: Sequence[str]) -> dict[str, float]:
    """Make the pages of visits as the idle server's process does."""
    from asfound.records.kept_store import kept_store
    from asfound.records.store import Records
    from asfound.web.work_ahead import WorkAhead

    with Records.open(home) as records:
        work, store = WorkAhead(records), kept_store(records)
        assert store is not None
        chosen = [work.near(one)[0] for one in visits]
        began = time.process_time()
        for one in chosen:
            work.make(one)
        seconds, began = time.process_time() - began, time.process_time()
        for one in chosen:
            work.make(one)
        again = (time.process_time() - began) / len(chosen)
        return {"seconds": seconds, "mb": store.megabytes(), "again": again, "all": len(records.visits())}


if __name__ == "__main__":
    raise SystemExit(main())
