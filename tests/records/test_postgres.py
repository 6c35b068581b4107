"""The same code on PostgreSQL. Skipped, with a sentence, where there is no server program or driver."""

from __future__ import annotations

import io
import os
import random
import shutil
import subprocess
import tempfile
import threading
from datetime import date
from pathlib import Path

import pytest

from asfound.errors import AsFoundError, RecordError
from asfound.records.backup import back_up
from asfound.records.bundle import bundle_bytes
from asfound.records.bundle_in import take_in
from asfound.records.conflicts import clashes, settle
from asfound.records.database import Database
from asfound.records.demo import make_demo_home
from asfound.records.export import computed_part
from asfound.records.moved import digest_of_rows, move
from asfound.records.office import Person, acting_as
from asfound.records.people import People
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


@pytest.fixture
def databases(url):
    """Make empty databases on the server, one for each call."""
    from sqlalchemy import create_engine, text

    made: list[str] = []
    server = create_engine(url, isolation_level="AUTOCOMMIT")

    def make() -> str:
        name = f"empty_{os.getpid()}_{len(made)}"
        with server.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name}"))
        made.append(name)
        return url.replace("/asfound?", f"/{name}?")

    yield make
    with server.connect() as connection:
        for name in made:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    server.dispose()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_from_a_folder_to_the_server_and_back_nothing_changes(databases, open_home, begin, reading, tmp_path, seed):
    """Random records with odd texts, photos, corrections, seals, people: the same bytes in all three places."""
    rng = random.Random(seed)
    home = open_home("home")
    _, visit = begin(home)
    odd = [
        "é\u0301",
        "\u202eabc",
        "a\nb\tc",
        "𝔘",
        '"quoted"',
        "'; DROP TABLE entries; --",
        "%s %(x)s",
        "x" * 9000,
    ]
    for number in range(40):
        what = rng.random()
        if what < 0.3:
            value = rng.choice([0.09, 1e-300, 1.7e300, 0.1 + 0.2, -0.0])
            home.append("reading", reading("exhaust_oxygen_dry", value, rng.choice(odd), place="stack"), visit=visit)
        elif what < 0.6:
            home.append("note", {"text": rng.choice(odd), "time": TIME}, visit=visit, who=rng.choice(["é", "b", "-"]))
        elif what < 0.8:
            content = bytes(rng.randrange(256) for _ in range(rng.choice([1, 3000])))
            digest = home.attach(content, "a.png", "image/png")
            photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": len(content)}
            home.append("photo", photo | {"time": TIME}, visit=visit)
        else:
            some = rng.choice(home.entries(kind="visit_opened") + home.entries(kind="note"))
            if some.kind == "note":
                home.append("withdrawn", {"why": str(number)}, corrects=some.id)
    seal(home, visit)
    People(home.database, home.clock).add("K. Keeper", "keeper", "three plain words")
    with Records.open(databases(), home=tmp_path / "laptop") as server, Records.open(tmp_path / "back") as back:
        there = move(home, server)
        move(server, back)
        files = [bundle_bytes(one) for one in (home, server, back)]
        assert files[0] == files[1] == files[2]
        assert digest_of_rows(back.database) == there.digest
        assert verify(server, visit).holds
        assert verify(back, visit).holds
        assert back.files.digests() == home.files.digests()
        for one in (server, back):
            assert People(one.database, one.clock).sign_in("K. Keeper", "three plain words")
        with pytest.raises(RecordError, match="already"):
            move(home, server)


def test_the_whole_demo_goes_to_the_server_and_back(databases, tmp_path):
    """Every kind that the demo has; each seal holds in all three places, and a visit says the same."""
    home = Records.open(make_demo_home(tmp_path / "demo", until=date(2033, 6, 29)).folder)
    kinds = {one.kind for one in home.entries()}
    assert len(kinds) > 25
    with home, Records.open(databases(), home=tmp_path / "laptop") as server, Records.open(tmp_path / "back") as back:
        move(home, server)
        move(server, back)
        assert digest_of_rows(home.database) == digest_of_rows(server.database) == digest_of_rows(back.database)
        assert {one.kind for one in back.entries()} == kinds
        for visit in home.visits():
            assert [verify(one, visit.id).holds for one in (server, back)] == [verify(home, visit.id).holds] * 2
        visit = home.visit("A2/2032-07-08").id
        said = [computed_part(view(one, visit)) for one in (home, server, back)]
        assert said[0] == said[1] == said[2]


def test_bundles_go_between_a_laptop_and_the_office(databases, open_home, begin, reading, tmp_path):
    laptop = open_home("laptop")
    _, visit = begin(laptop)
    with Records.open(databases(), home=tmp_path / "office") as office:
        office.home.change(person="O. Ffice")
        take_in(office, io.BytesIO(bundle_bytes(laptop)))
        for one, value in ((laptop, 0.09), (office, 0.08)):
            one.append("reading", reading("exhaust_oxygen_dry", value, f"{value}", place="stack"), visit=visit)
        digest = office.attach(b"picture", "a.png", "image/png")
        photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 7, "time": TIME}
        office.append("photo", photo, visit=visit)
        take_in(office, io.BytesIO(bundle_bytes(laptop)))
        take_in(laptop, io.BytesIO(bundle_bytes(office)))
        assert bundle_bytes(laptop) == bundle_bytes(office)
        assert clashes(laptop) == clashes(office)
        (clash,) = clashes(office)
        with acting_as(Person(name="K. Keeper", role="keeper")):
            settle(office, clash.about.id, [one.entry.id for one in clash.sides])
        take_in(laptop, io.BytesIO(bundle_bytes(office)))
        assert clashes(laptop) == ()
        assert laptop.attachment(digest) == b"picture"
        before = bundle_bytes(office)
        with pytest.raises(AsFoundError):
            take_in(office, io.BytesIO(before.replace(b"0.09", b"0.07")))
        assert bundle_bytes(office) == before


def test_a_backup_of_the_server_opens_as_a_home(shared, url, begin, tmp_path):
    begin(shared, tag="P9")
    made = back_up(shared, tmp_path / "b")
    with Records.open(tmp_path / "b") as copy:
        assert bundle_bytes(copy) == bundle_bytes(shared)
    assert made.entries == len(shared.entries())


def test_several_people_through_the_pages_of_an_office(shared, url, begin, tmp_path, monkeypatch):
    """Two servers on one database: a session of one is a session of the other; each entry bears its own name."""
    from starlette.testclient import TestClient

    from asfound.records import people
    from asfound.web.office import office_app

    monkeypatch.setattr(people, "COST", (1, 8, 1))
    begin(shared, tag="P7")
    who = People(shared.database, shared.clock)
    for name, role in (("K. Keeper", "keeper"), ("W. Writer", "writer"), ("R. Reader", "reader")):
        who.add(name, role, "three plain words")
    with Records.open(url, home=tmp_path / "second", clock=shared.clock) as second:
        clients = [TestClient(office_app(one, debug=True), base_url="http://127.0.0.1") for one in (shared, second)]
        for name, client, allowed in (("W. Writer", 0, True), ("R. Reader", 1, False), ("K. Keeper", 1, True)):
            first, other = clients[client], clients[1 - client]
            first.post("/sign-in", data={"name": name, "password": "three plain words"})
            other.cookies = first.cookies
            said = other.post("/engines/P7/2032-07-08/notes", data={"text": f"by {name}"}, follow_redirects=False)
            assert (said.status_code == 303) == allowed
            first.post("/sign-out")
            assert other.get("/settings", headers={"accept": "*/*"}).status_code == 401
    notes = [
        (one.who, one.content["text"]) for one in shared.entries(kind="note") if one.who in ("K. Keeper", "W. Writer")
    ]
    assert notes == [("W. Writer", "by W. Writer"), ("K. Keeper", "by K. Keeper")]
    doings = [(one.name, one.what) for one in who.doings(20)]
    assert ("R. Reader", "forbidden") in doings
