"""What an engine-year of logs costs, and what that makes for a fleet of 5,000 engines over 5 years.

Two logs: ten minutes x 40 channels (what most sites keep) and one second x 24 channels (a logger of its own). Measured
on a few months: processor time to store them, disk, processor time of the job `summarise` (all buckets from rows), most
memory of a worker; then multiplied. Also: two processes and, where it is installed, Dask against one process. Targets:
the same bytes from all, and a worker under 1 GB.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import perf_counter, process_time

import numpy as np

from asfound.history.channels import SECOND, Channels
from asfound.history.fleet import Run, run
from asfound.history.jobs import RUNS, Job
from asfound.history.months import month_bounds
from asfound.history.store import Store
from benchmarks.history_store import month_of_log

SUMMARY = Job(name="summary", version="1", function="asfound.history.jobs:summarise")
MONTHS = ("2031-01", "2031-02", "2031-03")
ENGINES, YEARS, WORKER_MB = 5000, 5, 1000.0
SLOW = tuple(f"cylinder_exhaust_temperature@cylinder_{number}" for number in range(1, 17)) + tuple(
    f"raw:column {number}@engine" for number in range(1, 25)
)


def slow_month(month: str, seed: int) -> Channels:
    """Return a month at ten minutes, 40 channels to 0.1."""
    rng, (begin, end) = np.random.default_rng(seed), month_bounds(month)
    time = np.arange(begin, end, 600 * SECOND, dtype=np.int64)
    values = {name: np.round(700 + 20 * rng.standard_normal(len(time)), 1) for name in SLOW}
    return Channels(time=time, values=values, source="benchmark")


def stored(store: Store, blocks: dict[tuple[str, str], Channels]) -> float:
    """Add blocks; return processor seconds for each."""
    start = process_time()
    for (engine, _), block in blocks.items():
        store.add(engine, block)
    return (process_time() - start) / len(blocks)


def cleared(store: Store) -> None:
    """Forget the runs."""
    for path in (Path(store.where) / RUNS).rglob("*.*"):
        if path.is_file():
            path.unlink()


def held(store: Store) -> dict[str, bytes]:
    """Return the results, byte for byte."""
    return {str(path): path.read_bytes() for path in sorted((Path(store.where) / RUNS).rglob("*.npz"))}


def on_dask(store: Store) -> Run | None:
    """Run on a cluster of two processes of this machine; None where Dask is not installed."""
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        return None
    from asfound.history.fleet_dask import run_on_dask

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        return run_on_dask(store, SUMMARY, client)


def disk(store: Store, ending: str) -> int:
    """Return bytes of files of an ending, runs not counted."""
    return sum(p.stat().st_size for p in Path(store.where).rglob(f"*{ending}") if RUNS not in p.parts)


def cost(name: str, store: Store, storing: float, found: Run) -> None:
    """Print what an engine-year costs, and the fleet."""
    months = len(found.done)
    job = sum(entry.processor for entry in found.done) / months
    rows, buckets = disk(store, ".parquet") / months, disk(store, ".npy") / months
    peak = max(entry.peak for entry in found.done) / 1e6
    fleet = ENGINES * YEARS * 12
    for what, year, all_, unit in (
        ("storing: rows and buckets", 12 * storing, fleet * storing / 3600, ("s", "h of one core")),
        ("all buckets anew from rows", 12 * job, fleet * job / 3600, ("s", "h of one core")),
        ("disk: rows", 12 * rows / 1e6, fleet * rows / 1e12, ("MB", "TB")),
        ("disk: buckets", 12 * buckets / 1e6, fleet * buckets / 1e12, ("MB", "TB")),
        ("most memory of a worker", peak, peak, ("MB", "MB")),
    ):
        print(f"| {name} | {what} | {year:.3g} {unit[0]} | {all_:.3g} {unit[1]} |")


def main() -> int:
    missed = False
    with tempfile.TemporaryDirectory(prefix="asfound-bench-") as where:
        slow, fast = Store(Path(where) / "slow"), Store(Path(where) / "fast")
        storing = stored(slow, {(f"E{e}", m): slow_month(m, e) for e in range(4) for m in MONTHS})
        storing_fast = stored(fast, {("E1", MONTHS[1]): month_of_log(MONTHS[1], 10**7, True, 1)})
        print("| where | wall s | the same bytes |\n|---|---:|---|")
        first: dict[str, bytes] = {}
        for name, work in (
            ("one process", lambda: run(slow, SUMMARY, workers=0)),
            ("two processes", lambda: run(slow, SUMMARY, workers=2)),
            ("Dask, two processes", lambda: on_dask(slow)),
        ):
            cleared(slow)
            start = perf_counter()
            found = work()
            if found is not None:
                took, now = perf_counter() - start, held(slow)
                first = first or now
                missed |= now != first or not found.complete
                print(f"| {name} | {took:.2f} | {'yes' if now == first else 'NO'} |")
        cleared(slow)  # workers of their own, whose memory is that of the job alone
        found_slow, found_fast = run(slow, SUMMARY, workers=1), run(fast, SUMMARY, workers=1)
        missed |= max(entry.peak for entry in (*found_fast.done, *found_slow.done)) / 1e6 > WORKER_MB
        print(f"\n| log | what | an engine-year | {ENGINES:,} engines x {YEARS} years |\n|---|---|---:|---:|")
        cost("10 min x 40", slow, storing, found_slow)
        cost("1 s x 24", fast, storing_fast, found_fast)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
