"""Engines that no catalogue knows: described with the generic slots, nothing pretended."""

from __future__ import annotations

import json

import pytest

from asfound.errors import InputError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.draft import draft_entry
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.generic import beside, book_for, generic, generic_slots, group_order, unlisted
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.fitout.observations import story
from asfound.fitout.observed import check
from asfound.fitout.schema import read_catalogue
from asfound.sources.cautions import cautions_for

CATALOGUE = load_catalogue()
X9 = EngineFacts(tag="X9", layout="inline", cylinders=8)
LOOKS = (
    SeenLook(slot="coil", character="count", states=("8",), note="black stalks"),
    SeenLook(slot="engine_controller", answer="not_there"),
    SeenLook(slot="speed_controller", character="enclosure", states=("cast_box", "dented on one side")),
    SeenLook(slot="speed_controller", character="label", label="QX 12?", how="read"),
)


def test_every_generic_slot_can_be_drawn_and_described():
    slots = generic_slots()
    assert list(slots) == list(generic().slots)
    assert {one.group for one in slots.values()} <= set(group_order())
    for name, slot in slots.items():
        assert set(generic().slots[name].characters) <= set(slot.characters)
        assert all(set(way.sees) <= set(slot.characters) for way in slot.looks)
        assert "running" in {way.state for way in slot.looks}, name


@pytest.mark.parametrize(
    ("facts", "listed"),
    [
        ({"family": "HM9"}, True),
        ({"family": "HM12"}, False),
        ({"layout": "inline", "cylinders": 9}, True),
        ({"layout": "inline", "cylinders": 8}, False),
        ({"layout": "vee", "cylinders": 20}, False),
        ({}, True),
    ],
)
def test_which_engines_are_listed(facts, listed):
    engine = EngineFacts(tag="X", **facts)
    assert (unlisted(CATALOGUE, engine) == "") is listed
    assert (book_for(CATALOGUE, engine) is CATALOGUE) is listed


def test_nothing_is_weighed_and_everything_seen_is_there():
    found = identify(CATALOGUE, X9, LOOKS)
    assert found.words == "not in the catalogue"
    assert (found.other, found.fit_z, found.part_converted, found.weighed) == (1.0, None, None, False)
    assert [one.name for one in found.builds] == ["other"]
    assert found.place("coil").title_of_variant == "8 of them; black stalks"
    assert found.place("engine_controller").looked == "not_there"
    assert found.place("speed_controller").title_of_variant == "cast box, dented on one side; label reads QX 12?"
    assert {one.slot for one in found.places} == {*generic().slots, "block"}
    assert sorted(one.number for one in found.places) == list(range(1, 45))
    assert found.catalogue_digest == CATALOGUE.digest
    json.dumps(found.as_dict(), allow_nan=False)


def test_next_looks_stand_in_the_order_of_the_rule():
    """No stop first, then the plate, control, protection, the rest; the quickest first in each."""
    found = identify(CATALOGUE, X9, LOOKS, allowed=("running", "stopped"))
    rank = {one.slot: group_order()[one.group] for one in found.places}
    state = ("running", "stopped", "isolated").index
    keys = [(not one.allowed, state(one.state_needed), rank[one.slot], one.minutes) for one in found.next_looks]
    assert keys == sorted(keys)
    assert found.next_looks[0].slot in ("nameplate", "block")
    assert all(one.order and one.bits == 0.0 for one in found.next_looks)
    slots = {one.slot for one in found.next_looks if one.state_needed == "running"}
    assert not slots & {"coil", "engine_controller", "speed_controller"}
    for one in found.next_looks:
        cautions_for(one.hazards)


def test_when_every_place_is_described_it_stops():
    looks = [SeenLook(slot=name, answer="not_there") for name in (*generic().slots, "block")]
    found = identify(CATALOGUE, X9, looks)
    assert found.next_looks == ()
    assert found.stop is not None


@pytest.mark.parametrize(
    ("facts", "looks", "formula"),
    [  # common practice, no source (generic slots): cylinders + turbine inlets and outlets + bearings + catalyst
        ({}, [], "8 + 9 = 17"),
        ({"turbochargers": 1, "catalyst": True}, [], "8 + 1 + 1 + 9 + 2 = 21"),
        ({"bearings_measured": False}, [], "8 = 8"),
        ({}, [SeenLook(slot="turbocharger", character="count", states=("2",))], "8 + 2 + 2 + 9 = 21"),
        ({}, [SeenLook(slot="tc_bearing", answer="not_there")], "8 = 8"),
    ],
)
def test_channels_come_from_the_facts_of_the_engine(facts, looks, formula):
    found = identify(CATALOGUE, EngineFacts(tag="X9", layout="inline", cylinders=8, **facts), looks)
    assert found.follows.channels.formula == formula


def test_two_witnesses_and_the_plate_still_contradict():
    looks = [
        SeenLook(slot="nameplate", character="works_number", label="20461", how="plate"),
        SeenLook(slot="block", character="works_number", label="20388", how="read"),
        SeenLook(slot="coil", character="count", states=("8",)),
        SeenLook(slot="coil", character="count", states=("16",), how="from_3m"),
    ]
    assert {one.code for one in identify(CATALOGUE, X9, looks).contradictions} == {"FT-02", "FT-04", "FT-14"}


def test_the_draft_is_a_catalogue_that_knows_the_next_such_engine():
    found = identify(CATALOGUE, X9, LOOKS)
    drafted = read_catalogue([("draft.yaml", draft_entry(found, LOOKS, X9))])
    again = identify(drafted, EngineFacts(tag="X10", layout="inline", cylinders=8), LOOKS[:1])
    assert again.weighed
    assert again.builds[0].name == "x9_control"
    assert again.place("coil").title_of_variant == "8 of them; black stalks"


def test_no_draft_without_a_layout():
    engine = EngineFacts(tag="X9")
    with pytest.raises(InputError, match="layout"):
        draft_entry(identify(CATALOGUE, engine, []), [], engine)


@pytest.mark.parametrize(
    ("look", "field"),
    [
        ({"slot": "coil", "character": "count", "states": ("many",)}, "states"),
        ({"slot": "coil", "character": "lid", "states": ("flat",)}, "character"),
        ({"slot": "coil", "states": ("flat",)}, "character"),
        ({"slot": "gearbox"}, "slot"),
    ],
)
def test_what_the_generic_list_does_not_know_is_refused(look, field):
    with pytest.raises(InputError) as caught:
        check(CATALOGUE, SeenLook(**look), X9)
    assert caught.value.field == field


def test_looks_kept_while_the_engine_was_held_to_be_of_the_catalogue_stay():
    found = identify(CATALOGUE, X9, story("a2").looks)
    assert found.place("speed_controller").looked == "seen"


def test_a_known_family_with_unknown_control_has_generic_places_beside():
    one = story("d2")
    found = identify(CATALOGUE, one.engine, one.looks)
    assert found.generic == beside(CATALOGUE)
    assert not set(found.generic) & set(CATALOGUE.slots)
    assert {"nox_sensor", "supply", "starter"} <= set(found.generic)


def test_an_engine_of_which_nothing_is_known_is_open_and_has_both():
    found = identify(CATALOGUE, EngineFacts(tag="X"), [])
    assert found.weighed
    assert found.words == "open"
    assert found.generic == beside(CATALOGUE)
    assert "not known yet" in found.says
