"""Fuel meters beside published and computed values, the laws they must keep, and what the findings make of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.power import differential_meters as nozzles
from asfound.power import findings_flow, orifice, turbine_meter
from asfound.power.checks_flow import checks
from asfound.power.gas_viscosity import gas_viscosity
from asfound.quantities.findings import Case
from asfound.quantities.gas_states import gas_states
from asfound.quantities.words import Finding

from .sheet_of_an_engine import ORIFICE, readings, worked

A = (0.05, 0.1023, 0.0254, 12e3, 8e5, 5.6, 1.3, 1.13e-5)
betas = st.floats(0.1, 0.75)
pipes = st.floats(0.05, 1.0)
taps = st.sampled_from(("corner", "flange", "D"))


def distance(kind: str, pipe: float) -> float:
    return {"corner": 0.0, "flange": 0.0254, "D": pipe}[kind]


@pytest.mark.parametrize("check", list(checks()), ids=lambda one: one.check)
def test_published_and_computed_values(check):
    assert check.holds, (check.value, check.published)


@given(betas, pipes, taps, st.floats(1e4, 1e8))
def test_the_coefficient_is_that_of_a_sharp_edge(beta, pipe, kind, reynolds):
    """Within 0.59 and 0.65: ISO 5167-2 prints no other in its tables from Re 10,000 on (from memory)."""
    assert 0.58 < orifice.discharge_coefficient(beta, reynolds, orifice.taps(distance(kind, pipe), pipe), pipe) < 0.68


@given(st.floats(0.2, 0.7), st.floats(1e3, 5e4), taps)
def test_iteration_ends_at_its_own_reynolds_number(beta, drop, kind):
    pipe = 0.1
    found = orifice.orifice_flow(beta * pipe, pipe, distance(kind, pipe), drop, 5e5, 3.5, 1.3, 1.1e-5)
    again = orifice.discharge_coefficient(beta, found.reynolds, orifice.taps(distance(kind, pipe), pipe), pipe)
    assert found.coefficient == pytest.approx(again, rel=1e-10)
    assert found.reynolds == pytest.approx(4 * found.mass_flow / (np.pi * pipe * 1.1e-5), rel=1e-12)


@given(st.floats(0.5, 2.0))
def test_flow_goes_with_the_area_where_the_coefficient_stays(scale):
    """Plate, pipe and taps larger by one scale, viscosity too, so that Re stays: the flow grows with the square."""
    pipe = 0.2
    one = orifice.orifice_flow(0.1, pipe, pipe, 1e4, 8e5, 5.6, 1.3, 1.1e-5)
    two = orifice.orifice_flow(0.1 * scale, pipe * scale, pipe * scale, 1e4, 8e5, 5.6, 1.3, 1.1e-5 * scale)
    assert two.coefficient == pytest.approx(one.coefficient, rel=1e-12)
    assert two.mass_flow == pytest.approx(one.mass_flow * scale**2, rel=1e-12)


@given(st.floats(100, 1e5), st.floats(1.0001, 1.5))
def test_more_difference_more_flow_but_less_than_its_root(drop, more):
    one = orifice.orifice_flow(*A[:3], drop, *A[4:])
    two = orifice.orifice_flow(*A[:3], drop * more, *A[4:])
    assert 1 < two.mass_flow / one.mass_flow <= more**0.5 + 1e-12


@given(betas, st.floats(1.1, 1.6))
def test_gas_that_does_not_expand_needs_no_factor(beta, exponent):
    assert orifice.expansibility(beta, 1e6, 1e-6, exponent) == pytest.approx(1.0, abs=1e-9)
    assert nozzles.nozzle_expansibility(beta, 1e6, 10.0, exponent) == pytest.approx(1.0, abs=1e-4)


@given(betas, st.floats(1.1, 1.6), st.floats(1e3, 2e5))
def test_an_orifice_thins_less_than_a_nozzle(beta, exponent, drop):
    plate = orifice.expansibility(beta, 8e5, drop, exponent)
    assert nozzles.nozzle_expansibility(beta, 8e5, drop, exponent) < plate < 1


def test_a_warm_plate_is_a_larger_plate():
    """60 K warmer: 0.2 % by the area of the bore, less what the pipe takes back."""
    cold, warm = (orifice.orifice_flow(*A, temperature=t).mass_flow for t in (293.15, 353.15))
    assert warm / cold == pytest.approx(1 + 2 * 16.7e-6 * 60, rel=1e-4)


def test_uncertainty_of_the_standard_for_three_plates():
    """0.5 % at beta 0.5, 0.6 % at 0.1, 0.75 % at 0.75, for 95 %: ISO 5167-2:2003, 5.3.3.1, from memory."""
    found = orifice.method_uncertainty(np.array([0.5, 0.1, 0.75]), 1e6, 0.2, 1e6, 0.0, 1.3)
    assert found == pytest.approx([0.0025, 0.003, 0.00375], rel=1e-3)


def test_draws_give_the_uncertainty_that_iso_5167_1_adds_up():
    """ISO 5167-1:2003, 8.2.2 (from memory): squares of each term with its sensitivity."""
    draw = np.random.default_rng(5).normal
    u = {"bore": 0.0007, "pipe": 0.004, "drop": 0.01, "density": 0.003}
    n = 200_000
    found = orifice.orifice_flow(
        0.05 * (1 + u["bore"] * draw(size=n)),
        0.1023 * (1 + u["pipe"] * draw(size=n)),
        0.0254,
        12e3 * (1 + u["drop"] * draw(size=n)),
        8e5,
        5.6 * (1 + u["density"] * draw(size=n)),
        1.3,
        1.13e-5,
        offset=draw(size=n),
    ).mass_flow
    b4 = (0.05 / 0.1023) ** 4
    own = float(orifice.method_uncertainty(0.05 / 0.1023, 4.9e5, 0.1023, 8e5, 12e3, 1.3))
    added = np.sqrt(
        own**2
        + (2 * b4 / (1 - b4) * u["pipe"]) ** 2
        + (2 / (1 - b4) * u["bore"]) ** 2
        + (u["drop"] / 2) ** 2
        + (u["density"] / 2) ** 2
    )
    assert found.std() / found.mean() == pytest.approx(added, rel=0.02)


def test_taps_that_are_none_of_the_three_have_no_answer():
    assert np.isnan(orifice.orifice_flow(0.05, 0.1, 0.06, 1e4, 8e5, 5.6, 1.3, 1.1e-5).mass_flow)
    assert orifice.taps(0.0245, 0.1).before == pytest.approx(0.254)
    assert orifice.taps(0.095, 0.1) == (1.0, 0.47)


def test_stopped_engine_and_nonsense_are_nan():
    drop = np.array([0.0, -5.0, np.nan, 12e3])
    found = orifice.orifice_flow(*A[:3], drop, *A[4:]).mass_flow
    assert np.isnan(found).tolist() == [True, True, True, False]
    assert np.isnan(orifice.orifice_flow(0.12, 0.1, *A[2:]).mass_flow)
    assert np.isnan(orifice.orifice_flow(*A[:4], 1e4, *A[5:]).mass_flow)
    assert np.isnan(turbine_meter.flow_by_index(5.0, np.array([4.0, 6.0]), np.array([60.0, 0.0]))).all()
    assert np.isnan(turbine_meter.volume_correction(0.0, 288.0, 1.0))
    assert np.isnan(turbine_meter.volume_correction(1e5, 0.0, 1.0))
    assert turbine_meter.flow_by_index(5.0, 5.0, 60.0) == 0.0
    assert np.isnan(gas_viscosity(0.0, 1.0, 0.016))


@given(st.integers(0, 10_000))
def test_arrays_are_scalars_side_by_side(seed):
    draw = np.random.default_rng(seed).uniform
    given_ = np.array([[v * draw(0.95, 1.05) for v in A[:2] + A[3:]] for _ in range(5)]).T
    d, pipe, drop, *rest = given_
    many = orifice.orifice_flow(d, pipe, 0.0254, drop, *rest)
    for at in range(5):
        one = orifice.orifice_flow(d[at], pipe[at], 0.0254, drop[at], *(v[at] for v in rest))
        assert [float(v) for v in one] == pytest.approx([float(v[at]) for v in many], rel=1e-12)


@given(st.floats(5e4, 5e6), st.floats(250, 330), st.floats(0.8, 1.0))
def test_at_base_nothing_changes_and_there_and_back_neither(pressure, temperature, z):
    assert turbine_meter.volume_correction(pressure, temperature, z, pressure, temperature, z) == pytest.approx(1.0)
    there = turbine_meter.volume_correction(pressure, temperature, z, 101_325.0, 288.15, 0.998)
    back = turbine_meter.volume_correction(101_325.0, 288.15, 0.998, pressure, temperature, z)
    assert there * back == pytest.approx(1.0)


def test_a_base_is_the_state_of_the_register():
    for state in gas_states().values():
        ours = turbine_meter.ideal_base(float(state.temperature), float(state.pressure))
        assert ours == pytest.approx(float(state.normal_per_here), rel=1e-12)


def test_error_of_the_certificate_is_taken_off():
    assert turbine_meter.flow_by_pulses(1000, 0.01, 10.0, 0.02) == pytest.approx(1.0 / 1.02)
    assert turbine_meter.flow_by_index(0.0, 10.0, 10.0, -0.02) == pytest.approx(1.0 / 0.98)


def flow_of(sheet, worksheet):
    return sheet.result("as_found/engine/fuel_flow", worksheet)


def test_meter_and_orifice_of_a_visit_agree():
    sheet = worked(ORIFICE)
    by_index, by_plate = flow_of(sheet, "fuel_flow_by_volume_meter"), flow_of(sheet, "fuel_flow_by_orifice")
    line = sheet.result("as_found/fuel_meter/fuel_line_compressibility")
    base = sheet.result("as_found/fuel/fuel_compression_factor")
    by_hand = 69 / 3600 * 400 / 101.325 * 273.15 / 291.15 * base.value / line.value
    assert by_index.value == pytest.approx(by_hand, rel=1e-9)
    assert by_plate.value == pytest.approx(by_index.value, rel=0.02)
    mass = sheet.result("as_found/engine/fuel_mass_flow")
    density = sheet.result("as_found/fuel_meter/fuel_line_density")
    # one law of the gas on both roads: normal volume times normal density is metered volume times line density
    assert mass.value / by_plate.value * by_index.value == pytest.approx(69 / 3600 * density.value, rel=2e-4)
    # half of 1 % of the difference, 0.25 % of the coefficient, half of the density's 0.36 %, the bore's 0.06 %
    assert by_plate.standard_uncertainty / by_plate.value == pytest.approx(0.0059, rel=0.12)


def test_gauge_pressure_at_the_meter_takes_the_barometer():
    absolute = flow_of(worked(), "fuel_flow_by_volume_meter")
    from asfound.quantities.sheet import work_out

    from .sheet_of_an_engine import reading

    others = [one for one in readings() if one.quantity != "fuel_pressure"]
    gauge = work_out([*others, reading("fuel_meter", "fuel_pressure", 302.0, "kPa", gauge=True)], number=200)
    assert flow_of(gauge, "fuel_flow_by_volume_meter").value == pytest.approx(absolute.value)


def test_a_person_is_told_what_to_do():
    sheet = worked({**ORIFICE, ("fuel_meter", "fuel_meter_difference"): (-0.2, "kPa", 0.0)})
    refused = {one.worksheet: one.error for one in sheet.refused}
    assert "equalise" in str(refused["fuel_flow_by_orifice"])
    assert isinstance(refused["fuel_flow_by_orifice"], InputError)
    swapped = worked({("fuel_meter", "fuel_index_end"): (999.0, "m3", 0.0)})
    assert "last digit" in str({one.worksheet: one.error for one in swapped.refused}["fuel_flow_metered_by_index"])
    inches = worked({**ORIFICE, ("fuel_meter", "orifice_pipe_bore"): (4.026, "mm", 0.0)})
    assert "inches" in str({one.worksheet: one.error for one in inches.refused}["fuel_flow_by_orifice"])
    stopped = worked({("fuel_meter", "fuel_meter_time"): (0.0, "s", 0.0)})
    assert "watch" in str({one.worksheet: one.error for one in stopped.refused}["fuel_flow_metered_by_index"])


def found(changed) -> dict[str, Finding]:
    sheet = worked(changed)
    return {one.code: one for one in findings_flow.find(Case(readings=sheet.readings, worked=sheet))}


def display(flow: float, base: tuple[float, float] = (15.0, 101.325)):
    return {
        ("fuel_meter", "fuel_flow_displayed"): (flow, "m3/h", 0.001),
        ("fuel_meter", "meter_base_temperature"): (base[0], "°C", 0.0),
        ("fuel_meter", "meter_base_pressure"): (base[1], "kPa", 0.0),
        ("fuel_meter", "fuel_meter_error"): (0.0, "%", 0.0),
    }


def test_display_that_is_right_is_no_finding():
    right = worked(display(270.0)).result("as_found/engine/fuel_flow_at_base").value * 3600
    assert not found(display(right))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (1 / 1.0549, "0 C, 101.325 kPa"),  # 0 °C told as 15 °C: 273.15 / 288.15
        (0.755, "gauge pressure as absolute"),  # (400 - 98) / 400
        (101.325 / 400, "no correction for pressure"),
    ],
)
def test_usual_slips_of_a_display_are_named(wrong, words):
    right = worked(display(270.0)).result("as_found/engine/fuel_flow_at_base").value * 3600
    assert words in found(display(right * wrong))["PW-36"].says


def test_display_off_by_no_usual_slip_is_a_clash_of_meters():
    right = worked(display(270.0)).result("as_found/engine/fuel_flow_at_base").value * 3600
    assert "PW-35" in found(display(right * 1.12))


def test_plate_outside_the_standard_and_a_weak_difference():
    large = {**ORIFICE, ("fuel_meter", "orifice_bore"): (80.0, "mm", 0.0003)}
    assert "diameter ratio 0.782" in found(large)["PW-37"].says
    weak = {**ORIFICE, ("fuel_meter", "fuel_meter_difference"): (0.05, "kPa", 0.2)}
    assert "low for its transmitter" in found(weak)["PW-38"].says
    assert not {"PW-37", "PW-38"} & set(found(ORIFICE))
