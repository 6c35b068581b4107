"""Backups while programs write, fetching them back, and moving a record."""

from __future__ import annotations

import json
import subprocess
import sys
import time

import pytest

from asfound.errors import InputError, RecordError
from asfound.records.backup import back_up, check, restore
from asfound.records.bundle import bundle_bytes
from asfound.records.home import Home
from asfound.records.moved import move
from asfound.records.store import Records

from .test_durable import WRITER

TIME = "2032-07-08T15:00:00Z"


@pytest.fixture
def full(records, begin, reading):
    _, visit = begin(records)
    records.append("reading", reading("exhaust_oxygen_dry", 0.09, "9 %", place="stack"), visit=visit)
    digest = records.attach(b"picture", "a.png", "image/png")
    photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 7, "time": TIME}
    records.append("photo", photo, visit=visit)
    return records


def test_a_backup_opens_like_a_home_and_holds_everything(full, tmp_path):
    made = back_up(full, tmp_path / "b")
    assert (made.entries, made.files) == (len(full.entries()), 1)
    assert check(tmp_path / "b") == made
    with Records.open(tmp_path / "b") as copy:
        assert bundle_bytes(copy) == bundle_bytes(full)
        assert copy.settings == full.settings
    assert not list(tmp_path.glob(".*half"))


def test_a_backup_never_goes_over_anything(full, tmp_path):
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "mine").write_text("x")
    with pytest.raises(InputError, match="not empty"):
        back_up(full, tmp_path / "b")
    assert (tmp_path / "b" / "mine").read_text() == "x"


@pytest.mark.parametrize("name", ["record.sqlite", "files", "backup.json"])
def test_a_backup_that_was_damaged_is_named_and_not_fetched(full, tmp_path, name):
    back_up(full, tmp_path / "b")
    file = tmp_path / "b" / name
    file = next(file.glob("??/*")) if name == "files" else file
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    with pytest.raises(RecordError, match=r"damaged|no backup"):
        restore(tmp_path / "b", Home(tmp_path / "new"))
    assert not (tmp_path / "new" / "record.sqlite").exists()


def test_fetched_back_it_is_the_same_record(full, tmp_path):
    file = bundle_bytes(full)
    back_up(full, tmp_path / "b")
    restore(tmp_path / "b", Home(tmp_path / "new"))
    with Records.open(tmp_path / "new") as again:
        assert bundle_bytes(again) == file
        assert again.settings.device == full.settings.device


def test_a_record_is_not_overwritten_and_it_is_said_which_is_newer(full, tmp_path):
    back_up(full, tmp_path / "b")
    with pytest.raises(RecordError, match="holds the same"):
        restore(tmp_path / "b", full.home)
    full.append("note", {"text": "later", "time": TIME}, visit=full.visits()[0].id)
    file = bundle_bytes(full)
    with pytest.raises(RecordError, match=r"holds 1 entries that the backup has not .* backup holds 0") as refused:
        restore(tmp_path / "b", full.home)
    assert "2032-07-08T14:25" in str(refused.value)
    assert bundle_bytes(full) == file


def test_a_backup_comes_back_in_place_of_an_empty_file(full, tmp_path):
    back_up(full, tmp_path / "b")
    file = bundle_bytes(full)
    full.close()
    full.home.database.write_bytes(b"")
    with pytest.raises(RecordError, match="is empty"):
        Records.open(full.home.folder)
    restore(tmp_path / "b", full.home)
    with Records.open(full.home.folder) as again:
        assert bundle_bytes(again) == file


def test_a_backup_made_while_another_program_writes_is_of_one_moment(full, tmp_path):
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(full.home.folder), "w"], stdout=subprocess.PIPE, text=True
    )
    try:
        first = writer.stdout.readline().strip()
        for number in range(3):
            made = back_up(full, tmp_path / f"b{number}")
            with Records.open(made.folder) as copy:
                notes = copy.entries(kind="note")
                numbers = [int(one.content["text"].split()[1]) for one in notes]
                assert numbers == list(range(len(numbers)))
                assert first in {one.id for one in notes}
                assert copy.database.faults() == ()
            time.sleep(0.05)
    finally:
        writer.kill()
        writer.communicate()


def test_moving_to_another_folder_loses_nothing(full, open_home):
    other = open_home("other")
    made = move(full, other)
    assert made.entries == len(full.entries())
    assert bundle_bytes(other) == bundle_bytes(full)
    with pytest.raises(RecordError, match="already"):
        move(full, other)


def test_a_damaged_file_stops_a_move(full, open_home):
    full.files.path(next(iter(full.files.digests()))).write_bytes(b"other")
    other = open_home("other")
    with pytest.raises(RecordError, match="damaged"):
        move(full, other)
    assert other.entries() == ()


def test_the_list_of_a_backup_is_plain(full, tmp_path):
    back_up(full, tmp_path / "b")
    listed = json.loads((tmp_path / "b" / "backup.json").read_text())
    assert listed["form"] == "asfound backup 1"
    assert set(listed) == {"form", "made", "entries", "newest", "digest", "record", "files", "beside"}


def test_logs_and_own_files_come_along_and_back(full, tmp_path):
    import numpy as np

    from asfound.history.channels import Channels
    from asfound.records.logs_of_engine import logs

    time = np.arange(100, dtype=np.int64) * 60_000_000 + 1_900_000_000_000_000
    logs(full).add("A2", Channels.of(time, {"engine_power@engine": np.arange(100.0)}))
    (full.home.folder / "tasks.yaml").write_text("tasks: []\n")
    back_up(full, tmp_path / "b")
    restore(tmp_path / "b", Home(tmp_path / "again"))
    assert (tmp_path / "again" / "tasks.yaml").read_text() == "tasks: []\n"
    with Records.open(tmp_path / "again") as again:
        assert logs(again).verify() == ()
        assert logs(again).read("A2").values["engine_power@engine"].tolist() == list(range(100))
    rows = next((tmp_path / "b" / "logs").rglob("rows-*.parquet"))
    rows.write_bytes(rows.read_bytes()[:-1] + b"x")
    with pytest.raises(RecordError, match=r"is damaged: logs/A2/.*rows-"):
        check(tmp_path / "b")


@pytest.mark.parametrize("name", ["../evil", "/tmp/evil", "logs/../../evil", "C:/evil", "..\\evil"])
def test_a_list_that_leads_out_of_the_backup_is_refused(full, tmp_path, name):
    back_up(full, tmp_path / "b")
    listed = json.loads((tmp_path / "b" / "backup.json").read_text())
    (tmp_path / "evil").write_text("x")
    listed["beside"] = {name: "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"}  # of one x
    (tmp_path / "b" / "backup.json").write_text(json.dumps(listed))
    with pytest.raises(RecordError, match="is no backup"):
        restore(tmp_path / "b", Home(tmp_path / "again"))
    assert not (tmp_path / "again").exists()
