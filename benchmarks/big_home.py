"""Every command of the desk on a home of 500 engines and 5,000 visits, each as a process of its own.

The yardstick is the time of the processor, which other work on the machine does not lengthen by much; the clock and the
peak of memory stand beside it. *Again* is the same command once more, with what the first left beside the record.

python -m benchmarks.big_home [--store FOLDER] [--only WORD] [--views N]
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from benchmarks.big_store import big_store

SEALS, VIEWS = 200, 60
"""Seals that are verified, and visits that a server looks at, where nothing else is said."""


@dataclass(frozen=True, slots=True)
class Target:
    """A command, and what it may take: seconds of the processor, MB."""

    name: str
    words: tuple[str, ...]
    seconds: float
    memory: float = 400.0
    again: float | None = None
    """Of the same once more; None: it is not asked again."""


def targets(demo: Path, folder: Path, engine: str, visit: str) -> tuple[Target, ...]:
    """Return what is asked; names that begin with ``demo`` are asked of the demo, the others of the large home."""
    return (
        Target("home", ("home",), 2.0),
        Target("engines", ("engines",), 2.0),
        Target("visit list", ("visit", "list"), 2.0),
        Target("due, all engines", ("due",), 3.0, again=1.5),
        Target("due, one engine", ("due", engine), 2.0),
        Target("settle", ("settle",), 2.0),
        Target("visit show", ("visit", "show", visit), 3.0),
        Target("visit verify", ("visit", "verify", visit), 2.0),
        Target("report of a closed visit", ("report", visit, "--output", f"{folder}/v", "--replace"), 4.0, again=2.0),
        Target("export of an engine's visit", ("export", visit, "--output", f"{folder}/v.json"), 3.0),
        Target("bundle-out, one engine", ("bundle-out", f"{folder}/one.zip", engine), 3.0),
        Target("bundle-in, one engine", ("bundle-in", f"{folder}/one.zip", "--home", f"{folder}/new"), 3.0),
        Target("backup", ("backup", f"{folder}/backup"), 60.0),
        Target("restore", ("restore", f"{folder}/backup", "--home", f"{folder}/again"), 60.0),
        Target("bundle-out, everything", ("bundle-out", f"{folder}/all.zip"), 60.0),
        Target("bundle-in, everything", ("bundle-in", f"{folder}/all.zip", "--home", f"{folder}/whole"), 300.0),
        Target(
            "demo: report of A2, 12 pages",
            ("report", "A2", "--output", f"{folder}/a2.pdf", "--replace", "--home", str(demo)),
            2.0,
        ),
    )  # fmt: skip


def run(words: tuple[str, ...]) -> tuple[float, float, float]:
    """Return seconds of the processor, by the clock, and the peak of memory in MB of a command."""
    began = time.perf_counter()
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:  # a process between, so that the peak is that of this command alone
        ended = subprocess.call([sys.executable, "-m", "asfound", *words], stdout=subprocess.DEVNULL)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        os.write(writing, f"{ended} {used.ru_utime + used.ru_stime} {used.ru_maxrss / 1024}".encode())
        os._exit(0)
    os.close(writing)
    os.waitpid(child, 0)
    code, seconds, memory = os.read(reading, 200).decode().split()
    os.close(reading)
    if code != "0":
        raise SystemExit(f"asfound {' '.join(words)} ends with {code}")
    return float(seconds), time.perf_counter() - began, float(memory)


def seals(home: Path, number: int) -> tuple[float, int]:
    """Return seconds of the processor for all seals, by as many as are verified here, and how many there are."""
    from asfound.records.seal import verify
    from asfound.records.store import Records

    with Records.open(home) as records:
        closed = [one.id for one in records.visits() if one.sealed]
        some = closed[:: max(len(closed) // number, 1)]
        began = time.process_time()
        if not all(verify(records, one).holds for one in some):
            raise SystemExit("a seal of the store does not hold")
        return (time.process_time() - began) / len(some) * len(closed), len(closed)


def main() -> int:
    """Measure; return 1 where a target is missed."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--store", type=Path)
    asked.add_argument("--only", default="")
    asked.add_argument("--views", type=int, default=VIEWS)
    given = asked.parse_args()
    from asfound.records.demo import make_demo_home
    from asfound.records.store import Records

    home = big_store(given.store)
    missed: list[str] = []

    def hold(name: str, found: float, most: float, unit: str) -> str:
        if found > most:
            missed.append(f"{name} ({found:.2f} {unit}, target {most:g})")
        return "met" if found <= most else "MISSED"

    with Records.open(home) as records:
        one = next(each for each in reversed(records.visits()) if each.sealed)
        engine = next(each.tag for each in records.engines() if each.id == one.engine)
    with tempfile.TemporaryDirectory() as made:
        folder, demo = Path(made), Path(made) / "demo"
        make_demo_home(demo)
        print("| command | processor s | target s | | clock s | MB | target MB | |")
        print("| --- | ---: | ---: | --- | ---: | ---: | ---: | --- |")
        for target in targets(demo, folder, engine, one.name):
            if given.only not in target.name:
                continue
            own = target.words if "--home" in target.words else (*target.words, "--home", str(home))
            for again, most in ((False, target.seconds), *([(True, target.again)] if target.again else [])):
                name = f"{target.name}{', again' if again else ''}"
                seconds, clock, memory = run(own)
                in_time, in_room = hold(name, seconds, most, "s"), hold(name, memory, target.memory, "MB")
                row = f"| {name} | {seconds:.2f} | {most:g} | {in_time} | {clock:.1f} | {memory:.0f} "
                print(f"{row}| {target.memory:g} | {in_room} |", flush=True)
    if given.only in "all seals":
        seconds, number = seals(home, SEALS)
        print(
            f"\nall {number:,} seals, from {SEALS}: {seconds:.0f} s {hold('all seals', seconds, 60.0, 's')} (target 60)"
        )
    if given.only in "server":
        memory = server(home, given.views)
        print(f"server after {given.views} visits, two pages each: {memory:.0f} MB "
              f"{hold('server', memory, 700.0, 'MB')} (target 700)")  # fmt: skip
    print(*(f"MISSED: {one}" for one in missed), sep="\n")
    return int(bool(missed))


def server(home: Path, number: int) -> float:
    """Return the memory in MB that a server holds after it showed results and fitted parts of so many visits."""
    from benchmarks.felt import Client, addresses, serving

    visits = addresses(home, number)
    with serving(home) as running:
        client = Client(running)
        for visit in visits:
            client.get(f"{visit}/exhaust")
            client.get(f"{visit}/fitted")
        return running.rss()


if __name__ == "__main__":
    raise SystemExit(main())
