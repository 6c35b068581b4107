"""Oil, trends, alarm limits. Published cases stand in the checks of the room."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from asfound.errors import InputError
from asfound.upkeep import oil
from asfound.upkeep.alarms import alarm_limits
from asfound.upkeep.checks_oil import checks
from asfound.upkeep.trend import fit_line, reaches

SUMPS = st.fixed_dictionaries({"volume": st.floats(50.0, 3000.0), "use": st.floats(0.0, 2.0)})
MADE, HOURS = st.floats(0.0, 50.0), st.floats(1.0, 4000.0)
CONCENTRATIONS = st.floats(0.0, 100.0)


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


@given(SUMPS, MADE, HOURS, CONCENTRATIONS, st.floats(0.0, 5.0))
def test_metal_made_comes_back_from_two_samples(sump, made, hours, start, fresh):
    end = oil.concentration(hours, made=made, start=start, fresh=fresh, **sump)
    assert oil.metal_made(hours, start, end, fresh=fresh, **sump) == pytest.approx(made, rel=1e-6, abs=1e-5)


@given(SUMPS, MADE, HOURS, CONCENTRATIONS)
def test_mass_is_kept(sump, made, hours, start):
    """What was made and was there is in the sump or left with the oil (by 2,000 middle points, to 0.5 mg)."""
    at = (np.arange(2000) + 0.5) / 2000 * hours
    left = sump["use"] * float(oil.concentration(at, made=made, start=start, **sump).mean()) * hours
    end = oil.concentration(hours, made=made, start=start, **sump)
    assert sump["volume"] * (end - start) + left == pytest.approx(made * hours, rel=1e-4, abs=0.5)


@given(SUMPS, MADE, CONCENTRATIONS)
def test_arrays_give_what_single_hours_give(sump, made, start):
    hours = np.array([1.0, 100.0, 1000.0])
    found = oil.concentration(hours, made=made, start=start, **sump)
    assert found.tolist() == [oil.concentration(one, made=made, start=start, **sump) for one in hours]


@given(st.floats(50.0, 3000.0), st.floats(0.01, 2.0), st.floats(0.1, 50.0))
def test_a_reading_at_rest_stays_at_rest(volume, use, made):
    rest = oil.steady_concentration(use=use, made=made)
    assert oil.concentration(500.0, volume=volume, use=use, made=made, start=rest) == pytest.approx(rest, rel=1e-9)
    assert math.isinf(oil.steady_concentration(use=0.0, made=made))


def test_topping_up_ever_more_often_comes_to_the_sump_kept_full():
    sump = {"volume": 500.0, "use": 0.25, "made": 8.0}
    full = oil.concentration(1000.0, **sump)
    gaps = [
        abs(oil.concentration_by_topping_up(np.arange(step, 1000, step).tolist(), 1000.0, **sump) - full)
        for step in (200.0, 100.0, 20.0, 2.0)
    ]
    assert gaps == sorted(gaps, reverse=True)
    assert gaps[-1] < 0.02


def test_no_hours_between_samples_give_no_rate_and_an_empty_sump_is_refused():
    assert math.isnan(oil.metal_made(0.0, 1.0, 2.0, volume=500.0, use=0.2))
    with pytest.raises(InputError, match="empty"):
        oil.concentration_by_topping_up([], 3000.0, volume=500.0, use=0.25, made=8.0)


READINGS = st.lists(st.tuples(st.floats(0.0, 1000.0), st.floats(-10.0, 10.0)), min_size=4, max_size=12,
                    unique_by=lambda pair: round(pair[0]))  # fmt: skip


@given(READINGS)
def test_a_line_is_that_of_a_general_library(readings):
    x, y = [a for a, _ in readings], [0.01 * a + b for a, b in readings]
    line, other = fit_line(x, y), stats.linregress(x, y)
    assert line.slope == pytest.approx(other.slope, rel=1e-9, abs=1e-9)
    assert line.intercept == pytest.approx(other.intercept, rel=1e-9, abs=1e-6)


@given(READINGS, st.floats(1.0, 3000.0))
def test_an_exact_interval_holds_the_estimate_and_no_slope_gives_none(readings, value):
    line = fit_line([a for a, _ in readings], [0.05 * a + b for a, b in readings])
    found = reaches(line, value)
    assert (found.lower is None) == (not line.moves) or abs(line.slope_limits[0] * line.slope_limits[1]) < 1e-12
    if found.lower is not None:
        assert found.lower <= found.at + 1e-6 * (1 + abs(found.at))
        assert found.upper >= found.at - 1e-6 * (1 + abs(found.at))
        once_more = reaches(line, value, single=True)
        assert once_more.upper - once_more.lower >= found.upper - found.lower - 1e-6


def test_a_flat_property_ends_no_charge():
    hours = [0.0, 250.0, 500.0, 750.0, 1000.0]
    life = oil.charge_life(hours, {"acid": [1.0, 1.3, 0.9, 1.2, 1.1]}, {"acid": 3.0})
    assert life.governing is None
    assert life.change_at is None
    assert life.not_later_than is None
    with pytest.raises(InputError):
        oil.charge_life(hours, {}, {"acid": 3.0})


def test_a_falling_property_has_a_lowest_value():
    hours = [0.0, 250.0, 500.0, 750.0, 1000.0]
    life = oil.charge_life(hours, {"base": [10.0, 9.1, 8.05, 7.0, 6.1]}, {"base": 3.0})
    assert life.governing == "base"
    assert 1000.0 < life.not_later_than < life.change_at


@given(st.lists(st.floats(0.0, 1e3), min_size=3, max_size=40), st.floats(0.1, 10.0), st.floats(0.0, 100.0))
def test_limits_move_with_the_unit(values, factor, shift):
    one, other = alarm_limits(values), alarm_limits([factor * value + shift for value in values])
    for of in (lambda a: a.above_mean(2), lambda a: a.above_median(3), lambda a: a.percentage(95)):
        assert of(other) == pytest.approx(factor * of(one) + shift, rel=1e-9, abs=1e-6)


def test_one_wild_sample_hides_below_the_mean_but_not_below_the_median():
    found = alarm_limits([10, 11, 9, 12, 10, 11, 10, 9, 11, 60])
    assert found.above_median(3) < 60 < found.above_mean(3)
    assert found.few
    assert found.lopsided
