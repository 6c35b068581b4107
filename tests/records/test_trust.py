"""What a laptop meets in the field: power gone in mid save, a full disk, a folder only to be read, damage, clocks."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asfound.errors import AsFoundError, RecordError
from asfound.records.begin import begin as begin_record
from asfound.records.bundle import bundle_bytes
from asfound.records.store import Records
from asfound.records.trust import notices

TIME = "2032-07-08T15:00:00Z"
POSIX = pytest.mark.skipif(os.name == "nt", reason="signals and limits of POSIX")
SAVER = """
import os, sys
from asfound.records.store import Draft, Records
records = Records.open(sys.argv[1])
visit = records.visits()[0].id
names = [line for line in sys.argv[2:]]
n = 0
while True:
    text = f"{n} " + "x" * (n * 37 % 3000)
    pair = [Draft(kind="note", content={"text": text, "time": "2032-07-08T15:00:00Z"}, visit=visit) for _ in range(2)]
    made = records.append_many(pair)
    print(*(one.id for one in made), flush=True)
    n += 1
"""


@POSIX
def test_killed_in_mid_save_no_answered_entry_is_lost_and_none_is_half_there(records, begin):
    """A child is killed at a random moment, again and again; a thousand saves with ``ASFOUND_EXAMPLES=explore``."""
    saves, least = (1000, 15) if os.environ.get("ASFOUND_EXAMPLES") == "explore" else (120, 3)
    begin(records)
    home = records.home.folder
    records.close()
    moments = random.Random(7)
    answered: list[tuple[str, ...]] = []
    kills = 0
    while len(answered) < saves or kills < least:
        child = subprocess.Popen([sys.executable, "-c", SAVER, str(home)], stdout=subprocess.PIPE, text=True)
        after = moments.randint(30, 80)
        for _ in range(after):
            line = child.stdout.readline().split()
            assert len(line) == 2, "the child ended by itself"
            answered.append(tuple(line))
        child.send_signal(signal.SIGKILL)
        rest = [line.split() for line in child.stdout.read().splitlines()]
        answered += [tuple(one) for one in rest if len(one) == 2 and all(len(part) == 36 for part in one)]
        child.wait()
        child.stdout.close()
        kills += 1
    with Records.open(home) as again:
        notes = again.entries(kind="note")
        kept = {one.id for one in notes}
        assert {name for pair in answered for name in pair} <= kept
        assert len(kept) % 2 == 0, "two that were kept together are there together"
        assert len(kept) // 2 <= len(answered) + kills
        assert again.entries(kind="damaged") == ()
        assert again.database.faults() == ()
        assert again.append("note", {"text": "goes on", "time": TIME}, visit=again.visits()[0].id)


FULL = """
import resource, sys
from asfound.errors import RecordError
from asfound.records.store import Records
records = Records.open(sys.argv[1])
visit = records.visits()[0].id
size = records.home.database.stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size + 60_000, resource.RLIM_INFINITY))
for n in range(1000):
    try:
        print(records.append("note", {"text": "x" * 3000, "time": "2032-07-08T15:00:00Z"}, visit=visit).id, flush=True)
    except RecordError as refused:
        print("refused", refused, flush=True)
        break
try:
    records.attach(b"p" * 200_000, "a.png", "image/png")
except RecordError as refused:
    print("refused", refused, flush=True)
"""


@POSIX
def test_a_disk_that_fills_up_is_said_and_what_was_kept_stays(records, begin):
    begin(records)
    records.close()
    said = subprocess.run(
        [sys.executable, "-c", FULL, str(records.home.folder)], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    kept = [line for line in said if not line.startswith("refused")]
    refused = [line for line in said if line.startswith("refused")]
    assert len(kept) > 3
    assert len(refused) == 2
    assert all("Nothing was kept" in line for line in refused)
    with Records.open(records.home.folder) as again:
        assert {one.id for one in again.entries(kind="note")} == set(kept)
        assert again.database.faults() == ()
        assert again.files.digests() == frozenset()
        assert again.append("note", {"text": "room again", "time": TIME}, visit=again.visits()[0].id)


READ_ONLY = """
import sys
from asfound.errors import RecordError
from asfound.records.store import Records
with Records.open(sys.argv[1]) as records:
    visit = records.visits()[0]
    print(len(records.entries()), flush=True)
    for keep in (
        lambda: records.append("note", {"text": "x", "time": "2032-07-08T15:00:00Z"}, visit=visit.id),
        lambda: records.attach(b"picture", "a.png", "image/png"),
        lambda: records.home.change(person="x"),
    ):
        try:
            keep()
            print("kept")
        except RecordError as refused:
            print("refused", refused)
"""


@POSIX
@pytest.mark.parametrize("how", ["disk", "rights"])
def test_what_may_only_be_read_is_read_and_says_so(records, begin, request, tmp_path, how):
    """A disk mounted to be read only (for root, who may write anywhere); a folder without the right to write."""
    begin(records)
    records.close()
    number = len(records.entries())
    if os.geteuid() == 0 and how == "rights":
        pytest.skip("root may write into any folder; the disk above is what stops it")
    if os.geteuid() != 0 and how == "disk":
        pytest.skip("only root can mount a disk; the folder below is what stops others")
    home = request.getfixturevalue("disk")(8_000_000) / "home" if how == "disk" else tmp_path / "read-only"
    shutil.copytree(records.home.folder, home)
    if how == "disk":
        subprocess.run(["mount", "-o", "remount,ro", str(home.parent)], check=True)
    for one in (*home.rglob("*"), home) if how == "rights" else ():
        one.chmod(0o555 if one.is_dir() else 0o444)
    try:
        done = subprocess.run(
            [sys.executable, "-c", READ_ONLY, str(home)], capture_output=True, text=True, check=False, cwd="/"
        )
    finally:
        for one in (home, *home.rglob("*")) if how == "rights" else ():
            one.chmod(0o755)
    said = done.stdout.splitlines()
    assert said[0] == str(number), done.stderr
    assert [line.split()[0] for line in said[1:]] == ["refused"] * 3
    assert all("read" in line or "write" in line or "made" in line for line in said[1:])


def test_an_empty_file_is_no_new_home(records, begin):
    begin(records)
    records.close()
    records.home.database.write_bytes(b"")
    with pytest.raises(RecordError, match=r"is empty: what was in it is gone.*restore"):
        Records.open(records.home.folder)
    assert records.home.database.read_bytes() == b""


def test_a_missing_file_beside_its_photos_is_no_new_home(records):
    records.attach(b"picture", "a.png", "image/png")
    records.close()
    records.home.database.unlink()
    with pytest.raises(RecordError, match="is missing, while the photos"):
        Records.open(records.home.folder)
    assert not records.home.database.exists()


def test_two_programs_that_begin_one_home_make_one_record(tmp_path):
    code = (
        "import sys; from asfound.records.store import Records\n"
        "with Records.open(sys.argv[1]) as r: r.append('site', {'name': sys.argv[2]}, who='x')"
    )
    both = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "home"), name]) for name in "ab"]
    assert [one.wait() for one in both] == [0, 0]
    with Records.open(tmp_path / "home") as records:
        assert {one.name for one in records.sites().values()} == {"a", "b"}
    assert not list((tmp_path / "home").glob(".record*"))


def test_a_home_on_a_stick_without_links_is_begun_too(tmp_path, monkeypatch):
    def refuse(*_):
        raise OSError(1, "not here")

    monkeypatch.setattr(os, "link", refuse)
    with Records.open(tmp_path / "home") as records:
        assert records.entries() == ()
    begin_record(records.home)  # another program was quicker: nothing happens to what is there
    with Records.open(tmp_path / "home") as records:
        assert records.entries() == ()


@settings(
    max_examples=300 if os.environ.get("ASFOUND_EXAMPLES") == "explore" else 12, suppress_health_check=list(HealthCheck)
)
@given(st.data())
def test_damage_anywhere_is_said_and_the_file_is_left_alone(tmp_path_factory, data):
    """Bytes are overwritten at any place: what can be read is right, the rest is refused in words."""
    folder = tmp_path_factory.mktemp("damaged")
    with Records.open(folder / "home") as records:
        engine = records.append("engine", {"tag": "A2"}, who="x")
        visit = records.append("visit_opened", {"began": TIME}, engine=engine.id, who="x")
        for n in range(30):
            records.append("note", {"text": f"{n} " + "x" * 300, "time": TIME}, visit=visit.id, who="x")
        before = {one.id: one for one in records.entries()}
    file = folder / "home" / "record.sqlite"
    content = bytearray(file.read_bytes())
    start = data.draw(st.integers(0, len(content) - 1))
    for position in range(start, min(start + data.draw(st.integers(1, 200)), len(content))):
        content[position] ^= data.draw(st.integers(1, 255))
    file.write_bytes(content)
    try:
        with Records.open(folder / "home") as records:
            found = records.entries()
            bundle_bytes(records)
    except AsFoundError:
        assert file.read_bytes() == content
    else:
        assert len(found) <= len(before) + 1
    shutil.rmtree(folder)


def test_a_clock_that_was_set_back_is_said_and_changes_no_order(records, begin, clock):
    _, visit = begin(records)
    assert notices(records) == ()
    first = records.append("note", {"text": "before", "time": TIME}, visit=visit)
    clock.time -= timedelta(days=30)
    (said,) = notices(records)
    assert "clock of this computer stands 30 days behind" in said
    second = records.append("note", {"text": "after", "time": TIME}, visit=visit)
    assert second.id > first.id
    assert second.at < first.at
    assert [one.content["text"] for one in records.entries(kind="note")] == ["before", "after"]
    clock.time += timedelta(days=31)
    assert notices(records) == ()
