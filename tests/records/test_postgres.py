"""The same code on PostgreSQL. Skipped, with a sentence, where there is no server program or driver."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import threading
from pathlib import Path

import pytest

from asfound.errors import RecordError
from asfound.records.database import Database
from asfound.records.seal import seal, verify
from asfound.records.store import Records
from asfound.records.visit import view

TIME = "2032-07-08T15:00:00Z"


def _unavailable(why: str) -> None:
    """Skip, or fail where the machine was said to have it."""
    if os.environ.get("ASFOUND_REQUIRE_POSTGRES"):
        pytest.fail(f"PostgreSQL is required here, but {why}")
    pytest.skip(f"no test on PostgreSQL: {why}")


def _as_postgres(command: list[str]) -> None:
    """Run a program of the server, which refuses to run as root."""
    if os.geteuid() == 0:
        command = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", *command]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        _unavailable(f"{command[-1]}: {done.stderr.strip()[:300]}")


@pytest.fixture(scope="module")
def url():
    """Start a server of our own in a folder of its own; give its URL; stop it."""
    pytest.importorskip("psycopg") if not os.environ.get("ASFOUND_REQUIRE_POSTGRES") else __import__("psycopg")
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    if not found:
        _unavailable("the Debian package 'postgresql' is not installed")
    programs = found[-1]
    folder = Path(tempfile.mkdtemp(prefix="asfound-pg-"))  # short: a socket's path may have 107 signs
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    data = str(folder / "data")
    options = f"-c listen_addresses='' -k {folder}"
    _as_postgres(
        [str(programs / "initdb"), "-D", data, "-U", "asfound", "-A", "trust", "-E", "UTF8", "--no-locale", "--no-sync"]
    )
    _as_postgres([str(programs / "pg_ctl"), "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start"])
    try:
        _as_postgres([str(programs / "createdb"), "-h", str(folder), "-U", "asfound", "asfound"])
        yield f"postgresql+psycopg://asfound@/asfound?host={folder}"
    finally:
        _as_postgres([str(programs / "pg_ctl"), "-D", data, "-m", "fast", "stop"])
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def shared(url, tmp_path, clock):
    records = Records.open(url, home=tmp_path / "laptop", clock=clock)
    records.home.change(person="R. Tester")
    yield records
    records.close()


def test_migrated_schema_is_that_of_the_tables(shared):
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext

    from asfound.records.tables import METADATA

    with shared.database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, METADATA) == []


def test_a_whole_visit(shared, url, begin, reading, tmp_path):
    _, visit = begin(shared, tag="P1")
    first = shared.append("reading", reading("exhaust_oxygen_dry", 0.09, "9 %", place="stack"), visit=visit)
    shared.append("reading", reading("exhaust_oxygen_dry", 0.089, "8,9 %", place="stack"), corrects=first.id)
    digest = shared.attach(b"picture", "a.png", "image/png")
    photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 7, "time": TIME}
    shared.append("photo", photo, visit=visit)
    seen = view(shared, visit)
    assert seen.worked.result("as_found/stack/excess_air_ratio") is not None
    seal(shared, visit)
    assert verify(shared, visit).holds
    other = Records.open(url, home=tmp_path / "other")
    assert other.entries(visit=visit) == shared.entries(visit=visit)
    assert other.attachment(digest) == b"picture"
    with pytest.raises(RecordError, match="sealed"):
        other.append("note", {"text": "late", "time": TIME}, visit=visit, who="x")
    other.close()


def test_many_writers_at_once_keep_all_in_one_order(shared, url, begin, tmp_path):
    _, visit = begin(shared, tag="P2")

    def write(name: str) -> None:
        with Records.open(url, home=tmp_path / name) as own:
            for n in range(15):
                own.append("note", {"text": f"{name} {n}", "time": TIME}, visit=visit, who=name)

    threads = [threading.Thread(target=write, args=(name,)) for name in "abcd"]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    notes = [one for one in shared.entries(visit=visit) if one.kind == "note"]
    assert len(notes) == 60
    for name in "abcd":
        assert [one.content["text"] for one in notes if one.who == name] == [f"{name} {n}" for n in range(15)]


def test_a_server_that_does_not_answer_is_named_without_its_password():
    with pytest.raises(RecordError) as refused:
        Database("postgresql+psycopg://somebody:secret@/none?host=/nowhere").bring_up_to_date()
    assert "secret" not in str(refused.value)
    assert "does not answer" in str(refused.value)
