"""Water in gas: round trips, monotonic, where there is no answer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.fuel import water

laws = settings(deadline=None, max_examples=100)

temperatures, pressures = st.floats(235.0, 380.0), st.floats(5e4, 1.9e7)


@given(temperatures, pressures)
@laws
def test_dew_point_of_saturated_gas_is_its_temperature(temperature, pressure):
    content = water.saturated_fraction(temperature, pressure)
    if np.isfinite(content):
        assert water.dew_point(content, pressure) == pytest.approx(temperature, abs=1e-6)


@given(st.floats(1e-6, 0.02), pressures)
@laws
def test_gas_at_its_dew_point_is_saturated(content, pressure):
    at = water.dew_point(content, pressure)
    if np.isfinite(at):
        assert water.saturated_fraction(at, pressure) == pytest.approx(content, rel=1e-8)


@given(temperatures, pressures)
@laws
def test_warmer_gas_holds_more_and_compressed_gas_less(temperature, pressure):
    here = water.saturated_fraction(temperature, pressure)
    if np.isfinite(here):
        assert not water.saturated_fraction(temperature + 1.0, pressure) <= here
        assert not water.saturated_fraction(temperature, 1.05 * pressure) >= here


@given(st.floats(0.0, 0.1))
@laws
def test_units_there_and_back(content):
    assert water.fraction_of_pounds(water.pounds(content)) == pytest.approx(content, rel=1e-12)


def test_a_pound_in_a_million_feet():
    """1 lb/MMscf is 16.018 mg/m³ and 21.06 ppm of moles (definitions; reference state 60 F, 14.696 psia)."""
    assert pytest.approx(16.018, abs=0.0006) == 1e6 * water.POUND_PER_MILLION_FEET
    assert 1e6 * water.fraction_of_pounds(1.0) == pytest.approx(21.06, abs=0.01)


def test_ideal_water_is_too_little_under_pressure():
    """p_sat/p is 25 to 39 % low at 70 bar between 40 and 0.5 °C (own comparison)."""
    for celsius, low, high in ((40.0, 0.24, 0.26), (0.5, 0.38, 0.40)):
        ideal = water.saturation_pressure(celsius + 273.15) / 7e6
        assert low < 1 - ideal / water.saturated_fraction(celsius + 273.15, 7e6) < high


@pytest.mark.parametrize(
    ("temperature", "pressure"), [(200.0, 1e6), (400.0, 1e6), (300.0, 0.0), (300.0, 3e7), (np.nan, 1e6), (372.0, 9e4)]
)
def test_no_answer_is_nan(temperature, pressure):
    assert np.isnan(water.saturated_fraction(temperature, pressure))


def test_dew_points_out_of_reach_are_nan():
    assert np.isnan(water.dew_point([0.0, 1.0, 0.5, np.nan], 1e6)).all()


def test_says_where_it_was_compared():
    assert water.checked([300.0, 300.0, 250.0], [1e6, 1e7, 1e6]).tolist() == [True, False, False]
