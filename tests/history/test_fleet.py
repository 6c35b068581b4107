"""Jobs over engines and months: the same bytes on any number of processes and on Dask; what is lost is done again."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from asfound.errors import AsFoundError
from asfound.history.channels import SECOND, Channels
from asfound.history.fleet import run
from asfound.history.jobs import RUNS, Job, good_entry, packed, results, unpacked
from asfound.history.months import month_bounds
from asfound.history.store import Store

EXHAUST, PRESSURE = "cylinder_exhaust_temperature@cylinder_1", "oil_pressure@engine"
SUMMARY = Job(name="summary", version="1", function="asfound.history.jobs:summarise")
COUNT = Job(name="count", version="1", function="asfound.history.jobs:count_month")
MONTHS = ("2032-01", "2032-02", "2032-03")
HERE = Path(__file__).parent


def log(seed: int, source: str = "panel") -> Channels:
    """A quarter at six hours."""
    rng = np.random.default_rng(seed)
    time = np.arange(month_bounds("2032-01")[0], month_bounds("2032-03")[1], 6 * 3600 * SECOND)
    return Channels.of(time, {EXHAUST: rng.normal(800, 30, len(time)), PRESSURE: rng.normal(4e5, 1e4, len(time))},
                       source=source)  # fmt: skip


@pytest.fixture
def store(tmp_path):
    made = Store(tmp_path / "logs")
    for seed, engine in enumerate(("A1", "A2")):
        made.add(engine, log(seed))
    return made


@pytest.fixture
def jobs(monkeypatch):
    """Let worker processes import the jobs of the tests."""
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")]))
    monkeypatch.syspath_prepend(str(HERE))


def job(function, tmp_path=None, **given) -> Job:
    if tmp_path:
        given["notes"] = str(tmp_path / "notes")
        (tmp_path / "notes").mkdir(exist_ok=True)
    return Job(name=function, version="1", function=f"fleet_jobs:{function}", given=given)


def result_bytes(store, job) -> dict[str, bytes]:
    return {str(path.relative_to(store.where)): path.read_bytes()
            for path in sorted((Path(store.where) / RUNS / job.name).rglob("*.npz"))}  # fmt: skip


def done_at(entries) -> list[tuple[str, str]]:
    return [(entry.engine, entry.month) for entry in entries]


def test_two_processes_give_the_bytes_of_one(store):
    for one in (SUMMARY, COUNT):
        alone = run(store, one, workers=0)
        assert alone.complete
        assert len(alone.done) == 6
        first = result_bytes(store, one)
        for path in (Path(store.where) / RUNS / one.name).rglob("*.npz"):
            path.unlink()
        both = run(store, one, workers=2)
        assert len(both.done) == 6
        assert result_bytes(store, one) == first
    assert all(found["kept_are_same"] for _, _, found in results(store, COUNT))


def test_a_summary_is_numpys(store):
    run(store, SUMMARY, workers=0, engines=["A1"], months=["2032-02"])
    ((engine, month, found),) = results(store, SUMMARY)
    begin, end = month_bounds("2032-02")
    values = store.read("A1", [EXHAUST], begin, end).values[EXHAUST]
    assert (engine, month) == ("A1", "2032-02")
    row = found["channels"].tolist().index(EXHAUST)
    assert found["n"][row] == len(values)
    assert found["mean"][row] == pytest.approx(values.mean(), abs=1e-5)
    assert found["deviation"][row] == pytest.approx(values.std(ddof=1), abs=1e-4)


def test_a_second_run_does_only_what_changed(store):
    run(store, SUMMARY, workers=0)
    again = run(store, SUMMARY, workers=0)
    assert (len(again.done), len(again.stood)) == (0, 6)
    store.add("A2", Channels.of([month_bounds("2032-02")[0] + 1], {EXHAUST: [700.0]}, source="card"))
    third = run(store, SUMMARY, workers=0)
    assert done_at(third.done) == [("A2", "2032-02")]
    newer = Job(name="summary", version="2", function=SUMMARY.function)
    assert len(run(store, newer, workers=0).done) == 6


def test_a_killed_worker_loses_nothing(store, tmp_path, jobs):
    one = job("dies_once", tmp_path, at="2032-02")
    found = run(store, one, workers=2)
    assert found.complete
    assert len(found.done) == 6
    assert (tmp_path / "notes" / "died").exists()
    done = [note.name.rsplit(" ", 1)[0] for note in (tmp_path / "notes").iterdir() if note.name != "died"]
    assert set(done) == {f"{engine} {month}" for engine in ("A1", "A2") for month in MONTHS}
    assert len(done) <= 7  # at most the other worker's month twice
    run(store, SUMMARY, workers=0)
    assert list(result_bytes(store, one).values()) == list(result_bytes(store, SUMMARY).values())


def test_a_month_that_kills_its_worker_is_told_and_stops_nothing(store, tmp_path, jobs):
    one = job("dies_always", tmp_path, at="2032-03")
    found = run(store, one, workers=2, engines=["A1"])
    assert done_at(found.failed) == [("A1", "2032-03")]
    assert "worker died" in found.failed[0].failed
    assert len(found.done) == 2


def test_a_job_that_fails_at_a_month_says_why(store, jobs):
    found = run(store, job("fails", at="2032-02"), workers=0)
    assert done_at(found.failed) == [("A1", "2032-02"), ("A2", "2032-02")]
    assert found.failed[0].failed == "ValueError: no turning point found"
    assert not found.failed[0].damaged
    again = run(store, job("fails", at="never"), workers=0)
    assert again.complete


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a process is bounded on Linux only")
def test_memory_of_a_worker_is_bounded(store, jobs):
    found = run(store, job("hungry", at="2032-02"), workers=1, engines=["A1"], most=1_200_000_000)
    assert done_at(found.failed) == [("A1", "2032-02")]
    assert "Memory" in found.failed[0].failed
    assert len(found.done) == 2
    assert all(0 < entry.peak < 1_200_000_000 for entry in found.done)


def test_a_corrupt_month_is_told_and_mended_from_its_source(store):
    run(store, SUMMARY, workers=0)
    before = result_bytes(store, SUMMARY)
    manifest = store.manifest("A1", "2032-02")
    damage = Path(store.where) / manifest.path / manifest.rows[0].file
    whole = bytearray(damage.read_bytes())
    whole[len(whole) // 2] ^= 0xFF
    damage.write_bytes(whole)
    for path in (Path(store.where) / RUNS).rglob("*.json"):
        path.unlink()  # another run, on another machine
    found = run(store, SUMMARY, workers=0)
    assert done_at(found.failed) == [("A1", "2032-02")]
    assert found.failed[0].damaged
    assert len(found.done) == 5
    assert store.verify() == (f"{manifest.path}/{manifest.rows[0].file}",)

    (lost,) = store.set_aside("A1", "2032-02")
    assert lost.sources == {"panel": 116}
    assert store.verify() == ()
    assert store.set_aside("A1", "2032-02") == ()
    assert store.add("A1", log(0)).kept == 116  # the source again: only what was lost comes in
    mended = run(store, SUMMARY, workers=0)
    assert done_at(mended.done) == [("A1", "2032-02")]
    assert result_bytes(store, SUMMARY) == before


def test_damaged_buckets_are_counted_anew(store):
    manifest = store.manifest("A1", "2032-01")
    for part in manifest.buckets.values():
        path = Path(store.where) / manifest.path / part.file
        path.write_bytes(path.read_bytes()[:-50])
    assert len(store.verify("A1")) == len(manifest.buckets)
    assert store.set_aside("A1", "2032-01") == ()
    assert store.verify() == ()
    assert all(found["kept_are_same"] for _, _, found in results_of_count(store))


def results_of_count(store):
    run(store, COUNT, workers=0)
    return results(store, COUNT)


def test_a_damaged_result_is_done_again(store):
    run(store, SUMMARY, workers=0)
    (Path(store.where) / RUNS / "summary" / "A1" / "2032-01.npz").write_bytes(b"")
    entry = Path(store.where) / RUNS / "summary" / "A2" / "2032-03.json"
    entry.write_text(entry.read_text()[:40])
    again = run(store, SUMMARY, workers=0)
    assert done_at(again.done) == [("A1", "2032-01"), ("A2", "2032-03")]


def test_an_interrupted_run_goes_on_where_it_was(store, tmp_path, jobs):
    one = job("noted", tmp_path, pause=0.3)
    asked = (
        "import sys; from asfound.history.fleet import run; from asfound.history.store import Store; "
        "from asfound.history.jobs import Job; import json; "
        "run(Store(sys.argv[1]), Job(**json.loads(sys.argv[2])), workers=0)"
    )
    told = json.dumps({"name": one.name, "version": one.version, "function": one.function, "given": dict(one.given)})
    process = subprocess.Popen([sys.executable, "-c", asked, store.where, told])
    try:
        ledger = Path(store.where) / RUNS / one.name
        until = time.monotonic() + 60
        while len(list(ledger.rglob("*.json"))) < 2 and time.monotonic() < until:
            time.sleep(0.02)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
    stood = sum(good_entry(store, one, engine, month) is not None for engine in ("A1", "A2") for month in MONTHS)
    assert 2 <= stood < 6
    rest = run(store, one, workers=0)
    assert (len(rest.stood), len(rest.done)) == (stood, 6 - stood)
    run(store, SUMMARY, workers=0)
    assert list(result_bytes(store, one).values()) == list(result_bytes(store, SUMMARY).values())


def test_results_do_not_depend_on_names_order_or_time():
    one = packed({"b": np.arange(3), "a": 2.5})
    time.sleep(0.01)
    assert one == packed({"a": 2.5, "b": np.arange(3)})
    assert {name: value.tolist() for name, value in unpacked(one).items()} == {"a": 2.5, "b": [0, 1, 2]}


@pytest.mark.parametrize("scheme", ["memory", "file"])
def test_a_store_by_url_is_the_same_store(store, tmp_path, scheme):
    pytest.importorskip("fsspec")
    url = f"memory://{tmp_path.name}/logs" if scheme == "memory" else (tmp_path / "there").as_uri()
    there = Store(url)
    assert there.engines() == ()
    for seed, engine in enumerate(("A1", "A2")):
        there.add(engine, log(seed))
        assert there.add(engine, log(seed)).kept == 0
    assert there.engines() == ("A1", "A2")
    assert there.verify() == ()
    begin, end = month_bounds("2032-01")[0], month_bounds("2032-03")[1]
    one, two = (each.buckets("A2", (EXHAUST, PRESSURE), begin, end, 86400 * SECOND) for each in (store, there))
    assert one.tobytes() == two.tobytes()
    run(there, SUMMARY, workers=0)
    run(store, SUMMARY, workers=0)
    for (_, _, mine), (_, _, theirs) in zip(results(store, SUMMARY), results(there, SUMMARY), strict=True):
        assert packed(mine) == packed(theirs)


@pytest.mark.filterwarnings("ignore")
def test_dask_gives_the_same_bytes_and_survives_a_killed_worker(store, tmp_path, jobs):
    distributed = pytest.importorskip("distributed")
    one = job("dies_once", tmp_path, at="2032-02")
    from asfound.history.fleet_dask import run_on_dask

    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, memory_limit="2GB"
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = run_on_dask(store, one, client)
        again = run_on_dask(store, one, client)
    assert found.complete
    assert len(found.done) == 6
    assert (len(again.done), len(again.stood)) == (0, 6)
    assert (tmp_path / "notes" / "died").exists()
    run(store, SUMMARY, workers=0)
    assert list(result_bytes(store, one).values()) == list(result_bytes(store, SUMMARY).values())


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("nowhere://fleet/logs", "no such kind of store"),
        ("s3://fleet/logs", "a library that is not there: Install s3fs"),
    ],
)
def test_a_url_that_cannot_be_opened_says_what_it_wants(url, says, monkeypatch):
    pytest.importorskip("fsspec")
    for library in ("obstore", "s3fs"):
        monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(AsFoundError, match=says):
        Store(url)
