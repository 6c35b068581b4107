"""The catalyst: conversion, heat, pressure drop, and the signs that findings make of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.exhaust.catalyst import conversion, conversion_by_co2, pressure_drop_ratio
from asfound.exhaust.catalyst_case import seen
from asfound.exhaust.catalyst_heat import converted, heat, heat_capacity, temperature_rise, wet_exhaust
from asfound.exhaust.findings_catalyst import find
from asfound.exhaust.findings_operating import find as find_operating
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading
from asfound.quantities.worked import Worked

from .visits import case, read

fraction = st.floats(1e-6, 5e-3)
oxygen = st.floats(0.0, 0.18)
METHANE = (1.0, 4.0, 0.0, 0.0)


# --- laws


@given(fraction, oxygen)
def test_what_comes_out_as_it_went_in_is_not_converted(c: float, o: float) -> None:
    assert conversion(c, o, c, o) == pytest.approx(0.0, abs=1e-12)
    assert conversion_by_co2(c, 0.07, c, 0.07) == pytest.approx(0.0, abs=1e-12)


@given(fraction, oxygen, fraction, oxygen, st.floats(1e-7, 1e-4))
def test_the_more_comes_out_the_less_is_converted(c: float, o: float, out: float, after: float, more: float) -> None:
    assert conversion(c, o, out + more, after) < conversion(c, o, out, after)


@given(fraction, oxygen, fraction, oxygen, st.floats(0.0, 0.17))
def test_the_reference_oxygen_cancels(c: float, o: float, out: float, after: float, reference: float) -> None:
    by_rule = 1 - at_reference_oxygen(out, after, reference) / at_reference_oxygen(c, o, reference)
    assert conversion(c, o, out, after) == pytest.approx(by_rule, rel=1e-9, abs=1e-9)


@given(fraction, oxygen, fraction, oxygen, st.sampled_from([1e6, 100.0, 1.0]))
def test_units_change_no_conversion(c: float, o: float, out: float, after: float, unit: float) -> None:
    assert conversion(c * unit, o, out * unit, after) == pytest.approx(conversion(c, o, out, after), rel=1e-9)


@given(fraction, oxygen, st.floats(0.0, 1.0), st.floats(0.0, 0.5))
def test_air_between_the_probes_changes_no_conversion(c: float, o: float, share: float, air: float) -> None:
    """Dilute what comes out with air: the naive ratio falls, the conversion stays."""
    out = c * (1 - share) * (1 - air)
    after = o * (1 - air) + 0.209 * air
    assert conversion(c, o, out, after) == pytest.approx(share, abs=1e-9)
    assert converted(c, o, out, after, 0.209) == pytest.approx(c * share, abs=1e-12)


def test_arrays_equal_scalars_and_a_standing_engine_answers_nan() -> None:
    before, after = np.array([620e-6, 0.0, 620e-6]), np.array([44e-6, 44e-6, 44e-6])
    o_before, o_after = np.array([0.091, 0.091, 0.209]), np.array([0.098, 0.098, 0.209])
    found = np.asarray(conversion(before, o_before, after, o_after))
    assert found[0] == conversion(620e-6, 0.091, 44e-6, 0.098)
    assert np.isnan(found[1:]).all()
    assert np.isnan(pressure_drop_ratio(1.0, 0.0, 700.0, 1.0, 1.0, 700.0))
    assert np.isnan(np.asarray(heat_capacity(wet_exhaust(0.08, *METHANE), np.array([0.0, np.nan, 5000.0])))).all()


@given(st.floats(100.0, 3000.0), st.floats(0.5, 3.0), st.floats(500.0, 900.0))
def test_a_clean_catalyst_is_clean_at_any_flow(drop: float, flow: float, kelvin: float) -> None:
    """What goes with flow squared and temperature is found clean again."""
    there = drop * flow**2 * kelvin / 700.0
    assert pressure_drop_ratio(there, flow, kelvin, drop, 1.0, 700.0) == pytest.approx(1.0, rel=1e-9)


@given(oxygen, st.floats(0.0, 0.04))
def test_the_shares_of_the_wet_exhaust_add_up(o: float, water: float) -> None:
    assert sum(float(one) for one in wet_exhaust(o, *METHANE, water)) == pytest.approx(1.0, rel=1e-12)


def test_wet_exhaust_of_methane_burned_without_excess() -> None:
    """CH4 + 2 O2 + 7.547 N2: 1 CO2, 2 H2O in 10.547 moles, by the equation itself (21 to 79 would give 7.52)."""
    nitrogen, oxygen_left, dioxide, water = (float(one) for one in wet_exhaust(0.0, *METHANE))
    assert dioxide == pytest.approx(1 / (3 + 2 * 0.7905 / 0.2095), rel=1e-12)
    assert water == pytest.approx(2 * dioxide)
    assert oxygen_left == pytest.approx(0.0, abs=1e-15)
    assert nitrogen == pytest.approx(1 - 3 * dioxide)


@given(st.floats(0.0, 3000.0), st.floats(450.0, 900.0))
def test_the_rise_holds_the_heat(released: float, inlet: float) -> None:
    """Energy is conserved: the heat that the mean heat capacity takes up over the rise is the heat set free.

    The enthalpy is summed by Simpson's rule from the same heat capacity, not by the formula under test.
    """
    gas = wet_exhaust(0.08, *METHANE)
    rise = float(temperature_rise(released, gas, inlet))
    points = np.linspace(inlet, inlet + rise, 5)
    capacity = np.asarray(heat_capacity(gas, points))
    taken_up = rise / 12 * float(capacity @ np.array([1.0, 4.0, 2.0, 4.0, 1.0]))
    assert taken_up == pytest.approx(released, rel=2e-4, abs=1e-6)


def test_heat_of_combustion_agrees_with_the_table_of_the_fuel_room() -> None:
    """ISO 6976:2016, gross at 25 degrees Celsius, less the heat of the water (44.013 kJ/mol)."""
    from asfound.sources.tables import load_csv

    rows = {row["component"]: row for row in load_csv("asfound.fuel", "data/iso6976_2016.csv")}
    for mine, theirs, water in (
        ("co", "carbon monoxide", 0),
        ("hydrogen", "hydrogen", 1),
        ("propane", "propane", 4),
        ("methane", "methane", 2),
    ):
        assert heat(mine) == pytest.approx(float(rows[theirs]["H_25"]) * 1e3 - water * 44_013.0, abs=1.0)


# --- on the sheet


def visit(**changed: Any) -> tuple[Reading, ...]:
    """Return a lean engine with a sound oxidation catalyst, with some numbers changed."""
    numbers: dict[str, Any] = {
        "o_in": 9.0,
        "o_out": 9.0,
        "co_in": 600.0,
        "co_out": 30.0,
        "hcho_in": 60.0,
        "hcho_out": 12.0,
        "inlet": 440.0,
        "rise": 8.0,
        "drop": 1.0,
    } | changed
    return (
        read("exhaust_oxygen_dry", "before_catalyst", numbers["o_in"], 0.05, "%"),
        read("exhaust_oxygen_dry", "after_catalyst", numbers["o_out"], 0.05, "%"),
        read("exhaust_co_dry", "before_catalyst", numbers["co_in"], 6, "ppm"),
        read("exhaust_co_dry", "after_catalyst", numbers["co_out"], 2, "ppm"),
        read("exhaust_formaldehyde_dry", "before_catalyst", numbers["hcho_in"], 1, "ppm"),
        read("exhaust_formaldehyde_dry", "after_catalyst", numbers["hcho_out"], 0.5, "ppm"),
        read("catalyst_inlet_temperature", "engine", numbers["inlet"], 1.5, "°C"),
        read("catalyst_outlet_temperature", "engine", numbers["inlet"] + numbers["rise"], 1.5, "°C"),
        read("catalyst_pressure_drop", "engine", numbers["drop"], 0.02, "kPa"),
        read("catalyst_clean_pressure_drop", "engine", 1.0, 0.02, "kPa"),
        read("catalyst_clean_exhaust_flow", "engine", 4000, 40, "m3/h (20 C, 101.325 kPa)"),
        read("catalyst_clean_inlet_temperature", "engine", 440, 2, "°C"),
        read("exhaust_flow_dry", "after_catalyst", 4000, 60, "m3/h (20 C, 101.325 kPa)"),
    )


def codes(readings: tuple[Reading, ...], previous: Worked | None = None, **engine: Any) -> set[str]:
    return {one.code for one in find(case(*readings, previous=previous, **engine))}


def test_conversion_comes_with_its_interval() -> None:
    worked = work_out(visit(), number=4000)
    result = worked.result("as_found/engine/catalyst_conversion_co")
    assert result is not None
    assert result.value == pytest.approx(0.95, abs=1e-9)
    # law of propagation (JCGM 100): relative variances of what comes out, what goes in, and both oxygens, by hand
    by_hand = 0.05 * (((2 / 30) ** 2 + (6 / 600) ** 2 + 2 * (0.05 / 11.9) ** 2) ** 0.5)
    assert result.standard_uncertainty == pytest.approx(by_hand, rel=0.05)


def test_the_stack_serves_where_nobody_sampled_after_the_catalyst() -> None:
    readings = (
        read("exhaust_oxygen_dry", "before_catalyst", 9.0, 0.05, "%"),
        read("exhaust_co_dry", "before_catalyst", 600, 6, "ppm"),
        read("exhaust_oxygen_dry", "stack", 9.0, 0.05, "%"),
        read("exhaust_co_dry", "stack", 30, 2, "ppm"),
    )
    result = work_out(readings, number=500).result("as_found/engine/catalyst_conversion_co")
    assert result is not None
    assert result.worksheet == "conversion_co_to_stack"
    assert result.value == pytest.approx(0.95)


def test_the_expected_rise_is_the_balance_by_hand() -> None:
    """570 ppm CO with 0.3 hydrogen each, 48 ppm formaldehyde, dry; heat capacities at 720 K from memory of JANAF."""
    worked = work_out(visit(), number=500)
    result = worked.result("as_found/engine/catalyst_expected_temperature_rise")
    assert result is not None
    dry = 570e-6 * (282_980 + 0.3 * 241_817) + 48e-6 * 526_700
    nitrogen, oxygen_left, dioxide, water = (float(x) for x in wet_exhaust(0.09, 1.06, 4.08, 0.02, 0.02, 0.01))
    capacity = nitrogen * 30.89 + oxygen_left * 33.13 + dioxide * 49.95 + water * 37.73
    assert result.value == pytest.approx((1 - water) * dry / capacity, rel=3e-3)


# --- signs


def test_a_sound_catalyst_has_no_sign() -> None:
    assert codes(visit()) == {"EX-49"}


def test_fallen_conversion_with_all_else_normal_is_poisoning() -> None:
    before = work_out(visit(), number=1000)
    found = [one for one in find(case(*visit(co_out=234, rise=5.5), previous=before)) if one.code == "EX-40"]
    assert "poisoning" in found[0].says
    assert "papers come first" in found[0].next_step


def test_fallen_conversion_of_a_cold_catalyst_is_not_blamed_on_it() -> None:
    before = work_out(visit(), number=1000)
    found = [
        one for one in find(case(*visit(co_out=234, rise=5.5, inlet=215.0), previous=before)) if one.code == "EX-40"
    ]
    assert "before the catalyst is blamed" in found[0].says


def test_equal_slips_are_a_bypass() -> None:
    assert "EX-41" in codes(visit(co_out=120, hcho_out=12, rise=6.5))
    assert "EX-41" not in codes(visit(co_out=60, hcho_out=24, rise=7.0))


@pytest.mark.parametrize(("drop", "code"), [(1.6, "EX-42"), (2.6, "EX-42"), (0.5, "EX-48")])
def test_pressure_drop_against_clean(drop: float, code: str) -> None:
    assert code in codes(visit(drop=drop))


def test_a_rise_beyond_what_is_converted_is_misfire() -> None:
    found = {one.code: one for one in find(case(*visit(rise=45.0)))}
    assert found["EX-43"].severity == "visit"
    assert "misfire" in found["EX-43"].next_step


def test_a_conversion_without_warmth_is_doubted() -> None:
    assert "EX-46" in codes(visit(co_in=4000, co_out=200, rise=8.0))


def test_too_cold_and_too_hot() -> None:
    assert "EX-44" in codes(visit(inlet=215.0))
    assert "EX-44" in codes(visit(inlet=745.0))


def test_air_between_the_probes_is_named() -> None:
    assert "EX-47" in codes(visit(o_out=9.6))


def test_a_three_way_catalyst_run_lean() -> None:
    lean = (
        read("exhaust_oxygen_dry", "before_catalyst", 0.9, 0.05, "%"),
        read("exhaust_oxygen_dry", "after_catalyst", 0.5, 0.05, "%"),
        read("exhaust_nox_dry", "before_catalyst", 2000, 40, "ppm"),
        read("exhaust_nox_dry", "after_catalyst", 1200, 40, "ppm"),
    )
    assert "EX-45" in codes(lean)
    sound = (read("exhaust_oxygen_dry", "before_catalyst", 0.3, 0.05, "%"), *lean[1:])
    assert "EX-45" not in codes(sound)


def test_an_engine_without_catalyst_has_no_signs() -> None:
    assert not codes(visit(rise=45.0), catalyst=False)


def test_operating_limits_of_a_rule_that_applies() -> None:
    """40 CFR 63 Subpart ZZZZ, Table 2b: 450 to 1,350 °F, and 2 in of water off the test."""
    rules = {
        "jurisdictions": "US",
        "power": "1340 hp",
        "ignition": "spark",
        "strokes": "4",
        "burn": "lean",
        "source": "major",
        "existing": "no",
        "emergency": "no",
        "catalyst": "oxidation",
    }
    passed = (*visit(inlet=215.0, drop=1.9), read("catalyst_test_pressure_drop", "engine", 1.0, 0.02, "kPa"))
    found = list(find_operating(case(*passed, rules=rules)))
    assert {one.code for one in found} == {"EX-37"}
    assert len(found) == 2
    part_load = (*passed, read("engine_load", "engine", 70, 1, "%"))
    assert len(list(find_operating(case(*part_load, rules=rules)))) == 1


def test_a_three_way_catalyst_run_rich() -> None:
    rich = (
        read("exhaust_oxygen_dry", "before_catalyst", 0.2, 0.02, "%"),
        read("exhaust_oxygen_dry", "after_catalyst", 0.05, 0.02, "%"),
        read("exhaust_co_dry", "before_catalyst", 2.2, 0.05, "%"),
        read("exhaust_co_dry", "after_catalyst", 1.5, 0.05, "%"),
    )
    found = {one.code: one for one in find(case(*rich))}
    assert "too rich" in found["EX-45"].says
    good = (rich[0], rich[1], read("exhaust_co_dry", "before_catalyst", 0.5, 0.02, "%"), rich[3])
    assert "EX-45" not in codes(good)


def three_way(nox_out: float, co_out: float, o_out: float = 0.05, **more: float) -> tuple[Reading, ...]:
    """Return a three-way catalyst near its window; ppm, and per cent of oxygen."""
    return (
        read("exhaust_oxygen_dry", "before_catalyst", 0.4, 0.05, "%"),
        read("exhaust_co_dry", "before_catalyst", 6000, 120, "ppm"),
        read("exhaust_nox_dry", "before_catalyst", 2800, 60, "ppm"),
        read("exhaust_oxygen_dry", "after_catalyst", o_out, more.get("doubt", 0.02), "%"),
        read("exhaust_co_dry", "after_catalyst", co_out, 30, "ppm"),
        read("exhaust_nox_dry", "after_catalyst", nox_out, 5, "ppm"),
    )


def test_a_three_way_catalyst_says_by_its_conversions_which_side_it_runs_on() -> None:
    rich = {one.code: one for one in find(case(*three_way(nox_out=40, co_out=2600)))}
    assert "rich side" in rich["EX-52"].says
    assert "leaner" in rich["EX-52"].next_step
    assert "EX-49" not in rich, "it is a sign of trouble"
    lean = {one.code: one for one in find(case(*three_way(nox_out=1500, co_out=100)))}
    assert "lean side" in lean["EX-55"].says
    assert "misfire" in lean["EX-55"].next_step
    sound = {one.code: one for one in find(case(*three_way(nox_out=60, co_out=300)))}
    assert not {"EX-52", "EX-53", "EX-54", "EX-55"} & set(sound)
    assert "EX-49" in sound


def test_oxygen_behind_a_three_way_catalyst_beside_no_nox_is_the_cell_or_the_line() -> None:
    found = {one.code: one for one in find(case(*three_way(nox_out=40, co_out=300, o_out=0.38)))}
    assert "zero gas" in found["EX-53"].next_step
    unsure = three_way(nox_out=40, co_out=300, o_out=0.38, doubt=0.2)
    assert "EX-53" not in codes(unsure)


def test_sulfur_in_the_gas_is_said_of_a_three_way_catalyst_only() -> None:
    sour = read("fuel_hydrogen_sulfide", "fuel", 900, 20, "ppm")
    found = {one.code: one for one in find(case(*three_way(nox_out=60, co_out=300), sour))}
    assert "h2s" in found["EX-54"].cautions
    assert "EX-54" not in {one.code for one in find(case(*visit(), sour))}


def test_behind_alone_tells_the_kind_of_catalyst() -> None:
    after = (
        read("exhaust_oxygen_dry", "after_catalyst", 0.3, 0.05, "%"),
        read("catalyst_inlet_temperature", "engine", 560, 3, "°C"),
    )
    shows = seen(case(*after), "as_found")
    assert shows is not None
    assert shows.kind == "three_way"
