"""A seal finds any changed byte, and names it."""

from __future__ import annotations

import json
import sqlite3

import pytest

from asfound.errors import RecordError
from asfound.records.entries import canonical
from asfound.records.seal import seal, verify

TIME = "2032-07-08T15:00:00Z"


@pytest.fixture
def sealed(records, begin, reading):
    """A visit with a reading, its correction, a photo and a note, closed; return its identifier and its entries."""
    engine, visit = begin(records)
    instrument = records.append("instrument", {"name": "Gauge", "serial": "7"})
    records.append(
        "limit", {"quantity": "oil_pressure", "value": 2e5, "as_typed": "2 bar", "side": "lower"}, engine=engine
    )
    first = records.append("reading", reading("oil_pressure", 4.1e5, "4,1 bar", instrument=instrument.id), visit=visit)
    records.append("reading", reading("oil_pressure", 4.2e5, "4,2 bar"), corrects=first.id)
    digest = records.attach(b"a picture", "a.png", "image/png")
    photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 9, "time": TIME}
    records.append("photo", photo, visit=visit)
    records.append("note", {"text": "Größe 5 µm, \u20ac", "time": TIME}, visit=visit)
    seal(records, visit, statement="All done.")
    return visit


def tamper(records, statement: str, *values) -> None:
    """Change the database behind the program's back."""
    with sqlite3.connect(records.home.database) as connection:
        connection.execute("PRAGMA foreign_keys=OFF")
        connection.execute("PRAGMA synchronous=OFF")
        connection.execute(statement, values)


def test_an_untouched_visit_holds(records, sealed):
    found = verify(records, sealed)
    assert found.holds
    assert (found.entries, found.files, found.addenda) == (5, 1, 0)


def test_a_sealed_visit_takes_addenda_only(records, sealed):
    with pytest.raises(RecordError, match="is sealed: nothing is added"):
        records.append("note", {"text": "late", "time": TIME}, visit=sealed)
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    with pytest.raises(RecordError, match="sealed"):
        records.undo(note.id)
    with pytest.raises(RecordError, match="already"):
        seal(records, sealed)
    records.append("addendum", {"says": "late", "time": TIME, "about": [note.id]}, visit=sealed)
    found = verify(records, sealed)
    assert found.holds
    assert found.addenda == 1


def test_every_byte_of_every_sealed_entry_counts(records, sealed):
    """Flip one bit at many places of each column of each entry in turn; each time the entry is named."""
    columns = ("at", "who", "device", "kind", "content")
    with sqlite3.connect(records.home.database) as connection:
        connection.text_factory = bytes
        rows = connection.execute(f"SELECT id, {', '.join(columns)} FROM entries WHERE visit = ?", (sealed,)).fetchall()
    flips = 0
    for row in rows:
        identifier = row[0].decode()
        for column, value in zip(columns, row[1:], strict=True):
            # Prime steps meet keys, signs, digits and letters; every single byte would only take longer.
            for at in range(0, len(value), 3 if column != "content" else 13):
                changed = value[:at] + bytes([value[at] ^ 1]) + value[at + 1 :]
                tamper(records, f"UPDATE entries SET {column} = CAST(? AS TEXT) WHERE id = ?", changed, identifier)
                found = verify(records, sealed)
                assert not found.holds, (column, at, value)
                if b"sealed" not in row:
                    assert identifier in {one.id for one in found.faults}, (column, at, found.faults)
                flips += 1
            tamper(records, f"UPDATE entries SET {column} = CAST(? AS TEXT) WHERE id = ?", value, identifier)
    assert verify(records, sealed).holds
    assert flips > 200


def test_spaces_and_order_inside_a_content_count_too(records, sealed):
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    tamper(records, "UPDATE entries SET content = ? WHERE id = ?", json.dumps(dict(note.content)), note.id)
    (fault,) = verify(records, sealed).faults
    assert (fault.what, fault.id) == ("changed", note.id)


def test_links_count_too(records, sealed):
    correction = next(one for one in records.entries(visit=sealed) if one.corrects)
    tamper(records, "UPDATE entries SET corrects = NULL WHERE id = ?", correction.id)
    assert [one.id for one in verify(records, sealed).faults] == [correction.id]


def test_a_missing_entry_is_named(records, sealed):
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    tamper(records, "DELETE FROM entries WHERE id = ?", note.id)
    (fault,) = verify(records, sealed).faults
    assert (fault.what, fault.id) == ("missing", note.id)


def test_an_entry_moved_to_another_visit_is_missing(records, sealed):
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    tamper(records, "UPDATE entries SET visit = ? WHERE id = ?", note.id, note.id)
    assert [one.what for one in verify(records, sealed).faults] == ["missing"]


def test_an_added_entry_is_named(records, sealed):
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    new = note.id[:-1] + ("0" if note.id[-1] != "0" else "1")
    tamper(
        records,
        "INSERT INTO entries (id, at, who, device, engine, visit, kind, content) "
        "SELECT ?, at, who, device, engine, visit, kind, content FROM entries WHERE id = ?",
        new,
        note.id,
    )
    (fault,) = verify(records, sealed).faults
    assert (fault.what, fault.id) == ("added", new)


def test_what_the_visit_stands_on_is_under_the_seal(records, sealed):
    limit = records.entries(kind="limit")[0]
    changed = canonical({**limit.content, "value": 3e5}).decode()
    tamper(records, "UPDATE entries SET content = ? WHERE id = ?", changed, limit.id)
    (fault,) = verify(records, sealed).faults
    assert (fault.what, fault.id) == ("changed", limit.id)


def test_a_changed_file_is_named(records, sealed):
    digest = next(one for one in records.entries(visit=sealed) if one.kind == "photo").content["digest"]
    path = records.files.path(digest)
    kept = path.read_bytes()
    for at in range(len(kept)):
        path.write_bytes(kept[:at] + bytes([kept[at] ^ 4]) + kept[at + 1 :])
        assert [(one.what, one.id) for one in verify(records, sealed).faults] == [("file_changed", digest)]
    path.write_bytes(kept + b"\n")
    assert not verify(records, sealed).holds
    path.unlink()
    assert [one.what for one in verify(records, sealed).faults] == ["file_missing"]


def test_a_seal_made_anew_over_a_changed_entry_breaks_the_chain(records, sealed):
    """Whoever can write the file can make a seal that agrees with itself; the next seal still names the old digest."""
    from asfound.records.seal import _line, seal_digest

    engine = records.visit(sealed).engine
    second = records.append("visit_opened", {"began": "2032-08-01T08:00:00Z"}, engine=engine)
    seal(records, second.id)
    assert verify(records, second.id).holds
    assert len(verify(records, second.id).chain) == 1
    note = next(one for one in records.entries(visit=sealed) if one.kind == "note")
    changed = canonical({**note.content, "text": "something else"}).decode()
    tamper(records, "UPDATE entries SET content = ? WHERE id = ?", changed, note.id)
    old = next(one for one in records.stored(sealed) if one.kind == "sealed")
    content = dict(old.content)
    content["entries"] = [_line(one) for one in records.stored(sealed) if one.kind != "sealed"]
    content["digest"] = seal_digest(content)
    tamper(records, "UPDATE entries SET content = ? WHERE id = ?", canonical(content).decode(), old.id)
    assert verify(records, sealed).holds  # taken alone
    found = verify(records, second.id)
    assert [one.what for one in found.faults] == ["chain"]


def test_a_removed_seal_is_told_by_the_next(records, sealed):
    engine = records.visit(sealed).engine
    seal(records, records.append("visit_opened", {"began": "2032-08-01T08:00:00Z"}, engine=engine).id)
    tamper(records, "DELETE FROM entries WHERE visit = ? AND kind = 'sealed'", sealed)
    (fault,) = verify(records, sealed).faults
    assert "is gone" in fault.says


def test_an_open_visit_has_nothing_to_hold(records, begin):
    _, visit = begin(records)
    assert [one.what for one in verify(records, visit).faults] == ["open"]


def test_conflicts_are_settled_before_closing(records, begin):
    _, visit = begin(records)
    first = records.append("note", {"text": "a", "time": TIME}, visit=visit)
    one = records.append("note", {"text": "b", "time": TIME}, corrects=first.id)
    two = records.append("note", {"text": "c", "time": TIME}, corrects=first.id)
    with pytest.raises(RecordError, match="Settle"):
        seal(records, visit)
    records.append("resolution", {"about": first.id, "choose": [two.id], "set_aside": [one.id]}, visit=visit)
    assert seal(records, visit)


def test_a_missing_file_is_not_sealed(records, begin):
    _, visit = begin(records)
    photo = {"digest": "0" * 64, "filename": "a.png", "media_type": "image/png", "size": 9, "time": TIME}
    records.append("photo", photo, visit=visit)
    with pytest.raises(RecordError, match="not in this home"):
        seal(records, visit)


class TestSignature:
    pytest.importorskip("cryptography")

    def test_a_signed_seal_holds_and_a_wrong_signature_does_not(self, records, begin):
        from asfound.records.keys import make_key, public_key

        public = make_key(records.home)
        assert public == public_key(records.home)
        with pytest.raises(RecordError, match="key already"):
            make_key(records.home)
        _, visit = begin(records)
        entry = seal(records, visit)
        assert verify(records, visit).signed_by == public
        content = json.loads(canonical(dict(entry.content)))
        for name in ("key", "signature"):
            text = content["signature"][name]
            wrong = {**content["signature"], name: ("0" if text[0] != "0" else "1") + text[1:]}
            changed = canonical({**content, "signature": wrong}).decode()
            tamper(records, "UPDATE entries SET content = ? WHERE id = ?", changed, entry.id)
            assert [one.what for one in verify(records, visit).faults] == ["signature"]

    def test_signature_by_the_published_vector(self):
        """RFC 8032 section 7.1, TEST 3: public key and signature over af82."""
        from asfound.records.keys import signature_holds

        signature = {
            "key": "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "signature": "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
            "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        }
        assert signature_holds(signature, "af82") == ""
        assert signature_holds(signature, "af83") != ""
