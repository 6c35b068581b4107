"""A fleet on object storage: a server that speaks the S3 protocol, as a process of its own on this machine.

The server is a small one of these tests (`s3_server`), written by the open description of the protocol.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import numpy as np
import pytest

from asfound.history.channels import SECOND, Channels
from asfound.history.fleet import run
from asfound.history.folders import folder
from asfound.history.jobs import RUNS, Job, good_entry, packed, results
from asfound.history.months import month_bounds
from asfound.history.store import Store

pytest.importorskip("obstore")

EXHAUST, PRESSURE = "cylinder_exhaust_temperature@cylinder_1", "oil_pressure@engine"
SUMMARY = Job(name="summary", version="1", function="asfound.history.jobs:summarise")
ENGINES, MONTHS = ("A1", "A2"), ("2032-01", "2032-02")
HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def server():
    """The address of a server that begins empty; it ends with the tests."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    asked = [sys.executable, str(HERE / "s3_server.py"), str(port)]
    process = subprocess.Popen(asked, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(address)
        yield address
    finally:
        process.kill()
        process.wait()


def _wait_for(address: str) -> None:
    until = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(f"{address}/none?list-type=2", timeout=5):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


@pytest.fixture
def url(server, monkeypatch, tmp_path):
    """A bucket of this test's own; where it is and who asks stands in the environment."""
    for name, value in {
        "AWS_ENDPOINT_URL": server, "AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test",
        "AWS_DEFAULT_REGION": "us-east-1",
        "PYTHONPATH": os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")]),
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    monkeypatch.syspath_prepend(str(HERE))
    bucket = "".join(letter for letter in tmp_path.name.lower() if letter.isalnum())[-50:]
    return f"s3://{bucket}/logs"


def log(seed: int, source: str = "panel") -> Channels:
    """Two months at six hours."""
    rng = np.random.default_rng(seed)
    time = np.arange(month_bounds(MONTHS[0])[0], month_bounds(MONTHS[-1])[1], 6 * 3600 * SECOND)
    return Channels.of(time, {EXHAUST: rng.normal(800, 30, len(time)), PRESSURE: rng.normal(4e5, 1e4, len(time))},
                       source=source)  # fmt: skip


def filled(where) -> Store:
    made = Store(where)
    for seed, engine in enumerate(ENGINES):
        made.add(engine, log(seed))
    return made


def told(store, job) -> list[tuple[str, str, bytes]]:
    return [(engine, month, packed(found)) for engine, month, found in results(store, job)]


def done_at(entries) -> list[tuple[str, str]]:
    return [(entry.engine, entry.month) for entry in entries]


def test_rows_buckets_and_results_are_those_of_a_folder(url, tmp_path):
    there, here = filled(url), filled(tmp_path / "logs")
    assert there.engines() == ENGINES
    assert there.add("A1", log(0)).kept == 0
    assert there.verify() == ()
    begin, end = month_bounds(MONTHS[0])[0], month_bounds(MONTHS[-1])[1]
    for width in (3600 * SECOND, 86400 * SECOND):
        one, two = (each.buckets("A2", (EXHAUST, PRESSURE), begin, end, width) for each in (here, there))
        assert one.tobytes() == two.tobytes()
    found = run(there, SUMMARY, workers=2)
    assert len(found.done) == len(ENGINES) * len(MONTHS)
    run(here, SUMMARY, workers=0)
    assert told(there, SUMMARY) == told(here, SUMMARY)
    again = run(there, SUMMARY, workers=2)
    assert (len(again.done), len(again.stood)) == (0, len(found.done))


def test_a_killed_worker_loses_nothing(url, tmp_path):
    store, notes = filled(url), tmp_path / "notes"
    notes.mkdir()
    given = {"notes": str(notes), "at": MONTHS[1]}
    one = Job(name="dies_once", version="1", function="fleet_jobs:dies_once", given=given)
    found = run(store, one, workers=2)
    assert found.complete
    assert len(found.done) == len(ENGINES) * len(MONTHS)
    assert (notes / "died").exists()
    run(store, SUMMARY, workers=0)
    assert told(store, one) == told(store, SUMMARY)


@pytest.mark.filterwarnings("ignore")
def test_workers_of_dask_give_the_same_bytes(url, tmp_path):
    distributed = pytest.importorskip("distributed")
    from asfound.history.fleet_dask import run_on_dask

    store, here = filled(url), filled(tmp_path / "logs")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = run_on_dask(store, SUMMARY, client)
    assert len(found.done) == len(ENGINES) * len(MONTHS)
    run(here, SUMMARY, workers=0)
    assert told(store, SUMMARY) == told(here, SUMMARY)


def test_a_corrupt_month_is_told_and_mended_from_its_source(url):
    store = filled(url)
    run(store, SUMMARY, workers=0)
    before = told(store, SUMMARY)
    manifest = store.manifest("A1", MONTHS[0])
    path = f"{manifest.path}/{manifest.rows[0].file}"
    whole = bytearray(store.folder.read(path))
    whole[len(whole) // 2] ^= 0xFF
    store.folder.write(path, lambda local: local.write_bytes(whole))
    for engine in ENGINES:
        for month in MONTHS:
            store.folder.remove(f"{RUNS}/summary/{engine}/{month}.json")  # another run, on another machine
    found = run(store, SUMMARY, workers=2)
    assert done_at(found.failed) == [("A1", MONTHS[0])]
    assert found.failed[0].damaged
    assert store.verify() == (path,)
    (lost,) = store.set_aside("A1", MONTHS[0])
    assert store.add("A1", log(0)).kept == sum(lost.sources.values())
    mended = run(store, SUMMARY, workers=2)
    assert done_at(mended.done) == [("A1", MONTHS[0])]
    assert told(store, SUMMARY) == before


def _killed_when(asked: list[str], enough) -> None:
    """Start a process and kill it outright as soon as something holds."""
    process = subprocess.Popen([sys.executable, "-c", *asked])
    try:
        until = time.monotonic() + 90
        while not enough() and process.poll() is None and time.monotonic() < until:
            time.sleep(0.02)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()


def test_an_interrupted_run_goes_on_where_it_was(url, tmp_path):
    store, notes = filled(url), tmp_path / "notes"
    notes.mkdir()
    given = {"notes": str(notes), "pause": 0.5}
    one = Job(name="noted", version="1", function="fleet_jobs:noted", given=given)
    code = (
        "import json, sys; from asfound.history.fleet import run; from asfound.history.store import Store; "
        "from asfound.history.jobs import Job; run(Store(sys.argv[1]), Job(**json.loads(sys.argv[2])), workers=0)"
    )
    all_months = [(engine, month) for engine in ENGINES for month in MONTHS]

    def stand() -> int:
        return sum(good_entry(store, one, *each) is not None for each in all_months)

    content = json.dumps({"name": one.name, "version": one.version, "function": one.function, "given": given})
    _killed_when([code, url, content], lambda: stand() >= 1)
    stood = stand()
    assert 1 <= stood < len(all_months)
    rest = run(store, one, workers=0)
    assert (len(rest.stood), len(rest.done)) == (stood, len(all_months) - stood)
    run(store, SUMMARY, workers=0)
    assert told(store, one) == told(store, SUMMARY)


def _add_days(url: str, source: str, shift: int) -> None:
    """Add ten days of a month, one after the other, as a writer of its own."""
    begin, store = month_bounds(MONTHS[0])[0], Store(url)
    for day in range(10):
        time = begin + (86400 * day + 3600 * np.arange(24)) * SECOND + shift
        store.add("A1", Channels.of(time, {EXHAUST: 700.0 + day + np.arange(24.0)}, source=source))


def test_a_writer_that_is_killed_leaves_a_whole_month_and_can_be_repeated(url, tmp_path):
    code = "import sys; from test_fleet_object_store import _add_days; _add_days(sys.argv[1], 'card', 0)"
    store = Store(url)
    _killed_when([code, url], lambda: (found := store.manifest("A1", MONTHS[0])) is not None and found.number >= 3)
    assert store.verify() == ()
    there = store.manifest("A1", MONTHS[0])
    assert there is not None
    assert there.number >= 3
    _add_days(url, "card", 0)
    _add_days(str(tmp_path / "logs"), "card", 0)
    begin, end = month_bounds(MONTHS[0])
    for each in (store, Store(tmp_path / "logs")):
        assert len(each.read("A1", (EXHAUST,), begin, end).time) == 240
    one, two = (each.buckets("A1", (EXHAUST,), begin, end, 3600 * SECOND)
                for each in (store, Store(tmp_path / "logs")))  # fmt: skip
    assert one.tobytes() == two.tobytes()


def test_the_server_itself_refuses_a_second_object_of_one_name(url):
    place = folder(url)
    assert place.create("taken", b"first")
    assert not place.create("taken", b"second")
    assert place.read("taken") == b"first"


def test_a_place_does_what_a_folder_does(url, tmp_path):
    large = bytes(range(256)) * 80_000  # in several parts
    for place in (folder(url), folder(tmp_path / "here")):
        assert place.write("a/large", lambda local: local.write_bytes(large)) == len(large)
        assert place.create("a/b/one", b"1")
        assert place.names("") == ["a"]
        assert place.names("a") == ["b", "large"]
        assert place.names("nowhere") == []
        with place.local("a/large") as local:
            assert local.read_bytes() == large
        place.rename("a/b/one", "a/b/two")
        assert (place.names("a/b"), place.read("a/b/two")) == (["two"], b"1")
        place.remove("a/b/two")
        place.remove("a/b/two")
        with pytest.raises(FileNotFoundError):
            place.read("a/b/two")
        with pytest.raises(FileNotFoundError), place.local("a/b/two"):
            pass


def test_two_writers_of_one_month_lose_nothing(url):
    """The store is asked to create a manifest only where there is none: of two writers one begins again."""
    spawn = multiprocessing.get_context("spawn")
    both = [spawn.Process(target=_add_days, args=(url, name, shift)) for name, shift in (("card", 0), ("panel", 1))]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert [one.exitcode for one in both] == [0, 0]
    store = Store(url)
    rows = store.read("A1", (EXHAUST,), *month_bounds(MONTHS[0]))
    assert len(rows.time) == 480
    assert store.verify() == ()
