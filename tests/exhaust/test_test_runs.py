"""An emission test from its dict to judged runs, readings, findings: laws, published limits, oracles outside."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from asfound.errors import InputError
from asfound.exhaust import calibration
from asfound.exhaust.findings_permit import find as find_beside_permit
from asfound.exhaust.findings_test_run import find
from asfound.exhaust.runs_of_a_test import judged_alone
from asfound.exhaust.test_run import EmissionTest
from asfound.exhaust.test_run_criteria import DOUBT, for_gas, for_rule, method_criteria, rule_criteria
from asfound.exhaust.test_run_dict import READ_FIELDS, RUN_FIELDS, SETUP_FIELDS, TEST_FIELDS
from asfound.exhaust.test_run_judge import Assessment, judge, points_needed
from asfound.exhaust.test_run_measures import ONCE, PER_RUN
from asfound.exhaust.test_run_readings import readings_of
from asfound.quantities.findings import Case
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Limit, Result
from asfound.quantities.worked import Worked

from .emission_tests import run, three_runs

positive = st.floats(1.0, 1e4)


def assessed(given: dict[str, Any]) -> Assessment:
    return judge(EmissionTest.from_dict(given))


def failed(found: Assessment) -> list[str]:
    return [one.criterion.id for one in found.failed]


def changed(path: str, value: Any, **more: Any) -> dict[str, Any]:
    """Return the three runs with one field changed: ``runs.1.gases.nox.upscale``, runs counted from 0."""
    out: dict[str, Any] = three_runs(**more)
    *parts, last = path.split(".")
    at: Any = out
    for part in parts:
        at = at[int(part)] if isinstance(at, list) else at[part]
    at[int(last) if isinstance(at, list) else last] = value
    return out


# --- formulas


@given(positive, st.floats(0.0, 1.0), st.floats(0.0, 0.2))
def test_a_perfect_calibration_changes_nothing(gas: float, share: float, low: float) -> None:
    average, zero = share * gas, low * gas
    assert calibration.bias_corrected(average, 0.0, gas, gas) == pytest.approx(average, abs=1e-9 * gas)
    assert calibration.bias_corrected(average, zero, gas, gas, zero) == pytest.approx(average, abs=1e-9 * gas)
    assert calibration.drift_corrected(average, 0, 0, gas, gas, gas) == pytest.approx(average, abs=1e-9 * gas)


@given(positive, st.floats(-0.05, 0.1), st.floats(0.5, 1.5), st.floats(0.0, 1.2), st.floats(0.0, 0.2))
def test_what_a_linear_analyser_does_is_undone(gas: float, off: float, gain: float, share: float, low: float) -> None:
    """Any zero offset and any gain, the low gas not empty: the true value comes back."""
    true, zero_gas = share * gas, low * gas

    def reads(x: float) -> float:
        return off * gas + gain * x

    found = calibration.bias_corrected(reads(true), reads(zero_gas), reads(gas), gas, zero_gas)
    assert found == pytest.approx(true, abs=1e-9 * gas)


@given(st.floats(-5, 5), st.floats(-5, 5), st.floats(80, 120), st.floats(80, 120), st.floats(0, 100))
def test_the_two_rules_draw_one_line(z1: float, z2: float, s1: float, s2: float, x: float) -> None:
    """40 CFR 1065.672 and Method 7E interpolate between the same two means; so does a straight line by NumPy."""
    by_1065 = calibration.drift_corrected(x, z1, z2, s1, s2, 100.0)
    zero, upscale = (z1 + z2) / 2, (s1 + s2) / 2
    slope, offset = np.polyfit([zero, upscale], [0.0, 100.0], 1)
    assert by_1065 == pytest.approx(calibration.bias_corrected(x, zero, upscale, 100.0), rel=1e-9, abs=1e-9)
    assert by_1065 == pytest.approx(slope * x + offset, rel=1e-6, abs=1e-6)


@given(st.floats(0, 1000), st.floats(0, 300), st.floats(0.5, 1.0))
def test_what_the_converter_lost_comes_back(no: float, no2: float, efficiency: float) -> None:
    assert calibration.converter_corrected(no + efficiency * no2, no, efficiency) == pytest.approx(no + no2)


@given(st.floats(0.1, 1000), st.floats(20, 160))
def test_units_cannot_change_a_share(factor: float, average: float) -> None:
    numbers = np.array([average, 0.5, 99.0, 100.0])
    scaled = numbers * factor
    assert calibration.bias_corrected(*scaled) == pytest.approx(factor * calibration.bias_corrected(*numbers))
    assert calibration.drift(99 * factor, 98 * factor, 200 * factor) == pytest.approx(calibration.drift(99, 98, 200))


def test_uncertainty_is_that_of_a_general_library() -> None:
    """The same law of propagation by the `uncertainties` package, on the equation as written."""
    gas = ufloat(100.0, 0.75)
    zero, upscale = ufloat(0.55, 0.3 / 2 / 3**0.5), ufloat(98.6, 0.8 / 2 / 3**0.5)
    theirs = (82.0 - zero) * gas / (upscale - zero) + ufloat(0.0, 0.7 / 3**0.5)
    whole, shared = calibration.corrected_uncertainty(
        82.0, 0.55, 98.6, 100.0, gas=0.75, zero_drift=0.3, upscale_drift=-0.8, linearity=0.7
    )
    assert whole == pytest.approx(theirs.std_dev, rel=1e-9)
    assert shared == pytest.approx(0.75 * (82.0 - 0.55) / (98.6 - 0.55), rel=1e-9)


def test_a_season_of_runs_in_one_call_and_nan_where_gases_read_alike() -> None:
    upscale = np.array([98.6, 0.55, np.nan])
    many = calibration.bias_corrected(np.full(3, 82.0), 0.55, upscale, 100.0)
    assert many[0] == calibration.bias_corrected(82.0, 0.55, 98.6, 100.0)  # type: ignore[index]
    assert np.isnan(many[1:]).all()  # type: ignore[index]
    assert np.isnan(calibration.share_of(1.0, 0.0))


def test_minutes_tell_how_steady_a_run_was() -> None:
    steady = np.full((2, 60), 82.0)
    assert np.asarray(calibration.spread(steady)).tolist() == [0.0, 0.0]
    rising = np.linspace(80.0, 84.0, 60)
    assert calibration.trend(rising) == pytest.approx(4.0 / 82.0)
    assert np.isnan(calibration.spread(np.array([82.0])))
    assert calibration.detection_limit(np.array([0.0, 1.0, 2.0])) == pytest.approx(3.0)


# --- tables of criteria


def test_every_criterion_is_measured_or_said_and_shows_its_doubt() -> None:
    of_rules = {"runs", "run_minutes", "load", "undisturbed", "oxygen_too", "points", "apart"}
    known = {*ONCE, *PER_RUN, "words", "checked_both", "expanded_uncertainty"}
    for one in method_criteria():
        assert one.measure in known, one.id
        assert one.status in DOUBT
        assert one.source
    assert {one.measure for one in rule_criteria()} <= of_rules
    ids = [one.id for one in (*method_criteria(), *rule_criteria())]
    assert len(ids) == len(set(ids))


def test_numbers_from_memory_are_said_to_be_so() -> None:
    drift = next(one for one in for_gas("7e", "nox") if one.id == "7e.drift")
    assert drift.doubt == "from memory, unverified"
    assert drift.limit == "at most 3 % of span, or 0.5 ppm"
    read_in_the_text = next(one for one in for_rule("jjjj") if one.id == "jjjj.load")
    assert not read_in_the_text.doubt


@pytest.mark.parametrize(
    ("name", "value", "absolute", "holds"),
    [
        ("7e.bias", -5.0, -50.0, True),
        ("7e.bias", -5.01, -50.1, False),
        ("7e.bias", 40.0, 0.5, True),  # whichever is less strict
        ("7e.gases.mid", 39.9, None, False),
        ("7e.converter", 89.9, None, False),
        ("jjjj.load", 90.0, None, True),
        ("jjjj.load", 110.1, None, False),
    ],
)
def test_bounds_are_inside(name: str, value: float, absolute: float | None, holds: bool) -> None:
    one = next(one for one in (*method_criteria(), *rule_criteria()) if one.id == name)
    assert one.holds(value, absolute) is holds


# --- whole tests


def test_a_sound_test_stands() -> None:
    found = assessed(three_runs())
    assert not found.failed
    assert found.complete
    nox = found.stands("nox")
    assert [one.run for one in nox] == [1, 2, 3]
    assert nox[0].value == pytest.approx((82.0 - 0.55) * 100 / (98.6 - 0.55))
    assert found.mean("nox") == pytest.approx(sum(one.value for one in nox) / 3)


@given(st.integers(1, 6), st.floats(30, 190))
def test_the_mean_of_equal_runs_is_the_run(number: int, average: float) -> None:
    found = assessed(three_runs(runs=[run(one, nox=average) for one in range(1, number + 1)]))
    assert found.mean("nox") == pytest.approx(found.results[1, "nox"].value)


@pytest.mark.parametrize(
    ("path", "value", "criterion", "consequence"),
    [
        ("runs.0.gases.nox.upscale", [99.0, 88.0], "7e.bias", "run"),
        ("runs.0.gases.co.upscale", [246.0, 230.0], "10.all.drift", "next_run"),
        ("gases.nox.direct", [[0, 0.1], [100, 105.0], [200, 199.3]], "7e.ce", "run"),
        ("gases.nox.converter", [50, 44.0], "7e.converter", "ask"),
        ("gases.nox.gas_uncertainty_percent", 3, "7e.gas_quality", "ask"),
        ("runs.1.load_percent", 71, "jjjj.load", "run"),
        ("runs.1.end", "2032-05-02T11:59:59+00:00", "jjjj.run_time", "run"),
        ("runs.1.undisturbed", False, "jjjj.no_ssm", "run"),
        ("runs.0.gases.nox.average", 30, "7e.span_use", "ask"),
        ("runs.0.gases.nox.minutes", [82.0] * 59 + [210.0], "7e.span_use", "ask"),
        ("sample_points", 1, "jjjj.points", "ask"),
    ],
)
def test_one_thing_wrong_is_named_with_its_clause(path: str, value: Any, criterion: str, consequence: str) -> None:
    found = assessed(changed(path, value))
    wrong = next(one for one in found.failed if one.criterion.id == criterion)
    assert wrong.criterion.consequence == consequence
    assert wrong.criterion.clause in wrong.says
    invalid = any(not found.valid(one.number, gas) for one in found.test.runs for gas in one.gases)
    assert invalid == (consequence == "run")


def test_an_invalid_run_counts_for_no_mean_but_others_stand() -> None:
    found = assessed(changed("runs.0.gases.nox.upscale", [99.0, 88.0]))
    assert [one.run for one in found.stands("nox")] == [2, 3]
    assert [one.run for one in found.stands("co")] == [1, 2, 3]
    assert "jjjj.runs" in failed(found)
    assert not found.complete


def test_the_highest_load_that_could_be_reached_will_do_where_it_is_said_why() -> None:
    low = changed("runs.1.load_percent", 83)
    assert "jjjj.load" in failed(assessed(low))
    assert "jjjj.load" not in failed(assessed(low | {"highest_achievable_load": "pipeline pressure of the day"}))
    over = changed("runs.1.load_percent", 112, highest_achievable_load="pipeline pressure of the day")
    assert "jjjj.load" in failed(assessed(over))


def test_load_comes_from_power_where_it_was_not_entered() -> None:
    given = three_runs(peak_power_kw=1_470)
    for one in given["runs"]:
        del one["load_percent"]
    test = EmissionTest.from_dict(given)
    assert test.load_of(test.runs[0]) == pytest.approx(1_420 / 1_470)
    assert not judge(test).failed
    assert EmissionTest.from_dict(test.to_dict()) == test
    del given["peak_power_kw"]
    assert {one.criterion.id for one in assessed(given).open} >= {"jjjj.load"}


def test_one_of_two_ways_to_show_a_thing_is_enough() -> None:
    def asked(given: dict[str, Any]) -> set[str]:
        return {one.criterion.id for one in assessed(given).open}

    assert not asked(three_runs()) & {"7e.converter", "7e.converter_bag", "7e.strat1", "own.spread"}
    by_bag = changed("gases.nox.checks", {"7e.converter_bag": 1.2})
    del by_bag["gases"]["nox"]["converter"]
    assert "7e.converter" not in asked(by_bag)
    assert {"7e.converter", "7e.converter_bag"} <= asked(changed("gases.nox.converter", None))


@pytest.mark.parametrize(
    ("diameter", "far", "points", "needed"),
    [(150, None, (), 1), (152.4, None, (), 1), (160, None, (), 3), (304.8, None, (), 3), (400, True, (), 3),
     (400, None, (), None), (400, False, (80, 82, 81), 1), (400, False, (80, 92, 81), 3),
     (400, False, (60, 92, 81), 12)],
)  # fmt: skip
def test_sample_points_by_the_stack(diameter: float, far: bool | None, points: tuple[float, ...], needed: int) -> None:
    """ZZZZ Table 4: 6 in, 12 in; beyond it the stratification test of Method 7E (5 % one point, 10 % three)."""
    given = changed("gases.nox.stratification", list(points), stack_diameter_mm=diameter, far_from_disturbance=far)
    assert points_needed(EmissionTest.from_dict(given))[0] == needed


def test_european_drift_is_corrected_between_two_and_five_per_cent() -> None:
    """EN 14792 (from memory): 2 % as read, to 5 % corrected, beyond it rejected; of the check gas."""
    setup = {"method": "en14792", "span": 200, "upscale_gas": 120, "limit": 100}
    for after, how, valid in ((118.0, "as read", True), (116.0, "corrected", True), (113.0, "corrected", False)):
        read = {"average": 80, "zero": [0, 0], "upscale": [120, after]}
        given = three_runs(gases={"nox": setup}, runs=[run(1) | {"gases": {"nox": read}}], rule="free")
        found = assessed(given)
        assert found.results[1, "nox"].how.startswith(how)
        assert found.valid(1, "nox") is valid


def test_the_calibration_span_is_the_high_gas_where_it_was_not_entered() -> None:
    without = changed("gases.nox.span", None)
    assert EmissionTest.from_dict(without).gases["nox"].span == 200
    assert not assessed(without).failed


def test_a_result_as_read_is_as_uncertain_as_its_checks() -> None:
    """Cells by Appendix A: the worst up-scale reading as a rectangle, beside the certificate (2 %, k = 2, unknown)."""
    setup = {"method": "zzzz_a", "upscale_gas": 60, "direct": []}
    read = {"average": 60, "zero": [0, 0], "upscale_readings": [58.5, 60, 60]}
    given = three_runs(gases={"co": setup}, runs=[run(1) | {"gases": {"co": read}}], rule="free")
    found = assessed(given).results[1, "co"]
    assert found.value == 60
    assert found.standard_uncertainty == pytest.approx(np.hypot(0.6, 1.5 / 3**0.5))
    bare = three_runs(gases={"co": {"method": "320"}}, runs=[run(1) | {"gases": {"co": {"average": 60}}}], rule="free")
    unchecked = assessed(bare).results[1, "co"]
    assert unchecked.standard_uncertainty == pytest.approx(np.hypot(0.6, 0.05 * 60 / 3**0.5))


def test_runs_far_apart_and_minutes_that_climb_are_noted_not_refused() -> None:
    climbing = [60.0 + one for one in range(60)]
    given = three_runs(runs=[run(1, nox=60), run(2, nox=83), run(3, nox=84)])
    given["runs"][1]["gases"]["nox"]["minutes"] = climbing
    found = assessed(given)
    assert {"jjjj.apart", "own.trend", "own.spread"} <= set(failed(found))
    assert found.complete


# --- dict, errors


@given(st.floats(0, 199), st.floats(80, 110))
def test_there_and_back(average: float, load: float) -> None:
    test = EmissionTest.from_dict(three_runs(runs=[run(1, nox=average, load=load), run(2)]))
    again = EmissionTest.from_dict(json.loads(json.dumps(test.to_dict())))
    assert again.runs[0].load == pytest.approx(test.runs[0].load)
    assert again.gases == test.gases
    assert again.runs[0].gases == test.runs[0].gases
    assert again.to_dict() == test.to_dict()


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        ("rule", "jjj", "rule"),
        ("gases.nox.method", "10", "gases.nox.method"),
        ("gases.nox.spam", 1, "gases.nox.spam"),
        ("gases.nox.span", "wide", "gases.nox.span"),
        ("gases.nox.direct", [[0, 1, 2]], "gases.nox.direct[1].pair"),
        ("gases.kryptonite", {"method": "7e"}, "gases.kryptonite"),
        ("gases.o2.span", 120, "gases.o2.span"),
        ("runs.0.start", "this morning", "runs[1].start"),
        ("runs.0.start", "2032-05-02T09:00", "runs[1].start"),
        ("runs.0.end", "2032-05-02T08:00+00:00", "runs[1].end"),
        ("runs.1.number", 1, "runs"),
        ("runs.1.start", "2032-05-02T09:30+00:00", "run 2.start"),
        ("runs.0.load_percent", 980, "runs[1].load_percent"),
        ("runs.0.gases.nox.average", float("nan"), "runs[1].gases.nox.average"),
        ("runs.0.gases.nox.zero", [0.4], "runs[1].gases.nox.zero"),
        ("runs.0.gases.so2", {"average": 3}, "runs[1].gases.so2"),
        ("runs.0.readings.engine_powre", "1420 kW", "runs[1].readings.engine_powre"),
        ("runs.0.readings.engine_power", "1420 kg", "runs[1].readings.engine_power"),
        ("runs", [], "runs"),
        ("gases", {}, "gases"),
    ],
)
def test_what_cannot_be_is_named_by_field_value_and_remedy(path: str, value: Any, field: str) -> None:
    with pytest.raises(InputError) as caught:
        EmissionTest.from_dict(changed(path, value))
    assert caught.value.field == field
    assert caught.value.allowed or caught.value.try_next


# --- on the visit


def result(worked: Worked, key: str) -> Result:
    found = worked.result(f"as_found/{key}")
    assert found is not None, key
    return found


def test_each_run_has_its_rates_and_the_engine_their_mean() -> None:
    worked = work_out(readings_of(EmissionTest.from_dict(three_runs())))
    runs = [result(worked, f"run_{number}/nox_mass_per_energy") for number in (1, 2, 3)]
    mean = result(worked, "engine/nox_mass_per_energy")
    assert mean.value == pytest.approx(sum(one.value for one in runs) / 3, rel=1e-12)
    assert mean.worksheet == "mean_of_runs_nox_mass_per_energy"
    assert result(worked, "engine/nox_at_reference_oxygen").value == pytest.approx(
        np.mean([result(worked, f"run_{number}/nox_at_reference_oxygen").value for number in (1, 2, 3)])
    )


def test_the_mean_goes_before_what_a_meter_beside_the_test_would_make_of_it() -> None:
    """Mass per hour of the test over another power reading is a ratio of means: it stands beside, not before."""
    readings = readings_of(EmissionTest.from_dict(three_runs()))
    power = next(one for one in readings if one.quantity == "engine_power")
    meter = replace(power, place="engine", value=1.30e6, as_typed="1300 kW", shared_with="", shared_fraction=0.0)
    worked = work_out([*readings, meter])
    assert result(worked, "engine/nox_mass_per_energy").worksheet == "mean_of_runs_nox_mass_per_energy"
    assert len(worked.alternatives("as_found/engine/nox_mass_per_energy")) == 2


def test_the_certified_gas_is_one_error_for_all_runs() -> None:
    """So three runs are not three times as good: the mean keeps what they share."""
    readings = [one for one in readings_of(EmissionTest.from_dict(three_runs())) if one.quantity == "exhaust_nox_dry"]
    assert {one.shared_with for one in readings} == {"emission test 2032-05-02/as_found/nox"}
    assert all(0.3 < one.shared_fraction < 1 for one in readings)
    u = readings[0].standard_uncertainty
    worked = work_out(readings_of(EmissionTest.from_dict(three_runs())))
    drawn = np.mean([worked.draws(one) for one in readings], axis=0)
    f = readings[0].shared_fraction
    assert drawn.std() == pytest.approx(u * np.sqrt(f + (1 - f) / 3), rel=0.03)


def test_an_invalid_run_brings_no_reading() -> None:
    test = EmissionTest.from_dict(changed("runs.0.gases.nox.upscale", [99.0, 88.0]))
    places = {one.place for one in readings_of(test) if one.quantity == "exhaust_nox_dry"}
    assert places == {"run_2", "run_3"}
    short = EmissionTest.from_dict(changed("runs.1.load_percent", 71))
    assert not [one for one in readings_of(short) if one.place == "run_2"]


def test_a_wet_gas_is_dried_by_the_water_of_its_run_or_asked_for_it() -> None:
    gases = {"voc": {"method": "320", "basis": "wet"}}
    given = three_runs(gases=gases, runs=[run(1) | {"gases": {"voc": {"average": 18}}}], rule="free")
    with pytest.raises(InputError, match="moisture"):
        readings_of(EmissionTest.from_dict(given))
    given["runs"][0]["readings"]["exhaust_water_fraction"] = "10 %"
    dry = next(one for one in readings_of(EmissionTest.from_dict(given)) if one.quantity == "exhaust_voc_dry")
    assert dry.value == pytest.approx(20e-6)


def test_a_wet_gas_that_a_visit_keeps_wet_stays_so_and_is_dried_by_the_sheet() -> None:
    gases = {"formaldehyde": {"method": "320", "basis": "wet"}}
    given = three_runs(gases=gases, runs=[run(1) | {"gases": {"formaldehyde": {"average": 18}}}], rule="free")
    given["runs"][0]["readings"]["exhaust_water_fraction"] = "10 %"
    worked = work_out(readings_of(EmissionTest.from_dict(given)))
    assert result(worked, "run_1/exhaust_formaldehyde_dry").value == pytest.approx(20e-6)


# --- findings


def findings(visit: list[dict[str, Any]], before: list[dict[str, Any]] | None = None, day: str = "2032-05-02",
             readings: Any = ()) -> list[Finding]:  # fmt: skip
    case = Case(
        readings=tuple(readings), worked=work_out(()), visit={"emission_tests": visit, "date": day},
        engine={"emission_tests": before or []},
    )  # fmt: skip
    return list(find(case))


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("runs.0.gases.nox.upscale", [99.0, 88.0], "EX-20"),
        ("runs.0.gases.co.upscale", [246.0, 230.0], "EX-21"),
        ("runs.1.load_percent", 71, "EX-22"),
        ("runs.0.gases.nox.average", 30, "EX-23"),
        ("runs.0.gases.nox.average", 50, "EX-24"),
        ("runs", [run(1), run(2)], "EX-25"),
        ("gases.nox.converter", [50, 44.0], "EX-26"),
        ("by", "", "EX-27"),
        ("by", "", "EX-28"),
    ],
)
def test_each_finding_comes_of_what_it_is_about(path: str, value: Any, code: str) -> None:
    codes = [one.code for one in findings([changed(path, value)])]
    assert code in codes
    assert ("EX-28" in codes) == (code in ("EX-21", "EX-23", "EX-24", "EX-26", "EX-27", "EX-28"))


def test_an_entry_that_cannot_be_read_is_a_finding_not_a_crash() -> None:
    found = findings([{"rule": "jjjj"}])
    assert [one.code for one in found] == ["EX-27"]
    assert "cannot be read" in found[0].says


@pytest.mark.parametrize(
    ("rule", "day", "due"),
    [("jjjj", "2034-01-01", ""), ("jjjj", "2035-03-01", "will soon be due"), ("jjjj", "2035-05-03", "is due"),
     ("zzzz", "2032-11-10", "is due"), ("free", "2040-01-01", "")],
)  # fmt: skip
def test_the_next_test_is_due_by_time(rule: str, day: str, due: str) -> None:
    """60.4243(b)(2)(ii): 8,760 h or 3 years; ZZZZ Table 3: half a year."""
    found = [one for one in findings([], [three_runs(rule=rule)], day) if one.code == "EX-29"]
    assert bool(found) == bool(due)
    assert all(due in one.says for one in found)


def test_the_next_test_is_due_by_hours() -> None:
    counter = readings_of(EmissionTest.from_dict(three_runs()))[0]
    hours = replace(counter, quantity="engine_hours", place="engine", value=(41_230 + 8_900) * 3600.0, unit="s")
    found = [one for one in findings([], [three_runs()], "2033-05-02", [hours]) if one.code == "EX-29"]
    assert "8,900 of 8,760 h" in found[0].says


@pytest.mark.parametrize(
    ("key", "rule", "alone"),
    [
        ("as_found/stack/nox_mass_per_energy", "jjjj", True),
        ("as_found/engine/nox_mass_per_energy", "jjjj", True),
        ("as_found/run_1/nox_mass_per_energy", "jjjj", False),
        ("as_found/run_1/nox_mass_per_energy", "de44", True),
        ("as_left/run_1/nox_mass_per_energy", "de44", False),  # the test was made as found
    ],
)
def test_the_rule_says_whether_a_run_is_judged_alone(key: str, rule: str, alone: bool) -> None:
    """60.4244 judges the mean, 44. BImSchV sec. 31(7) each run with its uncertainty."""
    case = Case(readings=(), worked=work_out(()), visit={"emission_tests": [three_runs(rule=rule)]})
    assert judged_alone(case, key) is alone


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**6), 10**6) | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
PLACES = (
    *TEST_FIELDS,
    "gases.nox",
    *(f"gases.nox.{one}" for one in SETUP_FIELDS),
    "runs.0",
    *(f"runs.0.{one}" for one in RUN_FIELDS),
    "runs.0.readings.engine_power",
    "runs.0.gases.nox",
    *(f"runs.0.gases.nox.{one}" for one in READ_FIELDS),
)


@given(st.sampled_from(PLACES), JUNK)
def test_whatever_stands_in_a_field_it_is_judged_or_refused(path: str, value: Any) -> None:
    """Anything at all in any field: a test that can be judged and kept as JSON, or a complaint that says where."""
    try:
        found = assessed(changed(path, value))
        readings_of(found.test, assessment=found)
    except InputError as refused:
        said = refused
    else:
        json.dumps(found.test.to_dict(), allow_nan=False)
        assert all(one.says for one in found.judged)
        visit = {"emission_tests": [found.test.to_dict()], "date": "2032-05-03"}
        find(Case(readings=(), worked=work_out(()), visit=visit))
        return
    assert said.field


@pytest.mark.parametrize(("rule", "over"), [("jjjj", []), ("de44", ["run_3"])])
def test_the_mean_decides_or_each_run_as_the_rule_has_it(rule: str, over: list[str]) -> None:
    """C07 and N29 of the kept cases: a run above the limit, the mean below it."""
    given = three_runs(rule=rule, runs=[run(1, nox=70), run(2, nox=71), run(3, nox=90)])
    readings = readings_of(EmissionTest.from_dict(given))
    limit = Limit(quantity="nox_at_reference_oxygen", value=41.5e-6, as_typed="41.5 ppm")
    case = Case(readings=tuple(readings), worked=work_out(readings), limits=(limit,), visit={"emission_tests": [given]})
    found = list(find_beside_permit(case))
    assert [one.because[0].split("/")[1] for one in found if one.code == "EX-01"] == over
    assert any(one.because[0].split("/")[1] == "engine" for one in found)
