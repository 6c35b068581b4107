"""What must hold whatever is seen: order does not matter, an undecided look changes nothing, chances add up."""

from __future__ import annotations

from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.evidence import posterior
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.fitout.model import fit_model, in_model
from asfound.fitout.observations import STORIES, parse_observations, story
from asfound.fitout.observed import observed
from asfound.fitout.plate import plate_moved
from asfound.fitout.schema import read_catalogue

CATALOGUE = load_catalogue()
ENGINE = EngineFacts(tag="X", family="HM9", driven="compressor")


@st.composite
def some_looks(draw):
    slots = [one for one in CATALOGUE.slots_of("HM9") if not one.evidence_only]
    looks = []
    for n in range(draw(st.integers(0, 8))):
        slot = draw(st.sampled_from(slots))
        character = draw(st.sampled_from([one for one in slot.characters.values() if in_model(one)]))
        states = draw(
            st.lists(st.sampled_from([*character.states, "something_else"]), min_size=1, max_size=2, unique=True)
        )
        answer = draw(st.sampled_from(["seen", "seen", "seen", "not_judged"]))
        looks.append(
            SeenLook(
                slot=slot.id,
                character=character.id,
                answer=answer,
                states=tuple(states) if answer == "seen" else (),
                how=draw(st.sampled_from(["read", "in_hand", "at_part", "from_3m", "photo", "said"])),
                entry=f"e{n}",
            )
        )
    return looks


def believed(looks, engine=ENGINE, catalogue=CATALOGUE):
    fit = fit_model(catalogue, engine)
    return posterior(fit.model, observed(fit, engine, looks).evidence)


@settings(max_examples=40, deadline=None)
@given(some_looks(), st.randoms(use_true_random=False))
def test_the_order_of_looks_does_not_matter(looks, random):
    other = looks[:]
    random.shuffle(other)
    assert believed(looks).lineages == believed(other).lineages


@settings(max_examples=40, deadline=None)
@given(some_looks())
def test_chances_add_up(looks):
    belief = believed(looks)
    assert sum(belief.lineages.values()) == pytest.approx(1.0, abs=1e-9)
    for chances in belief.slots.values():
        assert sum(chances.values()) == pytest.approx(1.0, abs=1e-9)
        assert min(chances.values()) >= 0.0


@settings(max_examples=25, deadline=None)
@given(some_looks(), st.sampled_from(["speed_controller", "coil", "head_piston"]))
def test_a_look_that_could_not_be_judged_changes_nothing(looks, slot):
    before = believed(looks).lineages
    after = believed([*looks, SeenLook(slot=slot, answer="not_judged", entry="later")]).lineages
    assert after == before


@settings(max_examples=25, deadline=None)
@given(some_looks())
def test_swapping_two_generations_in_the_file_changes_nothing_but_ties(looks):
    folder = files("asfound.fitout") / "data" / "ebbingstoke"
    texts = sorted((one.name, one.read_text(encoding="utf-8")) for one in folder.iterdir())
    swapped = []
    for name, text in texts:
        if name.startswith("1_"):
            lines = text.splitlines(keepends=True)
            a = next(n for n, line in enumerate(lines) if line.startswith("- {id: moldrevane,"))
            b = next(n for n, line in enumerate(lines) if line.startswith("- {id: moldrevane_d,"))
            c = next(n for n, line in enumerate(lines) if line.startswith("- {id: tisenorra,"))
            text = "".join((*lines[:a], *lines[b:c], *lines[a:b], *lines[c:]))
        swapped.append((name, text))
    global OTHER_ORDER
    OTHER_ORDER = OTHER_ORDER or read_catalogue(swapped)
    assert list(OTHER_ORDER.generations) != list(CATALOGUE.generations)
    one, other = believed(looks).lineages, believed(looks, catalogue=OTHER_ORDER).lineages
    for name, chance in one.items():
        assert other[name] == pytest.approx(chance, abs=1e-12)


OTHER_ORDER = None


def test_a_story_read_twice_gives_the_same_digits():
    one = story("a2")
    first, second = (identify(CATALOGUE, one.engine, one.looks).as_dict() for _ in range(2))
    assert first == second


@given(st.sampled_from(["", "old", "new"]), st.sampled_from(["", "same", "differs"]))
def test_new_rivets_and_another_number_never_make_a_plate_more_credible(rivets, number):
    rates = CATALOGUE.rates
    assert plate_moved(rates, "new", number) >= plate_moved(rates, rivets, number) - 1e-12
    assert plate_moved(rates, rivets, "differs") >= plate_moved(rates, rivets, number) - 1e-12


def test_plate_moved_worked_by_hand():
    """Bayes: 0.25 x 0.40 x 0.90 against 0.75 x 0.15 x 0.10."""
    assert plate_moved(CATALOGUE.rates, "new", "differs") == pytest.approx(0.09 / (0.09 + 0.01125))


@pytest.mark.parametrize(
    ("look", "field", "says"),
    [
        ({"slot": "spead_controller"}, "slot", "speed_controller"),
        ({"slot": "speed_controller", "character": "colour"}, "character", "plugs"),
        ({"slot": "speed_controller", "character": "plugs", "states": ("square",)}, "states", "round_screwed"),
        ({"slot": "speed_controller", "states": ("round_screwed",)}, "character", "plugs"),
    ],
)
def test_what_no_catalogue_knows_is_refused_with_what_there_is(look, field, says):
    with pytest.raises(InputError) as caught:
        identify(CATALOGUE, ENGINE, [SeenLook(**look)])
    assert caught.value.field == field
    assert says in caught.value.allowed


def test_an_unknown_family_is_described_and_the_known_ones_are_named():
    found = identify(CATALOGUE, EngineFacts(tag="X", family="HM12"), [])
    assert not found.weighed
    assert "HM12" in found.says
    assert "HM9" in found.says


def test_the_same_story_in_json():
    import json

    one = story("d1")
    text = json.dumps(
        {
            "engine": {"tag": "D1", "family": "HM6", "driven": "generator"},
            "looks": [look.as_dict() for look in one.looks],
        }
    )
    read = parse_observations(text)
    assert read.looks == one.looks


@pytest.mark.parametrize("name", STORIES)
def test_belief_over_sources_lies_between_nothing_and_one(name):
    one = story(name)
    assert all(0.0 <= p <= 1.0 for p in identify(CATALOGUE, one.engine, one.looks).sources.values())
