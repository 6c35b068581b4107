"""`asfound prove`: every published value recomputed; a miss is a miss."""

from __future__ import annotations

import pytest

from asfound.cli import DONE, NO
from asfound.sources import prove
from asfound.sources.prove import Check, rooms_with_checks


@pytest.mark.parametrize("room", rooms_with_checks())
def test_every_room_proves_its_published_values(asfound, room):
    said = asfound("prove", "--room", room, "--json")
    assert [one for one in said.data if not one["holds"]] == []
    assert said.code == DONE
    assert said.data
    for one in said.data:
        assert set(one) >= {"check", "room", "value", "published", "tolerance", "source", "holds"}
        assert one["room"] == room


def checks(*values):
    return lambda room: iter([Check(f"check {n}", room, v, 1.0, 0.1, "from_memory") for n, v in enumerate(values)])


@pytest.mark.parametrize("value", [1.2, float("nan"), float("inf")])
def test_a_miss_exits_1_and_is_shown(asfound, monkeypatch, value):
    monkeypatch.setattr(prove, "checks_of", checks(1.0, value))
    said = asfound("prove", "--room", "exhaust")
    assert said.code == NO
    assert "MISSED" in said.out
    assert "2 published values recomputed, 1 missed" in said.out
    assert [one["holds"] for one in asfound("prove", "--room", "exhaust", "--json").data] == [True, False]
    assert len(asfound("prove", "--room", "exhaust", "--json", "--missed").data) == 1


def test_nothing_to_prove_is_no_proof(asfound, monkeypatch):
    monkeypatch.setattr(prove, "checks_of", checks())
    assert asfound("prove", "--room", "exhaust").code == NO


def test_the_table_names_the_source(asfound, monkeypatch):
    monkeypatch.setattr(prove, "checks_of", checks(1.05))
    said = asfound("prove", "--room", "exhaust")
    assert said.code == DONE
    assert "from memory" in said.out
    assert "+0.05" in said.out


def test_a_room_without_checks_is_refused(asfound):
    said = asfound("prove", "--room", "exhaustt")
    assert said.code == 2
    assert "exhaust" in said.err
