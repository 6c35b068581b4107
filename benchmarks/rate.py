"""How many requests a second, and what each page takes of the processor, by name.

The real server as a process on one core, 500 engines and 5,000 visits in the store. Pages of the home and of a few
visits drawn at random, open ones among them, are looked at once, then again in any order; then 1 and 8 browsers ask for
any of them without a pause; then another server is started, which has nothing in memory but finds what the first kept
beside the record. Targets: 100 requests a second, 50 ms at the 95th percentile.

python -m benchmarks.rate [--visits N] [--store FOLDER] [--seconds S]
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from random import Random

from benchmarks.big_store import big_store
from benchmarks.felt import OF_HOME, OF_VISIT, PAGE, RATE, Client, Server, Times, addresses, rate, serving

HEAD = "| page | asked | p50 ms | p95 ms | p99 ms | processor p50 | processor p95 |\n| --- |" + " ---: |" * 6


def name_of(path: str) -> str:
    """Return what a page is called, whatever visit it is of.

    >>> name_of("/engines/K2494/2031-02-12/exhaust"), name_of("/find?find=nox"), name_of("/engines/new")
    ('visit/exhaust', '/find', '/engines/new')
    """
    parts = path.split("/")
    return "/".join(["visit", *parts[4:]]) if len(parts) > 3 else path.partition("?")[0]


def looked_at(server: Server, paths: Sequence[str]) -> tuple[list[Times], Times]:
    """Return the times of pages by name, and of all."""
    client, by_name, every = Client(server), dict[str, Times](), Times("**all**", [])
    for path in paths:
        took = client.timed(path)
        by_name.setdefault(name_of(path), Times(name_of(path), [])).took.append(took)
        every.took.append(took)
    return sorted(by_name.values(), key=lambda one: one.name), every


def main() -> int:
    """Print the tables; 1 when a target is missed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--store", type=Path)
    asked.add_argument("--visits", type=int, default=10)
    asked.add_argument("--seconds", type=float, default=5.0)
    given = asked.parse_args()
    home = big_store(given.store)
    with serving(home) as server:
        visits = addresses(home, given.visits)
        paths = [*OF_HOME, *(visit + page for visit in visits for page in OF_VISIT)]
        _, first = looked_at(server, paths)
        print(f"memory after {len(visits)} visits, all pages: {server.rss():.0f} MB")
        random = Random(8)
        by_name, again = looked_at(server, [one for _ in range(3) for one in random.sample(paths, len(paths))])
        print(f"\n{HEAD}")
        for one in (*by_name, again):
            print(one.row())
        found = {}
        for browsers in (1, 8):
            before = server.busy()
            found[browsers] = rate(server, visits, given.seconds, browsers)
            each = 1e3 * (server.busy() - before) / (found[browsers] * given.seconds)
            print(f"{browsers} browsers: {found[browsers]:.0f} requests a second, {each:.2f} ms of the processor each")
        print(f"first time: processor p50 {1e3 * first.at(0.5, 1):.0f} ms, p95 {1e3 * first.at(0.95, 1):.0f} ms")
        print(f"memory at the end: {server.rss():.0f} MB")
    with serving(home) as server:
        Client(server).get("/")
        by_name, after = looked_at(server, paths)
        print(f"\nin another process, first time there:\n{HEAD}")
        for one in (*by_name, after):
            print(one.row())
    met = found[8] >= RATE and again.at(0.95) <= PAGE
    print(f"100 requests a second, 50 ms at the 95th percentile: {'met' if met else 'MISSED'}")
    return int(not met)


if __name__ == "__main__":
    raise SystemExit(main())
