"""What an earlier visit saw counts on, less with the years, until somebody looks again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.looks import HOWS, SeenLook
from asfound.fitout.observations import story
from asfound.fitout.seeing import AGES, kind_name, kinds
from asfound.records.demo import make_demo_home
from asfound.records.store import Draft, Records
from asfound.records.visit import view

PLUGS = {"slot": "speed_controller", "character": "plugs", "how": "at_part"}


@pytest.fixture
def records(tmp_path):
    with Records.open(make_demo_home(tmp_path / "home").folder) as opened:
        yield opened


def new_visit(records, tag, day):
    engine = records.engine(tag)
    content = {"began": f"{day}T09:00:00-06:00", "purpose": "Again.", "people": ["J. Orme"]}
    return records.append_many([Draft(kind="visit_opened", content=content, engine=engine.id, who="J. Orme")])[0].id


def test_a_second_visit_knows_what_the_first_one_saw(records):
    """A1's half conversion was seen on 3 May; who comes in August need not see it again to know it."""
    visit = new_visit(records, "A1", "2032-08-17")
    seen = view(records, visit)
    assert seen.looks == ()
    assert len(seen.looks_before) > 5
    assert all(0.28 < one.age < 0.30 for one in seen.looks_before)
    assert seen.identification.builds[0].name == "bramquell+yarnolt"
    assert seen.identification.builds[0].probability > 0.9
    assert seen.steps["fitted"].found == 0, "nothing was looked at on this visit"


def test_a_look_of_today_takes_the_place_of_an_older_one_at_the_same_character(records):
    visit = new_visit(records, "A2", "2032-09-01")
    assert ("speed_controller", "plugs") in {(one.slot, one.character) for one in view(records, visit).looks_before}
    content = {**PLUGS, "states": ["cable_tails"], "time": "2032-09-01T09:30:00-06:00"}
    records.append_many([Draft(kind="look", content=content, visit=visit, who="J. Orme")])
    seen = view(records, visit)
    assert ("speed_controller", "plugs") not in {(one.slot, one.character) for one in seen.looks_before}
    assert len(seen.looks) == 1


def test_who_could_not_judge_takes_the_place_of_nothing(records):
    visit = new_visit(records, "A2", "2032-09-01")
    before = len(view(records, visit).looks_before)
    content = {**PLUGS, "answer": "not_judged", "time": "2032-09-01T09:30:00-06:00"}
    records.append_many([Draft(kind="look", content=content, visit=visit, who="J. Orme")])
    assert len(view(records, visit).looks_before) == before


def test_an_earlier_visit_does_not_see_what_a_later_one_saw(records):
    first = next(one for one in records.visits(records.engine("A2").id) if one.name == "A2/2032-04-08")
    assert view(records, first.id).looks_before == ()


@given(st.sampled_from(HOWS), st.sampled_from("hml"), st.lists(st.floats(0.01, 30), min_size=2, max_size=2))
def test_an_older_look_is_never_worth_more(how, outside, ages):
    error = {one.name: one.error for one in kinds(load_catalogue().rates)}
    younger, older = sorted(ages)
    now, then, long_ago = (error[kind_name(how, outside, age)] for age in (0.0, younger, older))
    assert now < then <= long_ago < 1


def test_the_belief_fades_with_the_years_and_stays_the_same_belief():
    said = story("a1")
    catalogue = load_catalogue()
    held = []
    for age in (0.0, *AGES):
        looks = [one if one.slot == "nameplate" else replace(one, age=age) for one in said.looks]
        found = identify(catalogue, said.engine, looks)
        held.append(next(one.probability for one in found.builds if one.name == said.truth["build"]))
    assert held == sorted(held, reverse=True)
    assert held[2] > 0.99, "a year later"
    assert held[-1] < held[0]


def test_an_age_below_nothing_is_refused():
    with pytest.raises(InputError, match="age"):
        SeenLook(slot="ignition_unit", age=-1.0)
