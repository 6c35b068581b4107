"""Kill -9 in the middle of saves, through every door: what was answered as kept is there, nothing is there by half.

    python -m benchmarks.kill                   1,000 saves
    python -m benchmarks.kill --saves 120 --locked

A process that writes is killed at random moments and begun anew, until so many saves were answered: entries appended by
the library (two at a time, all or none), entries and photos posted to the pages (answered 303), logs taken in. Each
kill may cost what was not answered yet and nothing else. Exits 1 when an answered save is missing, something is there
by half, a photo is not what was sent, or a row of a log is missing or doubled. It measures no speed.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchmarks.kill_pages import by_pages

WORD = "lantern gravel seven herons"
LIBRARY = """
import sys
from asfound.records.store import Draft, Records
records = Records.open(sys.argv[1])
visit = next(one.id for one in records.visits() if one.sealed is None)
n = 0
while True:
    text = f"{sys.argv[2]} {n} " + "x" * (n * 37 % 3000)
    note = {"text": text, "time": "2032-07-08T15:00:00Z"}
    pair = [Draft(kind="note", content=note, visit=visit, who="K") for _ in range(2)]
    print(*(one.id for one in records.append_many(pair)), flush=True)
    n += 1
"""
IMPORT = """
import sys
from pathlib import Path
from asfound.history import importing
from asfound.records import log_import, log_plan
from asfound.records.store import Records
whole = importing.import_files
importing.import_files = lambda *given, **named: whole(*given, commit_rows=500, **named)  # a break in mid file
with Records.open(sys.argv[1]) as records:
    engine = records.engine("A1")
    files, _ = log_import.fresh(records, engine, [Path(one) for one in sys.argv[2:]])
    if files:
        source = log_import.source_for(records, engine, "panel")
        planned = log_plan.plan(files, source, zone="UTC")
        print("begun", flush=True)
        log_import.import_planned(records, engine, planned, who="K")
    print("done", flush=True)
"""


@dataclass
class Tally:
    """What was done and what was found wrong."""

    door: str
    saves: int = 0
    kills: int = 0
    wrong: list[str] = field(default_factory=list)


def child(code: str, *words: object) -> subprocess.Popen[str]:
    """Begin a process that writes."""
    command = [sys.executable, "-c", code, *map(str, words)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)


def kill(process: subprocess.Popen[str]) -> list[str]:
    """Kill a process as a power cut does; return what it had still said."""
    process.send_signal(signal.SIGKILL)
    assert process.stdout is not None
    rest = process.stdout.read().splitlines()
    process.wait()
    process.stdout.close()
    return rest


def by_library(home: Path, saves: int, draw: random.Random) -> Tally:
    """Append pairs from two processes at once, and kill both."""
    from asfound.records.store import Records

    tally, answered = Tally("library, two processes"), list[tuple[str, str]]()
    while tally.saves < saves:
        writers = [child(LIBRARY, home, f"{tally.kills}{name}") for name in "ab"]
        said = [[one.stdout.readline()] for one in writers if one.stdout]
        time.sleep(draw.uniform(0.05, 1.0))
        for writer, lines in zip(writers, said, strict=True):
            lines += kill(writer)
            tally.kills += 1
        for line in (one for lines in said for one in lines):
            words = line.split()
            if len(words) == 2 and all(len(word) == 36 for word in words):
                answered.append((words[0], words[1]))
        tally.saves = 2 * len(answered)
    with Records.open(home) as records:
        notes = [one for one in records.entries(kind="note") if str(one.content["text"]).rstrip("x").endswith(" ")]
        kept = {one.id for one in notes}
        tally.wrong += [f"lost {one}" for pair in answered for one in pair if one not in kept]
        texts: dict[str, int] = {}
        for one in notes:
            texts[str(one.content["text"])] = texts.get(str(one.content["text"]), 0) + 1
        tally.wrong += [f"half of a pair: {text[:20]}" for text, count in texts.items() if count != 2]
        tally.wrong += [f"damaged: {one.id}" for one in records.entries(kind="damaged")]
        tally.wrong += records.database.faults()
    return tally


def by_logs(home: Path, folder: Path, saves: int, draw: random.Random) -> Tally:
    """Take logs in, and kill that until it is done; then compare every row."""
    from asfound.records.logs_of_engine import imports, logs, stored_as
    from asfound.records.store import Records

    tally, files = Tally("logs taken in"), max(2, saves // 100)
    rows_each, paths = 4000, list[Path]()
    for number in range(files):
        lines = [
            f"2032-{1 + number % 12:02d}-{1 + n // 1440:02d} {n // 60 % 24:02d}:{n % 60:02d},{number}.{n:04d}"
            for n in range(rows_each)
        ]
        paths.append(folder / f"log{number}.csv")
        paths[-1].write_text("time,engine power [kW]\n" + "\n".join(lines) + "\n")
    for path in paths:
        for _ in range(6 if saves >= 100 else 2):
            importer = child(IMPORT, home, path)
            if importer.stdout:
                importer.stdout.readline()
            time.sleep(draw.uniform(0.0, 0.8))
            if importer.poll() is None:
                tally.kills += 1
            kill(importer)
        last = child(IMPORT, home, path)
        if last.wait() != 0:
            tally.wrong.append(f"{path.name} could not be taken in after the kills")
        if last.stdout:
            last.stdout.close()
        tally.saves += rows_each
    with Records.open(home) as records:
        engine = records.engine("A1")
        store, name = logs(records), stored_as(records, engine)
        assert name is not None
        rows = store.read(name)
        (values,) = rows.values.values()
        if len(rows) != rows_each * len({number % 12 for number in range(files)}) and files <= 12:
            tally.wrong.append(f"{len(rows)} rows are there")
        if files <= 12:
            told = sorted(1000.0 * float(f"{number}.{n:04d}") for number in range(files) for n in range(rows_each))
            if sorted(values.tolist()) != told:
                tally.wrong.append("rows are not what was in the files")
        entries = imports(records, engine)
        counts = {str(one["name"]): 0 for entry in entries for one in entry.content["files"]}
        for entry in entries:
            for one in entry.content["files"]:
                counts[str(one["name"])] += 1
        once = (path.name for path in paths if counts.get(path.name) != 1)
        tally.wrong += [f"{name} stands in {counts.get(name, 0)} imports" for name in once]
        tally.wrong += [f"damaged: {one}" for one in store.verify()]
    return tally


def main() -> int:
    """Kill, look, and print what was found."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("--saves", type=int, default=1000)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--doors", nargs="*", choices=("library", "pages", "logs"), help="only these")
    words.add_argument("--locked", action="store_true", help="in a locked home")
    asked = words.parse_args()
    if os.name == "nt":
        print("kill -9 is not of this system")
        return 0
    from asfound.records.demo import make_demo_home

    draw, bad = random.Random(asked.seed), 0
    with tempfile.TemporaryDirectory() as folder:
        homes = [make_demo_home(Path(folder) / name).folder for name in ("library", "pages", "logs")]
        if asked.locked:
            from asfound.records.lock_home import lock_home

            (Path(folder) / "word").write_text(WORD)
            os.environ["ASFOUND_PASSPHRASE_FILE"] = str(Path(folder) / "word")
            for home in homes:
                lock_home(home, WORD)
        doors: dict[str, Callable[[], Tally]] = {
            "library": lambda: by_library(homes[0], asked.saves, draw),
            "pages": lambda: Tally("pages, notes and photos", *by_pages(homes[1], asked.saves, draw)),
            "logs": lambda: by_logs(homes[2], Path(folder), asked.saves, draw),
        }
        for door in asked.doors or doors:
            began = time.monotonic()
            tally = doors[door]()
            told: Any = "nothing lost, nothing by half" if not tally.wrong else f"WRONG: {tally.wrong[:5]}"
            what = "rows" if tally.door.startswith("logs") else "answered saves"
            took = f"{tally.kills:3} kills, {time.monotonic() - began:5.0f} s"
            print(f"{tally.door:<26} {tally.saves:6,} {what}, {took}: {told}", flush=True)
            bad += bool(tally.wrong)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
