"""Hours a day and how long so many hours take: against SciPy, simulated engines, and laws."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from asfound.errors import InputError
from asfound.upkeep.pace import MOST, pace
from asfound.upkeep.student import inside, quantile

START = date(2032, 1, 1)


@pytest.mark.parametrize("free", [1, 2, 3, 4, 5, 8, 30, 121])
@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.99])
def test_quantiles_of_student_are_those_of_a_library(free: int, level: float) -> None:
    """Abramowitz and Stegun 26.7.3, 26.7.4, held against SciPy 1.x."""
    assert quantile(level, free) == pytest.approx(float(student.ppf(0.5 + level / 2, free)), rel=1e-9)
    assert inside(quantile(level, free), free) == pytest.approx(level, abs=1e-12)


def test_level_and_freedom_are_refused() -> None:
    with pytest.raises(InputError):
        quantile(1.0, 3)
    with pytest.raises(InputError):
        quantile(0.95, 0)


def test_one_stretch_tells_nothing_of_the_scatter() -> None:
    found = pace([(START, 1000.0), (START + timedelta(days=10), 1200.0)])
    assert found is not None
    assert found.per_day == pytest.approx(20.0)
    assert found.scatter is None
    days = found.days_for(240.0)
    assert (days.early, days.middle, days.late) == (10.0, 12.0, None)
    assert (found.low, found.high) == (0.0, MOST)


def test_one_day_gives_no_pace() -> None:
    assert pace([(START, 5.0), (START, 9.0)]) is None
    assert pace([]) is None


def test_hours_that_fall_or_are_too_many_are_refused() -> None:
    with pytest.raises(InputError, match="exchanged or set back"):
        pace([(START, 1000.0), (START + timedelta(days=10), 900.0)])
    with pytest.raises(InputError):
        pace([(START, 1000.0), (START + timedelta(days=1), 1100.0)])


def test_the_interval_holds_the_day_as_often_as_it_says() -> None:
    """2,000 simulated engines with independent days: the day on which 500 h more have run lies inside about 95 times in
    100. The model's own world, so a check of the algebra, not of engines.
    """
    random = np.random.default_rng(5)
    held = 0
    runs = 2000
    for _ in range(runs):
        ran = np.clip(random.normal(14.0, 4.0, 200 + 90), 0.0, 24.0)
        total = np.concatenate([[0.0], np.cumsum(ran)])
        at = np.sort(random.choice(np.arange(1, 200), 8, replace=False))
        days = [0, *(int(one) for one in at), 200]
        found = pace([(START + timedelta(days=one), float(total[one])) for one in days])
        assert found is not None
        ahead = found.days_for(500.0)
        real = np.interp(500.0, total[200:] - total[200], np.arange(len(total) - 200))
        assert ahead.late is not None
        held += ahead.early <= real <= ahead.late
    assert 0.93 <= held / runs <= 0.97


stretches = st.lists(st.tuples(st.integers(1, 60), st.floats(0.0, 24.0)), min_size=2, max_size=12)


def _readings(parts: list[tuple[int, float]]) -> list[tuple[date, float]]:
    day, hours = START, 100.0
    found = [(day, hours)]
    for days, rate in parts:
        day, hours = day + timedelta(days=days), hours + days * rate
        found.append((day, hours))
    return found


@given(stretches, st.floats(0.0, 20_000.0), st.floats(0.0, 20_000.0))
def test_more_hours_never_come_earlier(parts: list[tuple[int, float]], less: float, more: float) -> None:
    found = pace(_readings(parts))
    assert found is not None
    less, more = sorted((less, more))
    a, b = found.days_for(less), found.days_for(more)
    assert a.early <= b.early + 1e-9
    assert a.middle is None or b.middle is None or a.middle <= b.middle + 1e-9
    assert b.early >= more / MOST - 1e-9
    if b.middle is not None:
        assert b.early <= b.middle + 1e-9
        assert b.late is None or b.late >= b.middle - 1e-9


@given(stretches, st.floats(1.0, 5_000.0))
def test_days_and_hours_are_each_other_turned_round(parts: list[tuple[int, float]], hours: float) -> None:
    """At the early end the high hours, at the late end the low hours are those asked for."""
    found = pace(_readings(parts))
    assert found is not None
    days = found.days_for(hours)
    if days.early > hours / MOST * 1.0001 and math.isfinite(days.early):
        assert found.hours_in(days.early)[2] == pytest.approx(hours, rel=1e-6, abs=1e-6)
    if days.late is not None and days.middle is not None and days.late > days.middle * 1.0001:
        assert found.hours_in(days.late)[0] == pytest.approx(hours, rel=1e-6, abs=1e-6)


@given(stretches, st.permutations(range(13)))
def test_the_order_of_the_readings_does_not_matter(parts: list[tuple[int, float]], order: list[int]) -> None:
    readings = _readings(parts)
    mixed = [readings[one] for one in order if one < len(readings)]
    assert pace(mixed) == pace(readings)
