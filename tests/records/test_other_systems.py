"""What the program does on Windows and macOS, as far as it can be shown here; the rest is in the tests of the rooms."""

from __future__ import annotations

import io
import os
import shutil
import sys
import threading
import types

import pytest
from tests.records import windows_like as windows
from tests.records.windows_like import windows_like  # noqa: F401 - a fixture

from asfound.history import disk
from asfound.history.store import Store
from asfound.records.backup import back_up, restore
from asfound.records.bundle import bundle_bytes
from asfound.records.bundle_in import take_in
from asfound.records.home import Home
from asfound.records.kept_store import kept_store
from asfound.records.store import Records

pytestmark = pytest.mark.skipif(not os.path.isdir("/proc/self/fd"), reason="which files are open is asked of Linux")
WORD = "lantern gravel seven herons"
NOTE = {"text": "seen", "time": "2032-07-08T15:00:00Z"}


def entries(records: Records) -> list[str]:
    return [one.id for one in records.entries()]


@pytest.mark.usefixtures("windows_like")
def test_a_home_is_begun_kept_copied_and_restored(open_home, begin, tmp_path):
    records = open_home()
    _, visit = begin(records)
    records.append("note", NOTE, visit=visit)
    records.attach(b"picture", "a.png", "image/png")
    back_up(records, tmp_path / "copy")
    restore(tmp_path / "copy", Home(tmp_path / "restored"))
    with Records.open(tmp_path / "restored") as restored:
        assert entries(restored) == entries(records)
    other = open_home("other")
    take_in(other, io.BytesIO(bundle_bytes(records)))
    assert entries(other) == entries(records)


@pytest.mark.usefixtures("windows_like")
def test_a_home_is_locked_and_opened_again_for_good(open_home, begin, tmp_path):
    pytest.importorskip("sqlcipher3")
    from asfound.records.lock_home import lock_home, unlock_home

    records = open_home()
    _, visit = begin(records)
    records.append("note", NOTE, visit=visit)
    before = entries(records)
    records.close()
    for step in (lock_home, unlock_home):
        step(tmp_path / "home", WORD)
        with Records.open(tmp_path / "home", passphrase=WORD) as again:
            assert entries(again) == before


def test_a_file_that_is_read_at_the_moment_is_waited_for(windows_like, tmp_path, monkeypatch):  # noqa: F811
    monkeypatch.setattr(disk, "PATIENCE", 10.0)
    new, target = tmp_path / "new", tmp_path / "target"
    new.write_bytes(b"new")
    target.write_bytes(b"old")
    reader = target.open("rb")
    threading.Timer(0.1, reader.close).start()
    disk.put_in_place(new, target)
    assert target.read_bytes() == b"new"


def test_a_file_that_stays_open_is_told(windows_like, tmp_path):  # noqa: F811
    new, target = tmp_path / "new", tmp_path / "target"
    new.write_bytes(b"new")
    target.write_bytes(b"old")
    with target.open("rb"), pytest.raises(PermissionError):
        disk.put_in_place(new, target)
    assert target.read_bytes() == b"old"


def test_writers_of_one_log_wait_for_each_other(windows_like, tmp_path):  # noqa: F811
    order = []

    def write(name: str, mark: object) -> None:
        with (tmp_path / "turn").open("wb") as held, disk.alone(held):
            order.append(f"{name} in")
            if isinstance(mark, threading.Event):
                mark.set()
                threading.Event().wait(0.1)
            order.append(f"{name} out")

    inside = threading.Event()
    first = threading.Thread(target=write, args=("a", inside))
    first.start()
    inside.wait(5)
    write("b", None)
    first.join()
    assert order == ["a in", "a out", "b in", "b out"]
    assert not windows.HELD


@pytest.mark.usefixtures("windows_like")
def test_a_log_is_kept_and_read(tmp_path):
    import numpy as np

    from asfound.history.channels import Channels

    store = Store(tmp_path)
    for first in (0, 3):
        times = (np.arange(3) + first) * 60_000_000
        store.add("A2", Channels.of(times, {"engine_power@engine": times * 1.0}))
    assert len(store.read("A2")) == 6
    assert store.verify() == ()


@pytest.mark.usefixtures("windows_like")
def test_a_home_that_was_closed_holds_no_file(open_home, begin, tmp_path):
    records = open_home()
    begin(records)
    kept = kept_store(records)
    kept.put("what", "name", "key", 1)
    assert windows.open_here(tmp_path / "home")
    records.close()
    assert not windows.open_here(tmp_path / "home")
    shutil.rmtree(tmp_path / "home")


@pytest.mark.skipif("windows_like" in " ".join(sys.argv), reason="the whole run is as on Windows")
def test_on_macos_what_is_kept_leaves_the_memory_of_the_drive(monkeypatch, tmp_path):
    asked = []
    there = types.SimpleNamespace(F_FULLFSYNC=51, fcntl=lambda _handle, what: asked.append(what))
    monkeypatch.setitem(sys.modules, "fcntl", there)
    with (tmp_path / "a").open("wb") as out:
        disk.flush(out.fileno())
    assert asked == [51]


def test_the_record_asks_for_the_same(records):
    with records.database.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA fullfsync").scalar() == 1


@pytest.mark.parametrize("name", ["50% a?b#c", "a%20b", "Geräte & Ölproben", "x" * 120])
def test_a_home_lies_in_a_folder_of_any_name(tmp_path, open_home, begin, name):
    records = open_home(name)
    begin(records)
    back_up(records, tmp_path / f"{name}+")
    restore(tmp_path / f"{name}+", Home(tmp_path / name / "restored"))
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted((name, f"{name}+"))
    with Records.open(tmp_path / name / "restored") as restored:
        assert entries(restored) == entries(records)


def test_no_module_asks_at_its_head_for_what_only_one_system_has():
    import ast
    from pathlib import Path

    import asfound

    of_one = {"fcntl", "resource", "pwd", "grp", "termios", "msvcrt", "winreg", "_winapi"}
    for path in Path(asfound.__file__).parent.rglob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            names += [str(node.module)] if isinstance(node, ast.ImportFrom) else []
            assert not of_one & set(names), path
