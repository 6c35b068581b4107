"""The schema that migrations make is the one that the program speaks."""

from __future__ import annotations

import sqlite3
import subprocess
import sys

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from asfound.records import database
from asfound.records.migrate import scripts
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
