"""Roles are kept by the store; passwords and tokens stand as digests; what was done at the door is noted."""

from __future__ import annotations

from datetime import timedelta

import pytest

from asfound.errors import InputError, UnknownNameError
from asfound.records import people as module
from asfound.records.bundle import bundle_bytes
from asfound.records.office import Person, RoleError, acting_as
from asfound.records.people import People, digest_of, is_password
from asfound.records.seal import seal
from asfound.records.tables import PEOPLE, SESSIONS

TIME = "2032-07-08T15:00:00Z"
SECRET = "three plain words"


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    """Make scrypt as cheap as it can be: what it costs is its own affair."""
    monkeypatch.setattr(module, "COST", (1, 8, 1))


@pytest.fixture
def people(records, clock):
    made = People(records.database, clock)
    made.add("K. Keeper", "keeper", SECRET)
    made.add("W. Writer", "writer", SECRET)
    made.add("R. Reader", "reader", SECRET)
    return made


def test_scrypt_agrees_with_the_vectors_of_its_standard():
    """RFC 7914 section 12, second and third vectors."""
    import hashlib

    found = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, dklen=64)
    assert found.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")
    found = hashlib.scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, maxmem=1 << 26, dklen=64)
    assert found.hex().startswith("7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2")


def test_passwords_have_salts_of_their_own_and_cost_memory(monkeypatch):
    monkeypatch.undo()
    kept = digest_of(SECRET)
    assert kept.startswith("scrypt$15$8$3$")
    assert SECRET not in kept
    assert is_password(SECRET, kept)
    assert not is_password(SECRET + "x", kept)
    assert not is_password("", module._NOBODY)


@pytest.mark.parametrize("password", ["short", "x" * 401])
def test_a_password_that_is_none_is_refused(people, password):
    with pytest.raises(InputError, match="12 to 400"):
        people.add("N", "reader", password)


def test_sign_in_gives_a_session_that_ends(people, clock, records):
    token = people.sign_in("W. Writer", SECRET)
    assert people.of_token(token) == Person(name="W. Writer", role="writer")
    with records.database.reading() as connection:
        stored = str(connection.execute(SESSIONS.select()).all()) + str(connection.execute(PEOPLE.select()).all())
    assert token not in stored
    assert SECRET not in stored
    clock.time += timedelta(hours=13)
    assert people.of_token(token) is None
    again = people.sign_in("W. Writer", SECRET)
    people.sign_out(again)
    assert people.of_token(again) is None
    assert people.of_token("x" * 1000) is None


def test_wrong_passwords_are_noted_and_soon_have_to_wait(people, clock):
    for _ in range(5):
        with pytest.raises(InputError, match="wrong"):
            people.sign_in("W. Writer", "something else")
    with pytest.raises(InputError, match="Wait 15 min"):
        people.sign_in("W. Writer", SECRET)
    clock.time += timedelta(minutes=16)
    assert people.sign_in("W. Writer", SECRET)
    assert [one.what for one in people.doings()][:7] == ["signed_in", "waits", *["refused"] * 5]


def test_a_name_that_is_not_there_is_answered_like_a_wrong_password(people):
    with pytest.raises(InputError) as nobody:
        people.sign_in("N. Obody", SECRET)
    with pytest.raises(InputError) as wrong:
        people.sign_in("W. Writer", "something else")
    assert str(nobody.value) == str(wrong.value)


def test_barring_ends_sessions_and_the_last_keeper_stays(people):
    token = people.sign_in("W. Writer", SECRET)
    people.change("W. Writer", barred=True)
    assert people.of_token(token) is None
    with pytest.raises(InputError):
        people.sign_in("W. Writer", SECRET)
    people.change("W. Writer", barred=False)
    assert people.sign_in("W. Writer", SECRET)
    for change in ({"role": "reader"}, {"barred": True}):
        with pytest.raises(InputError, match="last keeper"):
            people.change("K. Keeper", **change)
    with pytest.raises(UnknownNameError):
        people.change("N. Obody", role="reader")
    with pytest.raises(InputError, match="already"):
        people.add("k. keeper", "reader", SECRET)


@pytest.mark.parametrize("name", ["", " x", "a\nb", "x" * 401, "a\0"])
def test_a_name_that_cannot_stand_on_an_entry_is_refused(people, name):
    with pytest.raises(InputError):
        people.add(name, "reader", SECRET)


def test_the_store_keeps_the_roles(records, begin, people, open_home):
    _, visit = begin(records)
    note = {"text": "x", "time": TIME}
    with acting_as(Person(name="R. Reader", role="reader")):
        for doing in (
            lambda: records.append("note", note, visit=visit),
            lambda: records.attach(b"x", "a.png", "image/png"),
            lambda: seal(records, visit),
            lambda: records.merge([]),
            lambda: people.add("N", "keeper", SECRET),
        ):
            with pytest.raises(RoleError):
                doing()
    before = bundle_bytes(records)
    with acting_as(Person(name="W. Writer", role="writer")):
        entry = records.append("note", note, visit=visit, who="somebody else")
        assert entry.who == "W. Writer"
        undone = records.undo(entry.id, who="somebody else")
        assert undone.who == "W. Writer"
        for doing in (
            lambda: seal(records, visit),
            lambda: records.merge([]),
            lambda: people.change("W. Writer", role="keeper"),
            lambda: people.change("K. Keeper", password=SECRET),
        ):
            with pytest.raises(RoleError, match="keeper"):
                doing()
        people.change("W. Writer", password=SECRET + "x")
    with acting_as(Person(name="K. Keeper", role="keeper")):
        assert seal(records, visit, who="somebody else").who == "K. Keeper"
    assert bundle_bytes(records) != before


def test_only_a_keeper_settles_and_takes_a_settlement_back(records, begin):
    _, visit = begin(records)
    first = records.append("note", {"text": "x", "time": TIME}, visit=visit)
    second = records.append("note", {"text": "y", "time": TIME}, visit=visit)
    content = {"about": first.id, "choose": [first.id], "set_aside": [second.id]}
    with acting_as(Person(name="W", role="writer")), pytest.raises(RoleError):
        records.append("resolution", content, visit=visit)
    settled = records.append("resolution", content, visit=visit)
    with acting_as(Person(name="W", role="writer")), pytest.raises(RoleError):
        records.undo(settled.id)
