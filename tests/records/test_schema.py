"""The schema that migrations make is the one that the program speaks."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from asfound.records import database, migrate
from asfound.records.demo import make_demo_home
from asfound.records.migrate import scripts, upgrade
from asfound.records.seal import verify
from asfound.records.store import Records
from asfound.records.tables import METADATA


def test_migrated_schema_is_that_of_the_tables(records):
    with records.database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, METADATA) == []


def test_the_newest_migration_is_the_schema_that_is_asked_for():
    assert scripts().get_current_head() == database.SCHEMA


def test_the_file_is_copied_before_it_is_migrated(records, monkeypatch, tmp_path):
    """As if this program had a newer schema: the copy is made before anything else."""
    monkeypatch.setattr(database, "SCHEMA", "9999")
    before = records.home.database.read_bytes()
    records.database.bring_up_to_date()
    copy = records.home.database.with_name("record.sqlite.before-9999")
    assert copy.read_bytes() == before


@pytest.mark.parametrize("earlier", ["0001", "0002", "0003"])
def test_a_home_of_any_earlier_schema_opens_whole(tmp_path, earlier):
    """The demo as a program of that time would have kept it: nothing is lost, the seals hold, a copy stays beside."""
    with Records.open(make_demo_home(tmp_path / "newest").folder) as newest:
        before = newest.entries()
    old = tmp_path / "old"
    shutil.copytree(tmp_path / "newest", old)
    (old / "record.sqlite").unlink()
    made = database.Database.in_file(old / "record.sqlite")
    with made.writing() as connection:
        upgrade(connection, to=earlier)
    made.close()
    with sqlite3.connect(old / "record.sqlite", isolation_level=None) as connection:
        connection.execute("ATTACH ? AS newest", (str(tmp_path / "newest" / "record.sqlite"),))
        columns = ", ".join(str(one[1]) for one in connection.execute("PRAGMA main.table_info(entries)"))
        connection.execute(f"INSERT INTO entries ({columns}) SELECT {columns} FROM newest.entries ORDER BY seq")
    with Records.open(old) as records:
        assert records.entries() == before
        assert all(verify(records, one.id).holds for one in records.visits() if one.sealed)
        records.append("site", {"name": "Another"}, who="x")
    assert (old / f"record.sqlite.before-{database.SCHEMA}").exists()


def test_an_older_program_says_that_the_home_is_of_a_newer_one(tmp_path, monkeypatch, capsys):
    """At the command and before any page; nothing is changed."""
    from asfound.cli import CANNOT, main

    make_demo_home(tmp_path / "home")
    file = tmp_path / "home" / "record.sqlite"
    with sqlite3.connect(file) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
    before = file.read_bytes()
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "home"))
    for words in (["engines"], ["serve", "--port", "0"], ["note", "A2", "seen"], ["backup", str(tmp_path / "b")]):
        assert main(words) == CANNOT, words
        said = capsys.readouterr().err
        assert "newer asfound (schema 0999" in said
        assert "Nothing was changed" in said
    assert file.read_bytes() == before


def test_migrations_are_found_in_a_folder_of_any_name(monkeypatch, tmp_path):
    here = Path(migrate.__file__)
    shutil.copytree(here.with_name("migrations"), tmp_path / "50%s" / "migrations")
    monkeypatch.setattr(migrate, "__file__", str(tmp_path / "50%s" / here.name))
    assert scripts().get_current_head() == database.SCHEMA


def test_an_up_to_date_record_opens_without_the_migration_library(records):
    records.close()
    code = (
        "import sys; from asfound.records.store import Records; Records.open(sys.argv[1]).entries(); "
        "heavy = ('alembic', 'scipy', 'duckdb', 'typst', 'PIL', 'cryptography'); "
        "print([one for one in heavy if one in sys.modules])"
    )
    said = subprocess.run(
        [sys.executable, "-c", code, str(records.home.folder)], capture_output=True, text=True, check=True
    ).stdout
    assert said.strip() == "[]"


def test_pragmas_that_durability_needs(records):
    with records.database.reading() as connection:
        values = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert values == {"journal_mode": "delete", "synchronous": 3, "foreign_keys": 1, "busy_timeout": 5000}


def test_a_link_to_nothing_is_refused_by_the_database_itself(records, begin):
    begin(records)
    row = "('a', '', '', '', 'note', '{}', 'b')"
    with sqlite3.connect(records.home.database, isolation_level=None) as connection:
        connection.execute("PRAGMA foreign_keys=ON")
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute(f"INSERT INTO entries (id, at, who, device, kind, content, corrects) VALUES {row}")
