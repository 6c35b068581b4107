"""The site's air beside tables that are not ours, and the laws it must keep."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.power.site_air import humidity_ratio, moist_air_density, saturation_pressure, water_fraction

warm = st.floats(233.15, 333.15)


@given(warm, st.floats(0.01, 5.0))
def test_warmer_air_can_hold_more(t: float, more: float) -> None:
    assert saturation_pressure(t + more) > saturation_pressure(t)


def test_ice_and_water_meet_at_the_triple_point() -> None:
    below, above = saturation_pressure(273.16 - 1e-9), saturation_pressure(273.16)
    assert below == pytest.approx(above, rel=1e-9)


@given(warm, st.floats(0.0, 1.0), st.floats(70e3, 110e3))
def test_moist_air_is_lighter_than_dry(t: float, rh: float, p: float) -> None:
    x = water_fraction(saturation_pressure(t), rh, p)
    assert moist_air_density(t, p, x) <= moist_air_density(t, p, 0.0)


@given(warm, st.floats(60e3, 110e3))
def test_dry_air_is_within_a_thousandth_of_an_ideal_gas(t: float, p: float) -> None:
    ideal = p * 28.96546e-3 / (8.314462618 * t)
    assert moist_air_density(t, p, 0.0) == pytest.approx(ideal, rel=1.5e-3)


def test_no_air_no_answer() -> None:
    assert np.isnan(saturation_pressure(np.array([-5.0, 0.0]))).all()
    assert np.isnan(water_fraction(3000.0, 0.5, np.array([0.0, 1000.0]))).all()
    assert np.isnan(moist_air_density(0.0, 101325.0, 0.0))
    assert np.isnan(humidity_ratio(1.0))
