"""Oil between two samples. The balance itself is checked with the published cases of `oil`."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.quantities.worksheets import load
from asfound.upkeep import oil, oil_rates
from asfound.upkeep.worksheets_oil import acid_number_hours_left, base_number_fall, base_number_hours_left

HOUR = 3600.0
GRAM_PER_KWH = 1e-3 / 3.6e6


def test_the_use_of_oil_by_hand():
    # 60 L of 870 kg/m3 in 120 h at 1,000 kW: 52.2 kg in 120,000 kWh = 0.435 g/kWh, by hand
    found = oil_rates.oil_use(0.060, 870.0, 1e6, 120 * HOUR)
    assert found == pytest.approx(0.435 * GRAM_PER_KWH)


@given(
    st.floats(0.0, 50.0), st.floats(0.0, 30.0), st.floats(10.0, 2000.0), st.floats(0.0, 2.0), st.floats(50.0, 1500.0),
    st.floats(0.0, 5.0),
)  # fmt: skip
def test_the_rise_is_what_was_put_into_the_sump(start, made, hours, use, volume, fresh):
    """Forward by the sump (checked with published cases), backward by the worksheet's formula."""
    end = oil.concentration(hours, volume=volume, use=use, made=made, start=start, fresh=fresh)
    rise = oil_rates.rise_made(start, end, fresh, 500.0 * HOUR, (500.0 + hours) * HOUR, use * hours, volume)
    assert rise == pytest.approx(1000.0 * made / volume, rel=1e-6, abs=1e-6)


def test_without_oil_added_it_is_the_plain_rise():
    assert oil_rates.rise_made(1.0, 1.6, 0.5, 0.0, 300 * HOUR, 0.0, 0.4) == pytest.approx(2.0)


def test_fresh_oil_hides_what_is_made():
    plain = oil_rates.rise_made(10.0, 10.0, 0.0, 0.0, 400 * HOUR, 0.0, 0.4)
    freed = oil_rates.rise_made(10.0, 10.0, 0.0, 0.0, 400 * HOUR, 0.2, 0.4)
    assert plain == 0.0
    assert freed == pytest.approx(10.0 * 0.5 / 400 * 1000)  # a steady sump makes what leaves it


@pytest.mark.parametrize(
    ("before", "now", "limit", "hours"),
    [(1.0, 2.0, 3.0, 300.0), (1.0, 3.5, 3.0, 0.0), (1.0, 3.0, 3.0, 0.0), (2.0, 2.0, 3.0, None), (2.0, 1.9, 3.0, None)],
)
def test_time_left_upward(before, now, limit, hours):
    found = acid_number_hours_left(before, now, 200 * HOUR, 500 * HOUR, limit)
    assert np.isnan(found) if hours is None else found == pytest.approx(hours * HOUR)


@pytest.mark.parametrize(
    ("before", "now", "limit", "hours"),
    [(6.0, 5.0, 3.0, 600.0), (6.0, 2.0, 3.0, 0.0), (5.0, 5.5, 3.0, None), (5.0, 5.0, 3.0, None)],
)
def test_time_left_downward(before, now, limit, hours):
    found = base_number_hours_left(before, now, 200 * HOUR, 500 * HOUR, limit)
    assert np.isnan(found) if hours is None else found == pytest.approx(hours * HOUR)
    assert base_number_fall(before, now, 7.0, 0.0, HOUR * 300, 0.0, 0.5) == pytest.approx((before - now) / 0.3)


@given(st.floats(0.1, 5.0), st.floats(0.1, 5.0), st.floats(0.1, 5.0))
def test_in_other_units_the_time_is_the_same(before, now, limit):
    one = oil_rates.time_left(before, now, 0.0, 1000.0, limit)
    other = oil_rates.time_left(before / 1000, now / 1000, 0.0, 1000.0, limit / 1000)
    assert one == pytest.approx(other, rel=1e-6, nan_ok=True)


def test_arrays_give_what_single_values_give_and_nan_stays_nan():
    now = np.array([1.5, 2.0, np.nan, 4.0])
    for formula, args in (
        (oil_rates.time_left, (0.0, 500.0 * HOUR, 3.0)), (oil_rates.rise_made, (0.5, 0.0, 500.0 * HOUR, 0.1, 0.4)),
    ):  # fmt: skip
        together = formula(1.0, now, *args)
        single = [formula(1.0, float(one), *args) for one in now]
        assert np.asarray(together).tolist() == pytest.approx(single, nan_ok=True)
        assert np.isnan(together[2])
    assert np.isnan(oil_rates.rise_made(1.0, 2.0, 0.0, 5.0, 5.0, 0.0, 1.0))
    assert np.isnan(oil_rates.oil_use(1.0, 870.0, 0.0, 5.0))


def test_they_appear_at_all_doors():
    names = {one.name for one in load().values() if one.room == "upkeep"}
    assert names == {
        "oil_consumption_from_top_up", "acid_number_rise", "base_number_fall", "iron_rise", "acid_number_hours_left",
        "base_number_hours_left",
    }  # fmt: skip
