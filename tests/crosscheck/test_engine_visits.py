"""The reference visits are judged as they must be, and what a person is told of them is right."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.crosscheck.engine_values import engine_values
from asfound.crosscheck.looks import look_at, measured_again
from asfound.crosscheck.told import sentence

from .engine_visits import CASES, check, consistent, judged

NAMES = tuple(CASES)


@pytest.mark.parametrize("name", NAMES)
def test_the_planted_lie_is_named_and_nothing_else_accused(name):
    found, expected = judged(name), CASES[name].expected
    assert found.contradiction == expected["contradiction"]
    assert found.verdict == "one"
    assert found.named[0].name in expected["must_name_one_of"]
    assert found.degrees == expected["dof"]


@pytest.mark.parametrize("name", NAMES)
def test_what_leaves_the_same_mark_is_told_with_it(name):
    group = {one.name: one for one in judged(name).explanations[0].groups[0]}
    for entry in CASES[name].expected["same_mark"]:
        assert entry["id"] in group
        assert np.sign(group[entry["id"]].size) == np.sign(entry["error_needed"])


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_called_unchecked_that_the_reference_checks(name):
    assert list(judged(name).not_checked) == CASES[name].expected["not_checked"]


@pytest.mark.parametrize("name", NAMES)
def test_the_order_of_single_tests_is_that_of_the_reference(name):
    """The largest test of the reference is among the three readings whose leaving out leaves least."""
    least = {one.name for one in judged(name).left_out[:4]}
    group = {entry["id"] for entry in CASES[name].expected["same_mark"]}
    assert least & group


def test_the_size_of_a_mistake_is_recognised():
    assert "off by the barometer" in judged("s1").named[0].mistake
    assert "off by the barometer" in judged("s3").named[0].mistake
    assert "0.80 is a step of current transformers" in judged("s5").named[0].mistake
    assert judged("s2").named[0].mistake == ""


def test_what_would_need_an_impossible_value_is_ruled_out():
    ruled_out = {one.name for one in judged("s3").explanations[0].groups[0] if not one.possible}
    assert "volumetric_efficiency" in ruled_out
    oil = {one.name: one for one in judged("s6").explanations[0].groups[0]}["oil_outlet_temperature"]
    assert not oil.possible, "its error would be larger than the whole temperature difference"


def test_sentences_say_who_by_how_much_and_what_decides():
    assert sentence(judged("s2")).startswith("Dry oxygen at the analyser reads 0.8")
    first = sentence(judged("s1"))
    assert "or fuel flow as metered reads" in first
    assert first.endswith("with another instrument to decide.")
    assert "\N{DEGREE SIGN}F low" in sentence(judged("s4"), "us")
    assert "psi high" in sentence(judged("s1"), "us")


def test_a_fault_is_seen_against_the_rest_without_it():
    found = judged("s4")
    outlet = found.reading("turbine_outlet_temperature")
    assert outlet.verdict == "apart"
    assert outlet.interval[0] < CASES["s4"].truth["turbine_outlet_temperature"] + 273.15 < outlet.interval[1]
    assert all(one.verdict != "apart" for one in found.readings if one.name != "turbine_outlet_temperature")
    assert found.left_out[0].name == "turbine_outlet_temperature"
    assert found.left_out[0].chi_squared < 20 < found.chi_squared


def test_best_estimates_are_nearer_to_the_truth_and_narrower():
    for name, case in CASES.items():
        found = judged(name)
        power, u = found.best["brake_power"]
        assert abs(power / 1e3 - case.truth["P_brake_kW"]) < 3 * u / 1e3
        for one in found.readings:
            assert one.u_best <= one.u * (1 + 1e-6) or one.verdict in ("apart", "may_be_apart", "same_mark")


def test_the_measurement_that_decides_is_one_of_the_suspects():
    found = judged("s1")
    assert found.one_more[0].name in {one.name for one in found.suspects}
    assert found.one_more[0].after > found.one_more[0].before


def test_a_sample_leak_is_a_pattern_and_not_a_bad_cell():
    case = CASES["s4"]
    values = dict(zip(case.names, consistent("s4"), strict=True))
    for one in ("exhaust_oxygen_dry", "exhaust_co2_dry", "exhaust_nox_dry", "exhaust_co_dry"):
        air = {"exhaust_oxygen_dry": 0.2094, "exhaust_co2_dry": 0.0004}.get(one, 0.0)
        values[one] += 0.12 * (air - values[one])
    found = check(case, np.array([values[one] for one in case.names]))
    assert found.named[0].name == "sample_leak"
    assert found.named[0].interval[0] < 0.12 < found.named[0].interval[1]
    assert "air" in sentence(found)


def test_exchanged_sensors_are_named():
    case = CASES["s4"]
    values = dict(zip(case.names, consistent("s4"), strict=True))
    cold, hot = "auxiliary_water_inlet_temperature", "auxiliary_water_outlet_temperature"
    values[cold], values[hot] = values[hot], values[cold]
    found = check(case, np.array([values[one] for one in case.names]))
    assert found.named[0].name == f"swapped:{cold}"


def test_two_lies_are_named_as_two():
    case = CASES["s4"]
    values = dict(zip(case.names, consistent("s4"), strict=True))
    values["exhaust_oxygen_dry"] += 0.02
    values["turbine_outlet_temperature"] -= 60.0
    values["manifold_pressure"] += 0.5 * case.u[case.names.index("manifold_pressure")]
    found = check(case, np.array([values[one] for one in case.names]))
    assert found.verdict == "two"
    assert {one.name for one in found.named} == {"exhaust_oxygen_dry", "turbine_outlet_temperature"}


def test_every_value_has_something_to_look_at_or_is_an_assumption():
    for name, about in engine_values(("stage_1",)).items():
        assert look_at(name) or about.role == "assumption"
        assert about.role == "reading" or about.u is not None
        again = measured_again(name, 100.0)
        assert again is None or again > 0
