"""Limits at a reference oxygen: whatever level a limit states, the verdict is the same."""

from __future__ import annotations

import pytest

from asfound.records.limits_at_oxygen import stated
from asfound.records.visit import view
from asfound.report.content_numbers import ledger

TIME = "2032-07-08T15:00:00Z"
READ = {("exhaust_oxygen_dry", "stack"): (0.085, "8.5 %"), ("exhaust_nox_dry", "stack"): (100e-6, "100 ppm")}


def begun(records, begin, reading, *limits, **more):
    engine, visit = begin(records)
    for (name, place), (value, text) in {**READ, **more.get("read", {})}.items():
        records.append("reading", reading(name, value, text, place=place), visit=visit)
    for name, value, text, basis in limits:
        content = {"quantity": name, "value": value, "as_typed": text, "basis": basis, "side": "upper"}
        records.append("limit", content, engine=engine)
    return view(records, visit)


@pytest.mark.parametrize(
    ("text", "basis", "level"),
    [
        ("250 mg/m3(n) at 5 % O2", "", 0.05), ("82 ppmvd @ 15% O2", "", 0.15),
        ("82 ppm", "at 15 % oxygen, 1 hour", 0.15),
        ("82 ppm", "1 hour", None), ("82 ppm at 3,5 % O2", "", 0.035), ("82 ppm at 21 % O2", "", None),
    ],
)  # fmt: skip
def test_a_limit_states_its_level_with_its_value_or_in_its_basis(text, basis, level):
    assert stated("nox_at_reference_oxygen", text, basis) == (None if level is None else pytest.approx(level))
    assert stated("nox_mass_per_energy", text, basis) is None


def test_numbers_are_counted_at_the_level_of_the_permit(records, begin, reading):
    """100 ppm at 8.5 % are 128.2 ppm at 5 %: (20.9 - 5) / (20.9 - 8.5), 40 CFR 60.4213 Eq. 3."""
    seen = begun(records, begin, reading, ("nox_at_reference_oxygen", 120e-6, "120 ppm at 5 % O2", ""))
    result = seen.worked.result("as_found/stack/nox_at_reference_oxygen")
    assert result.value == pytest.approx(100e-6 * (20.9 - 5) / (20.9 - 8.5))
    assert [one.code for one in seen.findings if one.code in ("EX-01", "EX-02", "EX-03")] != ["EX-03"]
    assert seen.limits[0].as_typed == "120 ppm at 5 % O2"


def test_a_limit_of_another_level_is_put_on_that_of_the_visit(records, begin, reading):
    """120 ppm at 5 % are 44.5 ppm at 15 %; both limits then give the same chance of being over."""
    seen = begun(
        records, begin, reading,
        ("nox_at_reference_oxygen", 120e-6, "120 ppm at 5 % O2", ""),
        ("nox_at_reference_oxygen", 120e-6 * 5.9 / 15.9, "44.53 ppm", "at 15 % oxygen"),
        read={("permit_reference_oxygen", "engine"): (0.15, "15 %")},
    )  # fmt: skip
    first, second = sorted(seen.limits, key=lambda one: -len(one.as_typed))
    assert first.value == pytest.approx(second.value, rel=1e-9)
    assert first.as_typed == "120 ppm at 5 % O2, which is 44.5 ppm at 15 % O2"
    chances = [one.probability for one in seen.findings if one.code in ("EX-01", "EX-02", "EX-03")]
    assert len(set(chances)) == 1


def test_without_any_level_the_limit_is_meant_as_the_numbers_are(records, begin, reading):
    seen = begun(records, begin, reading, ("nox_at_reference_oxygen", 82e-6, "82 ppm", ""))
    assert seen.limits[0].value == 82e-6
    assert not any(one.quantity == "permit_reference_oxygen" for one in seen.worked.readings)


def test_a_limit_by_mass_keeps_the_state_of_its_gas(records, begin, reading):
    seen = begun(
        records, begin, reading, ("nox_mass_concentration", 250e-6, "250 mg/m3(n) at 5 % O2", ""),
        read={("permit_reference_oxygen", "engine"): (0.15, "15 %")},
    )  # fmt: skip
    assert seen.limits[0].as_typed == "250 mg/m3(n) at 5 % O2, which is 92.8 mg/m3(n) at 15 % O2"
    assert seen.limits[0].value == pytest.approx(250e-6 * 5.9 / 15.9)


def test_a_permit_is_not_held_against_what_stands_before_the_catalyst(records, begin, reading):
    """It is about what leaves the stack; before the catalyst only a limit that names that place counts."""
    engine, visit = begin(records)
    for place, ppm in (("before_catalyst", 610.0), ("after_catalyst", 238.0)):
        for name, value, text in (
            ("exhaust_oxygen_dry", 0.082, "8.2 %"), ("exhaust_co_dry", ppm * 1e-6, f"{ppm:g} ppm"),
        ):  # fmt: skip
            records.append("reading", reading(name, value, text, place=place), visit=visit)
    limit = {"quantity": "co_at_reference_oxygen", "value": 800e-6, "as_typed": "800 ppm at 5 % O2", "side": "upper"}
    records.append("limit", limit, engine=engine)
    seen = view(records, visit)
    assert {one.place for one in seen.limit_states[0].found} == {"after_catalyst"}
    rows = [one for one in ledger(seen, "si") if one["name"].startswith("CO")]
    assert [one["name"] for one in rows if "permit" in one["note"]] == ["CO at reference oxygen, dry"]
