"""`asfound identify`: the stories of the invented world from files, and what a wrong file is told."""

from __future__ import annotations

import json

import pytest
import yaml

from asfound.cli import CANNOT

FIVE = """
engine: {tag: A1, family: HM9, driven: compressor, catalyst: false}
looks:
- {slot: nameplate, character: generation, states: [bramquell], how: plate, source: plate}
- {slot: ignition_unit, character: kind, states: [spark_rail], how: at_part}
- {slot: ignition_unit, character: dome, states: [blank], how: at_part}
- {slot: speed_controller, character: kind, states: [flyweight_head], how: at_part}
- {slot: operator_display, character: kind, states: [text_unit_board], how: at_part}
- {slot: knock_sensor, character: kind, states: [one_per_two], how: at_part}
"""


def test_a1_is_told_by_five_looks_without_a_stop(asfound, tmp_path):
    """The scenario's showcase: Bramquell host with Yarnolt set above 90 % after five looks, the plate aside."""
    file = tmp_path / "a1.yaml"
    file.write_text(FIVE, encoding="utf-8")
    said = asfound("identify", file, "--json").data
    leader = max(said["lineages"], key=said["lineages"].get)
    assert leader == "bramquell+yarnolt"
    assert said["lineages"][leader] > 0.9
    assert set(said) >= {"lineages", "slots", "contradictions", "next_looks", "explanations"}
    assert sum(said["lineages"].values()) == pytest.approx(1)
    for beliefs in said["slots"].values():
        assert not beliefs or sum(beliefs.values()) == pytest.approx(1)


def test_json_and_yaml_say_the_same(asfound, tmp_path):
    as_yaml, as_json = tmp_path / "a1.yaml", tmp_path / "a1.json"
    as_yaml.write_text(FIVE, encoding="utf-8")
    as_json.write_text(json.dumps(yaml.safe_load(FIVE)), encoding="utf-8")
    assert asfound("identify", as_yaml, "--json").data == asfound("identify", as_json, "--json").data


def test_the_weights_add_up(asfound):
    why = asfound("identify", "--story", "a2", "--json").data["explanations"]
    total = why["weights_prior"] + sum(one["decibans"] for one in why["weights"])
    assert total == pytest.approx(why["weights_total"], abs=0.05)


@pytest.mark.parametrize(
    ("story", "leader"), [("a1", "bramquell+yarnolt"), ("a2", "moldrevane"), ("a3", "vorunice"), ("d1", "vorunice")]
)
def test_the_stories_come_out(asfound, story, leader):
    lineages = asfound("identify", "--story", story, "--json").data["lineages"]
    assert max(lineages, key=lineages.get) == leader


def test_d2_is_not_in_the_catalogue(asfound):
    assert asfound("identify", "--story", "d2", "--json").data["words"] == "not in the catalogue"
    assert "not in the catalogue" in asfound("identify", "--story", "d2").out


def test_in_words_it_says_why_what_next_and_what_follows(asfound):
    said = asfound("identify", "--story", "a2").out
    assert all(part in said for part in ("Why ", "What to look at next", "What follows", "not in the catalogue"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("engine: {tag: A1}\nlooks: [{slot: speed_controller, kind: x}]", "2:"),
        ("engine: {family: HM9}\nlooks: []", "tag"),
        ("engine: {tag: A1}\nlooks: [{slot: sped_controller}]", "slot"),
        (
            "engine: {tag: A1, family: HM9}\nlooks: [{slot: speed_controller, character: plugs, states: [square]}]",
            "round_screwed",
        ),
        ("looks: [", "1:"),
        ("engine: {tag: A1}\nlooks: []\nseen: []", "seen"),
    ],
)
def test_a_wrong_file_is_told_where(asfound, tmp_path, text, says):
    file = tmp_path / "wrong.yaml"
    file.write_text(text, encoding="utf-8")
    said = asfound("identify", file, "--json")
    assert (said.code, said.out) == (CANNOT, "")
    assert says in said.err


def test_no_file_at_all(asfound, tmp_path):
    assert asfound("identify").code == CANNOT
    assert "no.yaml" in asfound("identify", tmp_path / "no.yaml").err
