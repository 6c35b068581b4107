"""The stories of the invented world come out as they are told, by the looks that somebody would record."""

from __future__ import annotations

import pytest

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.generic import generic
from asfound.fitout.identification import short_title
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.fitout.observations import STORIES, story

CATALOGUE = load_catalogue()


def told(name: str, looks: int | None = None):
    one = story(name)
    return identify(CATALOGUE, one.engine, one.looks[:looks], allowed=one.allowed)


def codes(identification) -> set[str]:
    return {one.code for one in identification.contradictions}


@pytest.mark.parametrize("name", STORIES)
def test_the_build_of_every_story_is_found(name):
    truth = story(name).truth
    found = told(name)
    assert found.builds[0].name == truth["build"]
    assert found.builds[0].probability > 0.95
    assert sum(one.probability for one in found.builds) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("name", STORIES)
def test_every_place_looked_at_holds_what_is_really_there(name):
    places = story(name).truth["places"]
    for place in told(name).places:
        if place.looked in ("seen", "not_there") and place.slot in places:
            assert place.variant == places[place.slot], place.slot


@pytest.mark.parametrize("name", [one for one in STORIES if one != "d2"])
def test_what_was_seen_fits_the_build(name):
    assert told(name).fit_z > -2.5
    assert told(name).other < 0.05


def answered(look, places: dict[str, str]) -> SeenLook:
    """Answer a proposed look as an engine that really holds these variants would."""
    slot = CATALOGUE.slots[look.slot]
    shown = slot.variants[places[look.slot]].states[look.character]
    state = max(shown, key=lambda one: shown[one])
    way = next(one for one in slot.looks if look.character in one.sees and one.state == look.state_needed)
    return SeenLook(slot=look.slot, character=look.character, states=(state,), how=way.how)


@pytest.mark.parametrize("plate", [True, False])
def test_a1_five_proposed_looks_without_a_stop_find_the_kit_on_the_old_host(plate):
    """The program's own next looks, one at a time, nothing but the running engine."""
    engine = EngineFacts(
        tag="A1", family="HM9", driven="compressor", catalyst=False, plate={"generation": "bramquell"} if plate else {}
    )
    places, looks = story("a1").truth["places"], []
    for _ in range(5):
        found = identify(CATALOGUE, engine, looks)
        best = next((one for one in found.next_looks if not one.about and one.slot != "nameplate"), None)
        if best is None:  # sure before the fifth: nothing left that is worth a look
            break
        assert best.allowed
        assert best.state_needed == "running"
        looks.append(answered(best, places))
    assert 3 <= len(looks) <= 5
    found = identify(CATALOGUE, engine, looks)
    assert found.builds[0].name == "bramquell+yarnolt"
    assert found.builds[0].probability > 0.90


def test_a1_is_part_converted_with_one_stranger():
    found = told("a1")
    assert found.headline == "Part-converted"
    assert found.part_converted > 0.9
    assert {one.slot for one in found.places if one.belongs == "kit" and one.looked == "seen"} == {
        "ignition_unit",
        "coil",
        "knock_sensor",
        "operator_display",
        "service_port",
        "traces",
    }
    strangers = {one.slot for one in found.places if one.striking and one.belongs == "stranger"}
    assert strangers == {"temperature_inputs"}
    assert {"FT-05", "FT-06", "FT-07"} <= codes(found)
    assert "FT-01" not in codes(found)  # the plate is right about the host
    assert any("methane number limit moves by 6" in one for one in found.follows.notes)


def test_a2_one_look_decides():
    before, after = told("a2", -1), told("a2")
    assert story("a2").looks[-1].character == "plugs"
    assert 0.40 <= before.build("moldrevane").probability <= 0.60
    assert after.build("moldrevane").probability > 0.95
    assert after.words == "settled"
    assert before.words == "does not agree"
    assert {"FT-01", "FT-02", "FT-16"} <= codes(after)
    assert after.sources["nameplate"] < 0.05
    assert [one.entry for one in after.hangs_on] == ["look 20"]


def test_a2_weights_add_up_and_the_plate_speaks_against():
    found = told("a2")
    assert found.weights_prior + sum(one.decibans for one in found.weights) == pytest.approx(
        found.weights_total, abs=1e-6
    )
    against = [one for one in found.weights if one.against]
    assert [one.slot for one in against] == ["nameplate"]
    assert "Moldrevane" in against[0].instead
    assert found.weights[0].slot == "speed_controller"


def test_a3_three_strips_and_a_turned_one():
    found = told("a3")
    assert {"FT-03", "FT-08"} <= codes(found)
    channels = found.follows.channels
    assert (channels.formula, channels.units, channels.seen, channels.agrees) == (
        "10 + 2 + 2 + 6 + 2 = 22",
        4,
        3,
        False,
    )
    assert "bearings are not measured" in channels.says
    clash = next(one for one in found.contradictions if one.code == "FT-03")
    assert "crankcase doors" in clash.next_step
    bearing = SeenLook(slot="tc_bearing", answer="not_there", how="at_part")
    one = story("a3")
    after = identify(CATALOGUE, one.engine, (*one.looks, bearing))
    assert after.follows.channels.agrees is True
    assert "FT-03" not in codes(after)
    assert "FT-08" in codes(after)


def test_n1_a_foreign_unit_for_the_mixture_only():
    found = told("n1")
    assert found.builds[0].name == "tisenorra"
    strangers = [one for one in found.places if one.striking]
    assert [one.slot for one in strangers] == ["mixture_controller"]
    assert strangers[0].variant == "short_box"
    assert found.part_converted > 0.9
    assert found.build("vorunice_short").probability < 1e-3
    assert {"FT-06", "FT-14"} <= codes(found)
    assert {one.id for one in found.follows.documents if "mixture controller only" in one.says} == {"VR-11", "VR-17"}
    file = next(one for one in found.follows.software if one.id == "V-short")
    assert file.fits
    assert file.checked == (True, False)


def test_n2_foreign_parts_in_two_places():
    found = told("n2")
    assert found.builds[0].name == "pellimark_pk"
    assert {one.slot for one in found.places if one.striking} == {"coil", "tc_exhaust"}
    assert {"FT-06", "FT-07", "FT-13"} <= codes(found)
    assert found.follows.channels.agrees is True
    assert found.place("ignition_unit").place.side == "right"  # mirror-handed
    assert any("number 1 is the other's 9" in one for one in found.follows.notes)


def test_d1_is_what_the_plate_says():
    found = told("d1")
    assert found.builds[0].name == "vorunice"
    assert codes(found) == set()
    assert found.sources["nameplate"] > 0.9
    assert {one.id: one.applies for one in found.follows.bulletins}["FB-52"] is True


def test_d2_is_not_in_the_catalogue_by_both_numbers():
    found = told("d2")
    assert found.words == "not in the catalogue"
    assert found.other > 0.5
    assert found.fit_z < -3
    assert found.nearest == "Bramquell"
    assert "Halvemoor HM6" in found.says
    assert {"FT-04"} <= codes(found)
    assert "nox_sensor" in {one.slot for one in found.places}
    assert "nox_sensor" in found.generic
    assert set(found.generic) == set(generic().slots) - set(CATALOGUE.slots)
    assert found.follows.software == ()
    assert [one.id for one in found.follows.documents if one.applies] == ["BQ-3"]  # the engine itself
    assert "own notes" in found.follows.notes[0]
    assert found.place("turbocharger").probability > 0.75


def test_it_answers_before_anybody_has_looked():
    found = identify(CATALOGUE, EngineFacts(tag="new"), [])
    assert found.words == "open"
    assert len(found.builds) == 10
    assert found.next_looks


def test_as_dict_is_json(tmp_path):
    import json

    text = json.dumps(told("a2").as_dict())
    assert '"builds"' in text


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("a1", "Bramquell with Yarnolt set"),
        ("a2", "Moldrevane"),
        ("n1", "Tisenorra, mixture by Vorunice-short"),
        ("n2", "Pellimark PK, exhaust thermocouples not its own"),
        ("d2", "Not in the catalogue"),
    ],
)
def test_the_short_title_names_the_host_and_the_stranger(name, short):
    assert short_title(told(name)) == short
