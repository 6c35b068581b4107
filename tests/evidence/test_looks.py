"""What to look at next: information against enumeration, prices, groups, looking ahead, stopping."""

from __future__ import annotations

import math
from itertools import chain, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.evidence import oracle
from tests.evidence.small_models import models, statements

from asfound.errors import InputError, UnknownNameError
from asfound.evidence import (
    AS_BUILT,
    Character,
    Kind,
    Lineage,
    LineageStatement,
    Look,
    Model,
    Observation,
    Setup,
    Slot,
    posterior,
    rank,
)
from asfound.evidence.information import certainty_saves, edges_cut, information, loss_saved


def outcomes_of(model: Model, look: Look):
    """Every outcome of a look as the observations that it would be."""
    choices = []
    for name in look.reveals:
        if name == AS_BUILT:
            built: dict[str, list[str]] = {}
            for one in model.lineages:
                built.setdefault(one.as_built or one.name, []).append(one.name)
            choices.append([LineageStatement(tuple(names), look.kind, look.source) for names in built.values()])
        else:
            states = model.character(name).states
            choices.append([Observation(name, (state,), look.kind, source=look.source) for state in states])
    return [list(outcome) for outcome in product(*choices)]


@st.composite
def questions(draw, target=None):
    model = draw(models())
    told = draw(statements(model, most=3))
    names = [one.name for one in model.characters] + [AS_BUILT]
    reveals = tuple(draw(st.lists(st.sampled_from(names), min_size=1, max_size=2, unique=True)))
    source = draw(st.sampled_from([None, None, "z"]))
    kind = "plate" if source else draw(st.sampled_from(["sharp", "good"]))
    return (
        model,
        told,
        Look("look", reveals, kind, 3.0, undecided_chance=draw(st.sampled_from([0.0, 0.25])), source=source),
    )


def only(model, told, look, **wishes):
    ranking = rank(model, told, (look,), lookahead=False, **wishes)
    return (*ranking.looks, *ranking.not_allowed)[0] if ranking.looks or ranking.not_allowed else None


@settings(max_examples=100, deadline=None)
@given(questions())
def test_information_about_the_lineage_agrees_with_enumeration(question):
    model, told, look = question
    found = only(model, told, look)
    if found is None:  # made already
        return
    expected = oracle.bits(model, told, outcomes_of(model, look), lambda lineage, *_: lineage)
    assert found.bits == pytest.approx((1 - look.undecided_chance) * expected, abs=1e-9)
    assert found.score == pytest.approx(found.bits / 3.0)


@settings(max_examples=80, deadline=None)
@given(questions())
def test_information_about_a_slot_agrees_with_enumeration(question):
    model, told, look = question
    slot = model.slots[-1].name
    found = only(model, told, look, target=slot)
    if found is not None:
        expected = oracle.bits(model, told, outcomes_of(model, look), lambda _, variants, __: variants[slot])
        assert found.bits == pytest.approx((1 - look.undecided_chance) * expected, abs=1e-9)


@settings(max_examples=80, deadline=None)
@given(questions())
def test_information_about_everything_agrees_with_enumeration(question):
    """Everything: lineage, every slot, and whether earlier sources are right; not whether the new one is."""
    model, told, look = question
    found = only(model, told, look, target="all")
    if found is None:
        return

    def key(lineage, variants, right):
        return lineage, tuple(variants.items()), tuple((name, r) for name, r in right.items() if name != "z")

    expected = oracle.bits(model, told, outcomes_of(model, look), key)
    assert found.bits == pytest.approx((1 - look.undecided_chance) * expected, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(questions())
def test_outcomes_are_what_the_posterior_would_be(question):
    model, told, look = question
    found = only(model, told, look)
    if found is None:
        return
    by_states = {one.states: one for one in found.outcomes}
    assert sum(one.probability for one in found.outcomes) == pytest.approx(1, abs=1e-9)
    for outcome in outcomes_of(model, look):
        states = tuple(
            one.states[0]
            if isinstance(one, Observation)
            else next(g.as_built or g.name for g in model.lineages if g.name == one.lineages[0])
            for one in outcome
        )
        if states in by_states:
            then = posterior(model, [*told, *outcome])
            assert by_states[states].lineages == pytest.approx(then.lineages, abs=1e-9)
            assert by_states[states].top == then.top or len(set(np.round(list(then.lineages.values()), 9))) < len(
                then.lineages
            )


@settings(max_examples=30, deadline=None)
@given(models(), st.data())
def test_group_information_agrees_with_enumeration(model, data):
    """Looks behind one set-up are valued jointly; with nothing undecided their bits are the joint information."""
    told = data.draw(statements(model, most=2))
    names = [one.name for one in model.characters][:3]
    looks = tuple(Look(name, (name,), "good", 1.0, setup="cover", undecided_chance=0.0) for name in names)
    ranking = rank(model, told, looks, (Setup("cover", 10.0, 5.0),), lookahead=False)
    for group in ranking.groups:
        chosen = [look for look in looks if look.id in group.looks]
        outcomes = [[*chain(*parts)] for parts in product(*(outcomes_of(model, look) for look in chosen))]
        assert group.bits == pytest.approx(oracle.bits(model, told, outcomes, lambda lineage, *_: lineage), abs=1e-9)
        assert group.minutes == 15.0 + len(chosen)
        assert group.score >= max(one.score for one in ranking.looks) - 1e-12


def twins() -> Model:
    """Two lineages that differ only in what the inside shows; a third differs outside (invented)."""
    return Model(
        [
            Lineage("plain", 0.4, {"box": "plain"}),
            Lineage("filled", 0.4, {"box": "filled"}),
            Lineage("old", 0.2, {"box": "none"}),
        ],
        [Slot("box", ["plain", "filled", "none"])],
        [
            Character("shape", "box", ("ribbed", "absent"), {"plain": "ribbed", "filled": "ribbed", "none": "absent"}),
            Character(
                "inside", "box", ("empty", "solid", "nothing"), {"plain": "empty", "filled": "solid", "none": "nothing"}
            ),
            Character("label", "box", ("M", "MD", "none"), {"plain": "M", "filled": "MD", "none": "none"}),
        ],
    )


LOOKS = (
    Look("shape from outside", ("shape",), "seen", 2.0),
    Look("label", ("label",), "read", 5.0, setup="cover"),
    Look(
        "inside",
        ("inside",),
        "seen",
        5.0,
        setup="stop",
        allowed=False,
        why_not="only while it stands still",
        undecided_chance=0.03,
    ),
)
SETUPS = (Setup("cover", 10.0), Setup("stop", 60.0, risk_minutes=30.0))


def test_prices_and_reasons():
    ranking = rank(twins(), [], LOOKS, SETUPS, lookahead=False)
    assert {one.id: one.minutes for one in ranking.looks} == {"shape from outside": 2.0, "label": 15.0}
    (barred,) = ranking.not_allowed
    assert (barred.id, barred.minutes, barred.why_not) == ("inside", 95.0, "only while it stands still")
    assert barred.bits > 0
    assert [group.setup for group in ranking.groups] == ["cover", "stop"]
    assert not ranking.groups[1].allowed
    assert ranking.groups[1].why_not == "only while it stands still"
    paid = rank(twins(), [], LOOKS, (Setup("cover", 10.0, paid=True), SETUPS[1]), lookahead=False)
    assert {one.id: one.minutes for one in paid.looks}["label"] == 5.0
    assert [group.setup for group in paid.groups] == ["stop"]


def test_looks_made_already_and_another_way():
    again = Look("shape at the part", ("shape",), "read", 4.0)
    told = [Observation("shape", kind="seen", undecided=True)]
    ranking = rank(twins(), told, (*LOOKS, again), SETUPS, lookahead=False)
    ids = [one.id for one in ranking.looks]
    assert "shape from outside" not in ids
    assert next(one for one in ranking.looks if one.id == "shape at the part").again
    assert not next(one for one in ranking.looks if one.id == "label").again


def test_sources_already_asked_are_skipped():
    ask = Look("ask the operator", ("label", "shape"), "hearsay", 3.0, source="operator")
    assert rank(twins(), [], (ask,)).looks
    told = [Observation("inside", ("solid",), "hearsay", source="operator")]
    assert not rank(twins(), told, (ask,)).looks


def test_undecided_chance_gains_nothing():
    sure, doubtful = (
        rank(twins(), [], (Look("l", ("label",), "read", 5.0, undecided_chance=u),)).looks[0] for u in (0.0, 0.4)
    )
    assert doubtful.bits == pytest.approx(0.6 * sure.bits)


def test_never_stops_by_itself_but_adds_up_what_cannot_be_told_apart():
    """After the shape only the look that is not allowed can tell the twins apart: stop, name both, and name that
    look.
    """
    told = [Observation("shape", ("ribbed",), "read"), Observation("label", kind="read", undecided=True)]
    stop = rank(twins(), told, LOOKS, SETUPS, wrong_cost=600.0).stop
    assert stop is not None
    assert stop.reason == "nothing_worth"
    assert stop.classes[0][0] == ("plain", "filled")
    assert stop.classes[0][1] > 0.95
    assert stop.elsewhere == ("inside",)
    assert "inside would" in stop.says
    assert [name for name, _ in stop.remaining][:2] == ["plain", "filled"]


def test_indistinguishable_lineages_are_summed_for_being_sure_enough():
    """A look that could still tell something is left, but the leading class is sure enough for its price."""
    model = twins()
    told = [Observation("shape", ("ribbed",), "seen"), Observation("label", kind="read", undecided=True)]
    looks = (*LOOKS, Look("shape again", ("shape",), "read", 20.0))
    ranking = rank(model, told, looks, SETUPS, wrong_cost=300.0)
    assert [one.id for one in ranking.looks] == ["shape again"]
    assert ranking.looks[0].bits > 0.01
    assert max(posterior(model, told).lineages.values()) < 0.5
    stop = ranking.stop
    assert stop is not None
    assert stop.reason == "sure_enough"
    assert stop.classes[0] == (
        ("plain", "filled"),
        pytest.approx(sum(list(posterior(model, told).lineages.values())[:2])),
    )
    assert stop.classes[0][1] > 1 - 20 / 300
    assert rank(model, [], looks, SETUPS, wrong_cost=600.0).stop is None


def test_stops_where_all_lead_to_the_same_action():
    told = [Observation("shape", ("ribbed",), "read")]
    decisions = {"plain": "harness M", "filled": "harness M", "old": "none"}
    looks = (Look("label", ("label",), "read", 5.0),)
    assert rank(twins(), told, looks, decisions=decisions).stop is None  # 'other' and 'old' are still possible
    sure = [*told, Observation("inside", ("solid",), "read"), LineageStatement(("plain", "filled"), "paper")]
    stop = rank(
        twins().with_rates(unknown=0.0, w=0.001, mu=0.001), sure, looks, decisions=decisions, worth_looking=0.0
    ).stop
    assert stop is not None
    assert stop.reason == "same_action"


def test_decision_as_target():
    decisions = {"plain": "A", "filled": "A", "old": "B"}
    shape = rank(twins(), [], LOOKS[:1], target="decision", decisions=decisions).looks[0]
    expected = oracle.bits(
        twins_without_floor(), [], outcomes_of(twins(), LOOKS[0]), lambda lineage, *_: decisions.get(lineage, lineage)
    )
    assert shape.bits == pytest.approx(0.9 * expected, abs=1e-9)
    with pytest.raises(InputError, match="decisions"):
        rank(twins(), [], LOOKS[:1], target="decision")


def twins_without_floor() -> Model:
    model = twins()
    return Model(model.lineages, model.slots, model.characters, model.kinds.values(), floor=0.0)


def test_evsi_by_hand_and_never_above_certainty():
    """Umbrella: rain 0.3; wrong choice costs 10 (wet) or 2 (carried for nothing); a forecast right 8 times in 10
    (invented).
    """
    joint = np.array([[0.3 * 0.8, 0.7 * 0.2], [0.3 * 0.2, 0.7 * 0.8]])
    loss = np.array([[0.0, 2.0], [10.0, 0.0]])  # take, leave
    now = min(0.7 * 2, 0.3 * 10)
    then = min(0.14 * 2, 0.24 * 10) + min(0.56 * 2, 0.06 * 10)
    assert float(loss_saved(joint, loss)) == pytest.approx(now - then)
    assert float(loss_saved(joint, loss)) <= certainty_saves([0.3, 0.7], loss) == pytest.approx(1.4)


def test_loss_table_changes_the_order():
    """Bits like the look that splits evenly; the loss cares for the rare and dear lineage only."""
    loss = {"act": {"old": 1000.0}, "check first": {"plain": 1.0, "filled": 1.0, "old": 1.0, "other": 1.0}}
    looks = (Look("inside", ("inside",), "read", 5.0), Look("shape", ("shape",), "read", 5.0))
    by_loss = rank(twins(), [], looks, loss=loss, criterion="loss", lookahead=False)
    assert all(
        one.worth
        <= certainty_saves(list(posterior(twins(), []).lineages.values()), [[0, 0, 1000, 0], [1, 1, 1, 1]]) + 1e-12
        for one in by_loss.looks
    )
    same = {one.id: one.bits for one in by_loss.looks} == {one.id: one.bits for one in rank(twins(), [], looks).looks}
    assert same
    with pytest.raises(InputError, match="loss"):
        rank(twins(), [], looks, criterion="loss")
    with pytest.raises(UnknownNameError, match="hypothesis"):
        rank(twins(), [], looks, criterion="loss", loss={"act": {"oldd": 1.0}})


def test_ec2_counts_edges_between_decisions_only():
    """Four hypotheses, two decisions: a look that splits the decisions cuts all edges, one across them half."""
    p = np.full(4, 0.25)
    decisions = [0, 0, 1, 1]
    along = np.array([[1, 1, 0, 0], [0, 0, 1, 1]]) * p
    across = np.array([[1, 0, 1, 0], [0, 1, 0, 1]]) * p
    assert float(edges_cut(along, decisions)) == pytest.approx(4 * 0.0625)
    assert float(edges_cut(across, decisions)) == pytest.approx(2 * 0.0625)
    found = rank(
        twins(), [], LOOKS[:2], SETUPS, criterion="ec2", decisions={"plain": "A", "filled": "A"}, lookahead=False
    )
    assert all(0 <= one.worth <= 0.5 for one in found.looks)


def test_lookahead_only_where_the_best_are_close():
    far = rank(twins(), [], LOOKS, SETUPS)
    assert not far.looked_ahead
    close = (Look("a", ("label",), "read", 5.0), Look("b", ("inside",), "read", 5.1))
    near = rank(twins(), [], close)
    assert near.looked_ahead
    assert all(one.ahead is not None for one in near.looks)
    assert rank(twins(), [], close, lookahead=False).looks[0].ahead is None


def test_two_steps_by_enumeration():
    """Worth of two looks together, the second chosen anew after each outcome, over the minutes of both."""
    model = twins_without_floor()
    looks = tuple(
        Look(name, (name,), "seen", minutes, undecided_chance=0.0) for name, minutes in (("shape", 2.0), ("label", 5.0))
    )
    ranking = rank(model, [], looks, lookahead=True)
    both = [[*a, *b] for a in outcomes_of(model, looks[0]) for b in outcomes_of(model, looks[1])]
    together = oracle.bits(model, [], both, lambda lineage, *_: lineage)
    for one in ranking.looks:  # with two looks the second is always the other one
        assert one.ahead == pytest.approx(together / 7.0, abs=1e-9)


def test_same_input_same_order_ties_as_given():
    model = twins()
    looks = tuple(Look(f"copy {i}", ("label",), "read", 5.0) for i in range(5))
    first = [one.id for one in rank(model, [], looks).looks]
    assert first == [look.id for look in looks]
    assert first == [one.id for one in rank(model, [], list(looks)).looks]


def test_looks_that_cannot_be():
    with pytest.raises(UnknownNameError, match="set-up"):
        rank(twins(), [], (Look("l", ("label",), "read", 5.0, setup="lid"),), SETUPS)
    with pytest.raises(InputError, match="minutes"):
        rank(twins(), [], (Look("l", ("label",), "read", -1.0),))
    with pytest.raises(InputError, match="is empty"):
        rank(twins(), [], (Look("l", (), "read", 1.0),))
    with pytest.raises(UnknownNameError, match="slot"):
        rank(twins(), [], LOOKS, SETUPS, target="bax")


def test_information_of_a_noiseless_even_split_is_one_bit():
    assert float(information(np.array([[0.5, 0.0], [0.0, 0.5]]))) == pytest.approx(1.0, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(questions())
def test_information_never_exceeds_the_doubt(question):
    model, told, look = question
    found = only(model, told, look)
    if found is not None:
        assert 0 <= found.bits <= found.valued.doubt + 1e-9
        assert math.isfinite(found.share_of_doubt)


def test_kinds_with_error_one_tell_nothing():
    model = Model(twins().lineages, twins().slots, twins().characters, [Kind("guess", 1.0)])
    assert rank(model, [], (Look("l", ("label",), "guess", 1.0),)).looks[0].bits == pytest.approx(0.0, abs=1e-12)
