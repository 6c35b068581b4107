"""What a person waits for, with 500 engines and 5,000 visits in the store: the real server as a process of its own.

The server runs on one core, the client on another (where the system lets them be placed). Visits are drawn at random
over all of them. A *first look* is the first page asked of a visit that nobody looked at in this process; *second
looks* are all later ones. Targets: first page within 1 s of the start, any page under 50 ms at the 95th percentile, 100
requests a second, a report of 12 pages in under 2 s.

python -m benchmarks.felt [--visits N] [--store FOLDER] [--quick]
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

from benchmarks.big_store import big_store

START, PAGE, RATE, REPORT = 1.0, 0.050, 100.0, 2.0  # s, s at the 95th percentile, requests a second, s
OF_VISIT = (
    "", "/fitted", "/fuel", "/load", "/exhaust", "/cylinders", "/other", "/crosscheck", "/trouble", "/whatif",
    "/history", "/due", "/findings", "/report", "/log",
)  # fmt: skip
WORDS = ("orvel", "g01", "throttle", "nox", "2032-05", "spark", "hours")
OF_HOME = (
    "/", "/?page=2", "/?page=9", "/?find=orvel", "/fleet", "/fleet?page=3", "/settings", "/sources", "/worksheets",
    "/catalogue", "/instruments", "/engines/new", *(f"/find?find={word}" for word in WORDS),
)  # fmt: skip
ROUNDS = 5
SECONDS = 5.0


@dataclass(slots=True)
class Server:
    """A server that runs, and how long it took to say so."""

    process: subprocess.Popen[str]
    port: int
    began: float

    def busy(self) -> float:
        """Return the time of the processor that it has used; what other work on this machine takes is not in it. [s]"""
        spent = 0
        for one in Path(f"/proc/{self.process.pid}/task").iterdir():
            with contextlib.suppress(OSError):
                spent += int((one / "schedstat").read_text().split()[0])
        return spent / 1e9

    def rss(self) -> float:
        """Return the memory that it holds. [MB]"""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.findall(r"VmRSS:\s+(\d+)", status)[0]) / 1024


@contextlib.contextmanager
def serving(home: Path) -> Iterator[Server]:
    """Serve a home in a process of its own on the first core while the block runs."""
    began = time.perf_counter()
    words = [sys.executable, "-m", "asfound", "serve", "--home", str(home), "--port", "0", "--json"]
    cores = sorted(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else []
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, text=True,
        preexec_fn=(lambda: os.sched_setaffinity(0, cores[:1])) if len(cores) > 1 else None,
    )  # fmt: skip
    if len(cores) > 1:
        os.sched_setaffinity(0, cores[1:])
    try:
        assert process.stdout is not None
        found = re.search(r":(\d+)/", process.stdout.readline())
        assert found is not None
        yield Server(process, int(found[1]), began)
    finally:
        process.terminate()
        process.wait()
        if len(cores) > 1:
            os.sched_setaffinity(0, cores)


class Client:
    """One connection that stays open."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.http = http.client.HTTPConnection("127.0.0.1", server.port)

    def timed(self, path: str) -> tuple[float, float]:
        """Return how long an answer took, by the clock and of the processor. [s]"""
        before = self.server.busy()
        took, _size = self.get(path)
        return took, self.server.busy() - before

    def get(self, path: str) -> tuple[float, int]:
        """Return how long an answer took, and its size."""
        began = time.perf_counter()
        self.http.request("GET", path)
        answer = self.http.getresponse()
        body = answer.read()
        took = time.perf_counter() - began
        if answer.status != 200:
            raise SystemExit(f"{path} is answered with {answer.status}")
        return took, len(body)


def first_pages(home: Path, *, cold: bool) -> tuple[list[float], list[float]]:
    """Return the times from the start of the process to the last byte of its first page, and those of the processor."""
    took, spent = [], []
    for _ in range(ROUNDS):
        if cold:
            _forget(home)
        with serving(home) as server:
            Client(server).get("/")
            took.append(time.perf_counter() - server.began)
            spent.append(server.busy())
    return took, spent


def _forget(home: Path) -> None:
    """Ask the system to drop the record and the program from its memory of files."""
    places = [home, Path(sys.prefix), Path(__file__).parents[1] / "src"]
    for place in places:
        for path in place.rglob("*"):
            if path.is_file() and path.suffix in (".sqlite", ".pyc", ".so", ".yaml", ".csv", ".html", ".css"):
                with contextlib.suppress(OSError):
                    handle = os.open(path, os.O_RDONLY)
                    os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
                    os.close(handle)


def addresses(home: Path, count: int) -> list[str]:
    """Return the addresses of visits drawn at random over all of them."""
    words = [sys.executable, "-m", "benchmarks.felt", "--names", str(home)]
    out = subprocess.run(words, check=True, capture_output=True, text=True).stdout
    return Random(5).sample(json.loads(out), count)


def names(home: Path) -> list[str]:
    """Return the address of every visit."""
    from asfound.records.store import Records

    with Records.open(home) as records:
        return [f"/engines/{one.name}" for one in records.visits()]


@dataclass(slots=True)
class Times:
    """Times of one kind of page. [s]"""

    name: str
    took: list[tuple[float, float]]
    """By the clock, and of the processor."""

    def row(self) -> str:
        """Return a row of the table."""
        clock = (1e3 * self.at(part) for part in (0.50, 0.95, 0.99))
        busy = (1e3 * self.at(part, 1) for part in (0.50, 0.95))
        return f"| {self.name} | {len(self.took)} | " + " | ".join(f"{one:.1f}" for one in (*clock, *busy)) + " |"

    def at(self, part: float, which: int = 0) -> float:
        """Return a percentile by the clock (0) or of the processor (1). [s]"""
        found = sorted(one[which] for one in self.took)
        return found[min(int(len(found) * part), len(found) - 1)]


def pages(server: Server, visits: Sequence[str]) -> tuple[list[Times], Times, Times]:
    """Return the times by page, of first looks at a visit, and of all second looks."""
    client = Client(server)
    random = Random(3)
    by_page: dict[str, Times] = {}
    first, second = Times("first look at a visit, any page", []), Times("**second looks, all pages**", [])
    for path in OF_HOME:
        client.get(path)
    for path in OF_HOME:
        for _ in range(10):
            took = client.timed(path)
            by_page.setdefault(path.split("=")[0], Times(path.split("=")[0], [])).took.append(took)
            second.took.append(took)
    for at, visit in enumerate(visits):
        start = OF_VISIT[at % len(OF_VISIT)]
        first.took.append(client.timed(visit + start))
        for path in OF_VISIT:
            if path != start:
                took = client.timed(visit + path)
                by_page.setdefault(f"… {path} for the first time", Times(f"…{path}, seen first", [])).took.append(took)
        for path in random.sample(OF_VISIT, len(OF_VISIT)):
            took = client.timed(visit + path)
            by_page.setdefault(f"visit{path}", Times(f"visit{path}", [])).took.append(took)
            second.took.append(took)
        engine = visit.rsplit("/", 1)[0]
        took = client.timed(engine)
        by_page.setdefault("engine", Times("engine", [])).took.append(took)
        took = client.timed(f"{engine}/due")
        by_page.setdefault("engine/due", Times("engine/due", [])).took.append(took)
    return list(by_page.values()), first, second


def rate(server: Server, visits: Sequence[str], seconds: float, connections: int = 8) -> float:
    """Return requests answered in a second over several connections: pages that were looked at before."""
    paths = [*OF_HOME, *(visit + path for visit in visits for path in OF_VISIT)]
    done = [0] * connections
    until = time.perf_counter() + seconds

    def ask(number: int) -> None:
        client, random = Client(server), Random(number)
        while time.perf_counter() < until:
            client.get(random.choice(paths))
            done[number] += 1

    began = time.perf_counter()
    threads = [threading.Thread(target=ask, args=(number,)) for number in range(connections)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return sum(done) / (time.perf_counter() - began)


def report() -> tuple[list[float], list[float], list[float], int]:
    """Return times of A2's report: as a process in a fresh home, again there, through a server; and its pages."""
    from asfound.records.demo import make_demo_home

    first: list[float] = []
    again: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        for one in range(ROUNDS):
            home = Path(folder) / f"home{one}"
            make_demo_home(home)
            paper = Path(folder) / f"a2_{one}.pdf"
            words = [sys.executable, "-m", "asfound", "report", "A2/2032-07-08", "--home", str(home)]
            for times in (first, again):
                began = time.perf_counter()
                subprocess.run([*words, "--output", str(paper), "--replace"], check=True, stdout=subprocess.DEVNULL)
                times.append(time.perf_counter() - began)
        sheets = len(re.findall(rb"/Type\s*/Page[^s]", paper.read_bytes()))
        make_demo_home(Path(folder) / "served")
        with serving(Path(folder) / "served") as server:
            client = Client(server)
            client.get("/")
            through_web = [client.get("/engines/A2/2032-07-08/report.pdf")[0] for _ in range(3)]
    return first, again, through_web, sheets


def _said(took: Sequence[float]) -> str:
    return ", ".join(f"{one:.2f}" for one in took)


def main() -> int:
    """Print the tables; 1 when a target is missed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--names", help=argparse.SUPPRESS)
    asked.add_argument("--store", type=Path)
    asked.add_argument("--visits", type=int, default=60)
    asked.add_argument("--many", type=int, default=2_000)
    asked.add_argument("--quick", action="store_true")
    given = asked.parse_args()
    if given.names:
        print(json.dumps(names(Path(given.names))))
        return 0
    home = big_store(given.store)
    missed: list[str] = []

    def hold(what: str, found: float, most: float, unit: str = "s") -> None:
        met = found <= most if unit == "s" else found >= most
        print(f"{what}: {found:.3g} {unit} (target {most:g}) {'met' if met else 'MISSED'}", flush=True)
        if not met:
            missed.append(what)

    for cold in (False, True):
        took, spent = first_pages(home, cold=cold)
        said = "cold files" if cold else "warm files"
        print(f"start to first page, {said}: {_said(took)} s; of the processor {_said(spent)} s", flush=True)
        hold(f"start to first page, {said}, median", statistics.median(took), START)
    with serving(home) as server:
        visits = addresses(home, given.visits)
        Client(server).get("/")
        print(f"\nmemory after the first page: {server.rss():.0f} MB")
        by_page, first, second = pages(server, visits)
        print(
            "\n| page | asked | p50 ms | p95 ms | p99 ms | processor p50 | processor p95 |\n| --- |"
            + " ---: |" * 6
            + ""
        )
        for one in (*sorted(by_page, key=lambda each: each.name), first, second):
            print(one.row())
        print(f"memory after {len(visits)} visits: {server.rss():.0f} MB\n")
        print(
            f"of the processor: second looks {1e3 * second.at(0.95, 1):.0f} ms, first {1e3 * first.at(0.95, 1):.0f} ms"
        )
        hold("second looks, 95th percentile", second.at(0.95), PAGE)
        hold("first looks at a visit, 95th percentile", first.at(0.95), PAGE)
        before = server.busy()
        found = rate(server, visits[:20], SECONDS)
        print(f"processor for one request of many: {1e3 * (server.busy() - before) / (found * SECONDS):.1f} ms")
        hold("requests a second, 8 connections", found, RATE, "1/s")
        if not given.quick:
            client = Client(server)
            began = time.perf_counter()
            for visit in addresses(home, given.many):
                client.get(visit)
            seconds = time.perf_counter() - began
            print(f"memory after {given.many} different visits: {server.rss():.0f} MB ({seconds:.0f} s)")
    first_time, again, through_web, sheets = report()
    print(f"report of A2, {sheets} pages, as a process: first {_said(first_time)} s; again {_said(again)} s")
    print(f"through the server: {_said(through_web)} s")
    hold("report as a process, first time, median", statistics.median(first_time), REPORT)
    hold("report as a process, nothing changed since, median", statistics.median(again), REPORT)
    hold("report through a server, first time", through_web[0], REPORT)
    return int(bool(missed))


if __name__ == "__main__":
    raise SystemExit(main())
