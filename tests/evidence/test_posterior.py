"""Belief against enumeration of every configuration, and the settled details one by one."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.evidence import oracle
from tests.evidence.small_models import situations

from asfound.errors import InputError, UnknownNameError
from asfound.evidence import (
    INAPPLICABLE,
    OTHER,
    Character,
    Kind,
    Lineage,
    LineageStatement,
    Model,
    NothingFits,
    Observation,
    Slot,
    knowledge,
    posterior,
)

STATES = ("a", "b", "c")


def one_slot(*, floor: float = 1e-4, unknown: float = 0.0, excludes=None, kinds=(), background=None) -> Model:
    return Model(
        [Lineage("early", 0.5, {"lid": "flat"}), Lineage("late", 0.5, {"lid": "hinged"})],
        [Slot("lid", ["flat", "hinged"])],
        [
            Character(
                "look",
                "lid",
                STATES,
                {"flat": "a", "hinged": {"b": 0.9, "c": 0.1}},
                excludes=excludes or {},
                background=background,
            ),
            Character("feel", "lid", STATES, {"flat": "a", "hinged": "b"}),
        ],
        [Kind("certain", 0.0), Kind("seen", 0.05), Kind("plate", 0.25), *kinds],
        mu=0.0,
        w=0.0,
        unknown=unknown,
        floor=floor,
    )


@settings(max_examples=150, deadline=None)
@given(situations())
def test_agrees_with_enumeration(situation):
    """Lineages, slots, sources and evidence, with sources, double observations, ticked sets and virtual evidence."""
    model, observations = situation
    belief = posterior(model, observations)
    log_evidence, lineages, slots, sources = oracle.belief(model, observations)
    assert belief.log_evidence == pytest.approx(log_evidence, abs=1e-10)
    assert belief.lineages == pytest.approx(lineages, abs=1e-12)
    for slot, row in belief.slots.items():
        assert row == pytest.approx(slots[slot], abs=1e-12)
    assert {name: belief.sources.get(name, 1.0) for name in sources} == pytest.approx(sources, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(situations(sources=("p", "q", "r"), most=8), st.randoms())
def test_order_of_observations_does_not_matter(situation, random):
    model, observations = situation
    shuffled = list(observations)
    random.shuffle(shuffled)
    assert posterior(model, shuffled).lineages == pytest.approx(posterior(model, observations).lineages, abs=1e-12)


@given(situations())
@settings(max_examples=30, deadline=None)
def test_undecided_weighs_nothing(situation):
    model, observations = situation
    more = [*observations, Observation(model.characters[0].name, kind="good", undecided=True)]
    assert posterior(model, more).lineages == posterior(model, observations).lineages


def test_observation_by_hand():
    """P(o | v) = (1 - e) theta + e b, b = half the catalogue's average and half uniform: pocket calculator."""
    model = one_slot()
    b = 0.5 * (1 + 0) / 2 + 0.5 / 3
    flat, hinged = 0.95 * 1 + 0.05 * b, 0.95 * 0 + 0.05 * b
    assert posterior(model, [Observation("look", ("a",), "seen")]).lineages["early"] == pytest.approx(
        flat / (flat + hinged), abs=1e-14
    )


def test_background_is_not_weighted_by_lineages():
    """The average over variants is plain: other priors leave it as it is."""
    even = one_slot()
    skewed = Model(
        [Lineage("early", 0.9, {"lid": "flat"}), Lineage("late", 0.1, {"lid": "hinged"})],
        even.slots,
        even.characters,
        even.kinds.values(),
        unknown=0.0,
    )
    assert skewed.compiled.background[0] == pytest.approx(even.compiled.background[0])


def test_ticked_states_add_up():
    model = one_slot(floor=0.0)
    both = posterior(model, [Observation("look", ("a", "c"), "seen")]).log_evidence
    each = [posterior(model, [Observation("look", (s,), "seen")]).log_evidence for s in ("a", "c")]
    assert math.exp(both) == pytest.approx(sum(math.exp(one) for one in each), abs=1e-14)


def test_floor_after_the_mixture():
    """A state that the catalogue gives no chance is not impossible: 1e-4; a declared 1 stays 1."""
    belief = posterior(one_slot(), [Observation("look", ("a",), "certain")])
    assert belief.lineages["late"] == pytest.approx(1e-4 / (1 + 1e-4), rel=1e-12)


def test_hard_exclusion_is_absolute_only_without_error():
    model = one_slot(excludes={"hinged": ("a",)})
    assert posterior(model, [Observation("look", ("a",), "certain")]).lineages["late"] == 0.0
    b = model.compiled.background[0][0]
    seen = posterior(model, [Observation("look", ("a",), "seen")]).lineages
    assert seen["late"] / seen["early"] == pytest.approx(
        0.05 * b / (0.95 + 0.05 * b), rel=1e-12
    )  # it would have to be misread


def test_nothing_fits():
    model = one_slot(excludes={"hinged": ("a",), "flat": ("b",)})
    with pytest.raises(NothingFits, match="exclude every lineage"):
        posterior(
            model,
            [
                Observation("look", ("a",), "certain"),
                Observation("feel", ("a",), "seen"),
                Observation("look", ("b",), "certain"),
            ],
        )


def test_two_observations_of_one_character_share_its_state():
    """Seen twice without error, a character says no more than once; as two characters it would count twice."""
    model = one_slot(floor=0.0, unknown=0.1)
    once = posterior(model, [Observation("look", ("c",), "certain")]).lineages
    twice = posterior(model, [Observation("look", ("c",), "certain")] * 2).lineages
    assert twice == pytest.approx(once, abs=1e-14)


def test_a_source_is_one_witness():
    """Many statements of one source never outweigh its chance of describing another thing."""
    model = Model(
        [Lineage(name, 0.5, {f"s{i}": name for i in range(6)}) for name in ("x", "y")],
        [Slot(f"s{i}", ["x", "y"]) for i in range(6)],
        [Character(f"k{i}", f"s{i}", ("x", "y"), {"x": "x", "y": "y"}) for i in range(6)],
        [Kind("plate", 0.25), Kind("seen", 0.05)],
        unknown=0.0,
    )
    told = [Observation(f"k{i}", ("x",), "plate", source="plate") for i in range(6)]
    whole = posterior(model, told)
    assert whole.lineages["x"] < 0.875 + 1e-9  # right, or drawn from the priors: 0.75 + 0.25 / 2
    assert whole.lineages["x"] > 0.85
    separate = posterior(model, [Observation(f"k{i}", ("x",), "plate") for i in range(6)])
    assert separate.lineages["x"] > 0.99
    contrary = posterior(model, [*told, Observation("k0", ("y",), "seen"), Observation("k1", ("y",), "seen")])
    assert contrary.lineages["y"] > 0.5
    assert contrary.sources["plate"] < 0.5


def test_lineage_statement_speaks_of_the_lineage_not_of_the_slots():
    model = one_slot(unknown=0.02)
    belief = posterior(model, [LineageStatement(("early",), "plate"), Observation("feel", ("b",), "certain")])
    assert belief.slots["lid"]["hinged"] > 0.9
    assert belief.lineages["early"] < 0.01  # nothing is swapped in this model


def test_inapplicable_is_a_state_and_blank_is_background():
    model = Model(
        [Lineage("g", 1.0, {"s": "without"})],
        [Slot("s", ["without", "with", "silent"])],
        [Character("k", "s", ("a", "b", INAPPLICABLE), {"without": INAPPLICABLE, "with": "a"})],
        unknown=0.0,
    )
    table = model.compiled.theta[0]
    assert table[0].tolist() == [0, 0, 1]
    assert table[2] == pytest.approx(model.compiled.background[0])
    assert table[3] == pytest.approx(model.compiled.background[0])  # other


def test_kinds_of_not_knowing_stay_apart():
    model = one_slot()
    assert knowledge(model, []) == {"look": "not_looked", "feel": "not_looked"}
    told = [Observation("look", kind="seen", undecided=True), Observation("feel", ("a",), "seen")]
    assert knowledge(model, told) == {"look": "could_not_tell", "feel": "seen"}


def test_misread_states_are_tolerated_and_not_described():
    model = Model(
        [Lineage("g", 1.0, {"s": "v"})],
        [Slot("s", ["v"])],
        [Character("k", "s", ("1", "7"), {"v": {"1": 0.98, "7": 0.02}}, misread={"v": ("7",)})],
    )
    assert model.describe("k", "v") == (("1", 0.98),)
    assert posterior(model, [Observation("k", ("7",), "read")]).slots["s"]["v"] > 0


def test_other_slot_and_other_lineage():
    """States that no variant shows make the slot, and in the end the lineage, one that is not in the catalogue."""
    model = Model(
        [Lineage(f"g{g}", 0.5, {f"s{i}": f"v{g}" for i in range(4)}) for g in range(2)],
        [Slot(f"s{i}", ["v0", "v1"]) for i in range(4)],
        [
            Character(f"k{i}{j}", f"s{i}", ("a", "b", "none of these"), {"v0": "a", "v1": "b"})
            for i in range(4)
            for j in range(2)
        ],
    )
    seen = [Observation(f"k{i}{j}", ("none of these",), "read") for i in range(4) for j in range(2)]
    belief = posterior(model, seen)
    assert belief.slots["s0"][OTHER] > 0.95
    assert belief.lineages[OTHER] > 0.9


def test_native_shares_and_slots_without_native():
    model = Model(
        [Lineage("g", 1.0, {"s": {"v0": 0.7, "v1": 0.3}})],
        [Slot("s", ["v0", "v1", "v2"]), Slot("t", ["x", "y"])],
        [Character("k", "s", ("a", "b"), {"v0": "a", "v1": "b", "v2": "b"})],
        mu=0.1,
        w=0.03,
        unknown=0.0,
    )
    slots = posterior(model, []).slots
    assert slots["s"] == pytest.approx({"v0": 0.87 * 0.7, "v1": 0.87 * 0.3, "v2": 0.1, OTHER: 0.03})
    assert slots["t"] == pytest.approx({"x": 1 / 3, "y": 1 / 3, OTHER: 1 / 3})


def test_very_long_evidence_stays_in_log_space():
    """Two slots that each exclude the other's lineage by thousands of nats: no underflow, no nan."""
    model = Model(
        [Lineage(f"g{g}", 0.5, {"s": f"v{g}", "t": f"v{g}"}) for g in range(2)],
        [Slot("s", ["v0", "v1"]), Slot("t", ["v0", "v1"])],
        [Character(f"{s}{i}", s, ("a", "b"), {"v0": "a", "v1": "b"}) for s in "st" for i in range(300)],
        [Kind("read", 0.0)],
        mu=0.0,
        w=0.0,
        unknown=0.0,
    )
    told = [Observation(f"s{i}", ("a",), "read") for i in range(300)] + [
        Observation(f"t{i}", ("b",), "read") for i in range(299)
    ]
    belief = posterior(model, told)
    assert belief.log_evidence == pytest.approx(math.log(0.5) + 299 * math.log(1e-4) + math.log1p(1e-4), rel=1e-12)
    assert belief.lineages["g0"] == pytest.approx(1 / (1 + 1e-4), rel=1e-9)


def test_sources_on_disjoint_things_are_summed_apart():
    """Twenty sources that touch different slots need no 2^20 sum; thirteen about one slot are refused with a reason."""
    model = Model(
        [Lineage(f"g{g}", 0.5, {f"s{i}": f"v{g}" for i in range(20)}) for g in range(2)],
        [Slot(f"s{i}", ["v0", "v1"]) for i in range(20)],
        [Character(f"k{i}", f"s{i}", ("a", "b"), {"v0": "a", "v1": "b"}) for i in range(20)],
    )
    apart = [Observation(f"k{i}", ("a",), "paper", source=f"p{i}") for i in range(20)]
    assert len(posterior(model, apart).sources) == 20
    tied = [Observation("k0", ("a",), "paper", source=f"p{i}") for i in range(13)]
    with pytest.raises(InputError, match="up to 12 sources"):
        posterior(model, tied)


def test_ties_go_by_catalogue_order():
    model = one_slot()
    assert posterior(model, []).top == "early"
    assert [name for name, _ in posterior(model, []).ranked()] == ["early", "late"]


@pytest.mark.parametrize(
    ("observation", "near"),
    [
        (Observation("lok", ("a",), "seen"), "look"),
        (Observation("look", ("a",), "sen"), "seen"),
        (LineageStatement(("earli",), "plate"), "early"),
    ],
)
def test_unknown_names_say_what_is_near(observation, near):
    with pytest.raises(UnknownNameError, match=near):
        posterior(one_slot(), [observation])


def test_models_that_cannot_be():
    slot, character = [Slot("s", ["v"])], [Character("k", "s", ("a", "b"), {"v": "a"})]
    with pytest.raises(InputError, match=r"0\.9' is what the shares add up to"):
        Model([Lineage("g", 0.9, {"s": "v"})], slot, character)
    with pytest.raises(UnknownNameError, match="variant"):
        Model([Lineage("g", 1.0, {"s": "w"})], slot, character)
    with pytest.raises(InputError, match="mu"):
        Model([Lineage("g", 1.0, {"s": "v"})], slot, character, mu=0.7, w=0.7)
    with pytest.raises(InputError, match="stands there twice"):
        Model([Lineage("g", 1.0, {"s": "v"})], slot * 2, character)
    with pytest.raises(InputError, match="above 0 as well"):
        Model(
            [Lineage("g", 1.0, {"s": "v"})], slot, [Character("k", "s", ("a", "b"), {"v": "a"}, excludes={"v": ("a",)})]
        )


def test_one_source_cannot_have_two_chances_of_being_wrong():
    model = one_slot(kinds=[Kind("hearsay", 0.5)])
    told = [Observation("look", ("a",), "plate", source="p"), Observation("feel", ("a",), "hearsay", source="p")]
    with pytest.raises(InputError, match="one kind for all statements"):
        posterior(model, told)


def test_wrong_sources_may_be_drawn_from_elsewhere():
    """``wrong_prior``: a plate that never came from the lineage it names cannot have been moved from there."""
    base = one_slot()
    told = [LineageStatement(("early",), "plate", source="p"), Observation("feel", ("a",), "plate", source="p")]

    def right(prior) -> float:
        model = Model(
            base.lineages, base.slots, base.characters, base.kinds.values(), mu=0, w=0, unknown=0, wrong_prior=prior
        )
        return posterior(model, told).sources["p"]

    assert right({"late": 1.0}) > right(None) > right({"early": 1.0})
    with pytest.raises(UnknownNameError):
        right({"lat": 1.0})
