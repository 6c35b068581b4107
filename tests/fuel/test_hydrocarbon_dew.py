"""Hydrocarbon dew point: heavier gas drops liquid warmer, a lump has a range, dry gas has none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import UnknownNameError
from asfound.fuel import hydrocarbon_dew as dew

LEAN = {"methane": 0.95, "ethane": 0.03, "propane": 0.01, "n_butane": 0.003, "n_pentane": 0.001, "nitrogen": 0.006}


def gas(**more):
    return dew.composition({**LEAN, **more})


@given(st.floats(1e-5, 2e-3), st.sampled_from(["n_hexane", "n_heptane", "n_octane"]), st.floats(2e5, 2.5e6))
@settings(max_examples=20, deadline=None)
def test_more_of_a_heavy_component_is_wetter(amount, name, pressure):
    here, more = dew.dew_point(np.stack([gas(**{name: amount}), gas(**{name: 1.5 * amount})]), pressure)
    assert more > here


def test_the_heavier_the_same_amount_the_warmer():
    found = dew.dew_point(np.stack([gas(**{name: 6e-4}) for name in ("n_hexane", "n_heptane", "n_octane")]), 2.7e6)
    assert (np.diff(found) > 10).all()


def test_a_lump_has_a_range_and_an_analysis_a_width():
    lumped = dew.dew_point_range(gas(), 2.7e6, heavier=6e-4)
    assert lumped.lumped
    assert lumped.high - lumped.low > 30
    assert lumped.low < lumped.as_analysed < lumped.high
    known = dew.dew_point_range(gas(n_hexane=6e-4), 2.7e6)
    assert not known.lumped
    assert known.high - known.low == pytest.approx(2 * dew.EQUATION)


def test_many_at_once_is_one_at_a_time():
    gases, pressures = np.stack([gas(n_hexane=2e-4), gas(n_octane=1e-4)]), np.array([5e5, 3e6])
    together = dew.dew_point(gases, pressures)
    assert together == pytest.approx(
        [float(dew.dew_point(*one)) for one in zip(gases, pressures, strict=True)], abs=1e-5
    )


def test_where_there_is_no_dew_point():
    assert np.isnan(dew.dew_point(gas(), 1.4e7))  # above the cricondenbar
    assert np.isnan(dew.dew_point(gas(), [0.0, -1.0, np.nan, 1e9])).all()
    assert np.isnan(dew.dew_point(np.zeros(len(dew.components())), 1e6))


def test_a_pure_gas_condenses_at_its_boiling_point():
    """n-butane boils at 272.66 K at 101.325 kPa (IUPAC and handbooks, from memory); Peng-Robinson within 0.5 K."""
    assert dew.dew_point(dew.composition({"n_butane": 1.0}), 101_325.0) == pytest.approx(272.66, abs=0.5)


def test_wrong_names_are_told():
    with pytest.raises(UnknownNameError, match="hydrocarbon dew point"):
        dew.composition({"water": 0.01})
    with pytest.raises(UnknownNameError):
        dew.dew_point_range(gas(), 1e6, heavier=1e-4, heaviest="tar")
