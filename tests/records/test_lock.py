"""A locked home: nothing of it can be read without the passphrase, nothing is lost on the way there and back."""

from __future__ import annotations

import builtins
import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("sqlcipher3")
pytest.importorskip("fsspec")

from asfound.errors import InputError, RecordError
from asfound.history.store import Store
from asfound.records import backup, lock, lock_home, lock_switch, seal
from asfound.records.demo import make_demo_home
from asfound.records.home import Home
from asfound.records.keys import make_key, public_key
from asfound.records.logs_of_engine import logs
from asfound.records.moved import digest_of_rows
from asfound.records.store import Records
from asfound.records.trust import notices

WORD = "lantern gravel seven herons"
SECRET = b"The compressor hall smells of oil."


@pytest.fixture(autouse=True)
def _nothing_is_held(monkeypatch):
    monkeypatch.setattr(lock, "COST", 2**12)  # the tests need no half second for each guess
    monkeypatch.setattr(lock_home, "make_lock", lambda word: lock.make_lock(word, cost=2**12))
    yield
    lock.forget()


@pytest.fixture(scope="module")
def plain_home(tmp_path_factory):
    """A demo home with a key, a log and a photo that hold words to look for."""
    tmp_path = tmp_path_factory.mktemp("plain")
    folder = tmp_path / "home"
    make_demo_home(folder)
    make_key(Home(folder))
    with Records.open(folder) as records:
        engine = records.engine("A2")
        _take_log(records, engine, tmp_path)
        visit = next(one for one in records.visits() if one.sealed is None)
        records.append("note", {"text": SECRET.decode(), "time": "2032-07-08T15:00:00Z"}, visit=visit.id, who="J. Orme")
        digest = records.attach(b"\xff\xd8" + SECRET, "a.jpg", "image/jpeg")
        (tmp_path / "digest").write_text(digest)
    return folder


@pytest.fixture
def home(plain_home, tmp_path):
    """A copy of it for one test."""
    shutil.copy(plain_home.parent / "digest", tmp_path)
    return Path(shutil.copytree(plain_home, tmp_path / "home"))


def _take_log(records, engine, tmp_path):
    from asfound.records import log_import, log_plan

    log = tmp_path / "secret_source.csv"
    rows = "".join(
        f"2032-03-0{1 + n // 24} {n % 24:02d}:00:00,{1000 + n},{'bad' if n == 3 else 310 + n}\n" for n in range(48)
    )
    log.write_text("time,engine power [kW],oil pressure [kPa]\n" + rows)
    source = log_import.source_for(records, engine, "panel")
    planned = log_plan.plan([log], source, zone="UTC")
    log_import.import_planned(records, engine, planned, who="J. Orme")


def everything(folder):
    """Return all bytes that lie in a folder, and all names."""
    found = b""
    for path in folder.rglob("*"):
        found += str(path.relative_to(folder)).encode() + b"\n"
        found += path.read_bytes() if path.is_file() else b""
    return found


def told(folder, *, seals=True, **how):
    """Return what a record holds, as far as two can be compared."""
    with Records.open(folder, **how) as records:
        visits = [one for one in records.visits() if one.sealed and seals]
        hold = {one.name: seal.verify(records, one.id).holds for one in visits}
        store = logs(records)
        rows = store.read(store.engines()[0])
        digests = sorted(records.files.digests())
        contents = [records.attachment(one) for one in digests]
        return digest_of_rows(records.database), hold, digests, contents, rows.time.tobytes(), sorted(rows.values)


def test_there_and_back_without_loss_and_unreadable_between(home):
    before, key = told(home), public_key(Home(home))
    assert all(before[1].values())
    assert SECRET in everything(home)
    assert b"oil_pressure" in everything(home)
    made = lock_home.lock_home(home, WORD)
    assert made.digest == before[0]
    assert made.log_files > 2
    lying = everything(home)
    for word in (SECRET, b"J. Orme", b"Ashgrebe", b"oil_pressure", b"oil pressure", b"PRIVATE KEY", b"SQLite format"):
        assert word not in lying, word
    for digest in before[2]:  # who has a photo cannot tell whether it lies here
        assert digest.encode() not in lying
    assert told(home, passphrase=WORD) == before
    assert public_key(Home(home)) == key
    lock.forget()
    back = lock_home.unlock_home(home, WORD)
    assert back.digest == before[0]
    assert told(home) == before
    assert not lock.is_locked(home)


def test_without_the_passphrase_it_says_what_to_do(home, monkeypatch):
    monkeypatch.setattr(lock, "_ask", None)  # a command that ran before in this process asks at the terminal
    lock_home.lock_home(home, WORD)
    with pytest.raises(RecordError, match=r"is locked\. Give its passphrase"):
        Records.open(home)
    with pytest.raises(RecordError, match="no second key"):
        Records.open(home, passphrase="lantern gravel seven heron")
    with pytest.raises(RecordError, match="locked"):
        Store(home / "logs")
    with pytest.raises(RecordError, match="locked already"):
        lock_home.lock_home(home, WORD)
    with pytest.raises(InputError, match="four or five words"):
        lock.make_lock("short")


def test_a_file_gives_the_passphrase_where_nobody_is_there(home, tmp_path, monkeypatch):
    lock_home.lock_home(home, WORD)
    (tmp_path / "word").write_text(WORD + "\n")
    monkeypatch.setenv("ASFOUND_PASSPHRASE_FILE", str(tmp_path / "word"))
    with Records.open(home) as records:
        assert records.engine("A2").tag == "A2"
    lock.forget()
    monkeypatch.setenv("ASFOUND_PASSPHRASE_FILE", str(tmp_path / "gone"))
    with pytest.raises(RecordError, match="cannot be read from"):
        Records.open(home)


def test_another_passphrase_writes_nothing_else_anew(home):
    lock_home.lock_home(home, WORD)
    size = os.stat(home / "record.sqlite").st_mtime_ns
    with pytest.raises(RecordError, match="does not open"):
        lock.change_passphrase(Home(home), "not this one at all", "another four words here")
    lock.change_passphrase(Home(home), WORD, "another four words here")
    assert os.stat(home / "record.sqlite").st_mtime_ns == size
    lock.forget()
    with pytest.raises(RecordError, match="does not open"):
        Records.open(home, passphrase=WORD)
    Records.open(home, passphrase="another four words here").close()


def test_what_is_written_after_locking_is_closed_too(home):
    lock_home.lock_home(home, WORD)
    with Records.open(home, passphrase=WORD) as records:
        visit = next(one for one in records.visits() if one.sealed is None)
        records.append(
            "note", {"text": "written later, unseen", "time": "2032-07-08T16:00:00Z"}, visit=visit.id, who="J. Orme"
        )
        records.attach(b"kept later, unseen", "b.txt", "text/plain")
    assert b"unseen" not in everything(home)


def test_a_backup_of_a_locked_home_is_locked_and_comes_back(home, tmp_path):
    before = told(home)
    lock_home.lock_home(home, WORD)
    with Records.open(home, passphrase=WORD) as records:
        backup.back_up(records, tmp_path / "b")
    assert SECRET not in everything(tmp_path / "b")
    assert b"oil_pressure" not in everything(tmp_path / "b")
    lock.forget()
    with pytest.raises(RecordError, match="locked"):
        backup.check(tmp_path / "b")
    lock.keys_of(tmp_path / "b", WORD)
    backup.restore(tmp_path / "b", Home(tmp_path / "again"))
    assert told(tmp_path / "again") == before
    with pytest.raises(RecordError, match=r"same .* entries as the backup"):
        backup.restore(tmp_path / "b", Home(tmp_path / "again"))


def test_a_changed_byte_is_named(home, tmp_path):
    lock_home.lock_home(home, WORD)
    digest = (tmp_path / "digest").read_text()
    with Records.open(home, passphrase=WORD) as records:
        path = records.files.path(digest)
        data = bytearray(path.read_bytes())
        data[-1] ^= 1
        path.write_bytes(data)
        with pytest.raises(RecordError, match="does not open: it was changed"):
            records.attachment(digest)
    data = bytearray((home / "record.sqlite").read_bytes())
    data[5000] ^= 1
    (home / "record.sqlite").write_bytes(data)
    with pytest.raises(RecordError, match=r"damaged|is not a record"):
        Records.open(home).close()
    (home / "lock.json").write_text("{}")
    with pytest.raises(RecordError, match="holds the key of this home"):
        Records.open(home)


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("step", range(0, 10, 2))
def test_power_cut_at_any_step_leaves_one_of_the_two(home, monkeypatch, step, back):
    """Every rename, removal and write of the switch is the last one once; whoever opens the home then has all of it."""
    before = told(home, seals=False)
    if back:
        lock_home.lock_home(home, WORD)

    class CutError(BaseException):
        pass

    left = [step]

    def cut(original):
        def step_or_cut(*given, **named):
            if left[0] == 0:
                raise CutError
            left[0] -= 1
            return original(*given, **named)

        return step_or_cut

    with monkeypatch.context() as patched:
        for module, name in ((lock_switch, "put_in_place"), (lock_switch.shutil, "rmtree")):
            patched.setattr(module, name, cut(getattr(module, name)))  # the first one clears an older attempt
        with contextlib.suppress(CutError):
            (lock_home.unlock_home if back else lock_home.lock_home)(home, WORD)
    lock.forget()
    assert told(home, seals=False, passphrase=WORD) == before
    assert not (home / lock_switch.LATE).exists()


WRITER = """
import sys
from asfound.records.store import Records
records = Records.open(sys.argv[1])
visit = next(one for one in records.visits() if one.sealed is None)
for n in range(100000):
    try:
        note = {"text": f"{n}", "time": "2032-07-08T15:00:00Z"}
        print(records.append("note", note, visit=visit.id, who="J. Orme").id, flush=True)
    except Exception as fault:
        print("stopped:", fault, flush=True)
        break
"""


def test_another_program_that_writes_meanwhile_loses_nothing_and_is_told(home):
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(home)], stdout=subprocess.PIPE, text=True)
    first = writer.stdout.readline()
    lock_home.lock_home(home, WORD)
    said = [first, *writer.stdout.read().splitlines()]
    writer.wait(30)
    writer.stdout.close()
    assert said[-1].startswith("stopped:"), said[-1]
    assert "Close this program and start it again" in said[-1] or "Another program" in said[-1]
    with Records.open(home, passphrase=WORD) as records:
        kept = {one.id for one in records.entries(kind="note")}
    assert {one.strip() for one in said[:-1]} <= kept


def test_the_record_is_never_opened_beside_its_database_while_it_is_switched(home, monkeypatch):
    """Closing a second handle would take the process's POSIX lock away, and another program could write meanwhile.

    How to corrupt an SQLite database file, sqlite.org, section 2.2: advisory locks cancelled by a separate close().
    """
    true, opened = io.open, []

    def watched(file, *words, **more):
        opened.append(str(file))
        return true(file, *words, **more)

    monkeypatch.setattr(builtins, "open", watched)
    monkeypatch.setattr(io, "open", watched)
    lock_home.lock_home(home, WORD)
    assert opened
    assert str(home / "record.sqlite") not in opened


def test_the_lock_says_how_it_is_made(home):
    lock_home.lock_home(home, WORD)
    told_ = json.loads((home / "lock.json").read_text())
    assert set(told_) == {"form", "id", "scrypt", "nonce", "key"}
    assert lock.COST >= 2**12
    assert WORD not in (home / "lock.json").read_text()


def test_what_another_program_wrote_meanwhile_is_kept_and_told(home, monkeypatch):
    """The switch is cut off after its one step, and a program that had the old file open goes on writing into it."""

    def cut(*_):
        raise KeyboardInterrupt

    with Records.open(home) as other:
        visit = next(one for one in other.visits() if one.sealed is None)
        with monkeypatch.context() as patched, contextlib.suppress(KeyboardInterrupt):
            patched.setattr(lock_home, "settle", cut)
            lock_home.lock_home(home, WORD)
        note = {"text": "written meanwhile", "time": "2032-07-08T15:00:00Z"}
        late = other.append("note", note, visit=visit.id, who="J. Orme")
    with Records.open(home, passphrase=WORD) as records:
        assert (home / lock_switch.LATE).exists()
        assert "was written into while the home was being switched" in notices(records)[0]
        assert late.id not in {one.id for one in records.entries()}
    apart = home.parent / "apart"
    apart.mkdir()
    shutil.copy(home / lock_switch.LATE, apart / "record.sqlite")
    with Records.open(apart) as other:
        assert late.id in {one.id for one in other.entries()}
