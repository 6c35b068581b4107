"""Plans of several steps: test, repair, call; published cases."""

from __future__ import annotations

from dataclasses import replace

import pytest

from asfound.evidence.repair import PolicySearch
from asfound.troubleshoot import Now, Odds, believe, decide, generic
from asfound.troubleshoot.checks import checks, followed_cost
from asfound.troubleshoot.decide import STEPS, trouble_of

ODDS = Odds(generic())
MISFIRE = {"s_misfire_one": "present", "s_exh_lo_one": "present"}
SURE = MISFIRE | {"t_sec_low": "positive", "t_lead_swap": "positive"}


def test_published_cases_are_met():
    missed = [one for one in checks() if not one.holds]
    assert not missed


def test_while_doubt_is_large_it_tests():
    decision = decide(believe(ODDS, MISFIRE))
    assert decision.first.does == "test"
    assert decision.first.cost <= decision.without_tests
    assert decision.urgent == ("s_misfire_one",)
    assert decision.before_all.startswith("Misfire in one cylinder: whether the engine runs on is decided first")
    assert "licensed" in decision.licensed


def test_when_sure_enough_it_exchanges():
    decision = decide(believe(ODDS, SURE), Now(state="isolated"))
    assert (decision.first.does, decision.first.id) == ("repair", "r_lead")
    assert {one.tag for one in decision.first.cautions} == {"loto", "hv", "hot"}


def test_when_nothing_is_worth_it_it_calls():
    cheap = replace(generic(), prices=replace(generic().prices, call=1.0))
    assert decide(believe(Odds(cheap), MISFIRE)).first.does == "call"
    barred = Now(may_isolate=False, may_stop=False, barred=frozenset({"noise", "hot", "gas", "hv", "rotating"}))
    decision = decide(believe(ODDS, MISFIRE), barred)
    assert "r_lead" in decision.left_out


def test_a_plan_that_sees_too_little_does_not_call_at_once():
    """One vague symptom, a hundred tests left: the best for its cost goes first, and the words say why."""
    decision = decide(believe(ODDS, {"s_vib": "present"}))
    assert decision.first.does == "test"
    assert "Too many causes are possible" in decision.why


def test_repairs_that_wait_for_leave_are_no_reason_to_call():
    """No stop today: what can be learnt on the running engine goes first; then the repair that waits is named."""
    no_stop = Now(may_stop=False)
    decision = decide(believe(ODDS, MISFIRE), no_stop)
    assert decision.first.does == "test"
    assert not no_stop.why_not(generic().step(decision.first.id))
    assert "wait for leave" in decision.why or "No repair that may help can be made now" in decision.why
    made = dict.fromkeys(ODDS.tests, "not_judged")
    left = decide(believe(ODDS, MISFIRE | made), no_stop)
    assert left.first.does == "call"
    assert "waits: the engine may not be stopped now" in left.why


def test_a_test_that_asks_is_answered_yes_where_it_is_positive():
    """A button 'not so' below a question would else be pressed by who means 'no', and count the wrong way round."""
    asks = {one.id: one.positive for one in generic().tests.values() if "?" in one.title}
    turned = [name for name, positive in asks.items() if positive.startswith(("not", "no ", "does not", "one is miss"))]
    assert not turned, turned


def test_each_repair_names_what_it_is_done_to():
    """A title is read by itself, as the next step: 'replace' alone says nothing."""
    short = [one.title for one in generic().repairs.values() if len(one.title.split()) < 3 and one.id != "r_starter"]
    assert not short


def test_after_a_repair_that_failed_the_plan_goes_elsewhere():
    decision = decide(believe(ODDS, SURE | {"r_lead": "fails"}), Now(state="isolated"))
    assert decision.first.id != "r_lead"
    assert all(step.id != "r_lead" for _, _, step in decision.first.walk())


def test_every_branch_ends_and_no_step_comes_twice_on_a_way():
    def follow(step, made):
        assert step.id not in made or step.does == "call"
        if step.does == "call":
            assert not step.after
            return
        assert set(step.after) == ({"fails"} if step.does == "repair" else {"positive", "negative"})
        for then in step.after.values():
            follow(then, made | {step.id})

    for seen in (MISFIRE, {"s_oilp_low": "present"}, {"s_no_crank": "present"}):
        now = Now(state="stopped", can_run=False) if "s_no_crank" in seen else Now()
        first = decide(believe(ODDS, seen), now, steps=8).first
        follow(first, frozenset())


def test_the_small_problem_holds_all_belief():
    belief = believe(ODDS, {"s_oilp_low": "present"})
    trouble, _ = trouble_of(belief, Now())
    assert trouble.prior.sum() == pytest.approx(1)
    assert len(trouble.repairs) + len(trouble.tests) <= STEPS
    more, _ = trouble_of(belief, Now(), steps=14)
    assert len(more.repairs) + len(more.tests) <= 14


def test_a_plan_holds_no_step_that_cannot_be_made_now():
    """An urgent symptom, and it was decided that the engine does not run on."""
    stood = decide(believe(ODDS, {"s_oilp_low": "present"}), Now(state="stopped", can_run=False))
    steps = [step.id for _, _, step in stood.first.walk() if step.does != "call"]
    assert steps
    assert all(generic().step(name).state != "running" for name in steps)
    assert stood.left_out["t_oil_dp"] == "the engine does not run"


def test_the_plan_costs_what_its_branches_cost_for_each_cause():
    """The search's expected cost against the policy followed branch by branch, over a problem of the knowledge file."""
    for seen in (MISFIRE, {"s_jw_hot": "present"}):
        trouble, _ = trouble_of(believe(ODDS, seen), Now(), steps=8)
        best = trouble.best_policy()
        by_cause = zip(trouble.causes, trouble.prior, strict=True)
        assert sum(p * followed_cost(trouble, best, cause) for cause, p in by_cause) == pytest.approx(best.cost)


def test_beyond_ten_steps_the_bounded_search_is_as_exact():
    trouble, _ = trouble_of(believe(ODDS, MISFIRE), Now(), steps=8)
    plain = PolicySearch(trouble, bounded=False).best().cost
    assert PolicySearch(trouble, bounded=True).best().cost == pytest.approx(plain)


def test_more_steps_never_cost_more():
    """With a step more to choose from the best policy cannot get worse; beyond ten the bounded search is as exact."""
    belief = believe(ODDS, {"s_comm_loss": "present"})
    trouble, _ = trouble_of(belief, Now(), steps=8)
    best = trouble.best_policy().cost
    trouble.tests = trouble.tests[:-1]
    trouble.positive = trouble.positive[:-1]
    assert best <= trouble.best_policy().cost + 1e-9
