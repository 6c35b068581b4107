"""Compressor stages beside numbers that are not ours, and the laws that compression must keep."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound.power.compressor_stage as stage
from asfound.fuel import real_gas
from asfound.power.checks_load import checks
from asfound.power.compressor_gas import compress, ideal_exponent

from .visit import findings, sheet, value

# invented gases, per cent: the field gas of the demo world before and after a rich well, and a nearly pure one
G1 = {"methane": 91.2, "ethane": 4.6, "propane": 1.55, "n_butane": 0.53, "n_pentane": 0.12, "n_hexane": 0.05,
      "nitrogen": 1.05, "carbon_dioxide": 0.9}  # fmt: skip
G2 = {"methane": 81.4, "ethane": 9.1, "propane": 4.3, "n_butane": 1.67, "n_pentane": 0.49, "n_hexane": 0.24,
      "nitrogen": 0.95, "carbon_dioxide": 1.85}  # fmt: skip
LEAN = {"methane": 98.0, "nitrogen": 2.0}
gases = st.sampled_from([G1, G2, LEAN])
ratios = st.floats(1.05, 5.0)
exponents = st.floats(1.1, 1.42)
suctions = st.floats(1.2e5, 30e5)
cool = st.floats(280.0, 330.0)


def gas(parts: dict[str, float]):
    total = sum(parts.values())
    return real_gas.composition({name: part / total for name, part in parts.items()})


def test_every_published_value_is_met() -> None:
    assert [one.check for one in checks() if not one.holds] == []


# --- laws of the handbook's formula


@given(ratios, ratios, cool, exponents)
def test_two_stages_without_cooling_are_one(first: float, second: float, t: float, k: float) -> None:
    between = float(stage.isentropic_temperature(first, t, k))
    parts = stage.isentropic_work(first, t, k) + stage.isentropic_work(second, between, k)
    assert parts == pytest.approx(stage.isentropic_work(first * second, t, k), rel=1e-12)
    assert stage.isentropic_temperature(second, between, k) == pytest.approx(
        stage.isentropic_temperature(first * second, t, k), rel=1e-12
    )


@given(ratios, ratios, cool, exponents)
def test_cooling_between_stages_saves_work(first: float, second: float, t: float, k: float) -> None:
    cooled = stage.isentropic_work(first, t, k) + stage.isentropic_work(second, t, k)
    assert cooled < stage.isentropic_work(first * second, t, k)


@given(ratios, st.floats(1.001, 1.5), cool, exponents)
def test_more_ratio_takes_more_work_and_ends_hotter(r: float, more: float, t: float, k: float) -> None:
    assert stage.isentropic_work(r * more, t, k) > stage.isentropic_work(r, t, k)
    assert stage.isentropic_temperature(r * more, t, k) > stage.isentropic_temperature(r, t, k)


@given(ratios, cool, exponents)
def test_work_lies_between_isothermal_and_the_last_volume(r: float, t: float, k: float) -> None:
    """Any compression without loss takes at least RT ln r, and less than if all were pushed at the end pressure."""
    least = stage.GAS_CONSTANT * t * math.log(r)
    assert least < float(stage.isentropic_work(r, t, k)) < stage.GAS_CONSTANT * t * (r - 1)


@given(st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(0.0, 0.04), st.floats(5.0, 200.0))
def test_both_ends_pump_twice_the_head_end_less_the_rod(bore: float, stroke: float, rod: float, speed: float) -> None:
    head = stage.displacement(bore, stroke, rod, 1.0, 1.0, speed)
    both = stage.displacement(bore, stroke, rod, 2.0, 3.0, speed)
    rods = math.pi / 4 * rod**2 * stroke * speed / (2 * math.pi)
    assert both == pytest.approx(3 * (2 * head - rods), rel=1e-12)


@given(ratios, exponents, st.floats(0.0, 0.2))
def test_without_clearance_only_the_loss_is_lost(r: float, k: float, loss: float) -> None:
    assert stage.volumetric_efficiency(0.0, r, k, loss=loss) == pytest.approx(1 - loss)


@given(ratios, exponents, st.floats(0.01, 0.15), st.floats(1.01, 2.0))
def test_more_clearance_takes_in_less(r: float, k: float, c: float, more: float) -> None:
    assert stage.volumetric_efficiency(c * more, r, k) < stage.volumetric_efficiency(c, r, k)


@given(st.floats(0.01, 50.0), suctions, cool, st.floats(0.6, 1.05))
def test_flow_there_and_back(flow: float, p: float, t: float, z: float) -> None:
    volume = stage.volume_flow(flow, p, t, z)
    assert stage.normal_flow(volume, p, t, z) == pytest.approx(flow, rel=1e-12)


def test_where_nothing_is_compressed_there_is_no_answer() -> None:
    open_bypass = stage.pressure_ratio(np.array([4e5, 4e5, 0.0, np.nan]), np.array([4e5, 3e5, 3e5, 3e5]))
    assert np.isnan(open_bypass).all()
    assert np.isnan(stage.isentropic_work(open_bypass, 300.0, 1.27)).all()
    assert np.isnan(stage.displacement(0.3, 0.15, 0.05, 2.0, 1.0, np.array([0.0, np.nan]))).all()
    assert np.isnan(stage.power(np.array([0.0, -1.0, np.nan]), 1e5, 0.85)).all()
    assert np.isnan(stage.volumetric_efficiency(1.2, 6.0, 1.27))  # the clearance fills the whole stroke again
    assert np.isnan(stage.quick_rule(2.0, 9.0, 4, 300.0))  # the rule has no allowance for four stages


def test_arrays_are_scalars_side_by_side() -> None:
    r, t, k = np.array([1.5, 2.5, 4.0]), np.array([290.0, 305.0, 320.0]), np.array([1.22, 1.27, 1.31])
    work = stage.isentropic_work(r, t, k)
    assert [float(stage.isentropic_work(*one)) for one in zip(r, t, k, strict=True)] == pytest.approx(list(work))
    many = compress(gas(G2), t, 4e5, 4e5 * r)
    one_by_one = [compress(gas(G2), float(a), 4e5, float(4e5 * b)) for a, b in zip(t, r, strict=True)]
    assert list(many.work) == pytest.approx([float(one.work) for one in one_by_one], rel=1e-12)
    assert list(many.temperature) == pytest.approx([float(one.temperature) for one in one_by_one], rel=1e-12)


def test_the_quick_rule_on_the_handbooks_example() -> None:
    """2 million cubic feet a day, ratio 9 in two stages: 285 hp; from memory, unverified."""
    cubic_feet = 2e6 * 0.3048**3 / 86400  # at 14.4 psia and intake temperature, as the rule counts
    flow = stage.normal_flow(cubic_feet, stage.QUICK_PRESSURE, 300.0)
    assert stage.quick_rule(flow, 9.0, 2, 300.0) / 745.7 == pytest.approx(285.0, abs=0.5)


# --- laws of the real gas


@given(gases, suctions, cool, st.floats(1.2, 2.2), st.floats(1.2, 2.2))
def test_a_real_gas_in_two_stages_without_cooling_is_one(
    parts: dict[str, float], p: float, t: float, first: float, second: float
) -> None:
    mixture = gas(parts)
    low = compress(mixture, t, p, p * first)
    high = compress(mixture, low.temperature, p * first, p * first * second)
    whole = compress(mixture, t, p, p * first * second)
    assert low.work + high.work == pytest.approx(float(whole.work), rel=1e-7)
    assert high.temperature == pytest.approx(float(whole.temperature), rel=1e-6)


@given(gases, cool, ratios)
def test_at_little_pressure_the_real_gas_is_ideal(parts: dict[str, float], t: float, r: float) -> None:
    """Then work is the heat taken up at constant pressure, and the exponent that makes both ends meet is near k."""
    mixture = gas(parts)
    found = compress(mixture, t, 100.0, 100.0 * r)
    assert found.suction_compressibility == pytest.approx(1.0, abs=1e-4)
    handbook = stage.isentropic_work(r, t, found.exponent)
    assert found.work == pytest.approx(float(handbook), rel=6e-3)


@given(gases, suctions, cool, st.floats(1.3, 4.0))
def test_the_handbook_is_within_one_per_cent_of_the_real_gas(
    parts: dict[str, float], p: float, t: float, r: float
) -> None:
    found = compress(gas(parts), t, p, p * r)
    z = (found.suction_compressibility + found.discharge_compressibility) / 2
    handbook = stage.isentropic_work(r, t, found.exponent, z)
    assert float(handbook / found.work) == pytest.approx(1.0, abs=0.02 if p * r > 60e5 else 0.01)


@given(gases, suctions, cool, st.floats(1.3, 4.0))
def test_both_equations_of_state_say_the_same(parts: dict[str, float], p: float, t: float, r: float) -> None:
    one, two = (compress(gas(parts), t, p, p * r, equation=name) for name in ("gerg", "detail"))
    assert float(one.work) == pytest.approx(float(two.work), rel=1.5e-3)
    assert float(one.temperature) == pytest.approx(float(two.temperature), abs=0.5)


def test_the_exponent_of_a_gas_without_vibration_is_that_of_kinetic_theory() -> None:
    """Argon has 5/3 at any temperature; methane near 1.30 at 300 K falls as it warms."""
    argon = real_gas.composition({"argon": 1.0})
    assert ideal_exponent(argon, np.array([250.0, 450.0])) == pytest.approx([5 / 3, 5 / 3], rel=1e-9)
    methane = ideal_exponent(real_gas.composition({"methane": 1.0}), np.array([300.0, 400.0]))
    assert methane[0] == pytest.approx(1.304, abs=0.002)
    assert methane[1] < methane[0]


def test_a_stopped_compressor_has_no_answer() -> None:
    found = compress(gas(G1), 300.0, np.array([4e5, 4e5, 0.0, 4e5]), np.array([4e5, 3e5, 9e5, np.nan]))
    for one in (found.work, found.temperature, found.suction_compressibility, found.discharge_compressibility):
        assert np.isnan(one).all()


# --- on the sheet

FIELD = {
    "fuel/fuel_methane": "91.2 %", "fuel/fuel_ethane": "4.6 %", "fuel/fuel_propane": "1.55 %",
    "fuel/fuel_butane": "0.53 %", "fuel/fuel_nitrogen": "1.05 %", "fuel/fuel_carbon_dioxide": "0.9 %",
    "site/barometric_pressure": "85.0 kPa",
}  # fmt: skip
STAGES = {
    "stage_1/suction_pressure": "50 psig", "stage_1/discharge_pressure": "188 psig",
    "stage_1/suction_temperature": "90 F", "stage_1/discharge_temperature": "260 F",
    "stage_2/suction_pressure": "184 psig", "stage_2/discharge_pressure": "600 psig",
    "stage_2/suction_temperature": "112 F", "stage_2/discharge_temperature": "285 F",
}  # fmt: skip
METER = {"compressor/compressed_gas_flow": "9.0 MMscfd (60 F, 14.73 psia)"}
CYLINDERS = {
    "stage_1/compressor_bore": "18.0 in", "stage_2/compressor_bore": "11.0 in",
    "stage_1/compressor_stroke": "5.5 in", "stage_2/compressor_stroke": "5.5 in",
    "stage_1/compressor_rod_diameter": "2.5 in", "stage_2/compressor_rod_diameter": "2.5 in",
    "stage_1/compressor_cylinders": "2", "stage_2/compressor_cylinders": "2",
    "stage_1/compressor_clearance": "27.5 %", "stage_2/compressor_clearance": "32.6 %",
    "engine/engine_speed": "900 rpm",
}  # fmt: skip


def test_two_stages_add_up_to_the_power_at_the_shaft() -> None:
    worked = sheet({**FIELD, **STAGES, **METER, "engine/rated_power": "1470 kW", "engine/auxiliary_power": "30 kW"})
    stages = [value(worked, f"stage_{n}/stage_power") for n in (1, 2)]
    coupling = value(worked, "compressor/compressor_power")
    assert coupling == pytest.approx(sum(stages) / 0.95)
    assert value(worked, "engine/engine_power") == pytest.approx(coupling + 30e3)
    assert value(worked, "engine/engine_load") == pytest.approx((coupling + 30e3) / 1470e3)
    by_rule = value(worked, "compressor/compressor_power_by_rule")
    assert by_rule == pytest.approx(coupling, rel=0.15)


def test_the_power_is_that_of_the_textbook_formula_done_by_hand() -> None:
    """Methane at low pressure, done with a pocket calculator."""
    worked = sheet({
        "fuel/fuel_methane": "100 %", "stage_1/suction_temperature": "300 K",
        "stage_1/suction_pressure": "2 bar abs", "stage_1/discharge_pressure": "5 bar abs",
        "compressor/compressed_gas_flow": "3600 m3(n)/h",
        "stage_1/stage_isentropic_efficiency": "100 %", "compressor/compressor_mechanical_efficiency": "100 %",
    })  # fmt: skip
    k = 1.289  # of methane near 335 K
    by_hand = 1.0 * 101_325 / 273.15 * 300 * k / (k - 1) * (2.5 ** ((k - 1) / k) - 1)
    assert value(worked, "compressor/compressor_power") == pytest.approx(by_hand, rel=6e-3)


def test_units_cannot_change_a_result() -> None:
    si = {
        "stage_1/suction_pressure": "344.737864 kPa g", "stage_1/discharge_pressure": "1296.214370 kPa g",
        "stage_1/suction_temperature": "32.222222 °C",
    }  # fmt: skip
    us = {key: STAGES[key] for key in si}
    flow = 9.0e6 * 0.3048**3 * (14.73 * 6.894757293 / 101.325) * (273.15 / 288.705556) / 24
    one = sheet({**FIELD, **us, **METER})
    two = sheet({**FIELD, **si, "compressor/compressed_gas_flow": f"{flow:.6f} m3(n)/h"})
    for key in ("stage_1/stage_isentropic_work", "stage_1/stage_isentropic_temperature", "engine/engine_power"):
        assert value(one, key) == pytest.approx(value(two, key), rel=1e-7)


def test_cylinders_and_meter_are_two_roads_that_agree_on_a_sound_machine() -> None:
    worked = sheet({**FIELD, **STAGES, **METER, **CYLINDERS}, u=0.01)
    metered = value(worked, "engine/engine_power", "engine_power_from_compressor")
    by_cylinders = value(worked, "engine/engine_power", "engine_power_by_cylinders")
    assert by_cylinders == pytest.approx(metered, rel=0.03)
    assert {"PW-21"} == set(findings(worked))


def test_a_sum_of_some_stages_is_no_sum() -> None:
    part = {key: text for key, text in STAGES.items() if key != "stage_2/suction_temperature"}
    worked = sheet({**FIELD, **part, **METER})
    assert worked.result("as_found/stage_1/stage_power") is not None
    assert worked.result("as_found/compressor/compressor_power") is None


def test_another_gas_than_the_fuel_is_taken_where_it_is_analysed() -> None:
    own = {"compressor/fuel_methane": "81.4 %", "compressor/fuel_ethane": "9.1 %", "compressor/fuel_propane": "9.5 %"}
    fuel, process = sheet({**FIELD, **STAGES}), sheet({**FIELD, **STAGES, **own})
    key = "stage_1/stage_isentropic_exponent"
    assert value(process, key) < value(fuel, key) - 0.01
    assert value(process, "fuel/net_heating_value") == value(fuel, "fuel/net_heating_value")


def test_without_an_analysis_the_handbook_takes_a_field_gas_and_says_so() -> None:
    worked = sheet({**STAGES, "site/barometric_pressure": "85.0 kPa", **METER})
    result = worked.result("as_found/stage_1/stage_isentropic_work")
    assert result is not None
    assert result.worksheet == "compression_by_exponent"
    assert {one.quantity for one in result.assumed} == {
        "stage_isentropic_exponent", "stage_suction_compressibility", "stage_discharge_compressibility",
    }  # fmt: skip
    analysed = sheet({**FIELD, **STAGES, **METER})
    low, high = result.interval
    assert low < value(analysed, "stage_1/stage_isentropic_work") < high


def test_a_stage_that_does_not_compress_is_refused_with_what_to_do() -> None:
    swapped = {**STAGES, "stage_1/suction_pressure": "188 psig", "stage_1/discharge_pressure": "50 psig"}
    worked = sheet({**FIELD, **swapped, **METER})
    said = [one.says for one in worked.refused if one.place == "stage_1"]
    assert any("nothing is compressed" in one and "gauges are swapped" in one for one in said)
    assert worked.result("as_found/compressor/compressor_power") is None


# --- findings


def test_a_leaking_valve_is_told_by_its_heat() -> None:
    sound = sheet({**FIELD, **STAGES}, u=0.001)
    assert "PW-26" not in findings(sound)
    (found,) = findings(sheet({**FIELD, **STAGES, "stage_1/discharge_temperature": "302 F"}, u=0.001))["PW-26"]
    assert "stage 1" in found.says
    assert "hot" in found.cautions


def test_over_150_degrees_is_hot() -> None:
    assert "PW-27" not in findings(sheet({"stage_1/discharge_temperature": "297 F"}, u=0.001))
    found = findings(sheet({"stage_1/discharge_temperature": "312 F"}, u=0.001))
    assert found["PW-27"][0].severity == "visit"


def test_a_gauge_pressure_taken_for_absolute_makes_the_discharge_too_cold() -> None:
    """50 psig typed as 50 psia: the ratio seems larger, and no sound cylinder would deliver as cold as was read."""
    wrong = {"stage_1/suction_pressure": "50 psia"}
    assert "PW-28" in findings(sheet({**FIELD, **STAGES, **wrong}, u=0.001))
    assert "PW-28" not in findings(sheet({**FIELD, **STAGES}, u=0.001))


def test_stages_that_pass_another_gas_are_told() -> None:
    """Its pockets closed more than entered, or a leak: the second stage seems to take in more than the first."""
    found = findings(sheet({**FIELD, **STAGES, **CYLINDERS, "stage_2/compressor_clearance": "12 %"}, u=0.003))
    assert any("stage 2" in one.says and "more than stage 1" in one.says for one in found["PW-29"])


def test_a_stage_cannot_take_in_gas_above_the_pressure_at_which_it_is_given() -> None:
    found = findings(sheet({**FIELD, **STAGES, "stage_2/suction_pressure": "196 psig"}, u=0.002))
    assert "above" in found["PW-29"][0].says
