"""Distributions, coverage intervals and the adaptive procedure."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import stats

from asfound.errors import InputError
from asfound.quantities.distributions import (
    Arcsine,
    CurvilinearTrapezoid,
    MultivariateNormal,
    Normal,
    Rectangular,
    StudentT,
    Triangular,
)
from asfound.quantities.intervals import ranks, shortest, summary, symmetric
from asfound.quantities.monte_carlo import adaptive, monte_carlo, monte_carlo_many, numerical_tolerance

NUMBER = 200_000
SHAPES = {
    "normal": (Normal(2.0, 0.5), stats.norm(2.0, 0.5)),
    "t": (StudentT(2.0, 0.5, 7), stats.t(7, 2.0, 0.5)),
    "rectangular": (Rectangular(1.0, 3.0), stats.uniform(1.0, 2.0)),
    "triangular": (Triangular(1.0, 3.0), stats.triang(0.5, 1.0, 2.0)),
    "arcsine": (Arcsine(1.0, 3.0), stats.arcsine(1.0, 2.0)),
}


@pytest.mark.parametrize("name", SHAPES)
def test_draws_follow_the_distribution_of_a_general_library(name):
    """Kolmogorov-Smirnov distance below its 99.99 % point, 2.2 / sqrt(n); moments as SciPy has them."""
    ours, theirs = SHAPES[name]
    drawn = ours.draw(np.random.default_rng(5), NUMBER)
    assert stats.kstest(drawn, theirs.cdf).statistic < 2.2 / math.sqrt(NUMBER)
    assert ours.mean == pytest.approx(theirs.mean())
    assert ours.standard_uncertainty == pytest.approx(theirs.std())


def test_curvilinear_trapezoid_has_the_moments_of_the_guide():
    """JCGM 101 6.4.3.3 (from memory): variance (b - a)^2 / 12 + d^2 / 9; all draws within the widest limits."""
    one = CurvilinearTrapezoid(-1.0, 1.0, 0.4)
    drawn = one.draw(np.random.default_rng(5), NUMBER)
    assert drawn.mean() == pytest.approx(0.0, abs=0.01)
    assert drawn.std() == pytest.approx(one.standard_uncertainty, rel=0.01)
    assert one.standard_uncertainty**2 == pytest.approx(4 / 12 + 0.16 / 9)
    assert np.abs(drawn).max() <= 1.4
    assert np.abs(drawn).max() > 1.2


def test_several_normal_inputs_keep_their_covariance_even_a_singular_one():
    covariance = ((0.04, 0.06), (0.06, 0.09))
    drawn = MultivariateNormal((1.0, -2.0), covariance).draw_all(np.random.default_rng(5), NUMBER)
    assert np.cov(drawn) == pytest.approx(np.array(covariance), rel=0.02)
    assert drawn[1] == pytest.approx(-2.0 + 1.5 * (drawn[0] - 1.0), abs=1e-6)


def test_several_normal_inputs_stand_side_by_side_among_the_arguments():
    """Loss of power meters with correlation 0.9 (JCGM 101 9.4): y = u1^2 + u2^2 = 50 whatever the correlation."""
    both = MultivariateNormal((0.0, 0.0), ((25e-6, 22.5e-6), (22.5e-6, 25e-6)))
    found = monte_carlo(lambda a, x, y: a * (x**2 + y**2) * 1e6, [Normal(1.0, 0.0), both], number=NUMBER)
    # u^2 = 2 (u1^4 + u2^4) + 4 cov^2 = 2 * 2 * 25^2 (1 + 0.81): moments of the normal, in millionths
    assert found.y == pytest.approx(50.0, rel=0.01)
    assert found.u == pytest.approx(math.sqrt(4 * 625 * 1.81), rel=0.02)


def test_degrees_of_freedom_that_leave_no_standard_deviation():
    assert StudentT(0.0, 1.0, 2).standard_uncertainty == math.inf
    with pytest.raises(InputError):
        StudentT.of_standard_deviation(0.0, 1.0, 2)
    assert StudentT.of_standard_deviation(0.0, 1.5, 3).standard_uncertainty == pytest.approx(1.5)


@pytest.mark.parametrize("number", [20, 100, 1_000, 10_000, 10_001, 99_999])
def test_ranks_are_those_of_the_guide(number):
    """JCGM 101 7.7.2 in exact fractions."""
    from fractions import Fraction

    product = Fraction(19, 20) * number
    q = int(product) if product.denominator == 1 else int(product + Fraction(1, 2))
    half = Fraction(number - q, 2)
    r = int(half) if half.denominator == 1 else int((number - q + 1) / 2)
    assert ranks(number, 0.95) == (max(r, 1) - 1, max(r, 1) + q - 1)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.sampled_from([2, 3, 50, 999, 1_001, 5_000, 10_000, 20_011]),
    st.sampled_from(["normal", "lognormal", "cauchy", "uniform", "constant", "two values", "steps", "skewed"]),
    st.sampled_from([0.5, 0.9, 0.95, 0.99]),
)
@example(1, 10_000, "lognormal", 0.95)
def test_the_quick_interval_is_that_of_sorting(seed, number, shape, probability):
    random = np.random.default_rng(seed)
    drawn = {
        "normal": lambda: 5.0 + random.standard_normal(number),
        "lognormal": lambda: np.exp(1.5 * random.standard_normal(number)),
        "cauchy": lambda: random.standard_cauchy(number),
        "uniform": lambda: random.random(number),
        "constant": lambda: np.full(number, 3.7),
        "two values": lambda: np.where(random.random(number) < 0.03, -1.0, 1.0),
        "steps": lambda: np.round(random.standard_normal(number), 1),
        "skewed": lambda: -(random.standard_exponential(number) ** 3),
    }[shape]()
    found = summary(drawn, float(drawn[0]), probability=probability)
    ordered = np.sort(drawn)
    first, last = ranks(number, probability)
    # the sums are taken about the best value, so the ends can differ from the draws by one rounding of that shift
    tolerance = 4 * np.finfo(float).eps * max(np.abs(drawn[0]), np.abs(ordered[[first, last]]).max())
    assert found.low == pytest.approx(ordered[first], rel=0, abs=tolerance)
    assert found.high == pytest.approx(ordered[last], rel=0, abs=tolerance)
    assert found.mean == pytest.approx(drawn.mean(), rel=1e-9, abs=1e-9)
    assert found.standard_uncertainty == pytest.approx(drawn.std(ddof=1), rel=1e-9, abs=1e-9)
    assert symmetric(drawn, probability) == (ordered[first], ordered[last])


def test_draws_without_answer_are_left_out_and_counted():
    drawn = np.random.default_rng(1).standard_normal(10_000)
    drawn[:40], drawn[40:50] = np.nan, np.inf
    found = summary(drawn, 0.0)
    assert found.without == 50
    assert (found.low, found.high) == pytest.approx(symmetric(drawn[50:]))
    nothing = summary(np.full(10, np.nan), math.nan)
    assert nothing.without == 10
    assert math.isnan(nothing.low)
    assert all(map(math.isnan, shortest(np.full(10, np.nan))))
    assert all(map(math.isnan, symmetric(np.full(10, np.nan))))


def test_the_shortest_interval_of_an_exponential_starts_at_its_end():
    """Density falls from 0 on: the shortest 95 % interval is [0, ln 20]."""
    low, high = shortest(np.random.default_rng(2).standard_exponential(NUMBER))
    assert low == pytest.approx(0.0, abs=0.01)
    assert high == pytest.approx(math.log(20), rel=0.02)


def test_the_adaptive_procedure_stops_when_stable_and_says_so():
    found = adaptive(lambda a, b: a * b, [Normal(10, 0.1), Normal(5, 0.05)], digits=2)
    delta = numerical_tolerance(found.u, 2).delta
    assert found.stable
    assert found.draws.size == found.batches * 10_000
    assert found.u == pytest.approx(math.hypot(0.5, 0.5), abs=2 * delta)
    capped = adaptive(lambda a: a, [Normal(0, 1)], digits=5, most_batches=3)
    assert capped.stable is False
    assert capped.batches == 3


def test_the_batch_grows_with_the_probability():
    """M = max(100 / (1 - p), 10 000): 10 000 for 95 %, 100 000 for 99.9 %."""
    assert adaptive(lambda a: a, [Normal(0, 1)], probability=0.999, digits=1).draws.size % 100_000 == 0


@settings(deadline=None)
@given(st.floats(1e-12, 1e12), st.integers(1, 4))
def test_numerical_tolerance_is_half_a_digit(u, digits):
    c, power, delta = numerical_tolerance(u, digits)
    assert 10 ** (digits - 1) <= c < 10**digits
    assert delta == pytest.approx(0.5 * 10.0**power)
    assert abs(c * 10.0**power - u) <= delta * (1 + 1e-9)


def test_a_seed_gives_the_same_digits_again():
    one, two, other = (monte_carlo(lambda a: a, [Normal(0, 1)], number=1_000, seed=seed) for seed in (3, 3, 4))
    assert one.interval == two.interval != other.interval


def test_two_answers_agree_with_their_closed_form():
    _, covariance = monte_carlo_many(lambda a, b: (a + b, a - b), [Normal(0, 1), Normal(0, 2)], number=NUMBER)
    assert covariance == pytest.approx(np.array([[5.0, -3.0], [-3.0, 5.0]]), rel=0.03)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Normal(0, -1),
        lambda: Rectangular(2, 1),
        lambda: CurvilinearTrapezoid(0, 1, 0.6),
        lambda: StudentT(0, 1, 0),
        lambda: MultivariateNormal((0.0, 0.0), ((1.0, 2.0), (2.0, 1.0))),
        lambda: MultivariateNormal((0.0,), ((1.0, 0.0), (0.0, 1.0))),
        lambda: ranks(10, 1.0),
        lambda: ranks(0, 0.95),
        lambda: monte_carlo(lambda a: a, [Normal(0, 1)], number=1),
        lambda: monte_carlo(lambda a: a * np.nan, [Normal(0, 1)], number=10),
        lambda: numerical_tolerance(0.0),
    ],
)
def test_what_cannot_be_is_refused(make):
    with pytest.raises(InputError):
        make()
