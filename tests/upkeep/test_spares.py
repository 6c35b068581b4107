"""Spares to hold. Published cases stand in the checks of the room."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from asfound.errors import InputError
from asfound.upkeep import spares
from asfound.upkeep.checks_spares import checks

MEANS = st.floats(0.0, 300.0)


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


@given(MEANS, st.integers(0, 400))
def test_the_chances_are_those_of_a_general_library(mean, number):
    assert spares.PoissonDemand(mean).at_most(number) == pytest.approx(stats.poisson.cdf(number, mean), abs=1e-12)


@given(st.floats(0.01, 300.0), st.floats(0.01, 0.999))
def test_the_smallest_stock_is_enough_and_one_less_is_not(mean, wanted):
    demand = spares.PoissonDemand(mean)
    number = demand.smallest(wanted)
    assert demand.at_most(number) >= wanted - 1e-12
    assert number == 0 or demand.at_most(number - 1) < wanted


@given(MEANS, st.integers(-5, 300))
def test_stock_demand_left_over_and_short_balance(mean, stock):
    demand = spares.PoissonDemand(mean)
    assert stock + demand.short(stock) == pytest.approx(mean + demand.left_over(stock), abs=1e-7)
    assert demand.short(stock) >= -1e-7


@given(st.floats(0.01, 50.0), st.floats(0.05, 0.99))
def test_ready_is_one_part_ahead_of_fill(mean, wanted):
    assert spares.shelf_for(mean, fill=wanted).stock == spares.shelf_for(mean, ready=wanted).stock + 1
    with pytest.raises(InputError):
        spares.shelf_for(mean, fill=wanted, ready=wanted)


@given(st.floats(1.0, 1e3), st.floats(1.0, 1e4), st.floats(0.01, 10.0), st.floats(0.2, 5.0))
def test_no_other_lot_costs_less(order, demand, holding, factor):
    best = spares.order_lot(order, demand, holding)
    assert best.cost <= spares.lot_cost(best.quantity * factor, order, demand, holding) * (1 + 1e-12)


@given(st.floats(0.2, 4.0), st.floats(0.2, 3.0), st.floats(1.0, 40.0), st.floats(20.0, 300.0), st.floats(1.0, 200.0))
def test_the_reorder_point_is_the_best_of_all(demand, lead, holding, short, order):
    found = spares.reorder_point(demand, lead, holding=holding, short=short, order_cost=order)
    lead_demand = spares.PoissonDemand(demand * lead)
    at = {y: holding * lead_demand.left_over(y) + short * lead_demand.short(y) for y in range(-8, 70)}
    for level, lot in itertools.product(range(-5, 30), range(1, 30)):
        mean = (order * demand + sum(at[y] for y in range(level + 1, level + lot + 1))) / lot
        assert found.cost <= mean * (1 + 1e-9)
