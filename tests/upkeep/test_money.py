"""Money over time, what matters most. Published cases stand in the checks of the room."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.upkeep import money, what_matters
from asfound.upkeep.checks_money import checks
from asfound.upkeep.life_cycle import Cost, compare, life_cycle_cost
from asfound.upkeep.upgrade_worth import change_worth

RATES, YEARS = st.floats(-0.05, 0.4), st.integers(1, 40)
FLOWS = st.lists(st.integers(-1000, 1000), min_size=2, max_size=9)


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


@given(RATES, YEARS)
def test_an_annuity_is_the_sum_of_its_payments(rate, years):
    even = money.present_value([0.0] + [1.0] * years, rate)
    assert money.annuity_factor(rate, years) == pytest.approx(even, rel=1e-9)
    assert money.annuity_factor(rate, years, begin=True) == pytest.approx(even * (1 + rate), rel=1e-9)
    assert money.annuity_factor(0.0, years) == years


def test_annuities_of_arrays_are_those_of_single_rates():
    rates = np.array([0.0, 0.03, 0.1])
    assert money.annuity_factor(rates, 8).tolist() == [money.annuity_factor(rate, 8) for rate in rates]


@given(st.floats(1.0, 1e5), YEARS, st.floats(0.0, 0.2), st.floats(0.0, 0.2))
def test_real_rates_with_prices_of_today_give_what_nominal_ones_give(amount, years, rate, inflation):
    nominal = money.growing_yearly(amount, years, rate, growth=inflation)
    assert money.growing_yearly(amount, years, money.real_rate(rate, inflation)) == pytest.approx(nominal, rel=1e-9)


@given(FLOWS)
def test_at_a_rate_of_return_nothing_is_left(flows):
    found = money.rates_of_return(flows)
    assert len(found.rates) <= found.sign_changes  # Descartes
    for rate in found.rates:
        if -0.9 < rate < 10.0:
            worth = sum(abs(flow) * (1 + rate) ** -year for year, flow in enumerate(flows))
            assert abs(money.present_value(flows, rate)) <= 1e-5 * worth


@given(st.floats(1.0, 1e6), st.lists(st.floats(0.0, 1e6), min_size=1, max_size=9))
def test_one_change_of_sign_gives_one_rate(first, later):
    assume(max(later) > 1.0)
    assert money.rates_of_return([-first, *later]).rate is not None


def test_two_rates_are_no_rate():
    assert money.rates_of_return([-350.0, 950.0, -620.0]).rate is None
    assert money.rates_of_return([100.0, 50.0]).rates == ()


@given(st.floats(1.0, 1e5), st.lists(st.floats(0.0, 1e4), min_size=1, max_size=12), st.floats(0.0, 0.3))
def test_interest_never_pays_back_sooner(first, later, rate):
    plain, discounted = (money.payback([-first, *later], r) for r in (0.0, rate))
    if discounted is not None:
        assert plain is not None
        assert plain <= discounted + 1e-9


@given(st.floats(1.0, 1e5), st.floats(0.0, 1e4), RATES, YEARS)
def test_keeping_at_its_worth_costs_what_the_new_one_costs(new, salvage, rate, years):
    worth = money.worth_of_keeping(new, salvage, 100.0, rate, years)
    assert money.yearly_cost(worth, salvage, 100.0, rate, years) == pytest.approx(new, rel=1e-6, abs=1e-5)


def test_payments_at_the_beginning_of_the_year_give_another_levelised_cost():
    given_ = (500e6, 25e6, 2e9, 0.07, 20)
    assert money.levelised_cost(*given_) > 1.04 * money.levelised_cost(*given_, begin=True)


# --- life cycle


def test_a_study_beside_itself_saves_nothing_and_has_no_ratio():
    same = compare((100.0, 900.0), (100.0, 900.0), rate=0.03, years=15)
    assert same.net_savings == 0.0
    assert same.ratio is None
    assert same.adjusted_return is None


@given(RATES, YEARS, st.floats(0.0, 0.1))
def test_an_even_path_of_prices_is_growth(rate, years, growth):
    by_path, by_growth = Cost(yearly=7.0, path=[growth] * years), Cost(yearly=7.0, growth=growth)
    assert by_path.present(rate, years) == pytest.approx(by_growth.present(rate, years), rel=1e-9)
    both = life_cycle_cost({"a": by_path, "b": by_growth}, rate, years)
    assert both.total == pytest.approx(sum(both.items.values()))
    with pytest.raises(InputError, match="outside"):
        Cost(in_years=[(years + 1, 1.0)]).present(rate, years)


# --- what matters

CHANGE = {
    "power": 900e3, "hours": 7760.0, "efficiency_now": 0.345, "efficiency_then": 0.355, "fuel_price": 5e-9,
    "availability_now": 0.955, "availability_then": 0.975, "margin": 140.0, "extra_service": 6000.0,
    "investment": 185000.0, "rate": 0.1, "years": 8.0,
}  # fmt: skip


def present(**inputs):
    return change_worth(**inputs).present


def test_at_its_turning_point_a_change_just_pays():
    found = change_worth(**CHANGE)
    assert present(**{**CHANGE, "margin": found.margin_to_break_even}) == pytest.approx(0.0, abs=1e-6)
    assert present(**{**CHANGE, "investment": found.investment_to_break_even}) == pytest.approx(0.0, abs=1e-6)
    (margin,) = what_matters.turning_points(present, CHANGE, "margin", 80.0, 220.0)
    assert margin == pytest.approx(found.margin_to_break_even)
    assert what_matters.turning_points(present, CHANGE, "extra_service", 5000.0, 7000.0) == []


def test_a_change_that_changes_nothing_costs_its_investment_and_has_no_margin_to_pay():
    same = {**CHANGE, "efficiency_then": 0.345, "availability_then": 0.955, "extra_service": 0.0}
    found = change_worth(**same)
    assert found.present == -185000.0
    assert math.isinf(found.margin_to_break_even)


def test_arrays_give_what_single_changes_give():
    margins = np.array([80.0, 140.0, 220.0])
    together = present(**{**CHANGE, "margin": margins}).tolist()
    assert together == pytest.approx([present(**{**CHANGE, "margin": margin}) for margin in margins])


def test_draws_give_what_the_closed_forms_give():
    factors = [what_matters.LogNormal(m, p) for m, p in ((180.0, 1.8), (140.0, 1.4), (0.6, 1.3))]
    named = dict(zip("abc", factors, strict=True))
    found = what_matters.spread(lambda a, b, c: a * b * c, dict.fromkeys("abc", 1.0), named, draws=200_000)
    exact = what_matters.product_of(factors)
    assert (found.p10, found.p50, found.p90, found.mean) == pytest.approx(exact, rel=0.01)
    assert found.by_input[0][0] == "a"
    assert found == what_matters.spread(lambda a, b, c: a * b * c, dict.fromkeys("abc", 1.0), named, draws=200_000)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 50), st.floats(0, 50), st.floats(0, 50)).map(sorted), min_size=1, max_size=4))
def test_draws_of_triangles_have_their_moments(parts):
    triangles = [what_matters.LowLikelyHigh(*part) for part in parts]
    mean, deviation, _ = what_matters.sum_of(triangles)
    random = np.random.default_rng(7)
    drawn = sum(triangle.draw(random, 40_000) for triangle in triangles)
    assert drawn.mean() == pytest.approx(mean, abs=0.03 * deviation + 1e-6)  # digits of the values
    assert drawn.std() == pytest.approx(deviation, rel=0.03, abs=1e-6)


def test_bars_are_ordered_and_know_their_inputs():
    ranges = {"margin": (80.0, 220.0), "rate": (0.07, 0.13), "extra_service": (3000.0, 9000.0)}
    found = what_matters.bars(present, CHANGE, ranges)
    assert [bar.width for bar in found] == sorted((bar.width for bar in found), reverse=True)
    assert [bar.name for bar in found if bar.turns] == ["margin"]
    with pytest.raises(InputError, match="belongs"):
        what_matters.bars(present, CHANGE, {"weather": (0.0, 1.0)})


@given(FLOWS, FLOWS, st.floats(-0.5, 0.5), st.floats(-5.0, 5.0), st.floats(-5.0, 5.0))
def test_worth_now_is_linear_in_the_flows(one, other, rate, a, b):
    length = max(len(one), len(other))
    one, other = ([*flows, *[0] * (length - len(flows))] for flows in (one, other))
    both = [a * x + b * y for x, y in zip(one, other, strict=True)]
    sum_of = a * money.present_value(one, rate) + b * money.present_value(other, rate)
    assert money.present_value(both, rate) == pytest.approx(sum_of, rel=1e-9, abs=1e-6 * (1 + 0.5**-length))
