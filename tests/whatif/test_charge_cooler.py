"""The charge cooler as a balance: what was read comes back, hotter days and more boost make hotter charge air."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.whatif.charge_cooler import cooler_of

READ = {"coolant": 321.0, "inlet_temperature": 300.0, "inlet_pressure": 85_000.0}


def made(charge=326.0, manifold=290_000.0, draws=200, **other):
    return cooler_of(charge, manifold, draws, **{**READ, **other})


def test_by_hand():
    """Isentropic compression with an efficiency, any textbook of thermodynamics: ratio 1.03 * 290 / 85 = 3.514,
    exponent 0.4 / 1.4: 300 K * (1 + (3.514 ** 0.28571 - 1) / 0.75) = 472.8 K; from there to 326 K, of 151.8 K to the
    water: 96.7 %.
    """
    cooler, odd = made()
    assert odd == ""
    middle = int(np.argmin(np.abs(cooler.compressor - 0.75)))
    out = 300.0 * (1.0 + (3.514118 ** (0.4 / 1.4) - 1.0) / cooler.compressor[middle])
    assert cooler.effectiveness[middle] == pytest.approx((out - 326.0) / (out - 321.0), rel=1e-6)
    assert cooler.effectiveness[middle] == pytest.approx(0.967, abs=0.002)


@given(
    charge=st.floats(322.0, 350.0), manifold=st.floats(170_000.0, 400_000.0), air=st.floats(-25.0, 25.0),
    more=st.floats(1.01, 1.3),
)  # fmt: skip
def test_what_was_read_comes_back_and_it_goes_the_way_of_air_and_boost(charge, manifold, air, more):
    cooler, odd = made(charge, manifold)
    if not odd and cooler.effectiveness.max() < 0.98 and cooler.effectiveness.min() > 0.30:
        assert cooler.charge_temperature(manifold) == pytest.approx(charge, abs=1e-6)
    now = cooler.charge_temperature(manifold)
    moved = cooler.charge_temperature(manifold, air) - now
    assert np.all(moved * air >= 0.0)
    assert np.all(cooler.charge_temperature(manifold * more) > now)
    assert np.all(cooler.charge_temperature(manifold, air) > cooler.coolant + air - 1e-9)


def test_with_water_as_warm_as_the_air_a_hotter_day_moves_the_charge_at_least_as_much():
    """Water and air both shift by the same; compression makes of a hotter inlet more than that."""
    cooler, _ = made()
    moved = cooler.charge_temperature(290_000.0, 10.0) - cooler.charge_temperature(290_000.0)
    assert np.all(moved >= 10.0)
    assert np.all(moved < 13.0)


def test_readings_that_no_cooler_can_have_are_said():
    assert "95 %" not in made()[1]
    assert "asks" not in made(charge=480.0)[1]
    assert "of the way" in made(charge=480.0)[1]
