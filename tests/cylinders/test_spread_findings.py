"""Spread, bearings and wear on a visit: the sheet's numbers, and what is found in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from asfound.cylinders import findings_bearings, findings_spread, findings_wear
from asfound.cylinders.mask import Mark
from asfound.cylinders.own_pattern import usual
from asfound.cylinders.spread_of_case import BY_LOG, BY_VISIT, USUAL, judged, pattern_as_data, pattern_of_data
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Reading, State
from asfound.quantities.worked import Worked

LEFT = (548, 552, 541, 557, 550)
VEE = {"layout": {"form": "vee", "cylinders": 10, "angle": 72}}
INLINE = {"layout": {"form": "inline", "cylinders": 6}}
PORT = "cylinder_exhaust_temperature"


def read(name: str, place: str, value: float, doubt: float, unit: str, state: State = "as_found") -> Reading:
    about = quantity(name)
    si = about.from_unit(value, unit)
    return Reading(
        quantity=name,
        place=place,
        state=state,
        time="2031-07-09T10:00+00:00",
        value=si,
        unit=about.si_unit,
        as_typed=f"{value:g} {unit}",
        standard_uncertainty=abs(about.from_unit(value + doubt, unit) - si),
    )


def ports(left: tuple[float, ...], right: tuple[float, ...], state: State = "as_found") -> list[Reading]:
    return [
        read(PORT, f"cylinder_{side}{number}", value, 3.5, "degC", state)
        for side, row in (("L", left), ("R", right))
        for number, value in enumerate(row, 1)
    ]


def row(values: tuple[float, ...]) -> list[Reading]:
    return [read(PORT, f"cylinder_{n}", value, 3.5, "degC") for n, value in enumerate(values, 1)]


def case(
    readings: list[Reading], engine: Mapping[str, Any] = VEE, previous: Worked | None = None, **visit: Any
) -> Case:
    worked = work_out(readings, number=2000)
    return Case(readings=tuple(readings), worked=worked, engine=engine, visit=visit, previous=previous)


def found(given: Case, module: Any = findings_spread) -> dict[str, Finding]:
    return {one.code: one for one in module.find(given)}


# --- spread


def test_a_cold_cylinder_is_found_with_its_interval_and_a_second_witness_and_nothing_else() -> None:
    seen = found(case(ports(LEFT, (546, 553, 549, 470, 551))))
    assert set(seen) == {"CY-10"}
    one = seen["CY-10"]
    assert one.severity == "visit"
    assert "Cylinder R4 reads cold" in one.says
    assert "to −7" in one.says
    assert "second thermometer" in one.next_step
    assert "common practice, no source" in one.compared_with
    assert one.probability == 1.0
    assert one.because == (f"as_found/cylinder_R4/{PORT}",)


def test_units_change_no_judgement() -> None:
    readings = ports(LEFT, (546, 553, 549, 470, 551))
    fahrenheit = [
        read(PORT, one.place, 1.8 * (one.value - 273.15) + 32, 3.5 * 1.8, "degF", one.state) for one in readings
    ]
    si, us = found(case(readings)), found(case(fahrenheit, system="us"))
    assert set(si) == set(us)
    assert "°F" in us["CY-10"].says


def test_a_sound_engine_gives_no_finding() -> None:
    assert found(case(ports(LEFT, (546, 553, 549, 544, 551)))) == {}


def test_hot_neighbours_banks_apart_and_scattered_ones_have_their_own_words() -> None:
    hot = found(case(ports((548, 552, 640, 645, 550), (546, 553, 549, 544, 551))))
    assert {"CY-11", "CY-15"} == set(hot)
    assert "neighbours hot: " in hot["CY-15"].says
    apart = found(case(ports(LEFT, (606, 613, 609, 604, 611))))
    assert set(apart) == {"CY-16"}
    assert "right bank is hotter" in apart["CY-16"].says
    loose = found(case(row((548, 580, 520, 601, 560, 490)), INLINE))
    assert set(loose) == {"CY-14"}


def test_a_cylinder_that_is_always_so_is_noted_and_one_that_changed_is_found() -> None:
    usual_row = (546.0, 553.0, 549.0, 490.0, 551.0)
    before = work_out(ports(LEFT, usual_row), number=500)
    always = found(case(ports(LEFT, (548, 550, 549, 492, 553)), previous=before))
    assert set(always) == {"CY-12"}
    moved = found(case(ports((548, 552, 541, 557, 524), (546, 553, 549, 490, 551)), previous=before))
    assert set(moved) == {"CY-12", "CY-13"}
    assert "L5 has gone colder by 26" in moved["CY-13"].says
    assert BY_VISIT in moved["CY-13"].says


def test_another_load_at_the_last_visit_is_said() -> None:
    load = [read("engine_load", "engine", 95, 1, "%")]
    then = work_out([*ports(LEFT, LEFT), read("engine_load", "engine", 60, 1, "%")], number=500)
    seen = found(case([*ports((548, 552, 541, 557, 505), LEFT), *load], previous=then))
    assert "load then 60 %, now 95 %" in seen["CY-13"].says


def test_the_pattern_of_the_log_goes_before_the_last_visit_and_survives_as_data() -> None:
    stream = np.random.default_rng(1)
    places = [f"cylinder_{n}" for n in range(1, 7)]
    own = np.array([0.0, 4, -6, 8, -45, 2])
    load = stream.uniform(0.7, 1.0, 100)
    log = 820.0 + own + 2.0 * stream.standard_normal((100, 6))
    pattern = usual(log, load)
    again = pattern_of_data(pattern_as_data(pattern, places), places)
    assert again.middle == pytest.approx(pattern.middle)
    readings = [*row((548, 552, 542, 556, 503, 550)), read("engine_load", "engine", 90, 1, "%")]
    given = case(readings, INLINE, work_out(row((548, 552, 541, 557, 550, 546)), number=500))
    seen = judged(Case(**{**_fields(given), "visit": {USUAL: pattern_as_data(pattern, places)}}), "as_found")
    assert seen is not None
    assert seen.compared == BY_LOG
    fifth = seen.at("cylinder_5")
    assert fifth is not None
    assert (fifth.changed, fifth.beyond_limit) == (0, True)
    assert abs(fifth.residual) < 6.0


def _fields(given: Case) -> dict[str, Any]:
    return {name: getattr(given, name) for name in ("readings", "worked", "engine", "visit", "previous")}


# --- masks


def test_masked_sensors_are_told_apart_and_left_out() -> None:
    readings = ports((548, 1372, 45, 557, 550), (546, 553, 549, 544))
    given = case(readings)
    seen = found(given)
    assert set(seen) == {"CY-17", "CY-18", "CY-19"}
    assert "R5" in seen["CY-19"].says
    judged_now = judged(given, "as_found")
    assert judged_now is not None
    assert [one.mark for one in judged_now.cylinders if one.name in ("L2", "L3")] == [Mark.COLD_JUNCTION, Mark.OPEN]
    without = [one for one in readings if one.place not in ("cylinder_L2", "cylinder_L3")]
    absent = judged(case(without), "as_found")
    assert absent is not None
    assert absent.spread.scale == pytest.approx(float(judged_now.spread.scale))


def test_a_few_ports_read_after_work_on_one_are_not_called_unread() -> None:
    few = [one for one in ports(LEFT, LEFT) if one.place in ("cylinder_L4", "cylinder_L2")]
    assert found(case(few)) == {}


def test_an_engine_at_rest_and_a_visit_without_ports_are_not_judged() -> None:
    assert judged(case(ports((25, 26, 25, 27, 25), (25, 26, 25, 24, 25))), "as_found") is None
    assert judged(case([read("engine_load", "engine", 95, 1, "%")]), "as_found") is None
    assert found(case([])) == {}


def test_the_same_digits_while_the_others_moved_may_be_frozen() -> None:
    before = work_out(ports(LEFT, LEFT), number=500)
    warmer = tuple(one + 12 for one in LEFT)
    seen = found(case(ports(warmer, (*warmer[:4], 550)), previous=before))
    assert "R5" in seen["CY-29"].says
    assert "CY-29" not in found(case(ports(LEFT, LEFT), previous=before))


# --- the sheet


def test_the_sheet_gives_medians_deviations_difference_range_and_scatter() -> None:
    worked = case(ports(LEFT, (546, 553, 549, 470, 551))).worked

    def value(key: str) -> float:
        result = worked.result(f"as_found/{key}")
        assert result is not None
        return result.value

    assert value("left_bank/exhaust_median") == pytest.approx(823.15)
    assert value("right_bank/exhaust_median") == pytest.approx(822.15)
    assert value("engine/exhaust_bank_difference") == pytest.approx(1.0)
    assert value("engine/exhaust_range") == pytest.approx(87.0)
    assert value("engine/exhaust_spread_scale") == pytest.approx(2.5 * 1.8945, rel=1e-3)
    assert value("cylinder_R4/cylinder_exhaust_deviation") == pytest.approx(-79.0, abs=0.6)
    assert worked.result("as_found/engine/exhaust_median") is not None


def test_a_masked_sensor_is_out_of_the_sheets_median() -> None:
    worked = case(ports((548, 1372, 45, 557, 550), LEFT)).worked
    result = worked.result("as_found/left_bank/exhaust_median")
    assert result is not None
    assert result.value == pytest.approx(550 + 273.15)


# --- bearings and wear


def bearings(*values: float, oil: float = 72.0) -> list[Reading]:
    return [
        *(read("bearing_temperature", f"bearing_{n}", one, 1.0, "degC") for n, one in enumerate(values, 1)),
        read("oil_temperature", "engine", oil, 1.0, "degC"),
    ]


def test_a_bearing_apart_and_one_that_rises_are_found_whatever_the_oil() -> None:
    before = work_out(bearings(84, 85, 83, 84.5, 84, 85, 84, oil=66), number=500)
    seen = found(case(bearings(90, 91, 89, 90.5, 90, 95, 90), previous=before), findings_bearings)
    assert set(seen) == {"CY-21"}
    assert "bearing 6 has risen by 4.0 K" in seen["CY-21"].says
    assert "oil +6" in seen["CY-21"].says
    hot = found(case(bearings(90, 91, 89.5, 90.5, 90, 104, 90, 89)), findings_bearings)
    assert hot["CY-20"].severity == "visit"
    cold = found(case(bearings(90, 91, 89.5, 90.5, 90, 60, 90, 89)), findings_bearings)
    assert cold["CY-20"].severity == "note"
    assert "does not run cold" in cold["CY-20"].next_step
    assert found(case(bearings(90, 91)), findings_bearings) == {}


def test_each_bearing_lies_over_the_oil_on_the_sheet() -> None:
    result = case(bearings(84, 85, 83)).worked.result("as_found/bearing_2/bearing_over_oil")
    assert result is not None
    assert result.value == pytest.approx(13.0)


def test_low_compression_is_found_with_its_chance() -> None:
    readings = [
        read("compression_pressure", f"cylinder_{n}", one, 0.5, "bar") for n, one in enumerate((31, 30.5, 26, 31.5), 1)
    ]
    one = found(case(readings), findings_wear)["CY-23"]
    assert "cylinder 3" in one.says
    assert one.probability is not None
    assert 0.9 < one.probability <= 1.0


def test_plugs_valves_and_clearances_are_found_before_their_limits() -> None:
    readings = [
        read("plug_gap_new", "engine", 0.30, 0.01, "mm"),
        read("plug_gap_limit", "engine", 0.50, 0.0, "mm"),
        read("plug_hours", "engine", 3000, 0, "h"),
        *(read("plug_gap", f"cylinder_{n}", one, 0.01, "mm") for n, one in enumerate((0.45, 0.38, 0.30), 1)),
        read("exhaust_valve_recession", "cylinder_1", 2.1, 0.05, "mm"),
        read("exhaust_valve_recession", "cylinder_2", 0.0, 0.02, "mm"),
        read("exhaust_recession_limit", "engine", 2.0, 0.0, "mm"),
        read("valve_hours", "engine", 9000, 0, "h"),
        *(
            read("exhaust_valve_clearance", f"cylinder_{n}", one, 0.02, "mm")
            for n, one in enumerate((0.5, 0.48, 0.1), 1)
        ),
    ]
    given = case(readings)
    all_ = list(findings_wear.find(given))
    gap, valve = (one for one in all_ if one.code == "CY-26")
    assert "1,000 h" in gap.says
    assert (gap.severity, valve.severity) == ("soon", "visit")
    assert "at its limit" in valve.says
    assert any(one.code == "CY-27" and "cylinder 3" in one.says for one in all_)
    assert given.worked.result("as_found/cylinder_3/plug_hours_to_limit") is None or not np.isfinite(
        given.worked.result("as_found/cylinder_3/plug_hours_to_limit").value  # type: ignore[union-attr]
    )


def test_ignition_and_crankcase() -> None:
    demands = [
        read("ignition_demand", f"cylinder_{n}", one, 0.5, "kV") for n, one in enumerate((18, 19, 17.5, 27, 18), 1)
    ]
    before = work_out([read("crankcase_pressure", "engine", 100, 5, "Pa")], number=200)
    readings = [
        *demands,
        read("ignition_voltage_available", "engine", 30, 1, "kV"),
        read("crankcase_pressure", "engine", 260, 5, "Pa"),
    ]
    seen = found(case(readings, previous=before), findings_wear)
    assert set(seen) == {"CY-24", "CY-25", "CY-28"}
    assert "1.6 times the blow-by" in seen["CY-28"].says


def test_the_plug_sheet_gives_a_plausible_voltage_that_grows_with_the_gap() -> None:
    common = [
        read("manifold_pressure", "engine", 250, 2, "kPa"),
        read("manifold_temperature", "engine", 50, 1, "degC"),
        read("compression_ratio", "engine", 11, 0.1, "1"),
        read("ignition_timing", "engine", 20, 0.5, "deg"),
        read("plug_gap_limit", "engine", 0.45, 0.0, "mm"),
    ]
    volts = []
    for gap in (0.25, 0.35):
        plug = [
            read("plug_gap", "cylinder_1", gap, 0.01, "mm"),
            read("ignition_demand", "cylinder_1", 20, 0.5, "kV"),
        ]
        worked = case([*common, *plug]).worked
        result, at_limit = (
            worked.result(f"as_found/cylinder_1/{one}") for one in ("plug_required_voltage", "plug_voltage_at_limit")
        )
        assert result is not None
        assert at_limit is not None
        assert at_limit.value > 20e3
        assert result.assumed
        volts.append(result.value)
    assert 8e3 < volts[0] < volts[1] < 45e3


def test_what_no_engine_has_is_refused_with_what_to_do() -> None:
    readings = [
        read("plug_gap_new", "engine", 0.30, 0.01, "mm"),
        read("plug_hours", "engine", 0, 0, "h"),
        read("plug_gap", "cylinder_1", 0.45, 0.01, "mm"),
        read("compression_ratio", "engine", 1, 0, "1"),
        read("manifold_pressure", "engine", 250, 2, "kPa"),
    ]
    refused = {one.worksheet: one.says for one in case(readings).worked.refused}
    assert "hours since" in refused["plug_gap_growth_since_new"]
    assert "geometric ratio" in refused["compression_expected"]
