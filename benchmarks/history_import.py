"""How fast a dirty log is read: rows a second, beside Python's own csv module with ``float``, and DuckDB's reader.

python -m benchmarks.history_import [ROWS]
"""

from __future__ import annotations

import csv
import resource
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

import duckdb
import numpy as np

from asfound.history.channels import Channels
from asfound.history.importing import import_files
from asfound.history.mapping import Mapping
from asfound.history.proposing import propose

COLUMNS = 24


class Nowhere:
    """Takes rows and forgets them: the reader alone is measured."""

    rows = 0

    def add(self, block: Channels) -> None:
        self.rows += len(block)

    def existing(self, *_: int) -> None:
        return None

    def commit(self) -> None:
        return None


def dirty_log(path: Path, rows: int) -> None:
    """Write a log of local times with decimal commas; one row in ten thousand is torn, one cell in a thousand text."""
    draw = np.random.default_rng(6)
    with path.open("w", encoding="utf-8") as file:
        file.write("Export;plant\n\nZeit;" + ";".join(f"T_Abgas_{n} [°C]" for n in range(1, COLUMNS + 1)) + "\n")
        for start in range(0, rows, 10_000):
            count = min(10_000, rows - start)
            seconds = 1704067200 + 60 * np.arange(start, start + count)
            times = np.datetime_as_string(seconds.astype("datetime64[s]"))
            values = np.char.replace(np.char.mod("%.1f", draw.uniform(300, 560, (count, COLUMNS))), ".", ",")
            values[draw.random((count, COLUMNS)) < 1e-3] = "Fehler"
            for at, (when, row) in enumerate(zip(times, values, strict=True)):
                day, clock = when.split("T")
                year, month, of_month = day.split("-")
                line = f"{of_month}.{month}.{year} {clock};" + ";".join(row)
                file.write((line[:40] if at == 7 else line) + "\n")


def plain(path: Path, rows: int) -> float:
    """Read the first rows as a script would, and return the seconds it would take for all."""
    first = min(rows, 50_000)
    start = time.perf_counter()
    kept = 0
    with path.open(encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.reader(file, delimiter=";")):
            if number > first:
                break
            if len(row) != COLUMNS + 1 or number < 3:
                continue
            datetime.strptime(row[0], "%d.%m.%Y %H:%M:%S")
            for field in row[1:]:
                try:
                    float(field.replace(",", "."))
                except ValueError:
                    continue
            kept += 1
    return (time.perf_counter() - start) * rows / first


def by_duckdb(path: Path) -> tuple[float, int]:
    """Read it with DuckDB told all it needs; rows with one text cell are lost to it."""
    start = time.perf_counter()
    names = ", ".join(f"'c{n}': 'DOUBLE'" for n in range(COLUMNS))
    found = duckdb.execute(
        f"SELECT count(*), sum(c0) FROM read_csv('{path}', delim=';', header=false, skip=3, decimal_separator=',', "
        f"columns={{'t': 'TIMESTAMP', {names}}}, timestampformat='%d.%m.%Y %H:%M:%S', store_rejects=true)"
    ).fetchall()
    return time.perf_counter() - start, int(found[0][0])


def main(rows: int = 1_000_000) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        dirty_log(path, rows)
        print(f"{rows:,} rows x {COLUMNS} columns, {path.stat().st_size / 1e6:.0f} MB")
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        start = time.perf_counter()
        form = propose(path, zone="Europe/Berlin", changes=False).form
        looked = time.perf_counter() - start
        start, processor = time.perf_counter(), time.process_time()
        report = import_files([path], Nowhere(), form=form, mapping=Mapping(), state=Path(folder) / "state")
        took, processor = time.perf_counter() - start, time.process_time() - processor
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        assert report.adds_up
        print(f"looked at in {looked:.2f} s; imported in {took:.2f} s ({processor:.2f} processor s): "
              f"{rows / took:,.0f} rows/s, {path.stat().st_size / took / 1e6:.0f} MB/s; "
              f"{memory - before:.0f} MB of memory more")  # fmt: skip
        print(f"kept {report.kept:,}, refused {report.refused:,}, cells refused {report.cells_refused:,}")
        script = plain(path, rows)
        print(f"a script with csv and float: {script:.1f} s, {script / took:.1f} times as long, and no ledger")
        try:
            theirs, kept = by_duckdb(path)
            print(f"DuckDB told the form: {theirs:.2f} s, {took / theirs:.1f} times faster, keeps {kept:,} rows")
        except duckdb.Error as error:
            print("DuckDB told the form:", str(error)[:100])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
