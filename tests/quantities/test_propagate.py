"""The law of propagation: against a general library, against closed forms, and against Monte Carlo."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat, umath

from asfound.errors import InputError
from asfound.quantities.distributions import Normal, Rectangular
from asfound.quantities.linear import effective_degrees, linear, linear_many
from asfound.quantities.propagate import compare, monte_carlo

numbers = st.floats(0.2, 50.0)
parts = st.floats(1e-4, 0.05)


@settings(deadline=None)
@given(st.tuples(numbers, numbers, numbers), st.tuples(parts, parts, parts))
def test_first_order_agrees_with_a_general_library(values, relative):
    """`uncertainties` differentiates exactly; ours by differences."""
    u = [x * r for x, r in zip(values, relative, strict=True)]
    ours = linear(lambda a, b, c: a * np.exp(-b / c) / np.sqrt(c) + np.log(a * b), values, u)
    a, b, c = (ufloat(x, s) for x, s in zip(values, u, strict=True))
    theirs = a * umath.exp(-b / c) / umath.sqrt(c) + umath.log(a * b)
    assert ours.y == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.u == pytest.approx(theirs.std_dev, rel=1e-6)


@settings(deadline=None)
@given(st.floats(-0.95, 0.95))
def test_correlated_inputs_agree_with_a_general_library(r):
    values, u = [5.0, 0.0196], [0.0032, 9.5e-6]
    matrix = np.array([[1.0, r], [r, 1.0]])
    ours = linear(lambda v, i: v / i, values, u, matrix)
    v, i = correlated_values(values, np.outer(u, u) * matrix)
    assert ours.u == pytest.approx((v / i).std_dev, rel=1e-7)
    assert (ours.nu_eff is None) == (r != 0.0)  # effective degrees do not hold for correlated inputs


def test_several_answers_keep_their_correlation():
    """u, covariance of sum and difference of independent inputs: closed form."""
    y, covariance = linear_many(lambda a, b: (a + b, a - b), [3.0, 1.0], [0.2, 0.1])
    assert y == pytest.approx([4.0, 2.0])
    assert covariance == pytest.approx(np.array([[0.05, 0.03], [0.03, 0.05]]))


def test_second_order_of_a_square_is_exact():
    """For y = x^2 with normal x, u^2 = 4 x^2 u^2 + 2 u^4 (moments of the normal)."""
    for x in (0.0, 0.3, 2.0):
        ours = linear(lambda x: x**2, [x], [0.1], second_order=True)
        assert ours.u == pytest.approx(math.sqrt(4 * x**2 * 0.01 + 2 * 1e-4), rel=1e-7)


def test_second_order_of_a_product_is_exact():
    """For y = x z, u^2 = x^2 u_z^2 + z^2 u_x^2 + u_x^2 u_z^2 (independent inputs)."""
    ours = linear(lambda x, z: x * z, [0.0, 0.0], [0.2, 0.3], second_order=True)
    assert ours.u_first_order == pytest.approx(0.0, abs=1e-12)
    assert ours.u == pytest.approx(0.06, rel=1e-9)


def test_second_order_cross_terms_agree_with_symbolic_derivatives():
    """Y = x^2 z at (1, 2), u 0.1, 0.2: f_xx = 4, f_xz = 2, f_xxz = 2, f_x = 4, f_z = 1, f_zxx = 2, f_xzz = 0."""
    ux, uz = 0.1, 0.2
    first = (4 * ux) ** 2 + (1 * uz) ** 2
    second = 0.5 * 4**2 * ux**4 + 2**2 * ux**2 * uz**2 + 1 * 2 * uz**2 * ux**2
    ours = linear(lambda x, z: x**2 * z, [1.0, 2.0], [ux, uz], second_order=True)
    assert ours.u == pytest.approx(math.sqrt(first + second), rel=1e-7)


def test_effective_degrees_of_one_input_are_its_own():
    assert effective_degrees([2.0], [7]) == pytest.approx(7)
    assert effective_degrees([2.0, 1.0], [None, math.inf]) == math.inf
    assert effective_degrees([1.0, 1.0], [4, 4]) == pytest.approx(8)


def test_expanded_uncertainty_takes_t_for_few_degrees():
    """T for 16 degrees at 99 % is 2.92 (printed in GUM table G.2, from memory)."""
    ours = linear(lambda x: x, [1.0], [0.5], nu=[16.7])
    assert ours.coverage_factor(0.99) == pytest.approx(2.92, abs=0.005)
    assert linear(lambda x: x, [1.0], [0.5]).expanded(0.95) == pytest.approx(1.959964 * 0.5, rel=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.01, 2.0)), min_size=1, max_size=5), st.integers(0, 99))
def test_a_linear_formula_gives_the_same_both_ways(terms, seed):
    """Sampling error of u over n draws is about u / sqrt(2 n), of the mean u / sqrt(n): six of each."""
    slopes, u = [s for s, _ in terms], [s for _, s in terms]

    def f(*x):
        return sum(c * one for c, one in zip(slopes, x, strict=True))

    number = 40_000
    straight = linear(f, [1.0] * len(u), u)
    drawn = monte_carlo(f, [Normal(1.0, s) for s in u], number=number, seed=seed)
    assert drawn.y == pytest.approx(straight.y, abs=6 * straight.u / math.sqrt(number) + 1e-12)
    assert drawn.u == pytest.approx(straight.u, rel=6 / math.sqrt(2 * number), abs=1e-12)


@settings(deadline=None)
@given(st.floats(0.01, 1.0))
def test_twice_the_uncertainty_is_twice_the_interval(u):
    one, two = (linear(lambda x, z: 3 * x - z, [1.0, 2.0], [k * u, k * 0.3]) for k in (1.0, 2.0))
    assert two.interval()[1] - two.y == pytest.approx(2 * (one.interval()[1] - one.y), rel=1e-9)


def test_comparison_says_where_the_law_of_propagation_will_do():
    straight = compare(lambda a, b: a + b, [Normal(1, 0.1), Normal(2, 0.2)], number=400_000, digits=1)
    bent = compare(lambda x: x**2, [Normal(0.0, 1.0)], number=100_000)
    assert straight.agrees
    assert "agree" in straight.says
    assert not bent.agrees
    assert "Monte Carlo" in bent.says


def test_comparison_fails_where_four_rectangular_inputs_have_short_tails():
    """JCGM 101 9.2.3: the ends differ by 0.04, the tolerance for two digits of u = 2.0 is 0.05, for three 0.005."""
    inputs = [Rectangular(-math.sqrt(3), math.sqrt(3))] * 4
    assert compare(lambda *x: sum(x), inputs, digits=2).agrees
    assert not compare(lambda *x: sum(x), inputs, digits=3).agrees


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"u": [0.1]}, "u"),
        ({"u": [0.1, -0.1]}, "u"),
        ({"correlation": [[1, 2], [2, 1]]}, "correlation"),
        ({"correlation": [[1, 0.5], [0.4, 1]]}, "correlation"),
        ({"nu": [3]}, "nu"),
        ({"nu": [3, 0]}, "nu"),
        ({"correlation": [[1, 0.5], [0.5, 1]], "second_order": True}, "second_order"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(change, field):
    with pytest.raises(InputError) as caught:
        linear(lambda a, b: a + b, **({"values": [1.0, 2.0], "u": [0.1, 0.1]} | change))
    assert caught.value.field == field
