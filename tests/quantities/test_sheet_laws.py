"""Laws of the sheet: seeds, order, what is unrelated, intervals, shares, probabilities."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.quantities.linear import linear
from asfound.quantities.shares import REST
from asfound.quantities.words import Limit

from .sheet_world import World, reading, simple

seeds = st.integers(0, 2**63)
values = st.floats(0.5, 20.0)
spreads = st.floats(0.001, 0.2)
LAWS = settings(max_examples=25, deadline=None)


def digits(worked):
    return {(one.key, one.worksheet): (one.value, one.interval, one.standard_uncertainty) for one in worked.results}


def some_readings():
    return [
        reading("a", 2), reading("b", 1), reading("c", 3), reading("a", 5, place="left_bank"),
        reading("a", 2.2, state="as_left", shared_with="x", shared_fraction=0.5), reading("b", 1, state="as_left"),
    ]  # fmt: skip


@LAWS
@given(st.permutations(some_readings()), seeds)
def test_the_order_of_readings_changes_no_digit(readings, seed):
    assert digits(simple().work_out(*readings, seed=seed)) == digits(simple().work_out(*some_readings(), seed=seed))


@LAWS
@given(seeds, values, st.sampled_from(["site", "cylinder_1", "engine"]))
def test_an_unrelated_reading_changes_no_digit(seed, value, place):
    with_it = simple().work_out(*some_readings(), reading("d", value, place=place), seed=seed)
    assert digits(with_it) == digits(simple().work_out(*some_readings(), seed=seed))


@LAWS
@given(seeds)
def test_the_same_seed_gives_the_same_digits_and_another_seed_others(seed):
    one, two, other = (digits(simple().work_out(*some_readings(), seed=s)) for s in (seed, seed, seed + 1))
    assert one == two
    assert all(one[key][1] != other[key][1] for key in one)


def test_the_digits_are_those_of_every_machine():
    """Computed once with NumPy 2.4 (Philox 4x64, BLAKE2b): own calculation, so that a change of streams is seen."""
    worked = simple().work_out(reading("a", 2), reading("b", 1), seed=1)
    assert worked.draws(worked.readings[0])[:3] == pytest.approx(FIRST, rel=1e-12)


FIRST = (1.9618290347060336, 2.030899897431702, 1.9279019877272392)


@LAWS
@given(seeds)
def test_fewer_draws_are_the_first_of_more(seed):
    few, many = (simple().work_out(reading("a", 2), number=number, seed=seed) for number in (300, 2_000))
    assert np.array_equal(few.draws(few.results[0]), many.draws(many.results[0])[:300])


@LAWS
@given(values, values, spreads, spreads, seeds)
def test_a_linear_worksheet_agrees_with_the_law_of_propagation(a, b, ua, ub, seed):
    """Sampling error of u over n draws is u / sqrt(2 n); six of it."""
    number = 10_000
    found = simple().work_out(reading("a", a, ua), reading("b", b, ub), number=number, seed=seed).results[0]
    straight = linear(lambda a, b: a + 2 * b, [a, b], [ua, ub])
    assert found.value == straight.y
    assert found.standard_uncertainty == pytest.approx(straight.u, rel=6 / math.sqrt(2 * number))
    assert found.interval == pytest.approx(straight.interval(), abs=0.2 * straight.u)


@LAWS
@given(values, spreads, seeds)
def test_twice_the_uncertainty_is_twice_the_interval_of_a_linear_result(a, u, seed):
    """The same streams scaled: not about, but exactly, as far as rounding goes."""
    one, two = (
        simple().work_out(reading("a", a, k * u), reading("b", 1, k * 0.1), seed=seed).results[0] for k in (1.0, 2.0)
    )
    for end in (0, 1):
        assert two.interval[end] - two.value == pytest.approx(2 * (one.interval[end] - one.value), rel=1e-9)


@LAWS
@given(seeds, st.lists(st.floats(0.0, 10.0), min_size=2, max_size=6))
def test_a_higher_limit_is_passed_less_often(seed, limits):
    worked = simple().work_out(reading("a", 4, 1.5), seed=seed)
    found = worked.result("as_found/stack/root")
    chances = [
        worked.probability_beyond(found, Limit(quantity="root", value=value, as_typed="")) for value in sorted(limits)
    ]
    assert chances == sorted(chances, reverse=True)


@LAWS
@given(values, spreads, spreads, spreads, st.floats(0.0, 1.0), seeds)
def test_shares_add_up_to_one(a, ua, ub, uc, fraction, seed):
    shared = {"shared_with": "x", "shared_fraction": fraction}
    worked = simple().work_out(
        reading("a", a, ua, **shared), reading("b", 1, ub, **shared), reading("c", 3, uc), seed=seed
    )
    for one in worked.results:
        shares = worked.shares(one)
        assert sum(share for _, share in shares) == pytest.approx(1.0, abs=1e-9)
        ordered = [share for name, share in shares if name != REST]
        assert ordered == sorted(ordered, reverse=True)
        assert all(share >= 0.0 for _, share in shares)


@LAWS
@given(spreads, spreads, seeds)
def test_shares_of_a_linear_result_are_those_of_the_law_of_propagation(ua, ub, seed):
    """(c u)^2 / u_c^2, without any error of sampling (JCGM 100 5.1.3)."""
    worked = simple().work_out(reading("a", 4, ua), reading("b", 1, ub), seed=seed)
    shares = dict(worked.shares(worked.results[0]))
    assert shares.get(REST, 0.0) < 1e-9
    assert shares["as_found/stack/a"] == pytest.approx(ua**2 / (ua**2 + 4 * ub**2), rel=1e-6)


def test_shares_are_the_squared_correlations_within_sampling():
    """For independent readings and a linear formula the two definitions agree as far as 10,000 draws go."""
    worked = simple().work_out(reading("a", 4, 0.3), reading("b", 1, 0.1), number=10_000)
    found = worked.results[0]
    for one in found.readings():
        squared = np.corrcoef(worked.draws(found), worked.draws(one))[0, 1] ** 2
        assert dict(worked.shares(found))[one.key] == pytest.approx(squared, abs=0.03)


def test_readings_that_share_an_error_are_one_entry():
    """A and b share: a + 2 b; their common part adds up, (sqrt(f) (u_a + 2 u_b))^2, the own parts by squares."""
    shared = {"shared_with": "SN 7/x", "shared_fraction": 0.5}
    worked = simple().work_out(reading("a", 4, 0.2, **shared), reading("b", 1, 0.1, **shared), reading("c", 1, 0.0))
    shares = worked.shares(worked.result("as_found/stack/total"))
    assert [name for name, _ in shares] == ["as_found/stack/a + as_found/stack/b"]
    u = worked.result("as_found/stack/total").standard_uncertainty
    assert u == pytest.approx(math.sqrt(0.5 * 0.4**2 + 0.5 * (0.2**2 + 0.2**2)), rel=0.05)


def test_a_result_that_hangs_on_curvature_says_so():
    """Y = a^2 at a = 0: no straight line explains it."""

    def square(a):
        return a**2

    worked = World().add(square, takes=("a",), gives="product").work_out(reading("a", 0, 1.0), number=10_000)
    shares = dict(worked.shares(worked.results[0]))
    assert shares[REST] > 0.99


@LAWS
@given(seeds)
def test_results_that_share_a_reading_are_correlated(seed):
    """Covariance of a + 2 b and a is the variance of a."""

    def same(a):
        return 1.0 * a

    world = simple().add(same, takes=("a",), gives="left")
    worked = world.work_out(reading("a", 3, 0.3), reading("b", 1, 0.1), number=10_000, seed=seed)
    one, two = worked.result("as_found/stack/total"), worked.result("as_found/stack/left")
    covariance = worked.covariance([one, two])
    assert covariance[0, 1] == pytest.approx(0.09, abs=0.01)
    assert covariance[0, 1] == covariance[1, 0]
