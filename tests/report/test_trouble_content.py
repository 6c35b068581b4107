"""What is wrong as page and sheets show it: ranks, the old value, what a test tells apart, words of both."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.quantities.findings import Case
from asfound.quantities.sheet import work_out
from asfound.report.content_trouble import (
    OTHER_TITLE,
    before_all,
    lead,
    plan_rows,
    said_of_step,
    steps_told,
    trouble_shown,
)
from asfound.report.content_trouble_codes import codes_shown
from asfound.report.content_trouble_next import OTHER
from asfound.report.content_trouble_rows import all_said, grouped, repairs_of, steps_of, to_tell, told_symptoms
from asfound.report.content_trouble_words import HAZARDS, answer, costs, minutes, outcome, tells_apart
from asfound.sources.cautions import tags
from asfound.troubleshoot import generic
from asfound.troubleshoot.fault_codes import decode
from asfound.troubleshoot.of_case import of_case
from asfound.troubleshoot.shown import Trouble
from asfound.troubleshoot.told import FaultsRead, Said, Told

from .boxes import check

WORKED = work_out([])


def case(*said: tuple[str, str], **told: object) -> Case:
    """Return a visit of which only a trouble is told."""
    lines = tuple(Said(about=a, says=b, time=f"2032-07-08T10:{i:02d}:00+00:00") for i, (a, b) in enumerate(said))
    return Case(readings=(), worked=WORKED, visit={"trouble": Told(said=lines, **told)})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def knocking() -> Trouble:
    return of_case(
        case(
            ("s_knock", "present"),
            ("s_exh_hi_all", "present"),
            ("s_misfire_random", "absent"),
            ("t_ask_operator", "positive"),
        )
    )


def test_the_leader_is_solid_the_second_hatched_the_unknown_dotted_and_always_there(knocking: Trouble) -> None:
    shown = trouble_shown(knocking)
    assert [one.rank for one in shown.causes][:2] == ["lead", "second"]
    assert (shown.causes[-1].id, shown.causes[-1].rank, shown.causes[-1].title) == (OTHER, "none", OTHER_TITLE)
    together = sum(one.p for one in shown.causes) + shown.rest[1]
    assert together == pytest.approx(1.0)
    assert shown.rest[0] + len(shown.causes) == len(knocking.causes)


def test_the_old_value_is_that_of_two_steps_ago(knocking: Trouble) -> None:
    then = of_case(case(("s_knock", "present"), ("s_exh_hi_all", "present")))
    belief = {one.id: one.p for one in then.causes}
    for one in trouble_shown(knocking).causes:
        if one.before is not None:
            assert one.before == pytest.approx(belief[one.id], abs=1e-9)


def test_what_was_said_twice_in_the_same_words_is_one_step() -> None:
    once = of_case(case(("s_knock", "present"), ("s_exh_hi_all", "present")))
    twice = of_case(case(("s_knock", "present"), ("s_knock", "present"), ("s_exh_hi_all", "present")))
    assert [one.about for one in steps_told(twice)] == [one.about for one in steps_told(once)]


def test_the_fork_is_what_the_room_says_of_each_answer(knocking: Trouble) -> None:
    shown = trouble_shown(knocking)
    assert shown.next is not None
    assert shown.fork is not None
    test = next(one for one in knocking.tests if one.id == shown.next.id)
    for branch, says in zip(shown.fork["branches"], ("positive", "negative"), strict=True):
        after = of_case(
            case(
                ("s_knock", "present"),
                ("s_exh_hi_all", "present"),
                ("s_misfire_random", "absent"),
                ("t_ask_operator", "positive"),
                (test.id, says),
            )
        )
        belief = {one.title.casefold(): one.p for one in after.causes}
        first = branch.outcomes[0]
        told = max(p for title, p in belief.items() if title.startswith(first.title.casefold()[:20]))
        assert first.probability == pytest.approx(told, abs=0.021), "the unknown keeps its floor"


def test_one_next_step_for_every_phase(knocking: Trouble) -> None:
    def does(trouble: Trouble) -> str | None:
        step = trouble_shown(trouble).next
        return step.does if step else None

    assert does(of_case(case())) == "begin"
    assert does(knocking) in ("test", "repair", "call", "runs")
    assert does(of_case(case(("s_knock", "present"), ("r_gas_heavy", "cured")))) == "close"
    assert does(replace(knocking, phase="closed")) is None


def test_a_step_on_the_running_engine_waits_until_it_is_decided_whether_it_runs_on(knocking: Trouble) -> None:
    """Every test that may be chosen: none that needs the running engine stands before that decision."""
    assert knocking.urgent
    assert knocking.allowed is None
    for test in knocking.tests:
        step = trouble_shown(knocking, chosen=test.id).next
        assert step is not None
        assert (step.does == "runs") == (test.state == "running")


def test_a_chosen_step_brings_its_own_cautions(knocking: Trouble) -> None:
    plan = trouble_shown(knocking).next
    assert plan is not None
    for test in knocking.tests:
        if test.state == "running" or test.id == plan.id:
            continue
        step = trouble_shown(knocking, chosen=test.id).next
        assert step is not None
        assert step.cautions == test.cautions
        assert step.instead == plan.title


def test_answers_never_leave_a_no_that_may_mean_either() -> None:
    for test in generic().tests.values():
        assert test.positive.casefold() in answer(test, "positive").casefold()
        assert (test.negative or test.positive).casefold() in outcome(test, "negative").casefold()


def test_what_a_test_tells_apart_names_only_causes_that_it_tells_apart(knocking: Trouble) -> None:
    leading = [(one.id, one.title) for one in knocking.causes if one.id != OTHER][:4]
    for test in knocking.knowledge.tests.values():
        said = tells_apart(test, leading)
        assert said
        chances = [test.given.get(cause, test.otherwise) for cause, _ in leading]
        if max(chances) - min(chances) < 0.2:
            assert "first causes" in said


def test_costs_name_the_stop_and_the_isolation_that_are_not_there_yet() -> None:
    assert costs(90, 2880, "isolated", "running") == ("90 min", "then 2 days of waiting", "a stop and an isolation")
    assert costs(5, 0, "stopped", "running")[-1] == "a stop"
    assert costs(5, 0, "stopped", "isolated")[-1] == "no stop"
    assert costs(5, 0, "isolated", "isolated")[-1] == "no stop"
    assert costs(5, 0, "running", "stopped")[-1] == "the engine runs for it"
    assert costs(5, 0, "any", "running")[-1] == "no stop"


@given(st.floats(0, 100_000))
def test_any_time_is_said_with_its_unit(value: float) -> None:
    said = minutes(value)
    number, unit = said.split()
    assert unit in ("min", "h", "days")
    assert float(number) * {"min": 1, "h": 60, "days": 1440}[unit] == pytest.approx(value, rel=0.26, abs=0.51)


def test_every_hazard_of_the_register_has_short_words() -> None:
    assert set(HAZARDS) >= tags()


def test_symptoms_are_listed_once_and_found_by_words(knocking: Trouble) -> None:
    told = {one.id for one in told_symptoms(knocking)}
    rest = [one.id for _, rows in grouped(knocking) for one in rows]
    assert told == {"s_knock", "s_exh_hi_all", "s_misfire_random"}
    assert not told & set(rest)
    assert len(told) + len(rest) == len(knocking.symptoms)
    assert [one.id for _, rows in grouped(knocking, find="KNOCK level") for one in rows] == ["s_knock"]


def test_what_is_told_to_whoever_is_called_holds_all_that_was_said(knocking: Trouble) -> None:
    told = dict(to_tell(knocking, all_said(knocking, {})))
    assert len(told["What shows"]) == 3
    assert len(told["Tests made"]) == 1
    assert any(OTHER_TITLE in one or "leads" in one or "in 100" in one for one in told["Still possible"])
    assert to_tell(of_case(case()), []) == []


def test_words_of_the_whole(knocking: Trouble) -> None:
    assert lead(knocking).count("in 100") == 3
    assert not before_all(knocking).startswith("Detonation")
    assert said_of_step(knocking, "r_gas_heavy", "fails") == "Still there"
    assert len(steps_of(knocking)) == 4
    assert plan_rows(knocking)[0][0] == 0
    assert {one.row.id for one in repairs_of(knocking)} <= {one.id for one in knocking.repairs}


def test_pictures_of_a_real_trouble_touch_nothing(knocking: Trouble) -> None:
    from asfound.report import svg

    shown = trouble_shown(knocking)
    assert shown.fork is not None
    assert shown.lines is not None
    for width in (326.0, 350.0, 540.0, 620.0, 660.0, 900.0):
        check(svg.belief_fork(width=width, **shown.fork))
        check(svg.belief_steps(width=width, **shown.lines))


def test_fault_codes_in_words_say_what_is_not_known() -> None:
    """Layout by SAE J1939-73 as public pages give it: SPN 356, FMI 1; SPN 516096 is a maker's own (from memory)."""
    lines = "18FECA00#44FF64010105FFFF\n18FECA00#00FF00E0E37FFFFF"
    read = FaultsRead(messages=decode(lines), time="2032-07-08T10:00:00+00:00")
    (shown,) = codes_shown(of_case(case(faults=(read,))))
    (known,), (own,) = (one.codes for one in shown.messages)
    assert (known.spn, known.fmi, known.times) == (356, 1, "5 times")
    assert "no table here names it" in known.aside
    assert (own.spn, own.fmi, own.times) == (516096, 3, "not counted")
    assert "maker's own" in own.aside
    assert [one.lamps for one in shown.messages] == ["amber lamp on and malfunction lamp on", "no lamp on"]
