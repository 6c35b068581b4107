"""Appending: checked, placed, durable, and refused where it must be."""

from __future__ import annotations

import os
import sqlite3
import stat

import pytest

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records.store import Draft, Records

NOTE = {"text": "a note", "time": "2032-07-08T15:00:00Z"}


def test_what_is_written_is_read_again(records, open_home, begin):
    _, visit = begin(records)
    entry = records.append("note", NOTE, visit=visit)
    again = open_home()
    assert again.entry(entry.id) == entry
    assert [one.kind for one in again.entries(visit=visit)] == ["visit_opened", "note"]


def test_two_programs_see_each_other(records, open_home, begin):
    other = open_home()
    _, visit = begin(records)
    first = other.append("note", NOTE, visit=visit)
    second = records.append("note", NOTE, visit=visit)
    assert second.id > first.id
    assert len(other.entries(visit=visit)) == 3


def test_engine_and_visit_are_found_by_name(records, begin):
    engine, visit = begin(records)
    assert records.engine("a2").id == engine
    assert records.visit("A2").id == records.visit("A2/2032-07-08").id == visit
    second = records.append("visit_opened", {"began": "2032-07-08T20:00:00Z"}, engine=engine)
    assert records.visit(second.id).name == "A2/2032-07-08-2"
    with pytest.raises(UnknownNameError, match="A2/2032-07-08"):
        records.visit("A2/2032-07-09")
    begin(records)
    with pytest.raises(RecordError, match="2 engines are called A2"):
        records.engine("A2")


def test_a_correction_of_the_engine_keeps_the_engine(records, begin):
    engine, _ = begin(records)
    records.append("engine", {"tag": "A2b", "works_number": "20461"}, corrects=engine)
    assert records.engine("A2b").id == engine
    assert len(records.engines()) == 1


@pytest.mark.parametrize(
    ("kind", "content", "says"),
    [
        ("reading", {"state": "so_so"}, "reading.state"),
        ("reading", {"value": float("inf")}, "reading.value"),
        ("reading", {"value": float("nan")}, "reading.value"),
        ("note", {**NOTE, "colour": "red"}, "note.colour"),
        ("note", {**NOTE, "time": "yesterday"}, "note.time"),
        ("note", {**NOTE, "text": "a\x00b"}, "note.text"),
    ],
)
def test_what_a_kind_does_not_ask_for_is_refused(records, kind, content, says, begin, reading):
    _, visit = begin(records)
    if kind == "reading":
        content = {**reading("fuel_flow", 1.0, "1"), **content}
    with pytest.raises(InputError, match=says):
        records.append(kind, content, visit=visit)
    assert len(records.entries(visit=visit)) == 1


def test_an_entry_lies_where_its_kind_belongs(records, begin, reading):
    engine, visit = begin(records)
    with pytest.raises(InputError, match="visit"):
        records.append("reading", reading("fuel_flow", 1.0, "1"))
    with pytest.raises(InputError, match="home"):
        records.append("site", {"name": "S"}, engine=engine)
    with pytest.raises(UnknownNameError):
        records.append("note", NOTE, visit=engine)
    with pytest.raises(UnknownNameError):
        records.append("colour", {}, visit=visit)
    with pytest.raises(RecordError, match="still open"):
        records.append("addendum", {"says": "x", "time": NOTE["time"]}, visit=visit)


def test_many_are_kept_all_or_none(records, begin):
    _, visit = begin(records)
    good = Draft(kind="note", content=NOTE, visit=visit)
    with pytest.raises(InputError):
        records.append_many([good, Draft(kind="note", content={}, visit=visit)])
    with pytest.raises(UnknownNameError):
        records.append_many([good, Draft(kind="note", content=NOTE, visit=records.engine("A2").id)])
    assert len(records.entries(visit=visit)) == 1
    first, second = records.append_many([good, Draft(kind="note", content=NOTE, visit=visit, corrects="#0")])
    assert second.corrects == first.id


def test_undo_adds_a_line_and_undoing_that_brings_it_back(records, begin):
    _, visit = begin(records)
    engine = records.engine("A2").id
    note = records.append("note", NOTE, visit=visit)
    undone = records.undo(note.id)
    assert note not in records.fold(engine, visit).current
    records.undo(undone.id)
    assert note in records.fold(engine, visit).current
    assert len(records.entries(visit=visit)) == 4


def test_files_are_kept_once_and_damage_is_found(records):
    digest = records.attach(b"picture", "a.jpg", "image/jpeg")
    assert records.attach(b"picture", "b.jpg", "image/jpeg") == digest
    assert records.attachment(digest) == b"picture"
    path = records.files.path(digest)
    path.write_bytes(b"Picture")
    with pytest.raises(RecordError, match="damaged"):
        records.attachment(digest)
    with pytest.raises(UnknownNameError):
        records.attachment("0" * 64)
    with pytest.raises(InputError, match="empty"):
        records.attach(b"", "a.jpg", "image/jpeg")


def test_a_file_that_is_no_record_is_refused(tmp_path):
    (tmp_path / "record.sqlite").write_bytes(b"this is no database at all, but long enough to be read as one" * 30)
    with pytest.raises(RecordError, match="not a record"):
        Records.open(tmp_path)


def test_a_foreign_database_is_refused(tmp_path):
    with sqlite3.connect(tmp_path / "record.sqlite") as other:
        other.execute("CREATE TABLE entries (a)")
    with pytest.raises(RecordError, match="no record"):
        Records.open(tmp_path)


def test_a_newer_record_is_refused(records, tmp_path):
    records.close()
    with sqlite3.connect(records.home.database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
    with pytest.raises(RecordError, match="newer asfound"):
        Records.open(records.home.folder)


@pytest.mark.skipif(os.name == "nt", reason="folder rights differ on Windows")
def test_a_record_that_may_only_be_read_says_so(records, begin):
    _, visit = begin(records)
    records.close()
    if os.geteuid() == 0:  # root may write anyway, so the file system must say no: SQLite's own switch does
        url = f"sqlite:///file:{records.home.database}?mode=ro&uri=true"
        from asfound.records.database import Database

        records.database = Database(url, file=records.home.database)
    else:
        records.home.database.chmod(stat.S_IRUSR)
    with pytest.raises(RecordError, match="only be read"):
        records.append("note", NOTE, visit=visit)
    assert len(records.entries(visit=visit)) == 1


def test_a_full_disk_says_so_and_keeps_what_was(records, begin):
    _, visit = begin(records)
    with records.database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    from sqlalchemy import event

    event.listen(
        records.database.engine,
        "begin",
        lambda connection: connection.exec_driver_sql(f"PRAGMA max_page_count={pages}"),
    )
    big = [Draft(kind="note", content={**NOTE, "text": "long " * 3000}, visit=visit) for _ in range(50)]
    with pytest.raises(RecordError, match="disk is full"):
        records.append_many(big)
    assert len(records.entries(visit=visit)) == 1


def test_another_program_that_holds_the_record_is_waited_for_then_named(records, monkeypatch, begin):
    _, visit = begin(records)
    from asfound.records import database

    monkeypatch.setattr(database, "WAIT", 0.05)
    impatient = Records.open(records.home.folder)
    with impatient.database.reading() as connection:
        connection.exec_driver_sql("PRAGMA busy_timeout=50")
    holder = sqlite3.connect(records.home.database, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(RecordError, match="Another program"):
            impatient.append("note", NOTE, visit=visit)
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert impatient.append("note", NOTE, visit=visit)
    impatient.close()


def test_settings_are_kept_and_wrong_ones_refused(records):
    records.home.change(decimal=",", units="us")
    assert records.settings.decimal == ","
    with pytest.raises(InputError, match="is no setting"):
        records.home.change(colour="red")
    with pytest.raises(InputError, match="not one of its values"):
        records.home.change(units="imperial")
    (records.home.folder / "settings.json").write_text("{")
    with pytest.raises(RecordError, match=r"settings\.json"):
        _ = records.settings


@pytest.mark.parametrize("name", ["../record.sqlite", "..", "a" * 300, "A" * 64, "", "a" * 63 + "/"])
def test_a_digest_that_is_none_leads_nowhere(records, name):
    with pytest.raises(UnknownNameError):
        records.attachment(name)
