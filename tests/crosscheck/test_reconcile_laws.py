"""Laws of reconciliation: balances hold, units and order change nothing, what nothing checks is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.crosscheck.balances import Balances, central_differences, complex_step, linear_balances
from asfound.crosscheck.classify import classify
from asfound.crosscheck.marks import Mark
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.tests_of_readings import (
    adjustment_tests,
    global_test,
    likelihood_ratios,
    measurement_tests,
    nodal_tests,
    smallest_errors,
    what_others_say,
)
from asfound.errors import InputError

from .plants import NETWORKS, heat_plant, heat_readings, readings

networks, seeds = st.sampled_from(NETWORKS), st.integers(0, 2**31)
START = {"heat_to_1": 1000.0, "heat_to_3": 1000.0}


@st.composite
def partly_measured(draw):
    """A network of which some streams are not measured."""
    name = draw(networks)
    balances, _ = readings(name, 0)
    streams = len(balances.readings)
    measured = sorted(draw(st.sets(st.integers(1, streams), min_size=streams // 2, max_size=streams)))
    return readings(name, draw(seeds), measured=measured)


@settings(deadline=None)
@given(partly_measured())
def test_balances_hold(case):
    balances, given_readings = case
    found = reconcile(balances, given_readings)
    assert found.converged
    u = np.where(np.isnan(found.unmeasured), found.point.u, found.unmeasured)
    assert np.abs(balances.residuals(found.x, u)).max() < 1e-9 * np.abs(found.x).max()


@settings(deadline=None)
@given(partly_measured())
def test_least_squares_agrees_with_the_equations_of_karush_kuhn_and_tucker(case):
    """One dense system, solved by another routine, unmeasured values and multipliers and all."""
    balances, y = case
    found = reconcile(balances, y)
    _, a, b = balances.linearised(y.values, np.ones(len(balances.unmeasured)))
    n, p, m = a.shape[1], b.shape[1], a.shape[0]
    system = np.zeros((n + p + m, n + p + m))
    system[:n, :n] = np.diag(1 / np.diag(y.covariance))
    system[:n, n + p :], system[n + p :, :n] = a.T, a
    system[n : n + p, n + p :], system[n + p :, n : n + p] = b.T, b
    right = np.concatenate([y.values / np.diag(y.covariance), np.zeros(p + m)])
    solution = np.linalg.lstsq(system, right, rcond=1e-12)[0]
    assert found.x == pytest.approx(solution[:n], rel=1e-6)
    told = ~np.isnan(found.unmeasured)
    assert found.unmeasured[told] == pytest.approx(solution[n : n + p][told], rel=1e-6, abs=1e-6)
    assert set(found.classes.observable) == set(np.array(balances.unmeasured)[told])


@settings(deadline=None)
@given(partly_measured(), st.data())
def test_the_unit_of_a_reading_changes_no_test(case, data):
    balances, y = case
    factor = np.array(data.draw(st.lists(st.floats(1e-4, 1e4), min_size=len(y.names), max_size=len(y.names))))
    rows = np.array(
        data.draw(st.lists(st.floats(1e-3, 1e3), min_size=len(balances.names), max_size=len(balances.names)))
    )
    _, a, b = balances.linearised(y.values, np.ones(len(balances.unmeasured)))
    other = linear_balances(rows[:, None] * np.column_stack([a / factor, b]), balances.readings, balances.unmeasured)
    scaled = Readings(y.names, y.values * factor, y.covariance * factor[:, None] * factor)
    one, two = reconcile(balances, y), reconcile(other, scaled)
    assert two.x / factor == pytest.approx(one.x, rel=1e-8)
    assert two.chi_squared == pytest.approx(one.chi_squared, rel=1e-6, abs=1e-9)
    assert two.degrees == one.degrees
    assert two.classes == one.classes
    mine, theirs = measurement_tests(one.parity), measurement_tests(two.parity)
    assert theirs.test == pytest.approx(mine.test, rel=1e-6, abs=1e-6, nan_ok=True)
    assert theirs.size / factor == pytest.approx(mine.size, rel=1e-6, abs=1e-6, nan_ok=True)


@settings(deadline=None)
@given(partly_measured(), st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(case, random):
    balances, y = case
    names = list(y.names)
    random.shuffle(names)
    found = reconcile(balances, y.in_order(names))
    assert found.x == pytest.approx(reconcile(balances, y).x, rel=1e-12)


@settings(deadline=None)
@given(networks, seeds)
def test_a_reading_in_no_balance_is_left_alone_and_not_checked(name, seed):
    balances, y = readings(name, seed)
    _, a, _ = balances.linearised(y.values, np.zeros(0))
    more = linear_balances(np.column_stack([a, np.zeros(len(a))]), (*balances.readings, "idle"))
    idle = Readings.independent((*y.names, "idle"), [*y.values, 7.0], [*y.u, 0.5])
    found = reconcile(more, idle)
    assert found.x[-1] == 7.0
    assert found.u[-1] == pytest.approx(0.5, rel=1e-12)
    assert found.classes.untouched == ("idle",)
    assert "idle" in found.classes.not_checked
    assert smallest_errors(found.parity)[-1] == np.inf
    assert np.isnan(measurement_tests(found.parity).test[-1])
    assert found.x[:-1] == pytest.approx(reconcile(balances, y).x, rel=1e-12)


@settings(deadline=None)
@given(partly_measured(), st.data())
def test_another_look_never_makes_anything_less_certain(case, data):
    balances, y = case
    at = data.draw(st.integers(0, len(y.names) - 1))
    _, a, b = balances.linearised(y.values, np.ones(len(balances.unmeasured)))
    twice = np.zeros((len(a) + 1, len(y.names) + 1 + b.shape[1]))
    twice[:-1, : len(y.names)], twice[:-1, len(y.names) + 1 :] = a, b
    twice[-1, at], twice[-1, len(y.names)] = 1.0, -1.0
    more = linear_balances(twice, (*balances.readings, "again"), balances.unmeasured)
    again = Readings.independent((*y.names, "again"), [*y.values, y.values[at]], [*y.u, 2 * y.u[at]])
    one, two = reconcile(balances, y), reconcile(more, again)
    assert (two.u[:-1] <= one.u * (1 + 1e-9)).all()
    told = np.isfinite(one.u_unmeasured)
    assert (two.u_unmeasured[told] <= one.u_unmeasured[told] * (1 + 1e-9)).all()
    assert two.degrees == one.degrees + 1
    seen, before = (measurement_tests(found.parity).u_size for found in (two, one))
    checked = np.isfinite(before)
    assert (seen[:-1][checked] <= before[checked] * (1 + 1e-9)).all()


@settings(deadline=None)
@given(partly_measured())
def test_covariance_never_exceeds_that_of_the_readings(case):
    balances, y = case
    found = reconcile(balances, y)
    assert np.linalg.eigvalsh((y.covariance - found.covariance) / y.scale[:, None] / y.scale).min() > -1e-9
    assert (found.adjustability >= -1e-9).all()
    assert (found.detectability <= 1 + 1e-9).all()
    assert (1 - found.adjustability) ** 2 + found.detectability**2 == pytest.approx(np.ones(len(y.names)), abs=1e-6)


@settings(deadline=None)
@given(networks, seeds)
def test_for_independent_readings_the_ratio_is_the_test_squared(name, seed):
    balances, y = readings(name, seed)
    found = reconcile(balances, y)
    each = measurement_tests(found.parity)
    assert adjustment_tests(found.parity) ** 2 == pytest.approx(np.nan_to_num(each.ratio), rel=1e-6, abs=1e-8)
    assert (each.ratio <= found.chi_squared * (1 + 1e-9)).all()
    moved = (y.values - found.x) / y.u
    assert (moved**2).sum() == pytest.approx(found.chi_squared, rel=1e-9)


@settings(deadline=None)
@given(networks, seeds, st.data())
def test_releasing_a_reading_is_not_having_it(name, seed, data):
    balances, y = readings(name, seed, {1: 8.0})
    at = data.draw(st.integers(1, len(y.names)))
    stream = f"stream_{at}"
    released = reconcile(balances, y, released=[Mark(name="out", effect={stream: 1.0})])
    fewer, left = readings(name, seed, {1: 8.0}, measured=[one for one in range(1, len(y.names) + 1) if one != at])
    without = reconcile(fewer, left)
    assert released.chi_squared == pytest.approx(without.chi_squared, rel=1e-7, abs=1e-9)
    assert released.degrees == without.degrees
    assert released.value(stream) == pytest.approx(without.value(stream), rel=1e-9)
    assert released.standard_uncertainty(stream) == pytest.approx(without.standard_uncertainty(stream), rel=1e-6)
    one = likelihood_ratios(reconcile(balances, y).parity, [Mark(name="out", effect={stream: 1.0})])
    assert released.sizes[0] == pytest.approx(one.size[0], rel=1e-7)
    assert released.u_sizes[0] == pytest.approx(one.u_size[0], rel=1e-7)
    assert reconcile(balances, y).chi_squared - released.chi_squared == pytest.approx(one.ratio[0], rel=1e-6, abs=1e-8)


@settings(deadline=None)
@given(networks, seeds, st.data())
def test_what_others_say_is_what_they_say_without_it(name, seed, data):
    """Also where readings share an error; their value is that of the reading released."""
    balances, y = readings(name, seed, {1: 4.0})
    a, b = data.draw(st.permutations(range(len(y.names))))[:2]
    covariance = y.covariance.copy()
    covariance[a, b] = covariance[b, a] = 0.6 * y.u[a] * y.u[b]
    for given_readings in (y, Readings(y.names, y.values, covariance)):
        found = what_others_say(reconcile(balances, given_readings).parity)
        stream = f"stream_{a + 1}"
        released = reconcile(balances, given_readings, released=[Mark(name="out", effect={stream: 1.0})])
        assert found.values[a] == pytest.approx(released.value(stream), rel=1e-7)
        assert found.u[a] == pytest.approx(released.standard_uncertainty(stream), rel=1e-6)
    alone = what_others_say(reconcile(balances, y).parity)
    assert alone.distance == pytest.approx((y.values - alone.values) / np.hypot(y.u, alone.u), rel=1e-6, abs=1e-6)


@settings(deadline=None, max_examples=25)
@given(seeds)
def test_curved_balances_hold_and_both_derivatives_lead_there(seed):
    y = heat_readings(seed)
    exact = reconcile(heat_plant(), y, start=START)
    differences = reconcile(replace(heat_plant(), derivative="central"), y, start=START)
    assert exact.converged
    assert exact.residual < 1e-7
    assert differences.x == pytest.approx(exact.x, rel=1e-7)
    assert ((y.values - exact.x) ** 2 / y.u**2).sum() == pytest.approx(exact.chi_squared, rel=1e-5)


def test_derivatives_by_imaginary_steps_are_exact():
    x, u = heat_readings(1).values, np.array([3000.0, 4000.0])
    f, exact = complex_step(heat_plant().formula, x, u)
    again, near = central_differences(heat_plant().formula, x, u)
    assert f == pytest.approx(again, rel=1e-12)
    assert near == pytest.approx(exact, rel=1e-6, abs=1e-6)
    flow, t = x[0], x[7]
    assert exact[3, 7] == pytest.approx(flow * (4.18 + 2e-3 * t), rel=1e-15)


def test_readings_of_one_instrument_move_together():
    """Two temperatures with one error have a difference without error: singular, and it is solved."""
    balances = linear_balances([[1.0, -1.0, -1.0]], ["a", "b", "c"])
    both = Readings(("a", "b", "c"), np.array([10.5, 4.0, 6.0]), np.array([[1.0, 1.0, 0], [1.0, 1.0, 0], [0, 0, 0.25]]))
    found = reconcile(balances, both)
    assert found.converged
    assert found.x == pytest.approx([10.5, 4.0, 6.5])
    assert found.covariance[:2, :2] == pytest.approx(np.ones((2, 2)))


def test_values_without_uncertainty_are_not_moved():
    balances = linear_balances([[1.0, -1.0, -1.0]], ["a", "b", "c"])
    found = reconcile(balances, Readings.independent("abc", [10.0, 4.0, 5.0], [0.0, 1.0, 1.0]))
    assert found.x == pytest.approx([10.0, 4.5, 5.5])
    assert found.u == pytest.approx([0.0, 0.5**0.5, 0.5**0.5])


def test_exact_values_that_contradict_each_other_are_said():
    balances = linear_balances([[1.0, -1.0]], ["a", "b"])
    found = reconcile(balances, Readings.independent("ab", [10.0, 9.0], [0.0, 0.0]))
    assert not found.converged
    assert "without uncertainty" in found.said


def test_a_balance_that_stands_twice_counts_once():
    balances = linear_balances([[1.0, -1.0, -1.0], [2.0, -2.0, -2.0]], ["a", "b", "c"])
    found = reconcile(balances, Readings.independent("abc", [10.5, 4.0, 6.0], [0.3, 0.2, 0.2]))
    assert found.degrees == 1
    assert found.chi_squared == pytest.approx(0.25 / 0.17)


def test_what_is_left_by_rounding_alone_checks_nothing():
    """Three balances on two unmeasured values, of which one says the same as the others: no check, not one of 1e-32."""
    a = np.array([[1.0, 1.0, -1.0, 0.3], [1.0, 0.0, 0.0, -0.1], [0.0, 1.0, -1.0, 0.4]])
    balances = linear_balances(a, ["a"], ["u", "v", "w"])
    found = reconcile(balances, Readings.independent("a", [10.0], [0.3]))
    assert found.degrees == 0
    assert found.x == pytest.approx([10.0])
    assert found.u == pytest.approx([0.3])


def test_without_a_check_nothing_is_adjusted():
    balances = linear_balances([[1.0, -1.0, -1.0]], ["a", "b"], ["c"])
    found = reconcile(balances, Readings.independent("ab", [10.0, 4.0], [0.3, 0.4]))
    assert found.degrees == 0
    assert found.x == pytest.approx([10.0, 4.0])
    assert (found.value("c"), found.standard_uncertainty("c")) == pytest.approx((6.0, 0.5))
    assert found.classes.just_measured == ("a", "b")
    assert found.p_value == 1.0
    assert global_test(found.parity).passes
    assert classify(balances, found.readings).not_checked == ("a", "b")


def test_what_cannot_settle_says_so():
    """x^2 + 1 = 0 has no real solution."""
    balances = Balances(readings=("x",), formula=lambda x, _: x**2 + 1, names=("none",))
    found = reconcile(balances, Readings.independent(["x"], [1.0], [0.1]))
    assert not found.converged
    assert found.said


def test_a_formula_without_a_value_says_so_and_another_start_helps():
    balances = Balances(readings=("x", "y"), formula=lambda x, _: np.sqrt(x[:1]) - x[1:], names=("root",))
    wild = Readings.independent(["x", "y"], [-5.0, 2.0], [3.0, 0.1])
    assert "no value" in reconcile(balances, wild).said
    assert reconcile(balances, wild, start={"x": 4.0}).converged


def test_a_balance_alone_blurs():
    balances, y = readings("B4", 3, {2: 9.0})
    nodes = nodal_tests(balances, y)
    assert (nodes[:2] > 2.7).all()  # both nodes of the stream cry
    assert measurement_tests(reconcile(balances, y).parity).order()[0] == 1


@pytest.mark.parametrize(
    ("covariance", "because"),
    [
        ([[1.0, 0.0], [0.0, -1.0]], "negative variance"),
        ([[1.0, 0.5], [0.4, 1.0]], "not symmetric"),
        ([[1.0, 2.0], [2.0, 1.0]], "negative variance"),
        ([[1.0]], "do not fit"),
    ],
)
def test_what_is_no_covariance_is_refused(covariance, because):
    with pytest.raises(InputError, match=because):
        Readings(("a", "b"), np.array([1.0, 2.0]), np.array(covariance))


def test_names_that_do_not_fit_are_refused():
    balances = linear_balances([[1.0, -1.0]], ["a", "b"])
    with pytest.raises(InputError, match="c"):
        reconcile(balances, Readings.independent("ac", [1.0, 2.0], [1.0, 1.0]))
    with pytest.raises(InputError, match="start"):
        reconcile(balances, Readings.independent("ab", [1.0, 2.0], [1.0, 1.0]), start={"z": 1.0})
    with pytest.raises(InputError, match="no number"):
        Readings.independent("ab", [1.0, np.nan], [1.0, 1.0])


def test_draws_of_a_visit_become_a_covariance():
    draws = np.random.default_rng(4).multivariate_normal([3.0, 5.0], [[1.0, 0.6], [0.6, 2.0]], 20_000).T
    found = Readings.from_draws("ab", np.column_stack([[3.1, 5.2], draws]))
    assert found.values == pytest.approx([3.1, 5.2])
    assert found.covariance == pytest.approx(np.array([[1.0, 0.6], [0.6, 2.0]]), abs=0.05)
