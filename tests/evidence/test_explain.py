"""Fit, conflict, and the seven explanations."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from tests.evidence import oracle
from tests.evidence.small_models import situations

from asfound.errors import UnknownNameError
from asfound.evidence import (
    OTHER,
    Character,
    Kind,
    Lineage,
    LineageStatement,
    Look,
    Model,
    Observation,
    Slot,
    conflict,
    explain,
    fit_z,
    posterior,
    unknown,
)
from asfound.evidence.replicates import blocks


def family(slots: int = 4, *, unknown: float = 0.02) -> Model:
    names = ("early", "late", "mixed")
    return Model(
        [
            Lineage(name, p, {f"s{i}": f"v{(g if g < 2 else i % 2)}" for i in range(slots)})
            for g, (name, p) in enumerate(zip(names, (0.5, 0.3, 0.2), strict=True))
        ],
        [Slot(f"s{i}", ["v0", "v1", "v2"]) for i in range(slots)],
        [
            Character(f"k{i}{j}", f"s{i}", ("a", "b", "c", "d"), {"v0": "a", "v1": "b", "v2": "c"})
            for i in range(slots)
            for j in range(2)
        ],
        [Kind("read", 0.005), Kind("seen", 0.05), Kind("plate", 0.25)],
        unknown=unknown,
    )


@settings(max_examples=80, deadline=None)
@given(situations(most=6))
def test_weights_add_up_exactly(situation):
    """Prior and witnesses, and prior and blocks, add up to the log odds of winner against runner-up."""
    model, observations = situation
    found = explain(model, observations, why_not=1)
    belief = posterior(model, observations)
    total = 10 * math.log10(belief.lineages[found.winner] / belief.lineages[found.runner_up])
    assert found.total_decibans == pytest.approx(total, abs=1e-8)
    assert found.prior_decibans + sum(one.decibans for one in found.weights) == pytest.approx(total, abs=1e-8)
    assert found.prior_decibans + sum(decibans for _, decibans in found.blocks) == pytest.approx(total, abs=1e-8)


def test_shares_within_a_slot_do_not_depend_on_order_and_symmetric_ones_are_equal():
    told = [
        Observation("k00", ("a",), "seen", id="one"),
        Observation("k01", ("a",), "seen", id="two"),
        Observation("k10", ("b",), "seen", id="three"),
    ]
    shares = {one.observations[0]: one for one in explain(family(), told).weights}
    turned = {one.observations[0]: one for one in explain(family(), told[::-1]).weights}
    assert shares["one"].decibans == pytest.approx(shares["two"].decibans, abs=1e-12)
    assert shares["one"].shared == "shapley"
    assert shares["three"].shared == "exact"
    assert {name: one.decibans for name, one in shares.items()} == pytest.approx(
        {name: one.decibans for name, one in turned.items()}
    )


def test_many_witnesses_in_one_slot_fall_back_and_still_add_up():
    model = Model(
        [Lineage("x", 0.5, {"s": "v0"}), Lineage("y", 0.5, {"s": "v1"})],
        [Slot("s", ["v0", "v1"])],
        [Character(f"k{i}", "s", ("a", "b"), {"v0": "a", "v1": "b"}) for i in range(14)],
    )
    told = [Observation(f"k{i}", ("a" if i % 4 else "b",), "hearsay") for i in range(14)]
    found = explain(model, told)
    assert {one.shared for one in found.weights} == {"leave_one_out"}
    assert found.prior_decibans + sum(one.decibans for one in found.weights) == pytest.approx(
        found.total_decibans, abs=1e-9
    )


def test_a_plate_is_one_witness_and_against_says_what_would_have_been_shown():
    told = [
        LineageStatement(("late",), "plate", source="plate", id="plate: generation"),
        Observation("k00", ("b",), "plate", source="plate", id="plate: part"),
        *(Observation(f"k{i}{j}", ("a",), "seen", id=f"{i}{j}") for i in range(4) for j in range(2)),
    ]
    found = explain(family(), told)
    assert found.winner == "early"
    (plate,) = [one for one in found.weights if one.source == "plate"]
    assert plate.observations == ("plate: generation", "plate: part")
    assert plate in explain(family(), told, why_not=["late"]).weights
    against_late = explain(family(), told, why_not=["late"]).why_not[0]
    assert against_late.lineage == "late"
    assert against_late.possible
    assert len(against_late.costs) == 3
    told_late = [LineageStatement(("late",), "plate", id="paper"), *told[2:]]
    against = explain(
        family(2),
        [one for one in told_late if not isinstance(one, Observation) or one.character < "k2"],
        why_not=["late"],
    )
    assert against.winner == "early"


def test_against_names_the_state_that_the_winner_shows():
    told = [
        *(Observation(f"k{i}0", ("a",), "read") for i in range(4)),
        Observation("k01", ("b",), "seen", id="odd one"),
    ]
    found = explain(family(), told, why_not=["late"])
    assert found.winner == "early"
    odd = [one for one in found.against if one.observations == ("odd one",)]
    assert odd
    assert odd[0].instead[0][:2] == ("k01", "a")


def test_what_the_answer_hangs_on():
    told = [Observation("k00", ("a",), "seen", id="only one")]
    found = explain(
        family(),
        [LineageStatement(("late",), "plate", id="paper"), *told, Observation("k10", ("a",), "read", id="read")],
    )
    by_id = {one.observations: one for one in found.left_out}
    for ids, one in by_id.items():
        rest = [
            o
            for o in [
                LineageStatement(("late",), "plate", id="paper"),
                *told,
                Observation("k10", ("a",), "read", id="read"),
            ]
            if o.id not in ids
        ]
        assert one.winner_probability == pytest.approx(posterior(family(), rest).lineages[found.winner])
    assert all(one.changes_top == (one.top != found.winner) for one in found.left_out)


def test_why_not_finds_the_reading_that_would_have_to_be_wrong():
    told = [Observation("k00", ("a",), "read", id="the one"), Observation("k10", ("b",), "seen", id="the other")]
    found = explain(family(2), told, why_not=["late"])
    why = {one.lineage: one for one in found.why_not}["late"]
    assert why.needs_wrong == ("the one",)
    rest = [told[1]]
    assert posterior(family(2), rest).lineages["late"] > posterior(family(2), rest).lineages[found.winner]


def test_words_come_from_fixed_bands():
    assert explain(family(), []).words in ("open", "leaning")
    strong = [Observation(f"k{i}{j}", ("a",), "read") for i in range(4) for j in range(2)]
    assert explain(family(), strong).words == "settled"
    foreign = [Observation(f"k{i}{j}", ("d",), "read") for i in range(4) for j in range(2)]
    assert explain(family(), foreign).words == "not in the catalogue"


def test_next_looks_and_names():
    looks = (Look("first", ("k00",), "seen", 2.0), Look("second", ("k10",), "seen", 2.0))
    found = explain(family(), [], looks=looks)
    assert {one.id for one in found.next_looks} == {"first", "second"}
    assert [row.lineage for row in found.table] == ["early", "late", "mixed", OTHER]
    with pytest.raises(UnknownNameError):
        explain(family(), [], why_not=["lat"])


def test_same_input_same_answer():
    told = [Observation(f"k{i}0", ("a",), "seen") for i in range(3)]
    assert explain(family(), told) == explain(family(), told)


# --- fit


@settings(max_examples=60, deadline=None)
@given(situations(most=3))
def test_fit_agrees_with_enumeration_of_replicates(situation):
    """Z by its definition: expectation and deviation of log L over all that the same looks could have shown."""
    model, observations = situation
    told = [one for one in observations if not getattr(one, "undecided", False)]
    graded = [one for one in told if one.likelihood is not None]
    if graded or any(isinstance(one, LineageStatement) for one in told):
        return  # their alternatives have no observation that says just them; see the tests below
    lineage = model.lineages[0].name
    alternatives = []
    for one in told:
        rest = [s for s in model.character(one.character).states if s not in one.states]
        alternatives.append([one, *(Observation(one.character, (s,), one.kind, source=one.source) for s in rest)])
    logs, weights = [], []
    for replicate in product(*alternatives):
        p = (
            sum(w for w, g, *_ in oracle.enumerate_all(model, list(replicate)) if g == lineage)
            / oracle.prior(model)[lineage]
        )
        logs.append(math.log(p))
        weights.append(p)
    logs, weights = np.array(logs), np.array(weights)
    mean = weights @ logs
    variance = weights @ (logs - mean) ** 2
    expected = 0.0 if variance < 1e-15 else (logs[0] - mean) / math.sqrt(variance)
    assert weights.sum() == pytest.approx(1, abs=1e-9)
    assert fit_z(model, observations, lineage) == pytest.approx(expected, abs=1e-6)


def test_replicates_by_draws_agree_with_enumeration(monkeypatch):
    model = family(2)
    told = [
        Observation("k00", ("b",), "seen"),
        Observation("k01", ("a",), "plate", source="p"),
        Observation("k10", ("a",), "plate", source="p"),
        LineageStatement(("late",), "plate", source="p"),
    ]
    (block,) = blocks(model.compiled, posterior(model, told).weighed.gathered)
    exact = block.moments(0)
    monkeypatch.setattr("asfound.evidence.replicates.MOST_OUTCOMES", 0)
    drawn = block.moments(0)
    assert drawn[0] == pytest.approx(exact[0], abs=1e-12)
    assert drawn[1] == pytest.approx(exact[1], abs=4 * math.sqrt(exact[2] / 4000))
    assert drawn[2] == pytest.approx(exact[2], rel=0.25)


def test_two_numbers_for_not_in_the_catalogue():
    good = unknown(family(), [Observation(f"k{i}{j}", ("a",), "read") for i in range(4) for j in range(2)])
    assert not good.not_in_catalogue
    assert good.fit_z > 0
    assert good.nearest == "early"
    bad = unknown(family(unknown=0.0), [Observation(f"k{i}{j}", ("d",), "read") for i in range(4) for j in range(2)])
    assert bad.other == 0.0
    assert bad.fit_z < -3
    assert bad.not_in_catalogue  # though 'other' is not even among the lineages
    likely = unknown(family(), [Observation(f"k{i}{j}", ("d",), "read") for i in range(4) for j in range(2)])
    assert likely.other > 0.5
    assert fit_z(family(), []) == 0.0


def test_conflict():
    """Agreeing observations pull together; a false plate against hardware pulls apart, and the rare lineage
    explains it.
    """
    agree = [Observation("k00", ("a",), "seen"), Observation("k01", ("a",), "seen"), Observation("k10", ("a",), "seen")]
    assert conflict(family(), agree).bits < 0
    mixed = [
        Observation("k00", ("a",), "read"),
        Observation("k10", ("b",), "read"),
        Observation("k20", ("a",), "read"),
        Observation("k30", ("b",), "read"),
    ]
    rare = Model(
        [
            Lineage("early", 0.6, family().lineages[0].native),
            Lineage("late", 0.39, family().lineages[1].native),
            Lineage("mixed", 0.01, family().lineages[2].native),
        ],
        family().slots,
        family().characters,
        family().kinds.values(),
    )
    found = conflict(rare, mixed)
    assert found.bits > 0
    assert found.explained_by[0][0] == "mixed"
    assert found.explained_by[0][1] < 0


@settings(max_examples=40, deadline=None)
@given(situations(most=4))
def test_conflict_agrees_with_enumeration(situation):
    model, observations = situation
    items: dict[object, list] = {}
    for i, one in enumerate(observations):
        items.setdefault(i if one.source is None else one.source, []).append(one)
    alone = sum(oracle.belief(model, group)[0] for group in items.values())
    whole = oracle.belief(model, observations)[0]
    assert conflict(model, observations).bits == pytest.approx((alone - whole) / math.log(2), abs=1e-8)
