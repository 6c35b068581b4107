"""Who lies: nobody, one, two; what leaves the same mark; what else passes; false alarms as stated."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from asfound.crosscheck.balances import Balances, linear_balances
from asfound.crosscheck.critical import normal_critical, noticed_at, sidak
from asfound.crosscheck.explanations import Screen
from asfound.crosscheck.gross_errors import serial_elimination, unbiased_estimate
from asfound.crosscheck.identify import identify
from asfound.crosscheck.many import reconcile_many
from asfound.crosscheck.marks import Mark, single_marks
from asfound.crosscheck.odds import odds
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import parity_at, reconcile
from asfound.crosscheck.robust import robust_reconcile, robust_start
from asfound.crosscheck.same_mark import cosines, groups
from asfound.crosscheck.tests_of_readings import measurement_tests, smallest_errors
from asfound.crosscheck.worth import worth_for_quantity, worth_for_suspects
from asfound.errors import InputError, UnknownNameError

from .plants import ITEMS, NETWORKS, TEMPERATURE, heat_plant, heat_readings, readings

START = {"heat_to_1": 1000.0, "heat_to_3": 1000.0}
networks, seeds = st.sampled_from(NETWORKS), st.integers(0, 2**31)


def names_of(found):
    return {name for one in found.explanations for group in one.names for name in group}


def test_nobody_is_accused_when_readings_agree():
    balances, y = readings("B15", 1)
    found = identify(balances, y)
    assert found.verdict == "nobody"
    assert found.explanations == ()
    assert found.best is found.reconciled
    assert found.nobody > 0.5


@settings(deadline=None, max_examples=60)
@given(networks, seeds, st.data())
def test_a_plain_lie_is_among_the_named_with_its_size(name, seed, data):
    """Three times what is noticed nine times in ten: it is always found, whatever else passes too."""
    balances, clean = readings(name, seed)
    noticed = smallest_errors(reconcile(balances, clean).parity, 0.01, 0.9) / clean.u
    at = data.draw(st.integers(0, len(clean.names) - 1))
    assume(noticed[at] < 1e3)
    size = data.draw(st.sampled_from([-1, 1])) * 3 * noticed[at]
    _, y = readings(name, seed, {at + 1: size})
    found = identify(balances, y, alpha=0.001)
    stream = f"stream_{at + 1}"
    if found.verdict == "one":
        member = next(one for whole in found.explanations for one in whole.suspects[0] if one.name == stream)
        assert abs(member.size - size * clean.u[at]) < 5 * member.u
    else:
        assert found.verdict in ("two", "unexplained")  # noise of its own beside the lie
        assert found.probability[stream] > 0.1


def test_two_lies_are_found_together():
    balances, y = readings("B15", 2, {13: 9.0, 25: -9.0})
    found = identify(balances, y)
    assert found.verdict == "two"
    assert set(found.rivals[0].first) == {"stream_13", "stream_25"}


def test_the_same_mark_is_one_group_and_cannot_be_told_apart():
    """One balance, three readings: any of them could be it, each with the size that it would need."""
    balances = linear_balances([[1.0, 1.0, -1.0]], ["a", "b", "c"])
    found = identify(balances, Readings.independent("abc", [10.0, 5.0, 25.0], [0.5, 0.5, 0.5]))
    assert found.verdict == "one"
    assert {*found.explanations[0].names[0]} == {"a", "b", "c"}
    assert not found.told_apart
    assert {one.name: round(one.size) for one in found.explanations[0].suspects[0]} == {"a": -10, "b": -10, "c": 10}


def test_plausible_sizes_order_what_the_balances_cannot():
    """Same mark; one of them would be off by exactly what a known mix-up makes."""
    balances = linear_balances([[1.0, -1.0]], ["line", "other"])
    y = Readings.independent(["line", "other"], [496.0, 396.0], [2.0, 2.0])
    mixed = Mark(name="gauge_for_absolute", effect={"line": 1.0}, size=100.0, spread=2.0)
    found = identify(balances, y, marks=[mixed])
    assert found.explanations[0].suspects[0][0].name == "gauge_for_absolute"
    assert found.explanations[0].suspects[0][0].probability > 0.9
    far = Mark(name="gauge_for_absolute", effect={"line": 1.0}, size=60.0, spread=2.0)
    assert identify(balances, y, marks=[far]).explanations[0].suspects[0][0].name != "gauge_for_absolute"


def test_a_pattern_beats_the_readings_it_moves():
    balances, clean = readings("B15", 5)
    leak = {"stream_5": 4.0, "stream_12": 5.0, "stream_20": 1.0}
    wrong = clean.values.copy()
    for name, effect in leak.items():
        wrong[clean.at(name)] += effect * 4.0
    found = identify(balances, Readings(clean.names, wrong, clean.covariance), marks=[Mark(name="leak", effect=leak)])
    assert found.verdict == "one"
    assert found.rivals[0].first == ("leak",)
    assert found.rivals[0].suspects[0][0].size == pytest.approx(4.0, abs=0.8)


@settings(deadline=None, max_examples=80)
@given(seeds)
def test_whatever_is_asked_there_is_an_answer(seed):
    """Balances by chance, with unmeasured, shared, exact values, and readings that may be wild."""
    draw = np.random.default_rng(seed)
    n, p, m = draw.integers(1, 9), draw.integers(0, 5), draw.integers(1, 7)
    names, hidden = [f"x{at}" for at in range(n)], [f"u{at}" for at in range(p)]
    half = draw.standard_normal((n, draw.integers(1, n + 1)))
    covariance = half @ half.T if draw.random() < 0.4 else np.diag(draw.uniform(0.1, 2, n) ** 2)
    if draw.random() < 0.2:
        covariance[0], covariance[:, 0] = 0.0, 0.0
    y = Readings(names, draw.normal(0, 3, n) * 10 ** draw.uniform(-1, 4), (covariance + covariance.T) / 2)
    balances = linear_balances(draw.integers(-1, 2, (m, n + p)).astype(float), names, hidden)
    found = identify(balances, y)
    assert found.verdict in ("nobody", "one", "two", "unexplained")
    assert all(0 <= one.probability <= 1 + 1e-9 for one in found.explanations)
    assert 0 <= found.nobody <= 1
    every = dict.fromkeys([*names, *hidden], 1.0)
    assert all(one.after >= one.before - 1e-9 for one in worth_for_suspects(found, every))
    assert all(one.after <= one.before * (1 + 1e-6) + 1e-5 for one in worth_for_quantity(found.best, names[0], every))
    assert all(step.degrees >= 0 for step in serial_elimination(balances, y).steps)


def test_larger_errors_are_rarer_but_not_beyond_belief():
    """Same mark, same test value; one error would be 20 of its u, the other 200."""
    balances = linear_balances([[1.0, -1.0, -1.0]], ["fine", "coarse", "other"])
    y = Readings.independent(["fine", "coarse", "other"], [300.0, 100.0, 0.0], [1.0, 10.0, 0.1])
    members = {one.name: one for one in identify(balances, y).explanations[0].suspects[0]}
    assert members["fine"].in_u == pytest.approx(200.0)
    assert members["coarse"].in_u == pytest.approx(-20.0)
    assert members["coarse"].probability / members["fine"].probability == pytest.approx(10.0, rel=0.1)


def test_more_than_two_is_not_forced_into_two():
    balances, y = readings("B15", 4, {5: 15.0, 13: 14.0, 19: 16.0, 25: -15.0, 9: 12.0, 28: -17.0})
    found = identify(balances, y)
    assert found.verdict == "unexplained"
    assert found.nearest is not None
    assert found.explanations == ()


def test_one_check_cannot_name_anybody_and_none_says_nothing():
    none = linear_balances([[1.0, -1.0]], ["a"], ["b"])
    found = identify(none, Readings.independent("a", [3.0], [0.1]))
    assert found.verdict == "nobody"
    assert found.not_checked == ("a",)
    assert found.smallest_errors.tolist() == [np.inf]
    assert found.told_apart is False


def test_pairs_are_not_looked_for_where_any_pair_would_do():
    balances = linear_balances([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]], ["a", "b", "c"])
    found = identify(balances, Readings.independent("abc", [10.0, 20.0, 35.0], [0.5, 0.5, 0.5]))
    assert found.verdict == "unexplained"


def test_a_lie_in_curved_balances_is_named_with_its_true_size():
    y = heat_readings(3, {"temperature_3": 12.0})
    found = identify(heat_plant(), y, start=START)
    assert found.verdict == "one"
    assert found.rivals[0].first == ("temperature_3",)
    member = found.rivals[0].suspects[0][0]
    assert member.size == pytest.approx(y.values[y.at("temperature_3")] - TEMPERATURE[2], abs=3 * member.u)
    assert member.in_u == pytest.approx(member.size / 0.5)
    assert found.released is not None
    assert found.best.value("temperature_3") == pytest.approx(61.0, abs=1.0)


def test_where_the_formulas_have_no_value_nobody_is_named_until_a_start_is_given():
    """A slip of the pen: a negative square. With a start it is found."""
    balances = Balances(
        readings=("square", "root", "twice"),
        formula=lambda x, _: np.stack([np.sqrt(x[0]) - x[1], 2 * x[1] - x[2]]),
        names=("root", "double"),
    )
    y = Readings.independent(balances.readings, [-400.0, 20.1, 39.8], [4.0, 0.2, 0.2])
    lost = identify(balances, y)
    assert lost.verdict == "unexplained"
    assert lost.nearest is None
    assert "no value" in lost.reconciled.said
    found = identify(balances, y, start={"square": 400.0})
    assert found.verdict == "one"
    assert found.rivals[0].first == ("square",)
    assert found.best.x[0] == pytest.approx(400, rel=0.03)


def test_parts_of_the_balances_can_be_taken():
    """Each balance alone accuses what stands in it."""
    some = heat_plant().of(["mass_1", "split_4"])
    y = heat_readings(3, {"flow_3": 20.0})
    found = identify(some, y, start=START)
    assert {*found.explanations[0].names[0]} == {"flow_1", "flow_2", "flow_3"}
    assert "flow_7" in found.not_checked
    assert set(found.reconciled.classes.unobservable) == {"heat_to_1", "heat_to_3"}


@pytest.mark.parametrize("size", [30.0, 100.0, 300.0, -60.0])
def test_a_wild_value_does_not_drag_the_rest(size):
    found = identify(heat_plant(), heat_readings(3, {"flow_3": size}), start=START)
    assert found.rivals[0].first == ("flow_3",)
    honest = reconcile(heat_plant(), heat_readings(3), start=START)
    others = [at for at, name in enumerate(honest.readings.names) if name != "flow_3"]
    assert np.abs((found.best.x - honest.x) / honest.readings.u)[others].max() < 1.5


def test_a_robust_point_lets_a_wild_value_go():
    y = heat_readings(3, {"flow_3": 200.0})
    near = robust_start(heat_plant(), y, START).point
    assert near.x[2] == pytest.approx(80.0, rel=0.05)
    assert parity_at(heat_plant(), y, near).chi_squared > 1000


@pytest.mark.parametrize("kind", ["cauchy", "welsch", "biweight", "hampel", "contaminated"])
def test_robust_estimators_give_the_wild_reading_no_weight(kind):
    balances, y = readings("B15", 8, {13: 15.0})
    found = robust_reconcile(balances, y, kind)
    assert found.converged
    assert int(np.argmin(found.weights)) == 12
    _, honest = readings("B15", 8)
    right = reconcile(balances, honest).x
    dragged = [np.abs((one - right) / y.u).max() for one in (found.x, reconcile(balances, y).x)]
    assert dragged[0] < 0.5 * dragged[1]


def test_an_unknown_estimator_names_the_nearest():
    balances, y = readings("B2", 1)
    with pytest.raises(UnknownNameError, match="huber"):
        robust_reconcile(balances, y, "hubert")


def test_serial_elimination_stops_before_nothing_is_checked():
    balances, y = readings("B2", 1, {1: 30.0, 4: -25.0, 3: 20.0, 6: 15.0})
    found = serial_elimination(balances, y)
    assert not found.passes
    assert found.said == "nothing further can be released"
    assert all(step.degrees >= 0 for step in found.steps)
    assert len(found.released) <= 3


def test_sizes_of_suspects_together_are_unbiased():
    """Each alone is biased by the other; together they are right on the average."""
    together, alone = [], []
    for seed in range(60):
        balances, y = readings("B4", seed, {2: 8.0, 4: -8.0})
        parity = reconcile(balances, y).parity
        marks = [mark for mark in single_marks(y) if mark.name in ("stream_2", "stream_4")]
        together.append(unbiased_estimate(parity, marks).size)
        alone.append(measurement_tests(parity).size[[1, 3]])
    assert np.mean(together, axis=0) == pytest.approx([8.0, -8.0], abs=0.6)
    assert np.abs(np.mean(alone, axis=0) - [8.0, -8.0]).min() > 2.0


@pytest.mark.parametrize("name", ["B4", "B15"])
def test_false_alarms_are_as_stated(name):
    """2,000 honest visits: chi-squared, the largest single test, and both together."""
    balances, y = readings(name, 0)
    truth = np.array(ITEMS[name]["recomputed"]["reconciled"])
    values = truth[:, None] + y.u[:, None] * np.random.default_rng(11).standard_normal((truth.size, 2000))
    found = reconcile_many(balances, y, values)
    assert (found.p_value < 0.05).mean() == pytest.approx(0.05, abs=0.015)
    largest = np.nanmax(np.abs(found.test), axis=0)
    assert (largest > normal_critical(sidak(0.05, truth.size))).mean() < 0.055
    each = np.abs(found.test) > normal_critical(0.05)
    assert each.mean() == pytest.approx(0.05, abs=0.01)
    marks = single_marks(y)
    accused = [
        not Screen.of(reconcile(balances, Readings(y.names, values[:, at], y.covariance)).parity, marks, 0.05, 1).agrees
        for at in range(400)
    ]
    assert np.mean(accused) < 0.08


def test_an_error_is_noticed_as_often_as_said():
    """The smallest error of 80 % power is noticed in 80 of 100 visits."""
    balances, y = readings("B15", 0)
    truth = np.array(ITEMS["B15"]["recomputed"]["reconciled"])
    size = smallest_errors(reconcile(balances, y).parity, 0.01, 0.8)[12]
    values = truth[:, None] + y.u[:, None] * np.random.default_rng(5).standard_normal((truth.size, 1500))
    values[12] += size
    found = reconcile_many(balances, y, values)
    assert (np.abs(found.test[12]) > normal_critical(0.01)).mean() == pytest.approx(0.8, abs=0.04)
    assert found.size[12].mean() == pytest.approx(size, rel=0.03)


def test_many_visits_are_the_same_as_one_by_one():
    values = np.stack([heat_readings(seed).values for seed in range(70)], axis=1)
    y = heat_readings(0)
    together = reconcile_many(heat_plant(), y, values, start=START)
    assert together.converged.all()
    for at in (0, 5, 69):
        alone = reconcile(heat_plant(), heat_readings(at), start=START)
        assert together.x[:, at] == pytest.approx(alone.x, rel=1e-9)
        assert together.unmeasured[:, at] == pytest.approx(alone.unmeasured, rel=1e-8)
        assert together.chi_squared[at] == pytest.approx(alone.chi_squared, rel=1e-7)
        assert together.test[:, at] == pytest.approx(
            measurement_tests(alone.parity).test, rel=1e-6, abs=1e-6, nan_ok=True
        )
    assert together.degrees == alone.degrees


def test_many_visits_take_their_readings_in_any_order():
    values = np.stack([heat_readings(seed).values for seed in range(3)], axis=1)
    y, back = heat_readings(0), heat_readings(0).names[::-1]
    one = reconcile_many(heat_plant(), y, values, start=START)
    two = reconcile_many(heat_plant(), y.in_order(back), values[::-1], start=START)
    assert two.x[::-1] == pytest.approx(one.x, rel=1e-9)


def test_odds_are_the_ratio_of_two_normal_densities():
    """Against SciPy's density with the covariance written out."""
    from scipy.stats import multivariate_normal

    draw = np.random.default_rng(2)
    marks, vector = draw.standard_normal((4, 3)), draw.standard_normal(4) * 2
    size, spread, probability = np.array([0.5, 0.0, -1.0]), np.array([2.0, 5.0, 0.3]), np.array([0.02, 0.1, 0.05])
    found = odds(vector, marks, np.log(probability / (1 - probability)), size, spread)

    def density(some):
        columns = marks[:, some]
        prior = np.prod(probability[some] / (1 - probability[some]))
        covariance = np.eye(4) + columns @ np.diag(spread[some] ** 2) @ columns.T
        return prior * multivariate_normal(columns @ size[some], covariance).pdf(vector)

    sets = [[], [0], [1], [2], [0, 1], [0, 2], [1, 2]]
    weight = np.array([density(one) if one else multivariate_normal(np.zeros(4)).pdf(vector) for one in sets])
    weight /= weight.sum()
    mine = [found.nobody, *found.one, found.two[0, 1], found.two[0, 2], found.two[1, 2]]
    assert mine == pytest.approx(weight, rel=1e-9)
    assert found.nobody + found.one.sum() + found.two.sum() == pytest.approx(1.0)


@given(st.integers(1, 6), st.integers(1, 12), seeds)
def test_groups_hold_each_mark_once_and_only_what_is_alike(degrees, count, seed):
    marks = np.random.default_rng(seed).standard_normal((degrees, count))
    found = groups(marks, np.arange(count, dtype=float), 0.99)
    assert sorted(one for group in found for one in group) == list(range(count))
    alike = np.abs(cosines(marks))
    assert all(alike[group[0], one] >= 0.99 - 1e-12 for group in found for one in group)


def test_critical_values():
    """Sidak for about 40 tests at 5 %: 3.2; 1.96 for one (tables of the normal distribution)."""
    assert normal_critical(sidak(0.05, 40)) == pytest.approx(3.22, abs=0.005)
    assert normal_critical(0.05) == pytest.approx(1.959964, abs=1e-6)
    assert noticed_at(0.01, 0.8) == pytest.approx(2.5758 + 0.8416, abs=1e-4)


def test_marks_that_say_nothing_are_refused():
    balances, y = readings("B2", 1)
    with pytest.raises(InputError, match="moves no reading"):
        identify(balances, y, marks=[Mark(name="idle", effect={"stream_1": 0.0})])
    with pytest.raises(InputError, match="not among"):
        identify(balances, y, marks=[Mark(name="other", effect={"stream_99": 1.0})])
    with pytest.raises(InputError, match="twice"):
        identify(balances, y, marks=[Mark(name="stream_1", effect={"stream_1": 1.0})])
