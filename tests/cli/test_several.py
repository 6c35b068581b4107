"""Bundles, settling, backups, people and moving at the command line."""

from __future__ import annotations

import hashlib
import io
import sys

from asfound.records import lock
from asfound.records.store import Records


def apart(at_demo, asfound, demo, tmp_path):
    """Let two laptops read one thing; bring the second one's bundle to the first."""
    file, other = tmp_path / "a2.zip", tmp_path / "other"
    assert at_demo("bundle-out", file, "A2").code == 0
    assert asfound("bundle-in", file, "--home", other).code == 0
    for home, who, value in ((demo, "J. Orme", "9.1 %"), (other, "K. Second", "8.2 %")):
        words = ("take", "A2", f"exhaust_oxygen_dry={value}", "--home", home, "--who", who)
        said = asfound(*words)
        assert said.code == 0, said.err
    assert asfound("bundle-out", file, "A2", "--replace", "--home", other).code == 0
    return at_demo("bundle-in", file, "--json").data


def test_a_bundle_goes_out_and_in(at_demo, asfound, tmp_path):
    file = tmp_path / "home.zip"
    said = at_demo("bundle-out", file, "--json").data
    assert said["sha256"] == hashlib.sha256(file.read_bytes()).hexdigest()
    assert "there already" in at_demo("bundle-out", file).err
    came = asfound("bundle-in", file, "--home", tmp_path / "other", "--json").data
    assert (came["new"], came["seals"]) == (said["entries"], said["seals"])
    assert "0 new entries" in asfound("bundle-in", file, "--home", tmp_path / "other").out
    assert not list(tmp_path.glob(".*half"))


def test_what_is_no_bundle_is_refused(at_demo, tmp_path):
    file = tmp_path / "x.zip"
    file.write_bytes(b"no")
    said = at_demo("bundle-in", file)
    assert said.code == 2
    assert "Nothing was taken in" in said.err
    assert "Nearest" in at_demo("bundle-out", tmp_path / "y.zip", "A22").err


def test_both_sides_are_shown_and_settled(at_demo, asfound, demo, tmp_path):
    assert apart(at_demo, asfound, demo, tmp_path)["to_settle"] == 1
    told = at_demo("settle").out
    for said in ("read 2 times on different laptops", "J. Orme", "K. Second", "9.1 %", "8.2 %"):
        assert said in told
    (clash,) = at_demo("settle", "A2", "--json").data
    names = [one["entry"] for one in clash["between"]]
    assert at_demo("settle", "A2", clash["about"]["entry"], *names, "--why", "two probes").out == "Settled: 2 stand\n"
    assert "Nothing to settle" in at_demo("settle").out


def test_backup_check_restore(at_demo, asfound, demo, tmp_path):
    made = at_demo("backup", tmp_path / "b", "--json").data
    assert at_demo("backup", tmp_path / "b", "--check").out.startswith("Sound")
    assert "is not overwritten" in at_demo("restore", tmp_path / "b").err
    back = asfound("restore", tmp_path / "b", "--home", tmp_path / "new", "--json").data
    assert back["entries"] == made["entries"]
    assert asfound("engines", "--home", tmp_path / "new").out == at_demo("engines").out


def test_move_home(at_demo, asfound, demo, tmp_path):
    said = at_demo("move-home", tmp_path / "new", "--json").data
    with Records.open(demo) as old, Records.open(tmp_path / "new") as new:
        assert old.entries() == new.entries()
        assert said["entries"] == len(old.entries())
    assert "already" in at_demo("move-home", tmp_path / "new").err


def test_people(at_demo, monkeypatch):
    monkeypatch.setattr("asfound.records.people.COST", (1, 8, 1))
    assert "Nobody has to sign in" in at_demo("people").out
    assert "Add the first keeper" in at_demo("office", "--port", "0").err
    for name, role in (("K. Keeper", "keeper"), ("R. Reader", "reader")):
        monkeypatch.setattr(sys, "stdin", io.StringIO("three plain words\n"))
        assert at_demo("people", "add", name, "--role", role).code == 0
    assert "last keeper" in at_demo("people", "change", "K. Keeper", "--bar").err
    assert at_demo("people", "change", "R. Reader", "--role", "writer").code == 0
    assert [one["role"] for one in at_demo("people", "--json").data] == ["keeper", "writer"]
    assert "R. Reader: role writer" in at_demo("people", "door").out
    monkeypatch.setattr(sys, "stdin", io.StringIO("short\n"))
    assert "12 to 400" in at_demo("people", "add", "S. Hort").err


def test_a_locked_bundle_opens_with_its_passphrase_alone(at_demo, asfound, tmp_path):
    file, word, wrong, other = tmp_path / "a2.locked", tmp_path / "word", tmp_path / "wrong", tmp_path / "other"
    word.write_text("lantern gravel seven herons\n")
    wrong.write_text("lantern gravel seven heron\n")
    said = at_demo("bundle-out", file, "A2", "--passphrase-file", word, "--json").data
    assert said["locked"]
    assert b"Ashgrebe" not in file.read_bytes()
    refused = asfound("bundle-in", file, "--passphrase-file", wrong, "--home", other)
    assert refused.code == 2
    assert "does not open this bundle" in refused.err
    assert "Nothing was taken in" in refused.err
    came = asfound("bundle-in", file, "--passphrase-file", word, "--home", other, "--json").data
    assert came["new"] == said["entries"]
    data = bytearray(file.read_bytes())
    for place in (len(data) - 1, len(data) // 2, 20):  # a byte anywhere, and a tail that is missing
        changed = bytes(data[:place]) + bytes([data[place] ^ 1]) + bytes(data[place + 1 :])
        file.write_bytes(changed)
        assert asfound("bundle-in", file, "--passphrase-file", word, "--home", other).code == 2
    file.write_bytes(bytes(data[: len(data) // 2]))
    assert asfound("bundle-in", file, "--passphrase-file", word, "--home", other).code == 2


def test_a_home_is_locked_opened_and_made_plain_again(at_demo, asfound, demo, tmp_path, monkeypatch):
    word, new = tmp_path / "word", tmp_path / "new"
    word.write_text("lantern gravel seven herons\n")
    new.write_text("another four words here\n")
    before = at_demo("bundle-out", tmp_path / "before.zip", "--json").data["sha256"]
    said = at_demo("home-lock", "--passphrase-file", word, "--json").data
    assert said["plain"] == ["settings.json"]
    lock.forget()
    refused = at_demo("engines")
    assert refused.code == 2
    assert "is locked" in refused.err
    assert "ASFOUND_PASSPHRASE_FILE" in refused.err
    monkeypatch.setenv("ASFOUND_PASSPHRASE_FILE", str(word))
    assert "A2" in at_demo("engines").out
    assert at_demo("home-passphrase", "--passphrase-file", word, "--new-file", new).code == 0
    lock.forget()
    refused = at_demo("engines")
    assert refused.code == 2
    assert "no second key" in refused.err
    assert at_demo("home-unlock", "--passphrase-file", new).code == 0
    assert at_demo("bundle-out", tmp_path / "after.zip", "--json").data["sha256"] == before
    assert "not locked" in at_demo("home-unlock", "--passphrase-file", new).err
