"""The trouble of a visit from what a person tells: belief, what changes it, and what never changes."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.evidence.policy_table import PolicyTable, states
from asfound.evidence.repair import PolicySearch
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.quantities.findings import Case, find_all
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding
from asfound.troubleshoot import Now, Odds, believe, generic
from asfound.troubleshoot.belief import FLOOR, OTHER
from asfound.troubleshoot.decide import trouble_of
from asfound.troubleshoot.findings import find
from asfound.troubleshoot.of_case import of_case
from asfound.troubleshoot.schema import defeats_protection
from asfound.troubleshoot.told import AllowedSaid, ClosedCase, ClosedSaid, Said, Told

WORKED = work_out([])
SYMPTOMS, TESTS, REPAIRS = map(list, (generic().symptoms, generic().tests, generic().repairs))
MISFIRE = (("s_misfire_one", "present"), ("s_exh_lo_one", "present"), ("s_knock", "absent"))
SAID = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(SYMPTOMS), st.sampled_from(["present", "absent", "not_judged"])),
        st.tuples(st.sampled_from(TESTS), st.sampled_from(["positive", "negative", "not_judged", "not_done"])),
    ),
    max_size=8,
    unique_by=lambda pair: pair[0],
)


def trouble(*said: tuple[str, str], state: str = "running", found: tuple[Finding, ...] = (), engine=None, **told):
    case = Case(
        readings=(),
        worked=WORKED,
        engine=engine or {},
        visit={
            "trouble": Told(
                said=tuple(Said(about=about, says=says, entry=str(i)) for i, (about, says) in enumerate(said)), **told
            ),
            "engine_state": state,
        },
        found=found,
    )
    return of_case(case)


def finding(code: str, state: str = "as_found") -> Finding:
    return Finding(code=code, subject="cylinders", says="-", severity="soon", next_step="-", state=state)


def chances(one) -> dict[str, float]:
    return {row.id: row.p for row in one.causes}


def test_nothing_told_asks_what_shows():
    one = trouble()
    assert one.phase == "nothing_told"
    assert one.leader is None
    assert one.decision is None
    assert one.generic
    assert "Neither its kind" in one.why_generic
    assert len(one.symptoms) == len(SYMPTOMS)
    assert {row.says for row in one.symptoms} == {""}
    assert one.doubt == pytest.approx(one.doubt_before)


def test_a_case_as_it_goes():
    one = trouble(*MISFIRE)
    assert one.phase == "open"
    assert one.urgent == ("s_misfire_one",)
    assert one.decision is not None
    assert one.decision.first.does == "test"
    assert one.before_all.startswith("Misfire in one cylinder: whether the engine runs on")
    assert one.tests[0].forks["positive"].chance == pytest.approx(one.tests[0].chance_positive)
    assert len(one.history) == 1 + len(MISFIRE)
    told = trouble(*MISFIRE, ("t_sec_low", "positive"), ("t_coil_swap", "positive"))
    assert told.leader.id == "c_coil"
    assert told.made == ("t_sec_low", "t_coil_swap")
    cured = trouble(*MISFIRE, ("t_coil_swap", "positive"), ("r_coil", "cured"))
    assert cured.phase == "cured"
    assert cured.stop_testing
    assert chances(cured)["c_coil"] > 0.95
    closed = trouble(*MISFIRE, ("r_coil", "cured"), closed=ClosedSaid(cause="c_coil", confirmed="cured"))
    assert closed.phase == "closed"
    assert closed.says == "Closed: Ignition coil of one cylinder failed or weak (the repair cured it)."
    assert closed.decision is None


@settings(max_examples=20, deadline=None)
@given(SAID, st.randoms())
def test_the_order_of_answers_does_not_matter(said, random):
    mixed = said.copy()
    random.shuffle(mixed)
    assert chances(trouble(*said)) == chances(trouble(*mixed))


@settings(max_examples=20, deadline=None)
@given(SAID)
def test_something_else_is_never_ruled_out_and_nothing_is_proved(said):
    one = trouble(*said)
    assert one.other >= FLOOR
    assert all(0 < row.p < 1 for row in one.causes)
    assert sum(row.p for row in one.causes) == pytest.approx(1)
    for step in one.history:
        assert sum(step.p.values()) == pytest.approx(1)
        assert step.p[OTHER] >= FLOOR
    last = one.history[-1].p
    assert all(last[name] == pytest.approx(chances(one)[name]) for name in one.line_causes)


@settings(max_examples=20, deadline=None)
@given(SAID, st.sampled_from(TESTS), st.sampled_from(["not_judged", "not_done"]))
def test_what_was_not_judged_changes_nothing(said, test, says):
    said = [pair for pair in said if pair[0] != test]
    assert chances(trouble(*said, (test, says))) == pytest.approx(chances(trouble(*said)))
    assert (test not in [row.id for row in trouble(*said, (test, says)).tests]) or not said


@settings(max_examples=15, deadline=None)
@given(SAID)
def test_a_fork_is_what_the_answer_makes_of_it(said):
    one = trouble(*said)
    for row in one.tests[:2]:
        for answer, fork in row.forks.items():
            then = chances(trouble(*said, (row.id, answer)))
            for cause in fork.causes:
                # the share kept for 'other' is kept anew after each answer
                assert then[cause.id] == pytest.approx(cause.after, abs=0.04)
        assert row.forks["positive"].chance + row.forks["negative"].chance == pytest.approx(1)


def test_later_words_replace_earlier_ones_and_can_be_taken_back():
    assert chances(trouble(("s_knock", "present"), ("s_knock", "absent"))) == chances(trouble(("s_knock", "absent")))
    assert trouble(("s_knock", "present"), ("s_knock", "not_told")).phase == "nothing_told"


def test_found_at_one_place_goes_before_not_found_at_another():
    both = (
        Said(about="s_exh_lo_one", says="present", place="L2"),
        Said(about="s_exh_lo_one", says="absent", place="L3"),
    )
    for order in itertools.permutations(both):
        case = Case(readings=(), worked=WORKED, visit={"trouble": Told(said=order)})
        one = of_case(case)
        assert chances(one) == chances(trouble(("s_exh_lo_one", "present")))
        assert {row.place: row.weighs for row in one.witnesses} == {"L2": "yes", "L3": "already told"}


# ---------------------------------------------------------------- repairs change the engine


def test_a_repair_that_failed_is_evidence():
    before, after = trouble(*MISFIRE), trouble(*MISFIRE, ("r_coil", "fails"))
    assert chances(after)["c_coil"] < 0.15 * chances(before)["c_coil"]
    assert chances(after)[OTHER] > chances(before)[OTHER]
    assert after.decision.first.id != "r_coil"


def test_a_test_before_a_repair_that_failed_was_of_another_engine():
    told = (*MISFIRE, ("t_coil_swap", "positive"), ("r_coil", "fails"))
    one = trouble(*told)
    assert {row.about: row.weighs for row in one.witnesses}["t_coil_swap"] == "before a change"
    assert chances(one) == pytest.approx(chances(trouble(*MISFIRE, ("r_coil", "fails"))))
    again = [row for row in one.tests if row.id == "t_coil_swap"]
    assert not again or again[0].says == "positive"  # may be proposed again, and says what it said


def test_made_again_after_the_repair_it_weighs():
    told = (*MISFIRE, ("t_coil_swap", "positive"), ("r_coil", "fails"))
    again = trouble(*told, ("t_coil_swap", "positive"))
    assert chances(again)["c_coil"] > 3 * chances(trouble(*told))["c_coil"]
    assert {row.about: row.weighs for row in again.witnesses}["t_coil_swap"] == "yes"


def test_a_negative_test_and_tests_of_other_parts_stand_after_a_repair_that_failed():
    told = (*MISFIRE, ("t_coil_swap", "negative"), ("t_compression", "positive"), ("r_coil", "fails"))
    weighs = {row.about: row.weighs for row in trouble(*told).witnesses}
    assert weighs["t_coil_swap"] == weighs["t_compression"] == "yes"


def test_after_a_repair_that_cured_the_tests_before_it_stand():
    told = (*MISFIRE, ("t_coil_swap", "positive"), ("r_coil", "cured"))
    assert {row.about: row.weighs for row in trouble(*told).witnesses}["t_coil_swap"] == "yes"


def test_a_swap_repairs_nothing():
    told = (*MISFIRE, ("t_sec_low", "positive"), ("t_lead_swap", "negative"))
    assert {row.weighs for row in trouble(*told).witnesses} == {"yes"}
    assert chances(trouble(*told))["c_lead"] < chances(trouble(*told[:-1]))["c_lead"]


def test_a_finding_as_found_is_of_the_engine_before_a_repair_that_failed():
    found = (finding("CY-23"),)  # says: compression low
    before = trouble(("s_misfire_one", "present"), found=found)
    assert {row.code: row.weighs for row in before.witnesses}["CY-23"] == "yes"
    repair = next(name for name, one in generic().repairs.items() if "c_valve_leak" in one.fixes)
    after = trouble(("s_misfire_one", "present"), (repair, "fails"), found=found)
    assert {row.code: row.weighs for row in after.witnesses}["CY-23"] == "before a change"
    left = trouble(("s_misfire_one", "present"), (repair, "fails"), found=(*found, finding("CY-23", "as_left")))
    assert {row.code: row.weighs for row in left.witnesses}["CY-23"] == "yes"


# ---------------------------------------------------------------- other rooms


def test_findings_of_other_rooms_weigh_once():
    alone = trouble(("s_exh_lo_one", "present"))
    both = trouble(("s_exh_lo_one", "present"), found=(finding("CY-10"), finding("CY-10")))
    assert chances(both) == chances(alone)
    assert [row.weighs for row in both.witnesses if row.code] == ["already told"]
    assert next(row for row in both.symptoms if row.id == "s_exh_lo_one").codes == ("CY-10",)


def test_a_finding_against_a_persons_word_is_shown_and_does_not_win():
    one = trouble(("s_exh_lo_one", "absent"), found=(finding("CY-10"),))
    assert chances(one) == chances(trouble(("s_exh_lo_one", "absent")))
    (clash,) = one.contradictions
    assert (clash.code, clash.person, clash.finding) == ("CY-10", "absent", "present")
    assert "The person's word stands" in clash.says


def test_own_findings_are_no_evidence():
    assert chances(trouble(found=(finding("TS-01"),))) == chances(trouble())


def test_two_tests_that_no_cause_explains():
    one = trouble(*MISFIRE, ("t_coil_swap", "positive"), ("t_lead_swap", "positive"))
    assert [{pair.one, pair.other} for pair in one.tests_disagree] == [{"t_coil_swap", "t_lead_swap"}]
    assert trouble(*MISFIRE, ("t_coil_swap", "positive"), ("t_sec_low", "positive")).tests_disagree == ()


# ---------------------------------------------------------------- this engine


def test_what_is_not_on_this_engine_is_left_out_with_why():
    catalogue = load_catalogue()
    facts = EngineFacts(tag="T", family="HM9", driven="compressor")
    look = SeenLook(slot="knock_sensor", answer="not_there", how="at_part", by="me", time="2032-01-01T00:00Z")
    case = Case(
        readings=(),
        worked=WORKED,
        identification=identify(catalogue, facts, [look]),
        engine={
            "catalyst": False,
            "turbochargers": {"count": 1},
            "rules": {"burn": "lean"},
            "combustion": catalogue.family("HM9").combustion,
        },
    )
    one = of_case(case)
    assert dict(one.kinds) == {"catalyst": False, "turbo": True, "lean": True, "stoich": False, "prechamber": False}
    assert one.fitted["knock_sensor"] == "none"
    gone = {row.id: row.why for row in one.dropped}
    assert gone["c_rich_sto"] == "this engine is not: stoich"
    assert gone["c_cat_aged"].startswith("this engine is not: catalyst")
    assert "c_cat_aged" not in chances(one)
    assert not one.generic
    idle = next(row for row in one.dropped if row.what == "test")
    told = Told(said=(Said(about=idle.id, says="positive"), Said(about="t_nothing", says="positive")))
    problems = of_case(replace(case, visit={"trouble": told})).problems
    assert len(problems) == 2
    assert idle.why in problems[0]
    assert "does not know it" in problems[1]


def test_what_was_worked_out_last_is_not_mistaken_for_another_engine():
    case = Case(readings=(), worked=WORKED, visit={"trouble": Told(said=(Said(about="s_knock", says="present"),))})
    whole = of_case(case)
    assert of_case(case) is whole
    lean = of_case(replace(case, engine={"rules": {"burn": "lean"}}))
    assert "c_rich_sto" in chances(whole)
    assert "c_rich_sto" not in chances(lean)
    assert of_case(replace(case, found=(finding("CY-10"),))).witnesses != whole.witnesses


def test_what_cannot_be_said_of_a_thing_is_told_and_weighs_nothing():
    """A record of a newer or an altered program may say it; a page must not break over it."""
    one = trouble(*MISFIRE, ("t_coil_swap", "cured"), ("r_coil", "positive"), ("s_knock", "fails"))
    assert len(one.problems) == 3
    assert "cannot be said of it (positive, negative" in one.problems[0]
    assert chances(one) == chances(trouble(*MISFIRE))


def test_what_may_not_be_done_is_not_proposed():
    one = trouble(*MISFIRE, allowed=AllowedSaid(may_stop=False, may_isolate=False, why="island power"))
    assert {row.state for row in one.tests} <= {"any", "running"}
    assert one.now_says == (
        "The engine is running; it may not be stopped now; it may not be isolated now (island power)."
    )
    assert all(step.does == "call" or generic().step(step.id).state in ("any", "running")
               for _, _, step in one.decision.first.walk())  # fmt: skip
    assert {row.why for row in one.barred} <= {
        "the engine may not be stopped now", "the engine may not be isolated now"
    }  # fmt: skip
    stands = trouble(*MISFIRE, allowed=AllowedSaid(can_run=False))
    assert stands.now.state == "stopped"
    assert {row.state for row in stands.tests} <= {"any", "stopped", "isolated"}


def test_the_plan_says_how_much_was_searched():
    one = trouble(*MISFIRE)
    assert one.decision.cut
    assert one.decision.weighed.startswith("Searched through to the end: ")


# ---------------------------------------------------------------- closed cases


def closed(*causes: str, confirmed: str = "cured") -> tuple[ClosedCase, ...]:
    return tuple(ClosedCase(cause=one, confirmed=confirmed, visit="A2/2032-01-01", engine="A2") for one in causes)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from(list(generic().causes)), max_size=8), st.data())
def test_closed_cases_move_priors_and_taking_one_back_takes_its_count_away(causes, data):
    with_all = trouble(*MISFIRE, cases=closed(*causes))
    assert chances(trouble(*MISFIRE, cases=closed(*causes), counted=False)) == chances(trouble(*MISFIRE))
    assert sum(one.cases for one in with_all.priors_moved) == len(causes)
    if causes:
        less = causes.copy()
        gone = less.pop(data.draw(st.integers(0, len(causes) - 1)))
        assert chances(trouble(*MISFIRE, cases=closed(*less)))[gone] < chances(with_all)[gone]
        again = trouble(*MISFIRE, cases=closed(*less, gone))
        assert chances(again) == pytest.approx(chances(with_all))


def test_closed_cases_are_shown_and_only_confirmed_ones_count():
    cases = (*closed("c_coil", "c_coil", "c_lead"), *closed("c_plug_worn", confirmed="believed"))
    one = trouble(*MISFIRE, cases=cases)
    assert [(row.cause, row.says) for row in one.priors_moved] == [
        ("c_coil", "2 of 3 closed cases here"),
        ("c_lead", "1 of 3 closed cases here"),
    ]
    assert one.closed_cases == cases
    assert chances(trouble(*MISFIRE, cases=closed("c_coil", confirmed="believed"))) == chances(trouble(*MISFIRE))


def test_a_closed_case_of_an_unknown_cause_moves_nothing():
    assert chances(trouble(*MISFIRE, cases=closed("c_of_a_company", OTHER))) == chances(trouble(*MISFIRE))


# ---------------------------------------------------------------- findings


def codes(**kept) -> dict[str, Finding]:
    case = Case(readings=(), worked=WORKED, visit=kept)
    return {one.code: one for one in find(case)}


def said(*pairs: tuple[str, str]) -> tuple[Said, ...]:
    return tuple(Said(about=about, says=says, entry=f"e{i}") for i, (about, says) in enumerate(pairs))


def test_nothing_told_finds_nothing():
    assert codes() == {}
    assert codes(trouble=Told()) == {}


def test_findings_of_an_open_case():
    found = codes(trouble=Told(said=said(*MISFIRE)), engine_state="running")
    assert set(found) == {"TS-01", "TS-03"}
    assert found["TS-03"].severity == "stop"
    assert "in 100. Next:" in found["TS-01"].says
    assert found["TS-01"].next_step.startswith("Next test: ")
    assert found["TS-01"].because == ("e0", "e1", "e2")
    assert 0 < found["TS-01"].probability < 1
    stands = codes(trouble=Told(said=said(*MISFIRE)), engine_state="stopped")
    assert "TS-03" not in stands
    clash = codes(trouble=Told(said=said(*MISFIRE, ("t_coil_swap", "positive"), ("t_lead_swap", "positive"))))
    assert clash["TS-02"].severity == "clash"
    assert "TS-06" in codes(trouble=Told(said=said(*MISFIRE, ("r_coil", "cured"))))
    over = Told(said=said(*MISFIRE), closed=ClosedSaid(cause="c_coil", confirmed="believed"))
    assert set(codes(trouble=over)) == {"TS-08"}
    assert "TS-09" in codes(trouble=Told(said=said(("t_nothing", "positive"))))


def test_a_room_that_listens_is_shown_what_the_others_found():
    case = Case(readings=(), worked=WORKED, visit={"trouble": Told(said=said(("s_exh_lo_one", "absent")))})
    rooms = {"troubleshoot": find, "cylinders": lambda _: [finding("CY-10")]}
    assert [one.code for one in find_all(case, rooms=rooms) if one.code == "TS-05"] == ["TS-05"]


@settings(max_examples=20, deadline=None)
@given(SAID)
def test_no_word_of_a_finding_or_a_plan_has_a_protection_defeated(said_):
    told = Told(said=tuple(Said(about=about, says=says) for about, says in said_))
    case = Case(readings=(), worked=WORKED, visit={"trouble": told})
    for one in find(case):
        assert not defeats_protection(one.next_step), one.next_step
    one = of_case(case)
    if one.decision:
        for _, _, step in one.decision.first.walk():
            assert not defeats_protection(step.title)


# ---------------------------------------------------------------- the table of all states


@settings(max_examples=10, deadline=None)
@given(st.lists(st.sampled_from(SYMPTOMS), min_size=1, max_size=3, unique=True), st.integers(3, 7))
def test_the_table_is_the_recursion(symptoms, steps):
    problem, _ = trouble_of(believe(Odds(generic()), dict.fromkeys(symptoms, "present")), Now(), steps=steps)
    table = PolicyTable(problem).best()
    assert table.cost == pytest.approx(PolicySearch(problem, bounded=False).best().cost)
    assert states(len(problem.repairs), len(problem.tests)) == len(PolicyTable(problem).cost)
