"""Belief against Bayes written out by hand, and the laws of evidence."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.troubleshoot import OTHER, Now, Odds, believe, generic, next_tests
from asfound.troubleshoot.belief import FLOOR, OTHER_PRIOR
from asfound.troubleshoot.next_test import WORTH_TESTING, information

ODDS = Odds(generic())
SEEN = st.dictionaries(st.sampled_from([*ODDS.symptoms, *ODDS.tests]), st.booleans(), min_size=1, max_size=12).map(
    lambda d: {name: _word(name, yes) for name, yes in d.items()}
)


def _word(name: str, yes: bool) -> str:
    return ("present" if yes else "absent") if name.startswith("s_") else ("positive" if yes else "negative")


def by_hand(seen: dict[str, str]) -> dict[str, float]:
    """Bayes in plain Python, from the file's own rows."""
    g = generic()
    total = sum(cause.prior for cause in g.causes.values())
    weight = {}
    for name, cause in g.causes.items():
        weight[name] = cause.prior / total * (1 - OTHER_PRIOR)
        for about, says in seen.items():
            if about in g.symptoms:
                p = cause.leads_to.get(about, g.unlisted)
            else:
                p = g.tests[about].given.get(name, g.tests[about].otherwise)
            weight[name] *= p if says in ("present", "positive") else 1 - p
    weight[OTHER] = OTHER_PRIOR
    for about, says in seen.items():
        column = [
            one.leads_to.get(about, g.unlisted)
            if about in g.symptoms
            else g.tests[about].given.get(one.id, g.tests[about].otherwise)
            for one in g.causes.values()
        ]
        p = 0.5 * sum(column) / len(column) + 0.25
        weight[OTHER] *= p if says in ("present", "positive") else 1 - p
    whole = sum(weight.values())
    found = {name: (1 - FLOOR) * w / whole for name, w in weight.items()}
    found[OTHER] += FLOOR
    return found


@settings(max_examples=40, deadline=None)
@given(SEEN)
def test_it_is_bayes(seen):
    belief = believe(ODDS, seen, unasked=0)
    want = by_hand(seen)
    for name, p in belief.ranked():
        assert p == pytest.approx(want[name], rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(SEEN, st.randoms())
def test_the_order_of_evidence_does_not_matter(seen, random):
    turned = list(seen.items())
    random.shuffle(turned)
    assert (believe(ODDS, dict(turned)).p == believe(ODDS, seen).p).all()


@settings(max_examples=40, deadline=None)
@given(SEEN, st.sampled_from([*ODDS.symptoms, *ODDS.tests]))
def test_present_and_absent_sum_to_what_was_believed_before(seen, about):
    """P(c) = P(c | present) P(present) + P(c | absent) P(absent), without the part that is kept back."""
    seen.pop(about, None)
    before, yes, no = (
        np.exp(believe(ODDS, seen | more, unasked=0).log_weight)
        for more in ({}, {about: _word(about, True)}, {about: _word(about, False)})
    )
    assert yes + no == pytest.approx(before, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(SEEN)
def test_nothing_is_ever_certain_and_the_unknown_is_kept(seen):
    belief = believe(ODDS, seen)
    assert belief.p.sum() == pytest.approx(1)
    assert (belief.p > 0).all()
    assert (belief.p < 1).all()
    assert belief.p[-1] >= FLOOR


@settings(max_examples=30, deadline=None)
@given(SEEN, st.sampled_from([*ODDS.symptoms, *ODDS.tests]))
def test_what_could_not_be_judged_weighs_nothing(seen, about):
    seen.pop(about, None)
    assert (believe(ODDS, seen | {about: "not_judged"}, unasked=0).p == believe(ODDS, seen, unasked=0).p).all()


@settings(max_examples=30, deadline=None)
@given(SEEN)
def test_decibans_add_up(seen):
    belief = believe(ODDS, seen, unasked=0)
    (first, _), (second, _) = belief.ranked()[:2]
    a, b = ODDS.causes.index(first), ODDS.causes.index(second)
    prior = 10 * math.log10(ODDS.prior[a] / ODDS.prior[b])
    total = prior + sum(weight for _, weight in belief.decibans(first, second))
    assert total == pytest.approx(10 / math.log(10) * float(belief.log_weight[a] - belief.log_weight[b]), abs=1e-9)


def test_looked_for_and_not_found_weighs_more_than_not_mentioned():
    def odds_of_coil(more):
        belief = believe(ODDS, {"s_misfire_one": "present"} | more)
        p = dict(belief.ranked())
        return p["c_coil"] / p["c_lash"]

    silent, absent, judged = (
        odds_of_coil(more) for more in ({}, {"s_exh_lo_one": "absent"}, {"s_exh_lo_one": "not_judged"})
    )
    assert absent < silent < judged


def test_a_failed_repair_takes_belief_from_what_it_would_have_cured():
    before, after = (
        dict(believe(ODDS, {"s_comm_loss": "present"} | m).ranked()) for m in ({}, {"r_bus_wiring": "fails"})
    )
    assert after["c_bus_wiring"] / after["c_bus_mixed"] == pytest.approx(
        0.07 * before["c_bus_wiring"] / before["c_bus_mixed"]
    )


def test_a_finding_weighs_as_what_it_says_and_never_twice():
    told = believe(ODDS, {"s_exh_lo_one": "present"})
    found = believe(ODDS, findings=["CY-10"])
    both = believe(ODDS, {"s_exh_lo_one": "present"}, findings=["CY-10", "CY-10"])
    assert (told.p == found.p).all()
    assert (told.p == both.p).all()
    assert [one.weighs for one in both.witnesses] == ["yes", "already told"]
    two_codes = believe(ODDS, findings=["EX-40", "EX-41"])
    assert (two_codes.p == believe(ODDS, {"t_cat_conversion": "positive"}).p).all()


def test_a_finding_against_a_person_is_shown_and_weighs_nothing():
    belief = believe(ODDS, {"s_exh_lo_one": "absent"}, findings=["CY-10"])
    assert [one.weighs for one in belief.witnesses] == ["yes", "contradicted"]
    assert (belief.p == believe(ODDS, {"s_exh_lo_one": "absent"}).p).all()
    split = believe(ODDS, findings=["CY-30", "CY-31"])
    assert {one.weighs for one in split.witnesses} == {"contradicted"}
    assert (split.p == believe(ODDS).p).all()


def test_a_finding_that_no_rule_names_weighs_nothing():
    assert (believe(ODDS, findings=["CC-01", "XX-99"]).p == believe(ODDS).p).all()


def test_urgent_symptoms_are_named():
    belief = believe(ODDS, {"s_jw_hot": "present", "s_knock": "absent", "s_fuel_high": "present"})
    assert belief.urgent() == ("s_jw_hot",)


def test_what_cannot_be_said_is_refused():
    with pytest.raises(UnknownNameError):
        believe(ODDS, {"s_nock": "present"})
    with pytest.raises(InputError):
        believe(ODDS, {"s_knock": "positive"})
    with pytest.raises(InputError):
        believe(ODDS, {"r_coil": "positive"})


@settings(max_examples=25, deadline=None)
@given(SEEN)
def test_a_test_without_information_or_made_already_is_never_proposed(seen):
    found = next_tests(believe(ODDS, seen))
    for one in found.proposals:
        assert one.bits >= WORTH_TESTING
        assert one.id not in seen
    assert not {one.id for one in found.proposals} & {*found.tell_nothing, *found.barred}


def test_information_by_definition():
    """A test as likely under each cause tells nothing; one that decides between two equal causes tells one bit."""
    p = np.array([0.5, 0.5])
    assert information(p, np.array([[0.3, 1.0], [0.3, 0.0]])) == pytest.approx([0.0, 1.0])


def test_steps_that_cannot_be_made_say_why():
    belief = believe(ODDS, {"s_misfire_one": "present"})
    found = next_tests(belief, Now(may_isolate=False, barred=frozenset({"hv"})))
    assert found.barred["t_sec_low"] == "not allowed now: hv"
    assert found.barred["t_adm_swap"] == "the engine may not be isolated now"
    dead = next_tests(believe(ODDS, {"s_no_crank": "present"}), Now(state="stopped", can_run=False))
    assert all(generic().tests[one.id].state != "running" for one in dead.proposals)
    with pytest.raises(InputError):
        Now(state="running", can_run=False)
    with pytest.raises(InputError):
        Now(state="any")


def test_an_isolation_that_is_there_is_not_paid_again():
    belief = believe(ODDS, {"s_misfire_one": "present"})
    running, isolated = (
        {one.id: one.cost for one in next_tests(belief, Now(state=state)).proposals}
        for state in ("running", "isolated")
    )
    assert running["t_coil_swap"] - isolated["t_coil_swap"] == generic().prices.isolate
    assert isolated["t_sec_low"] > running["t_sec_low"]
