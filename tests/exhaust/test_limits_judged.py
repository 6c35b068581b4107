"""Numbers beside limits: in the basis of the row, what would decide, findings, duties."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.exhaust.decide import BEST, to_decide
from asfound.exhaust.due import emission_test_due
from asfound.exhaust.duties import burn_class, duties, duties_of, remote
from asfound.exhaust.facts import NOT_EVIDENCE, factor, factors
from asfound.exhaust.findings_limits import find as find_limits
from asfound.exhaust.findings_permit import find as find_permit
from asfound.exhaust.judged_runs import rolling_means
from asfound.exhaust.limits import NOT_YOURS
from asfound.exhaust.limits_margin import beside
from asfound.exhaust.limits_table import MEMORY
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.exhaust.rule_facts import EngineFacts
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit

from .visits import AS_FOUND, LEAN_US, case, limit, read, rule

# --- the number beside the row


def test_a_number_is_counted_in_the_basis_of_the_row() -> None:
    """The sheet counts at 15 %, the German rule at 5 % with 21 % air, by mass at 0 degrees Celsius."""
    worked = work_out(AS_FOUND, number=2000)
    margin = beside(worked, rule("de.44.ng.nox.new"), "stack", "as_found")
    assert margin is not None
    at_5 = float(at_reference_oxygen(148e-6, 0.089, 0.05, 0.21))
    assert margin.value == pytest.approx(at_5 * 46.0055e-3 * 101_325 / (8.314462618 * 273.15), rel=1e-6)
    assert margin.left == pytest.approx(100e-6 - margin.value)
    assert margin.probability == 1.0
    assert margin.acceptance < rule("de.44.ng.nox.new").si


def test_a_conversion_must_be_at_least_its_limit() -> None:
    worked = work_out(
        (
            read("exhaust_oxygen_dry", "before_catalyst", 9.1, 0.05, "%"),
            read("exhaust_oxygen_dry", "after_catalyst", 9.1, 0.05, "%"),
            read("exhaust_co_dry", "before_catalyst", 600, 6, "ppm"),
            read("exhaust_co_dry", "after_catalyst", 60, 2, "ppm"),
        ),
        number=2000,
    )
    enough = beside(worked, rule("us.zzzz.2a.2s.co_reduction"), "engine", "as_found")
    short = beside(worked, rule("us.zzzz.2a.4s.co_reduction"), "engine", "as_found")
    assert enough is not None
    assert short is not None
    assert (enough.probability, short.probability) == (0.0, 1.0)
    assert short.acceptance > short.rule.si


def test_without_the_readings_there_is_no_margin() -> None:
    assert beside(work_out(AS_FOUND, number=100), rule("de.44.lean.hcho.new"), "stack", "as_found") is None


# --- what would decide


@given(st.floats(0.25, 0.95), st.floats(1.0, 6.0), st.floats(0.02, 0.3))
@settings(max_examples=15)
def test_a_reading_made_as_good_as_asked_decides(nearness: float, nox: float, oxygen: float) -> None:
    """With the named reading at the named uncertainty the chance to be over is one in twenty (JCGM 106:2012, 8)."""
    readings = (
        read("exhaust_oxygen_dry", "stack", 8.9, oxygen, "%"),
        read("exhaust_nox_dry", "stack", 148, nox, "ppm"),
    )
    worked = work_out(readings, number=20_000)
    number = worked.result("as_found/stack/nox_at_reference_oxygen")
    assert number is not None
    wall = Limit(
        quantity=number.quantity, value=number.value + nearness * 1.645 * number.standard_uncertainty, as_typed="wall"
    )
    answer = to_decide(worked, number, wall)
    for need in answer.single:
        better = [
            replace(one, standard_uncertainty=need.needed[0]) if one.key == need.readings[0].key else one
            for one in readings
        ]
        again = work_out(better, number=20_000)
        decided = again.result(number.key)
        assert decided is not None
        assert again.probability_beyond(decided, wall) == pytest.approx(0.05, abs=0.012)
        assert BEST <= need.factor <= 1.0


def test_what_is_decided_needs_nothing_better() -> None:
    worked = work_out(AS_FOUND, number=2000)
    number = worked.result("as_found/stack/nox_at_reference_oxygen")
    assert number is not None
    assert to_decide(worked, number, limit("nox_at_reference_oxygen", 90, "ppm")).decided
    assert to_decide(worked, number, limit("nox_at_reference_oxygen", 60, "ppm")).decided


def test_at_the_very_limit_no_reading_settles_it() -> None:
    worked = work_out(AS_FOUND, number=2000)
    number = worked.result("as_found/stack/nox_at_reference_oxygen")
    assert number is not None
    wall = Limit(quantity=number.quantity, value=number.value, as_typed="wall")
    answer = to_decide(worked, number, wall)
    assert not answer.single
    assert answer.together is None
    assert "hardly settle it" in answer.says


def test_an_undecided_number_names_the_reading_to_improve() -> None:
    (finding,) = find_permit(case(*AS_FOUND[:2], limits=(limit("nox_at_reference_oxygen", 75.2, "ppm"),)))
    assert finding.code == "EX-02"
    assert "NOx, dry at stack to a standard uncertainty of" in finding.next_step


# --- findings


def test_without_a_permit_the_general_rule_is_shown_as_what_it_is() -> None:
    found = {one.code: one for one in find_limits(case(*AS_FOUND, rules=LEAN_US))}
    assert NOT_YOURS in found["EX-39"].says
    assert "office" not in found["EX-39"].next_step
    high = (AS_FOUND[0], read("exhaust_nox_dry", "stack", 260, 4, "ppm"))
    over = {one.code: one for one in find_limits(case(*high, rules=LEAN_US))}
    assert over["EX-30"].severity == "visit"
    assert "environmental office" in over["EX-30"].next_step


def test_a_permit_silences_the_general_rule_for_its_pollutant() -> None:
    permit = (limit("nox_at_reference_oxygen", 150, "ppm"), limit("co_at_reference_oxygen", 500, "ppm"))
    codes = [one.code for one in find_limits(case(*AS_FOUND, limits=permit, rules=LEAN_US))]
    assert "EX-30" not in codes
    assert "EX-39" not in codes


def test_facts_that_are_lacking_are_asked_for_once() -> None:
    found = list(find_limits(case(*AS_FOUND, rated={"power": 999e3})))
    assert [one.code for one in found] == ["EX-31"]
    assert "where the engine stands" in found[0].says
    assert not list(find_limits(case(*AS_FOUND, limits=(limit("nox_at_reference_oxygen", 75, "ppm"),))))


def test_one_unit_may_pass_where_the_other_fails() -> None:
    """Made for an engine of low heat rate: in g/hp-h it passes, in ppm it does not."""
    readings = (
        read("exhaust_oxygen_dry", "stack", 9.0, 0.02, "%"),
        read("exhaust_nox_dry", "stack", 174, 0.5, "ppm"),
        read("nox_mass_per_energy", "stack", 0.9, 0.01, "g/hp-h"),
    )
    found = {one.code: one for one in find_limits(case(*readings, rules=LEAN_US))}
    assert "EX-39" in found
    assert "passes by 1 g/hp-h and fails by 82 ppm" in found["EX-33"].says


def test_a_number_far_above_uncontrolled_engines_is_doubted() -> None:
    readings = (
        read("exhaust_oxygen_dry", "stack", 8.9, 0.1, "%"),
        read("exhaust_co_dry", "stack", 4000, 50, "ppm"),
        read("engine_load", "engine", 95, 1, "%"),
    )
    found = {one.code: one for one in find_limits(case(*readings))}
    assert NOT_EVIDENCE in found["EX-35"].says
    assert "from memory" in found["EX-35"].says


def test_emission_factors_hang_on_the_load() -> None:
    """AP-42 section 3.2, Table 3.2-2 (from memory): NOx of a four-stroke lean burn, 4.08 and 0.847 lb/MMBtu."""
    full, part = factor("NOx", "4-stroke lean", 0.95), factor("NOx", "4-stroke lean", 0.8)
    assert full is not None
    assert part is not None
    assert full.value / part.value == pytest.approx(4.08 / 0.847)
    assert factor("NOx", "4-stroke lean", None) is None
    assert {one.status for one in factors()} == {MEMORY}


# --- duties


def test_duties_say_how_their_text_was_seen() -> None:
    assert len(duties()) > 90
    facts = EngineFacts.of({**LEAN_US, "certified": "no"})
    found = {one.duty.id: one for one in duties_of(facts)}
    assert found["jjjj.noncert.gt500"].verdict == "applies"
    assert "jjjj.noncert.25_500" not in found
    assert "the text was read" in found["jjjj.noncert.gt500"].says
    assert not [one for one in found if one.startswith("de44")]


def test_the_size_of_500_hp_is_the_smaller_class() -> None:
    """40 CFR 60.4243(b)(2): over 25 up to 500 hp, and over 500 hp."""
    from asfound.quantities.units import to_si

    given: dict[str, Any] = {"certified": False, "by_instructions": False, "tested": True, "months_since_start": 60}
    at = emission_test_due(power=float(to_si(500.0, "hp")), hours_since_test=9000, months_since_test=40, **given)
    above = emission_test_due(power=float(to_si(501.0, "hp")), hours_since_test=9000, months_since_test=40, **given)
    assert (at.test, above.test) == ("not due", "repeat")
    with pytest.raises(InputError, match="shorter of both"):
        emission_test_due(power=float(to_si(501.0, "hp")), **given)


def test_what_was_not_said_is_not_guessed() -> None:
    assert burn_class(strokes=4) is None
    assert remote(on_pipeline=True) is None
    assert remote(offshore=True) is True


def test_a_gap_in_a_log_spoils_only_its_own_windows() -> None:
    import numpy as np

    values = np.full(40, 700.0)
    values[20] = np.nan
    means = rolling_means(values)
    assert means.shape == (25,)
    assert np.isnan(means[5:21]).all()
    assert (means[:5] == 700.0).all()
    assert rolling_means(values[:10]).size == 0


def test_a_number_beside_the_permit_tells_its_margin_and_where_it_is_surely_inside() -> None:
    """The acceptance limit by hand: the limit less 1.645 standard uncertainties (JCGM 106:2012, 8.3.2)."""
    visit = case(*AS_FOUND[:2], limits=(limit("nox_at_reference_oxygen", 90.0, "ppm"),))
    (finding,) = find_permit(visit)
    number = visit.worked.result("as_found/stack/nox_at_reference_oxygen")
    assert number is not None
    assert finding.code == "EX-03"
    assert finding.extra["margin"] == "17.2 ppm"
    by_hand = 90.0 - 1.645e6 * number.standard_uncertainty
    assert float(finding.extra["acceptance_limit"].split()[0]) == pytest.approx(by_hand, abs=0.4)
    assert "surely inside up to" in finding.compared_with


def test_what_stands_before_the_catalyst_is_not_what_the_permit_limits() -> None:
    before = (
        read("exhaust_oxygen_dry", "before_catalyst", 8.9, 0.1, "%"),
        read("exhaust_co_dry", "before_catalyst", 900, 15, "ppm"),
    )
    after = (
        read("exhaust_oxygen_dry", "after_catalyst", 8.9, 0.1, "%"),
        read("exhaust_co_dry", "after_catalyst", 60, 3, "ppm"),
    )
    permit = limit("co_at_reference_oxygen", 150, "ppm")
    assert [one.because[0] for one in find_permit(case(*before, *after, limits=(permit,)))] == [
        "as_found/after_catalyst/co_at_reference_oxygen"
    ]
    there = replace(permit, place="before_catalyst")
    assert [one.code for one in find_permit(case(*before, *after, limits=(there,)))] == ["EX-01"]


def test_no_fact_is_asked_for_that_settles_nothing_of_what_was_read() -> None:
    permit = (limit("nox_at_reference_oxygen", 75, "ppm"), limit("co_at_reference_oxygen", 500, "ppm"))
    begun = {key: value for key, value in LEAN_US.items() if key != "made"}
    assert "EX-31" not in [one.code for one in find_limits(case(*AS_FOUND, limits=permit, rules=begun))]
    assert "EX-31" in [one.code for one in find_limits(case(*AS_FOUND, limits=permit[:1], rules=begun))]


@pytest.mark.parametrize("baseline", [3.3, 4.1, 5.7])
def test_what_is_just_at_a_limit_holds_in_any_unit(baseline: float) -> None:
    """Tables 1b and 2b allow 2 in of water: 4.1 and 6.1 in are within, whatever pascals make of it."""
    from asfound.exhaust.due import judge_oil
    from asfound.exhaust.judged_runs import pressure_drop_within
    from asfound.quantities.units import to_si

    base, now = float(to_si(baseline, "inH2O")), float(to_si(baseline + 2.0, "inH2O"))
    assert pressure_drop_within(base, 0.9, now, 1.1) is True
    assert pressure_drop_within(base, 1.0, now * 1.001, 1.0) is False
    sample = judge_oil(acid_new=1.1e-3, acid=4.1e-3, viscosity_new=10.0, viscosity=12.0, water=0.005)
    assert sample.passed == ()
    assert sample.change_within_business_days is None


def test_a_looser_permit_at_another_oxygen_is_named_by_a_finding() -> None:
    """The permit counts at 5 %, where 82 ppm at 15 % are 221 ppm; its reference lies among the site's papers."""
    permit = (limit("nox_at_reference_oxygen", 450, "ppm"),)
    reference = read("permit_reference_oxygen", "site", 5.0, 0.0, "%")
    found = find_limits(case(*AS_FOUND, reference, limits=permit, rules=LEAN_US))
    stricter = [one for one in found if one.code == "EX-32"]
    assert len(stricter) == 1
    assert "82 ppm" in stricter[0].says
