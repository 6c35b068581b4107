"""Logs at one second: buckets of all channels against a plain DuckDB scan of the same columns, views, memory.

    python -m benchmarks.history_store              2.6 million rows x 24 channels, twice (a minute)
    python -m benchmarks.history_store 31.5         31.5 million rows: a year (minutes, 3 GB of disk)

Two logs: values as a logger writes them (to 0.1 of a display unit, so few different ones: the hardest case, because a
scan of them is very fast), and values with all their digits. The scan is one plain query for each file, with as many
threads as the count: sum, lowest, highest and number of every channel: a bucket but for its squares.
The barest scan, that only sums, stands beside it. Sides take turns; the ratio is of processor time, as the machine may
be busy. Targets: count at most 2.5 times the scan, under 1 GB; views under 200 ms; buckets from rows equal those kept.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

import numpy as np

from asfound.history import month as a_month
from asfound.history.buckets import DAY, TEN_MINUTES, of_rows
from asfound.history.channels import SECOND, Channels
from asfound.history.months import month_bounds
from asfound.history.rows_file import connection, quoted, word
from asfound.history.store import Store
from asfound.history.trend import small_multiples, trend

CHANNELS = {
    **{f"cylinder_exhaust_temperature@cylinder_{number}": (800.0, 12.0) for number in range(1, 17)},
    "oil_pressure@engine": (5.1e5, 4e3), "engine_power@engine": (8.0e5, 2e4), "ambient_temperature@site": (290.0, 4.0),
    "manifold_pressure@engine": (2.4e5, 5e3), "coolant_temperature@engine": (360.0, 1.0),
    "oil_temperature@engine": (350.0, 1.0), "exhaust_oxygen_dry@stack": (0.09, 0.002),
    "fuel_pressure@engine": (4e5, 2e3),
}  # fmt: skip
TARGET, VIEW_MS, MEMORY_MB, TURNS, THREADS = 2.5, 200.0, 1000.0, 5, 2
EVERY = ("2031-01", "2031-02", "2031-03", "2031-04", "2031-05", "2031-06",
         "2031-07", "2031-08", "2031-09", "2031-10", "2031-11", "2031-12")  # fmt: skip


def month_of_log(month: str, rows: int, written: bool, seed: int) -> Channels:
    """Return a month at one second; a hundredth of the values of four channels is missing."""
    rng = np.random.default_rng(seed)
    begin, end = month_bounds(month)
    time = np.arange(begin, end, SECOND, dtype=np.int64)[:rows]
    swing = np.sin(time / (6 * 3600 * SECOND))
    values = {}
    for number, (name, (middle, spread)) in enumerate(CHANNELS.items()):
        column = middle + spread * (swing + 0.2 * rng.standard_normal(len(time)))
        if written:
            column = np.round(column, 1 - int(np.floor(np.log10(spread / 12))))
        if number >= len(CHANNELS) - 4:
            column[rng.random(len(time)) < 0.01] = np.nan
        values[name] = column
    return Channels(time=time, values=values, source="benchmark")


def fill(store: Store, engine: str, rows: int, written: bool) -> float:
    """Add a log; return the seconds that the store took."""
    took, left = 0.0, rows
    for seed, month in enumerate(EVERY):
        if left > 0:
            block = month_of_log(month, left, written, seed)
            start = perf_counter()
            store.add(engine, block)
            took, left = took + perf_counter() - start, left - len(block)
    return took


def scan(store: Store, engine: str, what: tuple[str, ...] = ("sum", "min", "max", "count")) -> None:
    """Scan every channel of every month, by DuckDB alone: one query for a file, no buckets."""
    sums = ", ".join(f"{one}({quoted(name)})" for name in CHANNELS for one in what)
    with connection("800MB", THREADS) as duck:
        for one in store.manifests(engine):
            for part in one.rows:
                path = Path(store.where) / one.path / part.file
                duck.execute(f"SELECT max(time), {sums} FROM read_parquet({word(str(path))})").fetchall()


def count_new(blocks: list[Channels]) -> None:
    """Count the buckets of rows that are at hand, as the store does with those that come in."""
    for block in blocks:
        of_rows(block.time, block.values, TEN_MINUTES)


def count(store: Store, engine: str) -> None:
    """Count the buckets of ten minutes of every channel of every month, from the rows."""
    for one in store.manifests(engine):
        a_month.count(store.folder, one, tuple(one.channels), threads=THREADS)


def turns(sides: dict[str, Callable[[], None]], times: int) -> dict[str, tuple[float, float]]:
    """Return wall and processor seconds of each side, medians; sides take turns."""
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in sides}
    for _ in range(times):
        for name, work in sides.items():
            wall, processor = perf_counter(), process_time()
            work()
            found[name].append((perf_counter() - wall, process_time() - processor))
    return {name: (median(w for w, _ in all_), median(p for _, p in all_)) for name, all_ in found.items()}


def milliseconds(work: Callable[[], object], times: int = 7) -> float:
    """Return the median wall time of a call."""
    found = []
    for _ in range(times):
        start = perf_counter()
        work()
        found.append(1e3 * (perf_counter() - start))
    return median(found)


def same_bytes(store: Store, engine: str) -> bool:
    """Whether the buckets kept as rows came equal those counted from all rows."""
    return all(
        a_month.count(store.folder, one, tuple(one.channels)).coarser(step).tobytes()
        == a_month.level(store.folder, one, tuple(one.channels), step, month_bounds(one.month)[0], months).tobytes()
        for one in store.manifests(engine)[:1]
        for step in (TEN_MINUTES, DAY)
        for months in ((month_bounds(one.month)[1] - month_bounds(one.month)[0]) // step,)
    )


def peak_of_count(where: str, engine: str) -> float:
    """Return the most memory, in MB, of a process that counts everything."""
    asked = (
        "import sys; from benchmarks.history_store import *; from asfound.history.jobs import peak_memory; "
        "count(Store(sys.argv[1]), sys.argv[2]); "
        "print(peak_memory() / 1e6)"
    )
    out = subprocess.run([sys.executable, "-c", asked, where, engine], capture_output=True, text=True, check=True)
    return float(out.stdout)


def views(store: Store, engine: str) -> list[tuple[str, float]]:
    """Return what views of the log take."""
    first, last = store.span(engine) or (0, 0)
    names, four = tuple(CHANNELS), tuple(CHANNELS)[:4]
    ten_million = min(last, first + 10_000_000 // len(four) * SECOND)
    rows = store.read(engine, four[:1], first, first + 1_000_000 * SECOND)
    return [
        ("all of it, 24 channels, 900 columns", milliseconds(lambda: trend(store, engine, names, first, last))),
        ("10 million points: 4 channels", milliseconds(lambda: trend(store, engine, four, first, ten_million))),
        ("a week, 4 channels", milliseconds(lambda: trend(store, engine, four, first, first + 7 * DAY))),
        ("a day, 4 channels, from rows", milliseconds(lambda: trend(store, engine, four, first, first + DAY))),
        ("an hour, 4 channels, from rows", milliseconds(lambda: trend(store, engine, four, first, first + DAY // 24))),
        ("seven small multiples, all of it", milliseconds(
            lambda: small_multiples(store, [engine] * 7, four[0], first, last))),
        ("coverage of every channel and month", milliseconds(lambda: store.coverage(engine))),
        (f"{len(rows) / 1e6:.1f} M rows of a channel as arrays", milliseconds(
            lambda: store.read(engine, four[:1], first, first + 1_000_000 * SECOND))),
    ]  # fmt: skip


def measure(where: str, engine: str, rows: int, written: bool, times: int) -> tuple[float, float, float]:
    """Print a table; return ratio, memory, and the slowest view."""
    store = Store(where)
    added = fill(store, engine, rows, written)
    found = turns(
        {
            "scan": lambda: scan(store, engine), "bare": lambda: scan(store, engine, ("sum",)),
            "count": lambda: count(store, engine),
        }, times,
    )  # fmt: skip
    (scan_wall, scan_cpu), (bare_wall, bare_cpu), (count_wall, count_cpu) = found.values()
    month = [month_of_log(EVERY[0], min(rows, 2_600_000), written, 0)]
    _, new_cpu = turns({"new": lambda: count_new(month)}, times)["new"]
    new_cpu *= rows / len(month[0])
    peak, same = peak_of_count(where, engine), same_bytes(store, engine)
    size = sum(path.stat().st_size for path in Path(where, engine).rglob("*.parquet"))
    kept = sum(path.stat().st_size for path in Path(where, engine).rglob("*.npy"))
    print(f"\n{rows:,} rows x {len(CHANNELS)} channels, {'as a logger writes them' if written else 'all digits'}: "
          f"{size / 1e6:.0f} MB of rows, {kept / 1e6:.0f} MB of buckets")  # fmt: skip
    print(f"| what ({THREADS} threads) | s | processor s |\n|---|---:|---:|")
    print(f"| added: rows written, buckets counted, all flushed (1 thread) | {added:.2f} | |")
    print(f"| plain DuckDB scan: sum, lowest, highest, number of each | {scan_wall:.3f} | {scan_cpu:.3f} |")
    print(f"| barest DuckDB scan: sum of each | {bare_wall:.3f} | {bare_cpu:.3f} |")
    print(f"| **buckets of all channels from the rows** | {count_wall:.3f} | {count_cpu:.3f} |")
    print(f"| buckets of new rows, as they come in (1 thread; from one month) | | {new_cpu:.3f} |")
    print(f"\nprocessor time over the plain scan {count_cpu / scan_cpu:.2f} (target {TARGET}; wall time "
          f"{count_wall / scan_wall:.2f}), over the barest {count_cpu / bare_cpu:.2f}; "
          f"peak {peak:.0f} MB; buckets kept {'are' if same else 'ARE NOT'} those counted from rows")  # fmt: skip
    slowest = 0.0
    print("\n| view | ms |\n|---|---:|")
    for name, took in views(store, engine):
        print(f"| {name} | {took:.1f} |")
        slowest = max(slowest, took if "arrays" not in name else 0.0)
    return (count_cpu / scan_cpu if same else 99.0), peak, slowest


def main(millions: float) -> int:
    rows, times = int(millions * 1e6), TURNS if millions < 10 else 3
    with tempfile.TemporaryDirectory(prefix="asfound-bench-") as where:
        missed = []
        for engine, written in (("written", True), ("digits", False)):
            ratio, peak, view = measure(where, engine, rows, written, times)
            missed += [engine] if ratio > TARGET or peak > MEMORY_MB or view > VIEW_MS else []
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 2.6))
