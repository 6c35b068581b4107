"""Compression, blow-by, wear lines, plugs: laws first, then cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq

from asfound.cylinders.blow_by import blow_by_share, charge_flow, flow_ratio
from asfound.cylinders.compression import (
    exponent_of,
    polytropic_pressure,
    polytropic_temperature,
    share_off,
    volume_ratio,
)
from asfound.cylinders.plugs import demand_at_gap, relative_density, uniform_breakdown
from asfound.cylinders.regression import lines, reaches
from asfound.cylinders.wear import READABLE, line_of_readings, rate, time_left
from asfound.quantities.typing import Array

HOUR, MM = 3600.0, 1e-3
ratio = st.floats(7.0, 15.0)
angle = st.floats(0.0, np.pi)


# --- laws


@given(ratio, st.floats(1.2, 1.4), st.floats(5e4, 5e5))
def test_the_exponent_comes_back_from_the_pressure(epsilon: float, exponent: float, intake: float) -> None:
    pressure = polytropic_pressure(intake, epsilon, exponent)
    assert exponent_of(intake, pressure, epsilon) == pytest.approx(exponent)


@given(ratio, st.floats(1.2, 1.4), st.floats(5e4, 5e5), st.floats(280.0, 380.0))
def test_the_ideal_gas_holds_through_compression(epsilon: float, n: float, p: float, t: float) -> None:
    assert polytropic_pressure(p, epsilon, n) / polytropic_temperature(t, epsilon, n) == pytest.approx(p / t * epsilon)


@given(ratio, angle)
def test_volume_is_one_at_the_top_and_the_ratio_at_the_bottom(epsilon: float, turned: float) -> None:
    assert volume_ratio(0.0, epsilon) == pytest.approx(1.0)
    assert volume_ratio(np.pi, epsilon) == pytest.approx(epsilon)
    assert 1.0 - 1e-9 <= volume_ratio(turned, epsilon) <= epsilon + 1e-9
    assert volume_ratio(turned, epsilon) == pytest.approx(volume_ratio(-turned, epsilon))


@given(st.floats(1e-4, 1e-3), st.floats(1.0, 20.0), st.floats(1.05, 3.0))
def test_breakdown_goes_with_density_times_gap_only(gap: float, density: float, factor: float) -> None:
    assert uniform_breakdown(gap * factor, density) == pytest.approx(uniform_breakdown(gap, density * factor))
    assert uniform_breakdown(gap * factor, density) > uniform_breakdown(gap, density)
    assert uniform_breakdown(gap * factor, density) < factor * uniform_breakdown(gap, density)


@given(st.floats(5e3, 4e4), st.floats(1e-4, 1e-3), st.floats(1e-4, 1e-3), st.floats(1.0, 20.0))
def test_a_demand_carried_there_and_back_is_itself(volts: float, gap: float, other: float, density: float) -> None:
    there = demand_at_gap(volts, gap, other, density)
    assert demand_at_gap(there, other, gap, density) == pytest.approx(volts)


@given(st.floats(0.01, 3.0), st.just(0.0) | st.floats(1e-6, 3.0), st.floats(100.0, 3e4))
def test_at_its_own_rate_wear_is_at_the_limit_after_the_time_left(limit: float, worn: float, hours: float) -> None:
    speed = rate(worn * MM, 0.0, hours * HOUR)
    left = float(time_left(worn * MM, limit * MM, speed))
    if worn >= limit:
        assert left == 0.0
    elif worn == 0.0:
        assert left == np.inf
    else:
        assert worn * MM + speed * left == pytest.approx(limit * MM)


@given(st.floats(1e-4, 1.0), st.floats(10.0, 200.0), st.floats(0.5, 3.0))
def test_blow_by_share_is_the_same_in_any_state_of_the_gas(swept: float, speed: float, boost: float) -> None:
    charge = charge_flow(swept, speed)
    one = blow_by_share(0.01 * charge, 1e5, 320.0, charge, 1e5, 320.0)
    two = blow_by_share(0.01 * charge * boost, 1e5 / boost, 320.0, charge, 1e5, 320.0)
    assert one == pytest.approx(0.01)
    assert two == pytest.approx(one)


# --- lines


def _worn(seed: int, slope: float, scatter: float) -> tuple[Array, Array]:
    stream = np.random.default_rng(seed)
    hours = np.array([0.0, 2000, 4000, 6500, 8000]) * HOUR
    return hours, (slope * hours / HOUR + 0.05 + scatter * stream.standard_normal(5)) * MM


def test_lines_are_those_of_a_general_library_missing_readings_left_out() -> None:
    hours, worn = _worn(1, 1e-4, 0.03)
    two = np.stack([worn, np.where(hours > 0, worn[::-1], np.nan)], axis=1)
    line = lines(hours, two)
    for at, keep in ((0, slice(None)), (1, slice(1, None))):
        want = stats.linregress(hours[keep], two[keep, at])
        assert line.slope[at] == pytest.approx(want.slope)
        assert line.slope_error[at] == pytest.approx(want.stderr)
        assert (line.intercept - line.slope * line.centre)[at] == pytest.approx(want.intercept)
    assert np.isnan(lines(hours[:2], worn[:2]).slope_error).all()


@pytest.mark.parametrize("seed", range(4))
def test_the_interval_of_the_end_is_where_the_band_of_the_line_meets_the_limit(seed: int) -> None:
    hours, worn = _worn(seed, 1e-4, 0.03)
    line, limit = lines(hours, worn), 1.5 * MM
    end = reaches(line, limit)

    def edge(x: float, side: float) -> float:
        t = stats.t.ppf(0.975, 3)
        half = t * np.hypot(line.level_error[0], line.slope_error[0] * (x - line.centre[0]))
        return float(line.intercept[0] + line.slope[0] * (x - line.centre[0]) + side * half - limit)

    assert end.earliest[0] == pytest.approx(brentq(edge, 8000 * HOUR, float(end.at[0]), args=(1.0,)), rel=1e-6)
    assert end.latest[0] == pytest.approx(brentq(edge, float(end.at[0]), 1e6 * HOUR, args=(-1.0,)), rel=1e-6)


def test_where_the_slope_may_be_nothing_the_latest_is_never() -> None:
    hours, worn = _worn(3, 1e-6, 0.05)
    end = reaches(lines(hours, worn), 1.5 * MM)
    assert end.latest[0] == np.inf
    assert end.earliest[0] > hours[-1]
    falling = reaches(lines(hours, -hours * 1e-12 + np.array([1, -1, 1, -1, 1]) * 1e-9), 1.5 * MM)
    assert (falling.at[0], falling.earliest[0], falling.latest[0]) == (np.inf, np.inf, np.inf)


def test_the_interval_of_the_end_covers_the_truth_as_often_as_it_says() -> None:
    stream = np.random.default_rng(11)
    x = np.arange(6.0)
    worn = (0.2 * x)[:, None] + 0.05 * stream.standard_normal((6, 4000))
    end = reaches(lines(x, worn), 2.0)
    covered = (end.earliest <= 10.0) & (end.latest >= 10.0)
    assert covered.mean() == pytest.approx(0.95, abs=0.012)


def test_a_zero_reading_says_less_than_the_gauge_shows() -> None:
    hours = np.array([0.0, 1000, 2000, 3000]) * HOUR
    worn = np.array([[0.0], [0.0], [0.1], [0.2]]) * MM
    line, end = line_of_readings(hours, worn, 1.0 * MM)
    assert line.slope[0] < lines(hours, worn).slope[0]
    assert np.isfinite(end.at[0])
    flat = line_of_readings(hours, np.zeros((4, 1)), 1.0 * MM, readable=READABLE)[1]
    assert flat.at[0] == np.inf


# --- cases


def test_a_stopped_engine_has_no_blow_by_share_and_no_hours_no_rate() -> None:
    assert np.isnan(blow_by_share(0.01, 1e5, 330.0, charge_flow(0.1, 0.0), 1e5, 320.0))
    assert np.isnan(rate(1 * MM, 0.0, 0.0))
    assert np.isnan(time_left(1 * MM, 2 * MM, np.nan))
    assert np.isnan(flow_ratio(-50.0, 100.0))
    assert flow_ratio(400.0, 100.0) == pytest.approx(2.0)


def test_shares_off_the_median_do_not_hang_on_the_unit() -> None:
    bars = np.array([30.0, 31.0, 29.5, 24.0, 30.5, np.nan])
    assert share_off(bars * 1e5) == pytest.approx(share_off(bars), nan_ok=True)
    assert share_off(bars)[3] == pytest.approx(-0.2)
    assert relative_density(101_325.0, 293.15) == pytest.approx(1.0)
