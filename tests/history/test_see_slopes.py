"""Robust lines, their intervals, and what memory does to them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.checks_see import checks
from asfound.history.correlated import autoregression, effective_number, robust_phi
from asfound.history.regression import robust_fit
from asfound.history.theil_sen import theil_sen


def remembering(n: int, phi: float, seed: int) -> np.ndarray:
    """First-order noise of standard deviation 1."""
    random = np.random.default_rng(seed)
    x = random.standard_normal(n + 200)
    for i in range(1, x.size):
        x[i] = phi * x[i - 1] + np.sqrt(1 - phi * phi) * x[i]
    return x[200:]


def test_published_examples_hold():
    missed = [one for one in checks() if not one.holds]
    assert not missed


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1000), st.floats(0.01, 1000.0), st.floats(-50.0, 50.0))
def test_units_cannot_change_a_slope(seed, factor, offset):
    random = np.random.default_rng(seed)
    x = np.linspace(0.0, 10.0, 60)
    y = 2.0 + 0.7 * x + random.standard_normal(60)
    design = np.column_stack([np.ones(60), x])
    one = robust_fit(design, y, ("level", "x")).coefficient("x")
    other = robust_fit(design, factor * y + offset, ("level", "x")).coefficient("x")
    assert other.value == pytest.approx(factor * one.value, rel=1e-5, abs=1e-7 * factor)
    assert other.error == pytest.approx(factor * one.error, rel=1e-4)
    assert theil_sen(x, factor * y + offset).slope == pytest.approx(factor * theil_sen(x, y).slope, rel=1e-9)


def test_a_fifth_of_wild_readings_does_not_turn_the_line():
    x = np.linspace(0.0, 1.0, 200)
    y = 3.0 * x + 0.05 * remembering(200, 0.0, 1)
    y[::5] += 20.0
    design = np.column_stack([np.ones(200), x])
    robust = robust_fit(design, y, ("level", "x"))
    assert robust.coefficient("x").value == pytest.approx(3.0, abs=0.05)
    assert (robust.weights[::5] == 0.0).all()
    assert abs(robust_fit(design, y, ("level", "x"), method="least_squares").coefficient("level").value) > 1.0
    assert theil_sen(x, y).slope == pytest.approx(3.0, abs=0.5)


def test_intervals_of_a_trend_hold_in_noise_that_remembers_where_the_plain_ones_do_not():
    """Truth is 0 in all; 95 % intervals of 60 series each: the plain ones miss more than half at phi 0.8."""
    design = np.column_stack([np.ones(400), np.linspace(-1.0, 1.0, 400)])
    held = plain = 0
    for seed in range(60):
        y = remembering(400, 0.8, seed)
        held += robust_fit(design, y, ("level", "x")).coefficient("x").holds(0.0)
        plain += robust_fit(design, y, ("level", "x"), correlated=False).coefficient("x").holds(0.0)
    assert held >= 52
    assert plain <= 35


def test_memory_is_measured_through_steps_and_outliers():
    x = remembering(4000, 0.6, 3)
    x[1500:] += 8.0
    x[::97] += 30.0
    assert robust_phi(x) == pytest.approx(0.6, abs=0.08)


def test_effective_number_is_that_of_theory():
    """For first-order noise it is n (1 - phi) / (1 + phi)."""
    x = remembering(20000, 0.7, 4)
    assert effective_number(x) == pytest.approx(20000 * 0.3 / 1.7, rel=0.25)
    assert effective_number(remembering(2000, 0.0, 5)) > 1500


def test_autoregression_finds_a_second_order():
    random = np.random.default_rng(6)
    x = np.zeros(5000)
    for i in range(2, x.size):
        x[i] = 1.2 * x[i - 1] - 0.5 * x[i - 2] + random.standard_normal()
    memory, variance = autoregression(x, 6)
    assert memory[:2] == pytest.approx([1.2, -0.5], abs=0.05)
    assert variance == pytest.approx(1.0, rel=0.06)


def test_what_never_moved_is_refused():
    design = np.column_stack([np.ones(50), np.full(50, 3.0)])
    with pytest.raises(InputError, match="say the same"):
        robust_fit(design, np.arange(50.0), ("level", "speed"))
    with pytest.raises(InputError, match="too few"):
        robust_fit(np.ones((1, 1)), np.array([np.nan]))
