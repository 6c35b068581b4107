"""A visit's readings find their balances by themselves, and what is found of them is said with its doubt."""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import pytest

from asfound.crosscheck.cross_check import UnsolvedError
from asfound.crosscheck.findings import find
from asfound.crosscheck.of_case import covariance_of, cross_check_of
from asfound.crosscheck.told import sentence
from asfound.crosscheck.without import without_suspects, worked_without
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.words import Finding

from .a2 import AS_FOUND, visit
from .engine_visits import CASES, check

A2 = visit()


def codes(case) -> dict[str, Finding]:
    return {one.code: one for one in find(case) if one.state == "as_found"}


def test_the_balances_that_the_readings_allow_are_drawn_up():
    found = cross_check_of(A2)
    assert {
        "barometer_and_height", "fuel_by_flow", "oxygen_dry", "carbon_dry", "oxygen_sensor", "filling", "energy",
        "ports_and_turbine", "compressor_power", "discharge_stage_1", "discharge_stage_2", "gas_meter", "power_as_read",
    } <= {one.name for one in found.balances}  # fmt: skip
    assert found is cross_check_of(A2), "worked out once for a sheet"
    assert {"volumetric_efficiency", "jacket_share"} <= {one.name for one in found.assumed}


def test_the_sensor_of_a2_stands_high_as_found_and_not_as_left_and_the_doubt_is_told():
    """The story: the sensor reads 0.4 vol-% high. Its own doubt of 0.3 makes that no proof, and the program says so."""
    before, after = (cross_check_of(A2, state).reading("oxygen_sensor_reading") for state in ("as_found", "as_left"))
    assert before.size == pytest.approx(0.004, abs=0.001)
    assert abs(after.size) < 0.001
    assert before.verdict == "agrees"
    assert 0.008 < before.smallest_error < 0.014
    said = codes(A2)["CC-14"]
    assert "0.4 vol-% above" in said.says
    assert "no proof" in said.says
    assert said.severity == "note"
    assert not any(one.code == "CC-14" for one in find(A2) if one.state == "as_left")


def test_an_analysis_of_what_does_not_burn_is_no_fuel_and_no_error():
    inert = {f"fuel/{name}": "0 %" for name in ANALYSIS} | {"fuel/fuel_nitrogen": "100 %"}
    case = visit(inert)
    for state in ("as_found", "as_left"):
        cross_check_of(case, state)
    list(find(case))


def test_a_gross_error_of_the_sensor_is_named_and_stays_on_the_visit():
    case = visit({"engine/oxygen_sensor_reading": "10.4 %"})
    found = cross_check_of(case)
    assert found.named[0].name == "oxygen_sensor_reading"
    assert found.suspect_keys == ("as_found/engine/oxygen_sensor_reading",)
    said = codes(case)
    assert "own sensor reads" in said["CC-02" if found.told_apart else "CC-03"].says
    assert any(one.key == found.suspect_keys[0] for one in case.readings)
    left = without_suspects(case.readings, found)
    assert len(left) == len(case.readings) - 1


def test_a_gauge_pressure_typed_as_absolute_is_recognised():
    case = visit({"engine/manifold_pressure": "29.8 psia"})
    found = cross_check_of(case)
    assert found.named[0].name == "manifold_pressure"
    assert "barometer" in found.named[0].mistake
    assert codes(case)["CC-09"].because == ("as_found/engine/manifold_pressure",)


def test_a_barometer_reduced_to_sea_level_does_not_fit_the_height():
    case = visit({"site/barometric_pressure": "14.69 psia"})
    assert "kPa" in codes(case)["CC-12"].says


def test_results_are_worked_out_with_and_without():
    case = visit({"stack/exhaust_oxygen_dry": "11.9 %"}, left=False)
    found = cross_check_of(case)
    assert found.named[0].name == "exhaust_oxygen_dry"
    other = worked_without(case.worked, found)
    key = "as_found/stack/excess_air_ratio"
    assert other.result(key).value < case.worked.result(key).value
    assert codes(case)["CC-06"].severity == "visit"
    assert codes(case)["CC-02"].severity == "visit"
    assert worked_without(A2.worked, cross_check_of(A2)) is None


def test_nothing_is_claimed_where_nothing_checks():
    few = ("engine/engine_power", "stack/exhaust_oxygen_dry", "fuel/fuel_methane")
    alone = visit(without=tuple(key for key in AS_FOUND if key not in few), left=False)
    assert cross_check_of(alone) is None
    assert list(find(alone)) == []
    with_height = visit(
        without=tuple(key for key in AS_FOUND if not key.startswith(("site", "fuel")) and key not in few), left=False
    )
    found = cross_check_of(with_height)
    assert "exhaust_oxygen_dry" in found.not_checked
    assert "not at all" in sentence(found)


def test_the_unit_that_was_typed_does_not_matter():
    typed = {
        "engine/manifold_pressure": "205.464 kPa g", "engine/manifold_temperature": "53.333 °C",
        "engine/engine_power": "1293.79 kW", "stack/exhaust_nox_dry": "0.0149 %",
    }  # fmt: skip
    assert cross_check_of(visit(typed)).chi_squared == pytest.approx(cross_check_of(A2).chi_squared, rel=1e-3)


def test_readings_of_one_instrument_keep_what_they_share():
    ours = [one for one in A2.readings if one.place == "stack" and one.state == "as_found"]
    joint = covariance_of(ours)
    u = np.sqrt(np.diag(joint))
    off = (joint / u[:, None] / u)[~np.eye(len(ours), dtype=bool)]
    assert np.allclose(off, 0.5)


def test_banks_are_taken_as_their_mean():
    case = visit(
        {"left_bank/manifold_pressure": "29.8 psig", "right_bank/manifold_pressure": "30.0 psig"},
        without=("engine/manifold_pressure",), left=False,
    )  # fmt: skip
    one = cross_check_of(case).reading("manifold_pressure")
    assert one.value == pytest.approx(29.9 * 6894.757, rel=1e-6)
    assert one.key == ""
    assert one.gauge


def test_every_finding_has_its_words():
    cases = (A2, visit({"stack/exhaust_oxygen_dry": "11.9 %"}), visit({"engine/manifold_pressure": "29.8 psia"}))
    for case in cases:
        for one in find(case):
            assert one.code.startswith("CC-")
            assert one.says[0].isupper()
            assert one.next_step.endswith((".", "?"))
            assert "nan" not in one.says
    assert sentence(cross_check_of(A2)).startswith("Nothing contradicts")


def test_three_errors_are_not_explained_and_nobody_is_judged():
    case = visit(
        {
            "stack/exhaust_oxygen_dry": "13.5 %", "engine/fuel_flow": "5000 scfh (60 F, 14.73 psia)",
            "stage_1/discharge_temperature": "420 °F", "site/barometric_pressure": "15.3 psia",
        },
        left=False,
    )  # fmt: skip
    found = cross_check_of(case)
    assert found.verdict == "unexplained"
    assert found.suspect_keys == ()
    said = codes(case)
    assert "no one or two errors explain it" in said["CC-05"].says
    assert not {"CC-06", "CC-07", "CC-08", "CC-09", "CC-10"} & set(said)
    assert worked_without(case.worked, found) is None


def test_an_old_analysis_is_doubted():
    old = {"fuel/fuel_analysis_age": "700 d"}
    assert cross_check_of(visit(old, left=False)).reading("heating_value_factor").u > 0.03
    assert cross_check_of(A2).reading("heating_value_factor").u == pytest.approx(0.004)


def test_a_reading_that_cannot_be_is_said_and_left_out():
    case = visit({"engine/oxygen_sensor_reading": "25 %", "engine/turbine_outlet_temperature": "8060 °F"}, left=False)
    found = cross_check_of(case)
    assert {one.name for one in found.impossible} == {"oxygen_sensor_reading", "turbine_outlet_temperature"}
    assert not found.contradiction
    said = [one for one in find(case) if one.code == "CC-18"]
    assert len(said) == 2
    assert "25.0 % cannot be" in said[0].says + said[1].says


def test_garbage_is_answered_or_refused_in_words():
    draw = np.random.default_rng(7)
    for at in range(25):
        case = CASES[("s4", "s5")[at % 2]]
        values = case.values * np.where(
            draw.random(case.values.size) < 0.1, 10 ** draw.uniform(-1, 1, case.values.size), 1
        )
        with suppress(UnsolvedError):
            said = sentence(check(case, values))
            assert "nan" not in said
            assert "inf " not in said
