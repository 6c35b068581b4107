"""Each thing that goes wrong in the field, through pages, command line and library: said in words, nothing lost."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.cli import main
from asfound.errors import RecordError
from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import A2
from .test_photos import jpeg

TIME = "2032-07-08T15:00:00Z"
POSIX = pytest.mark.skipif(os.name == "nt", reason="mounts and limits of POSIX")


def words(page: str) -> str:
    """Return the words of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


class Doors:
    """The three doors of one home; each says what it answers to somebody who wants to keep something."""

    def __init__(self, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.home, self.capsys = home, capsys
        self.records = Records.open(home)
        self.before = len(self.records.entries())
        app = create_app(self.records, who="tester")
        self.client = TestClient(
            app, base_url="http://127.0.0.1", follow_redirects=False, raise_server_exceptions=False
        )

    def library(self) -> list[str]:
        visit = self.records.visit("A2").id
        said = []
        for keep in (
            lambda: self.records.append("note", {"text": "x" * 9000, "time": TIME}, visit=visit, who="x"),
            lambda: self.records.attach(os.urandom(300_000), "a.png", "image/png"),
            lambda: self.records.home.change(person="Q"),
        ):
            with pytest.raises(RecordError) as refused:
                keep()
            said.append(str(refused.value))
        return said

    def pages(self) -> list[str]:
        said = []
        photo = {"photo": ("a.jpg", jpeg(), "image/jpeg")}
        for path, given in (
            (f"{A2}/notes", {"data": {"text": "x" * 3000}}),
            (f"{A2}/exhaust", {"data": {"v:as_left/stack/exhaust_co_dry": "390 ppm"}}),
            (f"{A2}/photos", {"files": photo}),
            ("/settings", {"data": {"person": "Q"}}),
        ):
            answer = self.client.post(path, **given)
            assert 400 <= answer.status_code < 500, (path, answer.status_code, words(answer.text)[:300])
            said.append(words(answer.text))
        return said

    def commands(self, log: Path) -> list[str]:
        said = []
        for typed in (
            ("note", "A2", "x" * 3000, "--who", "x"),
            ("take", "A2", "exhaust_oxygen_dry=9.1 %", "--who", "x"),
            ("log-import", "A1", log, "--zone", "UTC", "--who", "x"),
            ("home", "person=Q"),
        ):
            self.capsys.readouterr()
            code = main([*map(str, typed), "--home", str(self.home)])
            answer = self.capsys.readouterr().err
            assert code == 2, (typed, answer)
            assert "Traceback" not in answer
            said.append(answer)
        return said

    def all(self, log: Path) -> list[str]:
        return [*self.library(), *self.pages(), *self.commands(log)]

    def untouched(self) -> None:
        with Records.open(self.home) as again:
            assert len(again.entries()) == self.before
            assert again.database.faults() == ()
            assert again.append("note", {"text": "it goes on", "time": TIME}, visit=again.visit("A2").id, who="x")


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "panel.csv"
    path.write_text("time,engine power [kW]\n" + "".join(f"2032-03-01 00:{n:02d}:00,{n}\n" for n in range(60)))
    return path


def fill(place: Path) -> None:
    """Leave no room on a disk."""
    with open(place / "filling", "ab", buffering=0) as out:
        while True:
            try:
                out.write(b"x" * 512)
            except OSError:
                return


@POSIX
def test_a_full_disk(demo: Path, disk: Callable[[int], Path], log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = disk(4_000_000)
    doors = Doors(Path(shutil.copytree(demo, place / "home")), capsys)
    fill(place)
    for said in doors.all(log):
        assert "disk is full" in said
        assert "make room" in said
    capsys.readouterr()
    assert main(["backup", str(place / "b"), "--home", str(doors.home)]) == 2
    assert "make room" in capsys.readouterr().err
    assert not (place / "b").exists()
    (place / "filling").unlink()
    doors.untouched()


@POSIX
def test_a_disk_that_may_only_be_read(
    demo: Path, disk: Callable[[int], Path], log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = disk(8_000_000)
    home = Path(shutil.copytree(demo, place / "home"))
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    doors = Doors(home, capsys)
    for said in doors.all(log):
        assert re.search(r"may only be read|may not be written", said), said
    assert doors.client.get(A2).status_code == 200
    assert "A2" in doors.client.get("/").text
    assert main(["show", "A2", "--home", str(doors.home)]) in (0, 2)
    subprocess.run(["mount", "-o", "remount,rw", str(place)], check=True)
    doors.untouched()


@POSIX
def test_a_stick_that_is_pulled_out_while_programs_run(
    demo: Path, disk: Callable[[int], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = disk(8_000_000)
    doors = Doors(Path(shutil.copytree(demo, place / "home")), capsys)
    assert doors.client.get(A2).status_code == 200
    visit = doors.records.visit("A2").id
    subprocess.run(["umount", "--lazy", str(place)], check=True)
    with pytest.raises(RecordError, match="is gone: its disk or stick was taken out"):
        doors.records.append("note", {"text": "x", "time": TIME}, visit=visit, who="x")
    for path in (A2, "/", f"{A2}/exhaust"):
        assert doors.client.get(path).status_code < 500
    answer = doors.client.post(f"{A2}/notes", data={"text": "x"})
    assert answer.status_code == 409
    assert "Put it back" in words(answer.text)
    capsys.readouterr()
    assert main(["note", "A2", "x", "--who", "x", "--home", str(doors.home)]) == 2
    assert "There is no record in" in capsys.readouterr().err
    assert not doors.home.exists(), "nothing is begun anew where the stick was"


def test_a_file_that_was_put_in_its_place_is_not_written_into(home: Path, demo: Path) -> None:
    with Records.open(home) as first:
        visit = first.visit("A2").id
        shutil.copy(demo / "record.sqlite", home / "other")
        os.replace(home / "other", home / "record.sqlite")
        with pytest.raises(RecordError, match="is another file than the one that this program opened"):
            first.append("note", {"text": "x", "time": TIME}, visit=visit, who="x")


@pytest.mark.parametrize("damage", ["record", "photo", "settings", "log"])
def test_a_damaged_file(home: Path, damage: str, log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The pages go on with what can be read; what cannot is named, with what to do."""
    assert main(["log-import", "A1", str(log), "--zone", "UTC", "--who", "x", "--home", str(home)]) == 0
    with Records.open(home) as records:
        digest = sorted(records.files.digests())[0]
        photo = records.files.path(digest)
    file = {
        "record": home / "record.sqlite", "photo": photo, "settings": home / "settings.json",
        "log": next((home / "logs").rglob("rows-*.parquet")),
    }[damage]  # fmt: skip
    content = bytearray(file.read_bytes())
    for place in range(len(content) // 3, len(content) // 3 + 400):
        content[place % len(content)] ^= 0xA5
    file.write_bytes(content)
    capsys.readouterr()
    code = main(["backup", str(home) + "-b", "--home", str(home)])
    said = capsys.readouterr().err
    if damage == "log":  # it is copied as it lies
        assert code == 0
        assert main(["log-check", "--home", str(home)]) == 1
        assert "damaged: A1/2032-03/rows-" in capsys.readouterr().out
        assert main(["log-check", "A1", "--set-aside", "--home", str(home)]) == 0
        assert "60 rows set aside. Take in again: 'panel #1' (60 rows)" in capsys.readouterr().out
        assert main(["log-check", "--home", str(home)]) == 0
        return
    assert code == 2
    assert "damaged" in said or "cannot be read" in said
    if damage in ("record", "settings"):
        with pytest.raises(RecordError, match=r"backup|Put the file right"):
            Records.open(home).entries()
        return
    opened = Records.open(home)
    client = TestClient(create_app(opened, who="t"), base_url="http://127.0.0.1", raise_server_exceptions=False)
    for path in ("/", A2, f"/photos/{digest}", "/api/engines"):
        assert client.get(path).status_code < 500, path
    opened.close()


def test_two_programs_write_five_hundred_entries_each(home: Path) -> None:
    """One is the server with its pages, the other a program on the same home: all are there, none twice."""
    code = (
        "import sys; from asfound.records.store import Records\n"
        "r = Records.open(sys.argv[1]); v = r.visit('A2').id\n"
        f"for n in range(500): r.append('note', {{'text': f'other {{n}}', 'time': '{TIME}'}}, visit=v, who='x')\n"
    )
    with Records.open(home) as records:
        visit = records.visit("A2").id
        before = len(records.entries())
        other = subprocess.Popen([sys.executable, "-c", code, str(home)])
        faults: list[Exception] = []

        def write(start: int) -> None:
            try:
                for n in range(start, start + 250):
                    records.append("note", {"text": f"this {n}", "time": TIME}, visit=visit, who="x")
            except Exception as fault:
                faults.append(fault)

        threads = [threading.Thread(target=write, args=(start,)) for start in (0, 250)]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert other.wait(120) == 0
        assert faults == []
        notes = [str(one.content["text"]) for one in records.entries(kind="note")]
        for name in ("this", "other"):
            assert sorted(one for one in notes if one.startswith(name)) == sorted(f"{name} {n}" for n in range(500))
        assert len(records.entries()) == before + 1000
        ids = [one.id for one in records.entries()]
        assert ids == sorted(ids)


def test_programs_that_open_an_old_record_at_once_bring_it_up_to_date_once(tmp_path: Path) -> None:
    """A record of the first schema is opened by four programs at the same time, while another still writes into it."""
    from sqlalchemy import text

    from asfound.records.database import SCHEMA, Database
    from asfound.records.migrate import upgrade

    old = tmp_path / "home"
    old.mkdir()
    database = Database(f"sqlite:///{old / 'record.sqlite'}", file=old / "record.sqlite")
    with database.writing() as connection:
        upgrade(connection, to="0001")
    with database.reading() as connection:
        first = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    database.close()
    assert first == "0001"
    code = (
        "import sys; from asfound.records.store import Records\n"
        "with Records.open(sys.argv[1]) as r: r.append('site', {'name': sys.argv[2]}, who='x')"
    )
    several = [subprocess.Popen([sys.executable, "-c", code, str(old), name]) for name in "abcd"]
    assert [one.wait(60) for one in several] == [0, 0, 0, 0]
    with Records.open(old) as records:
        assert {one.name for one in records.sites().values()} == set("abcd")
        with records.database.reading() as connection:
            now = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        assert now == SCHEMA
    assert (old / f"record.sqlite.before-{SCHEMA}").exists()
