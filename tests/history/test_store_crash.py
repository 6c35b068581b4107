"""A process killed in mid-write, two that write at once, files that rot: what was confirmed is there, once."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from asfound.errors import AsFoundError
from asfound.history.buckets import DAY, HOUR, of_rows
from asfound.history.channels import SECOND, Channels
from asfound.history.folders import ABANDONED_AFTER, PASSING
from asfound.history.manifest import Manifest, commit, load
from asfound.history.months import month_bounds
from asfound.history.rows_file import DamagedError
from asfound.history.store import Store

EXHAUST = "cylinder_exhaust_temperature@cylinder_1"
START = month_bounds("2032-01")[0]
WRITER = f"""
import sys
import numpy as np
from asfound.history.channels import Channels
from asfound.history.store import Store

store, first, step, source = Store(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
for number in range(first, 10_000, step):
    time = {START} + number * 50_000_000 + np.arange(50) * 1_000_000
    store.add("A2", Channels.of(time, {{"{EXHAUST}": 600 + (time // 1_000_000 % 977) * 0.25}}, source=source))
    print(number, flush=True)
"""


def values_at(time):
    return 600 + (time // 1_000_000 % 977) * 0.25


def writer(store: Store, first: int, step: int, source: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, store.where, str(first), str(step), source]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def confirmed(process: subprocess.Popen[str], enough: int) -> list[int]:
    """Kill the writer at some moment once it has said ``enough``; return the numbers that it said were kept."""
    assert process.stdout is not None
    said = [int(process.stdout.readline()) for _ in range(enough)]
    time.sleep(random.random() * 0.15)
    process.send_signal(signal.SIGKILL)
    said += [int(line) for line in process.stdout.read().split()]
    process.stdout.close()
    process.wait()
    return said


def assert_whole(store: Store) -> Channels:
    """What is there is right: every value, no time twice, buckets that agree with rows, no damaged file."""
    rows = store.read("A2")
    assert len(np.unique(rows.time)) == len(rows)
    assert np.array_equal(rows.values[EXHAUST], values_at(rows.time))
    for step in (HOUR, DAY):
        kept = store.buckets("A2", (EXHAUST,), START, START + 31 * DAY, step)
        assert kept.tobytes() == of_rows(rows.time, rows.values, step).over(kept.first, len(kept)).tobytes()
    assert store.verify() == ()
    assert sum(store.sources("A2").values()) == len(rows)
    return rows


@pytest.mark.parametrize("enough", [1, 4, 9])
def test_a_killed_writer_leaves_all_that_it_confirmed_and_nothing_half(tmp_path, enough):
    store = Store(tmp_path)
    said = confirmed(writer(store, 0, 1, "panel"), enough)
    rows = assert_whole(store)
    assert len(rows) % 50 == 0
    assert 50 * len(said) <= len(rows) <= 50 * (len(said) + 1)
    added = store.add("A2", Channels.of(START + np.arange(5000) * SECOND, {
        EXHAUST: values_at(START + np.arange(5000) * SECOND)}, source="panel"))  # fmt: skip
    assert added.same == len(rows)
    assert len(assert_whole(store)) == 5000


def test_two_writers_of_one_month_lose_nothing(tmp_path):
    store = Store(tmp_path)
    both = [writer(store, 0, 2, "panel"), writer(store, 1, 2, "card")]
    said = [confirmed(process, 6) for process in both]
    rows = assert_whole(store)
    there = set((rows.time - START) // 50_000_000)
    assert {number for one in said for number in one} <= there
    assert set(store.sources("A2")) == {"panel", "card"}


def test_a_writer_that_was_late_gives_way(tmp_path):
    """A number that was used and removed can be created again; its maker sees a higher one and begins anew."""
    store = Store(tmp_path)
    for number in range(3):
        store.add("A2", Channels.of([START + number], {EXHAUST: [700.0]}, source="panel"))
    now = store.manifest("A2", "2032-01")
    assert now is not None
    assert now.number == 3
    assert not commit(store.folder, Manifest(engine="A2", month="2032-01", number=2))
    assert not commit(store.folder, Manifest(engine="A2", month="2032-01", number=3))
    assert load(store.folder, "A2", "2032-01") == now


def test_what_a_killed_process_left_is_cleared_in_time(tmp_path):
    import os

    store = Store(tmp_path)
    store.add("A2", Channels.of([START], {EXHAUST: [700.0]}, source="panel"))
    old, young = tmp_path / "A2/2032-01" / f"{PASSING}1-aa", tmp_path / "A2/2032-01" / f"{PASSING}2-bb"
    for path in (old, young):
        path.write_bytes(b"half")
    os.utime(old, (0, time.time() - ABANDONED_AFTER - 10))
    store.add("A2", Channels.of([START + 1], {EXHAUST: [700.0]}, source="panel"))
    assert not old.exists()
    assert young.exists()


def rot(path: Path, at: int) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 0xFF
    path.write_bytes(data)


def test_a_damaged_manifest_is_told_not_read(tmp_path):
    store = Store(tmp_path)
    store.add("A2", Channels.of([START], {EXHAUST: [700.0]}, source="panel"))
    path = tmp_path / "A2/2032-01/manifest-000001.json"
    path.write_text(path.read_text().replace("700.0", "701.0", 1))
    with pytest.raises(DamagedError, match="manifest-000001"):
        store.read("A2")
    assert len(store.verify()) == 1
    path.write_text(json.dumps({"digest": "", "month": {}}))
    with pytest.raises(DamagedError):
        store.coverage("A2")


def test_damaged_rows_are_told_by_file(tmp_path):
    store = Store(tmp_path)
    time = START + np.arange(2000) * SECOND
    store.add("A2", Channels.of(time, {EXHAUST: values_at(time)}, source="panel"))
    (path,) = tmp_path.rglob("*.parquet")
    rot(path, len(path.read_bytes()) - 2)
    with pytest.raises(AsFoundError, match="rows-000001"):
        store.read("A2")
    path.unlink()
    with pytest.raises(DamagedError, match="missing"):
        store.read("A2")
