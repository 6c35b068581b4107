"""Limits of general rules: which apply, what the permit puts aside, what would decide an undecided number."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError
from asfound.exhaust.checks_rules import checks
from asfound.exhaust.decide import BEST, to_decide
from asfound.exhaust.duties import burn_class, duties, duties_of, emission_test_due, remote
from asfound.exhaust.facts import NOT_EVIDENCE, factor, factors
from asfound.exhaust.findings_limits import find as find_limits
from asfound.exhaust.findings_permit import find as find_permit
from asfound.exhaust.judged_runs import rolling_means
from asfound.exhaust.limits import NOT_YOURS, adopt, applicable, goes_with, stricter_than_permit
from asfound.exhaust.limits_margin import beside
from asfound.exhaust.limits_of_case import facts_of
from asfound.exhaust.limits_table import COLUMNS, MEMORY, STATUS_WORDS, Rule, read_rules, rules
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.exhaust.rule_facts import FACTS, FUELS, EngineFacts, condition
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit

from .visits import case, limit, read

DAY = date(2031, 7, 9)
LEAN_US = {
    "jurisdictions": "US",
    "power": "1340 hp",
    "made": "2011-06-15",
    "burn": "lean",
    "fuel": "natural_gas",
    "ignition": "spark",
    "emergency": "no",
    "modified": "no",
    "source": "area",
    "existing": "no",
    "strokes": "4",
}
AS_FOUND = (
    read("exhaust_oxygen_dry", "stack", 8.9, 0.15, "%"),
    read("exhaust_nox_dry", "stack", 148, 4, "ppm"),
    read("exhaust_co_dry", "stack", 500, 15, "ppm"),
)


def rule(name: str) -> Rule:
    return next(one for one in rules() if one.id == name)


def used(facts: dict[str, Any], *permit: Limit, day: date = DAY) -> set[str]:
    return {one.rule.id for one in applicable(EngineFacts.of(facts), rules(), permit, day=day).used}


# --- the tables


@pytest.mark.parametrize("check", list(checks()), ids=lambda one: one.check)
def test_published_values_and_kept_cases_are_met(check: Any) -> None:
    assert check.holds, f"{check.value} for {check.published}"


def test_every_row_says_how_its_text_was_seen() -> None:
    assert len(rules()) > 200
    for one in rules():
        assert one.status in STATUS_WORDS
        assert one.says
        assert one.where


def test_a_row_from_memory_says_so_wherever_it_is_shown() -> None:
    facts = EngineFacts.of({"jurisdictions": "DE", "thermal_input": "2.4 MW", "existing": "no", "fuel": "natural_gas"})
    shown = applicable(facts, rules(), day=DAY).general
    remembered = [one for one in shown if one.rule.status == MEMORY]
    assert remembered
    assert all("unverified" in one.says for one in remembered)
    assert "unverified" in adopt(remembered[0].rule)["text"]


def test_the_two_units_of_a_limit_are_a_choice() -> None:
    by_energy, by_volume = rule("us.jjjj.ng_500.2010.nox.g"), rule("us.jjjj.ng_500.2010.nox.ppm")
    assert by_energy.choice == by_volume.choice
    assert (by_energy.reference_oxygen, by_volume.reference_oxygen) == (None, 0.15)


GOOD = dict.fromkeys(COLUMNS, "") | {
    "id": "works.1",
    "jurisdiction": "US",
    "text": "Site permit 12-07",
    "when": "power>=500 hp; burn=lean",
    "kind": "limit",
    "pollutant": "NOx",
    "quantity": "nox_mass_per_energy",
    "side": "upper",
    "value": "0.7",
    "unit": "g/hp-h",
    "source": "letter of the environmental office, 2030-03-01",
    "status": "read",
}


def table(*rows: dict[str, str], columns: tuple[str, ...] = COLUMNS) -> str:
    lines = [",".join(columns), *(",".join(f'"{row[one]}"' for one in columns) for row in rows)]
    return "# limits of our sites\n" + "\n".join(lines) + "\n"


def test_a_company_brings_its_own_table() -> None:
    (own,) = read_rules(table(GOOD), file="ours.csv")
    assert own.si == pytest.approx(0.7e-3 / (745.699872 * 3600), rel=1e-6)  # 1 hp = 745.699872 W (NIST SP 811)
    facts = EngineFacts.of(LEAN_US)
    assert [one.rule.id for one in applicable(facts, (own,), day=DAY).applying] == ["works.1"]


@pytest.mark.parametrize(
    ("column", "given", "words"),
    [
        ("value", "about 0.7", "no number"),
        ("unit", "furlong", "cannot be read"),
        ("unit", "ppm", "does not fit"),
        ("quantity", "nox", "not in the register"),
        ("when", "power>=500 hp; colour=red", "no condition"),
        ("when", "burn>=lean", "by size"),
        ("when", "made>=1st of July", "no date"),
        ("status", "sure", "none of its words"),
        ("side", "left", "none of its words"),
        ("since", "07/01/2010", "no date"),
        ("reference_oxygen", "21", "no reference oxygen"),
        ("oxygen_in_air", "2.09", "for air"),
        ("source", "", "is empty"),
        ("basis", "moist", "neither dry nor wet"),
    ],
)
def test_a_slip_in_a_table_is_named_with_file_line_and_column(column: str, given: str, words: str) -> None:
    with pytest.raises(KnowledgeError, match=words) as slip:
        read_rules(table(GOOD, {**GOOD, "id": "works.2", column: given}), file="ours.csv")
    assert (slip.value.file, slip.value.line) == ("ours.csv", 4)
    assert slip.value.column == COLUMNS.index(column) + 1


def test_an_id_twice_a_missing_column_and_an_empty_file_are_refused() -> None:
    with pytest.raises(KnowledgeError, match="already the id"):
        read_rules(table(GOOD, GOOD), file="ours.csv")
    with pytest.raises(KnowledgeError, match="'status' is missing"):
        read_rules(table(GOOD, columns=tuple(one for one in COLUMNS if one != "status")), file="ours.csv")
    with pytest.raises(KnowledgeError, match="empty"):
        read_rules("# nothing\n", file="ours.csv")
    with pytest.raises(KnowledgeError, match="fields under"):
        read_rules(table(GOOD) + "works.3,US\n", file="ours.csv")


# --- which rows apply


def test_the_date_of_manufacture_decides_the_row() -> None:
    """40 CFR 60 Subpart JJJJ, Table 1: lean burn from 500 to below 1,350 hp."""
    assert "us.jjjj.lean_500_1350.2010.nox.g" in used({**LEAN_US, "made": "2010-07-01"})
    assert "us.jjjj.lean_500_1350.2008.nox.g" in used({**LEAN_US, "made": "2010-06-30"})
    assert not {one for one in used({**LEAN_US, "made": "2007-12-31"}) if "jjjj" in one}


def test_the_size_classes_meet_without_gap_or_overlap() -> None:
    for power, stem in (("499.9 hp", "ng_100_500"), ("500 hp", "lean_500_1350"), ("1350 hp", "ng_500")):
        found = {one for one in used({**LEAN_US, "power": power}) if one.startswith("us.jjjj") and "nox.g" in one}
        assert found == {f"us.jjjj.{stem}.{'2010' if stem != 'ng_100_500' else '2011'}.nox.g"}


def test_an_unknown_fact_opens_a_row_and_is_asked_for() -> None:
    unknown = {key: value for key, value in LEAN_US.items() if key != "burn"}
    found = applicable(EngineFacts.of(unknown), rules(), day=DAY)
    row = next(one for one in found.may_apply if one.rule.id == "us.jjjj.lean_500_1350.2010.nox.g")
    assert row.asks == ("burn",)
    assert FACTS["burn"].ask in row.says
    assert "burn" in found.questions


def test_the_day_decides_what_is_in_force() -> None:
    """44. BImSchV, sections 16(7) no. 4 and 39(5): NOx of new natural-gas engines 250 until 2024, then 100 mg/m3."""
    engine = {"jurisdictions": "DE", "thermal_input": "2.4 MW", "existing": "no", "fuel": "natural_gas"}
    engine |= {"emergency": "no", "burn": "lean", "ignition": "spark"}
    assert "de.44.ng.nox.new_2024" in used(engine, day=date(2024, 12, 31))
    assert "de.44.ng.nox.new" in used(engine, day=date(2025, 1, 1))
    assert not used(engine, day=date(2025, 1, 1)) & {"de.44.ng.nox.new_2024", "de.44.ng.nox.existing"}


def test_a_german_engine_is_in_the_union_and_not_in_the_states() -> None:
    engine = {"jurisdictions": "DE", "thermal_input": "2.4 MW", "existing": "no", "fuel": "natural_gas"}
    found = applicable(EngineFacts.of(engine), rules(), day=DAY).general
    assert {one.rule.jurisdiction for one in found} == {"DE", "EU"}


engines = st.fixed_dictionaries(
    {},
    optional={
        "jurisdictions": st.sampled_from(["US", "DE", "NL", "AT-4", "UNECE"]),
        "power": st.sampled_from(["24 hp", "100 hp", "499 hp", "500 hp", "1340 hp", "1350 hp", "3 MW"]),
        "thermal_input": st.sampled_from(["0.2 MW", "1 MW", "2.5 MW", "10 MW", "50 MW"]),
        "fuel": st.sampled_from(FUELS),
        "burn": st.sampled_from(["rich", "lean"]),
        "strokes": st.sampled_from(["2", "4"]),
        "ignition": st.sampled_from(["spark", "compression", "dual_fuel"]),
        "made": st.sampled_from(["2005-01-01", "2008-07-01", "2012-01-01"]),
        "existing": st.sampled_from(["yes", "no"]),
        "emergency": st.sampled_from(["yes", "no"]),
        "source": st.sampled_from(["major", "area"]),
        "catalyst": st.sampled_from(["none", "oxidation", "three_way", "scr"]),
        "hours_a_year": st.sampled_from(["100 h", "8000 h"]),
    },
)


@given(engines, st.sampled_from(["nox_mass_per_energy", "nox_mass_concentration", "nox_at_reference_oxygen"]))
@settings(max_examples=40)
def test_the_permit_always_overrides(engine: dict[str, str], name: str) -> None:
    permit = Limit(quantity=name, value=1e-9, as_typed="as the permit says")
    found = applicable(EngineFacts.of(engine), rules(), (permit,), day=DAY)
    assert not [one for one in found.used if one.rule.pollutant == "NOx"]
    assert all(one.overridden_by is permit for one in found.general if one.rule.pollutant == "NOx")
    assert found.permit == (permit,)


@given(engines, st.data())
@settings(max_examples=40)
def test_to_know_less_only_opens_rows(engine: dict[str, str], data: st.DataObject) -> None:
    kept = data.draw(st.lists(st.sampled_from(sorted(engine)), unique=True)) if engine else []
    all_known = applicable(EngineFacts.of(engine), rules(), day=DAY).all
    less_known = applicable(EngineFacts.of({key: engine[key] for key in kept}), rules(), day=DAY).all
    for more, less in zip(all_known, less_known, strict=True):
        assert less.verdict in (more.verdict, "may apply")


@given(engines, st.floats(20.0, 5000.0))
@settings(max_examples=20)
def test_units_change_no_verdict(engine: dict[str, str], power: float) -> None:
    in_hp = applicable(EngineFacts.of({**engine, "power": f"{power} hp"}), rules(), day=DAY).all
    in_kw = applicable(EngineFacts.of({**engine, "power": f"{power * 0.745699871582270} kW"}), rules(), day=DAY).all
    assert [one.verdict for one in in_hp] == [one.verdict for one in in_kw]


def test_a_looser_permit_is_used_and_the_stricter_rule_named() -> None:
    permit = limit("nox_mass_per_energy", 2.0, "g/hp-h")
    found = applicable(EngineFacts.of(LEAN_US), rules(), (permit,), day=DAY)
    row = next(one for one in found.applying if one.rule.id == "us.jjjj.lean_500_1350.2010.nox.g")
    assert row.overridden_by is permit
    assert stricter_than_permit(row) is True
    assert "Used: the permit (2 g/hp-h)" in found.says
    assert "1 g/hp-h" in found.says
    equal = replace(permit, value=rule("us.jjjj.lean_500_1350.2010.nox.g").si)
    assert stricter_than_permit(replace(row, overridden_by=equal)) is False


def test_limits_at_other_oxygen_are_compared_at_one() -> None:
    """82 ppm at 15 % are 82 * 15.9 / 5.9 = 221 ppm at 5 % (40 CFR 60.4213(d)(2), Equation 3)."""
    permit = limit("nox_at_reference_oxygen", 225.0, "ppm")
    facts = EngineFacts.of(LEAN_US)
    row = next(
        one for one in applicable(facts, rules(), (permit,), day=DAY).applying if one.rule.id.endswith("2010.nox.ppm")
    )
    assert stricter_than_permit(row) is None
    assert stricter_than_permit(row, 0.05) is True
    assert stricter_than_permit(row, 0.15) is True
    assert stricter_than_permit(replace(row, overridden_by=limit("nox_at_reference_oxygen", 220, "ppm")), 0.05) is False


def test_an_adopted_row_is_an_entry_of_the_record() -> None:
    from asfound.records.kinds import Limit as Entry

    content = adopt(rule("us.jjjj.ng_500.2010.nox.ppm"))
    assert Entry(**content).name == NOT_YOURS
    assert goes_with(rule("us.jjjj.ng_500.2010.nox.ppm")) == {
        "permit_reference_oxygen": 0.15,
        "permit_oxygen_in_air": 0.209,
    }
    with pytest.raises(InputError, match="nothing here computes"):
        adopt(rule("de.44.scr.nh3"))


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("power", "big", "no number"),
        ("fuel", "petrol", "none of the words"),
        ("made", "WY 31", "no date"),
        ("emergency", "perhaps", "neither yes nor no"),
        ("strokes", "3", "not possible"),
        ("colour", "red", "no fact"),
    ],
)
def test_a_fact_that_cannot_be_is_refused(name: str, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        EngineFacts.of({name: text})


def test_a_slip_in_the_record_leaves_the_other_facts() -> None:
    facts, slips = facts_of({"rated": {"power": 999e3}, "rules": {"burn": "lean", "made": "long ago"}})
    assert (facts.burn, facts.made, facts.power) == ("lean", None, 999e3)
    assert len(slips) == 1
    assert condition("").holds(facts) is True


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


def test_a_modified_engine_made_before_the_table_has_rows_of_its_own() -> None:
    """40 CFR 60.4233(f)(4)."""
    old = {**LEAN_US, "modified": "yes", "made": "2004-05-01"}
    assert {one for one in used(old) if "nox" in one} == {"us.jjjj.modified.nox.g", "us.jjjj.modified.nox.ppm"}
    assert not {one for one in used({**old, "made": "2012-01-01"}) if "modified" in one}
    assert not {one for one in used({**old, "fuel": "landfill_gas"}) if "modified" in one}


def test_a_dutch_engine_on_digester_gas_has_the_small_engines_limit() -> None:
    """Activiteitenbesluit art. 3.10f, text of 2017-05-10: below 2.5 MW, and any size on digester gas."""
    engine = {"jurisdictions": "NL", "thermal_input": "3 MW", "fuel": "biogas"}
    assert used(engine) & {"nl.act.small.nox", "nl.act.large.nox"} == {"nl.act.small.nox"}
    assert "nl.act.large.nox" in used({**engine, "fuel": "natural_gas"})


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
