"""Rounding. The 26 cases of the reference set are checked in `asfound.quantities.checks_units`."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.quantities.rounding import (
    concise,
    half_even,
    half_up,
    outward,
    rounded_uncertainty,
    significant,
    to_uncertainty,
    two_digits,
)

DECIMALS = st.decimals(-(10**6), 10**6, places=5)
STEPS = st.sampled_from(["1", "0.1", "0.01", "10", "0.25", "0.5"])


@pytest.mark.parametrize(
    ("number", "step", "even", "up"),
    [("12.25", "0.1", "12.2", "12.3"), ("-12.25", "0.1", "-12.2", "-12.3"), ("2.5", "1", "2", "3")],
)
def test_ties_go_to_even_inside_and_up_where_a_document_asks(number, step, even, up):
    """ISO 80000-1 annex B, rules A and B, from memory."""
    assert half_even(number, step) == Decimal(even)
    assert half_up(number, step) == Decimal(up)


@pytest.mark.parametrize(
    ("number", "step", "expected"), [(2.15, 0.1, "2.2"), (0.35, 0.1, "0.4"), (1.005, 0.01, "1.00")]
)
def test_a_float_is_taken_as_the_decimal_it_is_written_as(number, step, expected):
    """2.15 as a binary number is 2.1499999999999999: decimal arithmetic is needed."""
    assert half_even(number, step) == Decimal(expected)


@given(DECIMALS, STEPS)
def test_the_rounded_number_is_the_nearest_multiple(number, step):
    """Law, against exact fractions."""
    for rounded in (half_even(number, step), half_up(number, step)):
        assert (Fraction(rounded) / Fraction(step)).denominator == 1
        assert abs(Fraction(rounded) - Fraction(number)) <= Fraction(step) / 2


@given(DECIMALS, STEPS)
def test_rounding_twice_changes_nothing_and_signs_are_alike(number, step):
    once = half_even(number, step)
    assert half_even(once, step) == once
    assert half_even(-number, step) == -once
    assert not (once == 0 and once.is_signed())


@given(DECIMALS, st.decimals(0, 1000, places=5), STEPS)
def test_an_interval_rounded_outward_still_covers(low, width, step):
    below, above = outward(low, low + width, step)
    assert below <= low
    assert above >= low + width
    assert above - below < width + 2 * Decimal(step)


@given(st.floats(1e-9, 1e9))
def test_an_uncertainty_keeps_two_digits(uncertainty):
    figures, place = two_digits(uncertainty)
    assert 10 <= figures <= 99
    assert abs(figures * 10.0**place - uncertainty) <= 0.5000001 * 10.0**place
    up = rounded_uncertainty(uncertainty, up=True)
    assert up >= rounded_uncertainty(uncertainty) - Decimal(1).scaleb(place)
    assert float(up) >= uncertainty * (1 - 1e-15)


@pytest.mark.parametrize("wrong", [-1.0, float("nan"), float("inf")])
def test_an_uncertainty_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match="cannot be rounded"):
        two_digits(wrong)


def test_a_step_must_be_above_zero():
    with pytest.raises(ValueError, match="step"):
        half_even("1", "0")


def test_no_uncertainty_leaves_the_number():
    assert two_digits(0) == (0, 0)
    assert to_uncertainty("10.05762", "0") == "10.05762"


def test_the_short_form():
    """JCGM 100:2008 7.2.2, from memory: 100.021 47(35) g, here without the space."""
    assert concise("100.02147", "0.00035") == "100.02147(35)"
    assert concise("1.234", "0.0996") == "1.23(10)"
    assert to_uncertainty(1.9996, 0.021) == "2.000"


@pytest.mark.parametrize(
    ("number", "digits", "text"),
    [
        ("1437.3", 3, "1437"),
        ("0.95", 3, "0.950"),
        ("9.996", 3, "10.0"),
        ("0.0009996", 3, "0.00100"),
        ("0", 3, "0.00"),
        ("-41230.6", 2, "-41231"),
    ],
)
def test_significant_figures(number, digits, text):
    assert f"{significant(number, digits):f}" == text
