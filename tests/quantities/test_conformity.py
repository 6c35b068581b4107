"""Probability of conformity, guard bands and risks: against SciPy and against counting."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from asfound.errors import InputError
from asfound.quantities.conformity import (
    acceptance_interval,
    global_risk,
    global_risk_of,
    guard_band,
    guard_factor,
    probability_conforming,
    probability_conforming_of_draws,
    specific_risk,
    with_prior,
)

value, spread = st.floats(-10, 10), st.floats(0.01, 5)


@settings(deadline=None)
@given(value, spread, value, st.floats(0, 10))
def test_normal_agrees_with_scipy(y, u, lower, width):
    theirs = stats.norm.cdf((lower + width - y) / u) - stats.norm.cdf((lower - y) / u)
    ours = probability_conforming(y, u, lower=lower, upper=lower + width)
    assert ours == pytest.approx(theirs, abs=1e-12)


@settings(deadline=None)
@given(value, spread, value, st.floats(1, 60))
def test_t_agrees_with_scipy(y, u, upper, nu):
    assert probability_conforming(y, u, upper=upper, nu=nu) == pytest.approx(
        stats.t.cdf((upper - y) / u, nu), abs=1e-12
    )


@settings(deadline=None)
@given(value, spread, value, value)
def test_a_higher_limit_is_kept_more_probably(y, u, one, two):
    low, high = sorted((one, two))
    assert probability_conforming(y, u, upper=low) <= probability_conforming(y, u, upper=high)
    assert probability_conforming(y, u, lower=low) >= probability_conforming(y, u, lower=high)


def test_the_far_tails_keep_their_digits():
    """Phi(-20) = 2.7536e-89 (any table of the normal tail)."""
    assert probability_conforming(3.0, 0.1, upper=1.0) == pytest.approx(stats.norm.cdf(-20), rel=1e-12)
    assert probability_conforming(-1.0, 0.1, lower=1.0, upper=2.0) == pytest.approx(stats.norm.cdf(-20), rel=1e-9)


def test_without_uncertainty_it_is_yes_or_no():
    assert probability_conforming(1.0, 0.0, upper=1.0) == 1.0
    assert probability_conforming(1.1, 0.0, lower=0.0, upper=1.0) == 0.0


def test_draws_are_counted_and_agree_with_the_normal():
    drawn = np.random.default_rng(3).normal(0.95, 0.048, 100_000)
    counted = probability_conforming_of_draws(drawn, upper=1.0)
    assert counted == pytest.approx(probability_conforming(0.95, 0.048, upper=1.0), abs=0.005)
    drawn[:10] = np.nan
    assert probability_conforming_of_draws(drawn, lower=-9, upper=9) == 1.0
    assert math.isnan(probability_conforming_of_draws(np.array([np.nan]), upper=1.0))


def test_guard_band_is_the_quantile_times_u():
    assert guard_band(0.048, 0.95) == pytest.approx(stats.norm.ppf(0.95) * 0.048)
    assert guard_factor(0.95, nu=4) == pytest.approx(stats.t.ppf(0.95, 4))


@settings(deadline=None)
@given(st.floats(0.5, 0.995), st.floats(0.05, 2.0))
def test_at_the_acceptance_limit_the_probability_is_what_was_asked(probability, u):
    found = acceptance_interval(u, lower=-1.0, upper=1.0, probability=probability)
    if found is None:
        assert probability_conforming(0.0, u, lower=-1.0, upper=1.0) < probability
    else:
        at = probability_conforming(found.upper, u, lower=-1.0, upper=1.0)
        assert at == pytest.approx(probability, abs=1e-9)
        assert found.lower == pytest.approx(-found.upper)


def test_one_sided_acceptance_is_the_limit_less_the_guard_band():
    found = acceptance_interval(0.1, upper=1.0)
    assert found.lower is None
    assert found.upper == pytest.approx(1.0 - 0.1 * stats.norm.ppf(0.95))


def test_specific_risk_names_who_bears_it():
    assert specific_risk(0.95, 0.048, upper=1.0) == ("consumer", pytest.approx(0.1488, abs=1e-4))
    assert specific_risk(1.05, 0.048, upper=1.0) == ("producer", pytest.approx(0.1488, abs=1e-4))


@pytest.mark.parametrize("accept", [1.0, 0.8, 1.2])
def test_global_risk_agrees_with_the_bivariate_normal(accept):
    """True value and measured value are bivariate normal: the four corners of SciPy's distribution function."""
    sd, u = 0.6, 0.2
    both = stats.multivariate_normal([0, 0], [[sd**2, sd**2], [sd**2, sd**2 + u**2]])

    def box(x, a):
        return both.cdf([x, a]) - both.cdf([-x, a]) - both.cdf([x, -a]) + both.cdf([-x, -a])

    inside = box(1.0, accept)
    accepted = 2 * stats.norm.cdf(accept / math.hypot(sd, u)) - 1
    conforming = 2 * stats.norm.cdf(1.0 / sd) - 1
    found = global_risk(0.0, sd, u, lower=-1, upper=1, accept_lower=-accept, accept_upper=accept)
    assert found.consumer == pytest.approx(accepted - inside, abs=2e-5)
    assert found.producer == pytest.approx(conforming - inside, abs=2e-5)


def test_global_risk_of_any_process_agrees_with_counting():
    """A lognormal process, one-sided limit, guarded: a million items."""
    random = np.random.default_rng(8)
    process = stats.lognorm(0.434, scale=math.exp(-2.325))
    true = process.rvs(1_000_000, random_state=random)
    seen = true + 0.01 * random.standard_normal(true.size)
    found = global_risk_of(process.pdf, 0.0, 3.0, 0.01, upper=0.2, accept_upper=0.19)
    assert found.consumer == pytest.approx(np.mean((true > 0.2) & (seen <= 0.19)), abs=2e-4)
    assert found.producer == pytest.approx(np.mean((true <= 0.2) & (seen > 0.19)), abs=5e-4)


def test_prior_knowledge_is_weighed_by_its_uncertainty():
    """Weighted mean of two normal statements."""
    assert with_prior(1.0, 0.1, 2.0, 0.1) == pytest.approx((1.5, 0.1 / math.sqrt(2)))
    assert with_prior(1.0, 0.1, 2.0, 1e6) == pytest.approx((1.0, 0.1))


@pytest.mark.parametrize(
    "ask",
    [
        lambda: probability_conforming(1.0, 0.1),
        lambda: probability_conforming(1.0, -0.1, upper=1.0),
        lambda: probability_conforming(1.0, 0.1, lower=2.0, upper=1.0),
        lambda: guard_factor(1.0),
        lambda: global_risk(0, 0, 1, upper=1),
        lambda: global_risk(0, 1, 0, upper=1),
        lambda: global_risk(0, 1, 1),
        lambda: with_prior(0, 0, 0, 1),
    ],
)
def test_what_cannot_be_is_refused(ask):
    with pytest.raises(InputError):
        ask()
