"""Life of parts, replacement, repairs, availability. Published cases stand in the checks of the room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.upkeep import availability, repairs
from asfound.upkeep.checks_life import checks
from asfound.upkeep.economic_life import economic_life
from asfound.upkeep.life import Weibull, fit_weibull
from asfound.upkeep.replacement import best_age, best_overhaul, cost_rate, group_replacement

SCALES, SHAPES = st.floats(10.0, 1e5), st.floats(0.4, 6.0)
LIVES = st.builds(Weibull, SCALES, SHAPES)
AGES = st.lists(st.floats(1.0, 1e5), min_size=3, max_size=12, unique=True)


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


@given(LIVES, st.floats(0.001, 0.999))
def test_share_and_age_go_there_and_back(life, share):
    assert float(life.failed(life.age_failed(share))) == pytest.approx(share, rel=1e-9)


@given(LIVES)
def test_arrays_give_what_single_ages_give_and_nan_before_birth(life):
    ages = np.array([-1.0, 0.0, 0.3, 1.0, 2.0]) * life.scale
    for of in (life.reliability, life.failed, life.mean_up_to):
        found = of(ages)
        assert np.isnan(found[0])
        assert found[1:].tolist() == pytest.approx([float(of(age)) for age in ages[1:]])


@given(LIVES)
def test_the_mean_use_of_old_parts_is_the_mean_life(life):
    oldest = float(life.age_failed(1.0 - 1e-15))
    assert float(life.mean_up_to(oldest)) == pytest.approx(life.mean, rel=1e-6)


@settings(max_examples=50)
@given(AGES, st.floats(0.01, 100.0))
def test_the_unit_of_time_cannot_change_a_fit(ages, factor):
    one, other = fit_weibull(ages), fit_weibull([age * factor for age in ages])
    assert other.life.shape == pytest.approx(one.life.shape, rel=1e-6)
    assert other.life.scale == pytest.approx(one.life.scale * factor, rel=1e-6)
    assert other.scale.lower == pytest.approx(one.scale.lower * factor, rel=1e-5)


@settings(max_examples=50)
@given(AGES)
def test_survivors_make_the_life_longer(ages):
    alone = fit_weibull(ages).life
    with_survivors = fit_weibull(ages, [max(ages)] * 3)
    assert with_survivors.survivors == 3
    assert float(with_survivors.life.age_failed(0.5)) > float(alone.age_failed(0.5))


@settings(max_examples=50)
@given(AGES)
def test_a_fit_is_the_most_likely(ages):
    fit, survivors = fit_weibull(ages, [2.0 * max(ages)]), np.array([2.0 * max(ages)])

    def likely(life):
        at = np.array(ages)
        return float(np.log(life.hazard(at)).sum() + np.log(life.reliability(np.append(at, survivors))).sum())

    best = likely(fit.life)
    assert best == pytest.approx(fit.log_likelihood, rel=1e-9, abs=1e-9)
    for scale, shape in ((1.01, 1.0), (0.99, 1.0), (1.0, 1.01), (1.0, 0.99)):
        assert likely(Weibull(fit.life.scale * scale, fit.life.shape * shape)) <= best + 1e-9


@pytest.mark.parametrize(("failures", "survivors"), [([100.0], [500.0] * 9), ([5.0, 5.0], []), ([0.0, 5.0], [])])
def test_what_gives_no_life_is_refused(failures, survivors):
    with pytest.raises(InputError):
        fit_weibull(failures, survivors)


@settings(max_examples=50)
@given(st.builds(Weibull, SCALES, st.floats(1.2, 6.0)), st.floats(1.5, 100.0), st.floats(0.05, 3.0))
def test_no_other_age_costs_less_than_the_best(life, failure, share):
    best = best_age(life, planned=1.0, failure=failure)
    if best.age is None:
        return
    assert best.cost_rate <= float(cost_rate(life, share * life.scale, planned=1.0, failure=failure)) * (1 + 1e-9)
    assert best.cost_rate <= best.cost_rate_at_failure * (1 + 1e-9)
    assert best.flat[0] <= best.age <= best.flat[1]


@given(st.builds(Weibull, SCALES, st.floats(0.4, 1.0)))
def test_parts_that_do_not_wear_run_to_failure(life):
    assert best_age(life, planned=1.0, failure=50.0).age is None
    assert best_overhaul(1e-4, min(life.shape, 1.0), repair=1.0, overhaul=9.0).interval is None


@given(st.floats(1e-6, 1e-2), st.floats(1.05, 4.0), st.floats(0.3, 3.0))
def test_no_other_overhaul_interval_costs_less(rate, growth, factor):
    best = best_overhaul(rate, growth, repair=1.0, overhaul=40.0)
    other = best.interval * factor
    assert best.cost_rate <= (rate * other**growth + 40.0) / other * (1 + 1e-12)


def test_a_group_change_counts_renewals():
    shares = [0.07, 0.11, 0.12, 0.18, 0.21, 0.2, 0.11]
    found = group_replacement(100, shares, each_together=3.0, each_single=9.0)
    assert sum(found.failures[:4]) == pytest.approx(53.1, abs=0.05)  # what the recursion gives without rounding
    assert found.best_period == 4
    assert found.worth_it
    with pytest.raises(InputError):
        group_replacement(100, [0.5, 0.4], each_together=3.0, each_single=9.0)


TIMES = st.lists(st.floats(1.0, 999.0), min_size=3, max_size=20, unique=True)


@given(TIMES, st.floats(0.01, 100.0))
def test_the_unit_of_time_cannot_change_a_growth(times, factor):
    one = repairs.fit_power_law(times, 1000.0)
    other = repairs.fit_power_law([time * factor for time in times], 1000.0 * factor)
    assert other.growth == pytest.approx(one.growth, rel=1e-9)
    assert other.mtbf == pytest.approx(one.mtbf * factor, rel=1e-9)
    assert float(one.expected(1000.0)) == pytest.approx(len(times), rel=1e-9)


@given(TIMES)
def test_the_mirror_of_a_history_has_the_opposite_trend(times):
    turned = [1000.0 - time for time in times]
    assert repairs.laplace(turned, 1000.0) == pytest.approx(-repairs.laplace(times, 1000.0), abs=1e-6)


@given(st.floats(1.0, 1e5), st.integers(1, 50))
def test_limits_hold_the_mean_and_no_failure_still_gives_a_lower_one(total, failures):
    found = repairs.mtbf_limits(total, failures)
    assert found.lower < found.mtbf < found.upper
    none = repairs.mtbf_limits(total, 0)
    assert none.mtbf is None
    assert none.upper is None
    assert none.lower > found.lower


def test_a_power_law_of_a_steady_engine_never_reaches_another_mean():
    law = repairs.PowerLaw(0.01, 1.0, 10, 1000.0, False)
    assert law.time_to(50.0) is None


def test_the_mean_number_of_failures_counts_only_engines_seen():
    times, mean = repairs.mean_cumulative([([100.0, 300.0], 400.0), ([200.0], 250.0)])
    assert times.tolist() == [100.0, 200.0, 300.0]
    assert mean.tolist() == [0.5, 1.0, 2.0]


SHARES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6)


@given(SHARES)
def test_series_and_parallel_are_the_ends_of_k_of_n(shares):
    parts = tuple(shares)
    assert availability.up(availability.series(*parts)) == pytest.approx(float(np.prod(shares)), abs=1e-12)
    assert availability.up(availability.parallel(*parts)) == pytest.approx(
        1.0 - float(np.prod(1.0 - np.array(shares))), abs=1e-12
    )
    needs = [availability.up(availability.Structure(k, parts)) for k in range(len(parts) + 1)]
    assert needs == sorted(needs, reverse=True)
    assert sum(availability.numbers_up(parts)) == pytest.approx(1.0)


def test_nothing_counted_gives_no_index():
    hours = availability.UnitHours(
        service=0.0, reserve=0.0, forced=0.0, maintenance=0.0, planned=0.0, attempted_starts=0, successful_starts=0,
        forced_events=0,
    )  # fmt: skip
    assert all(np.isnan(value) for value in hours.indices().values())


def test_a_machine_that_still_fetches_something_costs_less():
    running = [0.0, 200.0, 400.0, 600.0]
    plain = economic_life(4000.0, running, 0.1)
    worth = economic_life(4000.0, running, 0.1, salvage=[2000.0, 1500.0, 1000.0, 500.0])
    assert all(a > b for a, b in zip(plain.by_year, worth.by_year, strict=True))
