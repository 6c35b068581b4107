"""Limits of general rules: the tables, which rows apply, what the permit puts aside."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError
from asfound.exhaust.checks_rules import checks
from asfound.exhaust.limits import NOT_YOURS, adopt, applicable, goes_with, stricter_than_permit
from asfound.exhaust.limits_of_case import facts_of
from asfound.exhaust.limits_table import COLUMNS, MEMORY, STATUS_WORDS, read_rules, rules
from asfound.exhaust.rule_facts import FACTS, FUELS, EngineFacts, condition
from asfound.quantities.words import Limit

from .visits import DAY, LEAN_US, limit, rule, used

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
    from asfound.records.kinds_home import Limit as Entry

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


def test_an_alarm_puts_no_rule_aside() -> None:
    alarm = limit("nox_mass_per_energy", 0.8, "g/hp-h", name="alarm")
    assert used(LEAN_US, alarm) == used(LEAN_US)
    assert used(LEAN_US, replace(alarm, name="permit")) < used(LEAN_US)
