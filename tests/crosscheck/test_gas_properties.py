"""Polynomials follow the tables and equations of state of the rooms below; analytic steps are their derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import polynomial

from asfound.crosscheck import gas_properties as made
from asfound.crosscheck.balances import central_differences, complex_step
from asfound.crosscheck.plant import molar_gas
from asfound.fuel import real_gas
from asfound.power import coolant
from asfound.power.compressor_gas import compress
from asfound.power.exhaust_heat import molar_heat
from asfound.power.site_air import saturation_pressure

from .engine_visits import CASES, judged

GAS = CASES["s4"].plant.fuel


def test_the_gas_is_that_of_the_standard():
    """Gas G1: atoms, molar mass and net heat by ISO 6976:2016 at 25 degrees, as the reference has them."""
    assert GAS is not None
    assert GAS.carbon == pytest.approx(1.0897, abs=1e-4)
    assert GAS.hydrogen == pytest.approx(4.1224, abs=1e-4)
    assert GAS.oxygen == pytest.approx(0.018, abs=1e-6)
    assert GAS.oxygen_needed == pytest.approx(2.1113, abs=1e-4)
    assert GAS.heat == pytest.approx(849243.8, rel=2e-5)
    assert 1e3 * GAS.molar_mass == pytest.approx(17.82532, abs=2e-4)


def test_methane_is_methane():
    gas = molar_gas({"methane": 1.0})
    assert (gas.carbon, gas.hydrogen) == (1.0, 4.0)
    assert gas.heat == pytest.approx(802_560, rel=2e-4)
    assert gas.gross_over_net == pytest.approx(1.1097, abs=3e-4)


@given(st.floats(260.0, 1100.0))
def test_heat_of_exhaust_gases_follows_their_table(kelvin):
    found = made.heat_of(made.heat_coefficients(made.SPECIES), np.array([kelvin]))[:, 0]
    assert np.allclose(found, molar_heat(kelvin)[: len(made.SPECIES)], atol=1.0)


def test_heat_is_counted_from_25_degrees():
    assert np.abs(made.heat_of(made.heat_coefficients(made.SPECIES), np.array([298.15]))).max() < 1.0


@pytest.mark.parametrize("glycol", [0.0, 0.3, 0.5])
def test_coolant_follows_its_table(glycol):
    kelvin = np.linspace(280, 380, 15)
    wanted = coolant.density(kelvin, glycol) * coolant.heat_capacity(kelvin, glycol)
    assert np.allclose(polynomial.polyval(kelvin / 100, made.heat_of_coolant(glycol)), wanted, rtol=2e-5)


def test_saturation_follows_its_formula_above_freezing():
    kelvin = np.linspace(274, 332, 30)
    assert np.allclose(made.saturation(kelvin), saturation_pressure(kelvin), rtol=1e-4)


@settings(max_examples=20, deadline=None)
@given(st.floats(285, 330), st.floats(2e5, 14e5), st.floats(2.0, 3.6))
def test_compression_is_that_of_the_equation_of_state(kelvin, suction, ratio):
    assert GAS is not None
    window = made.real_gas_window(GAS.fractions, 260.0, 460.0, 5e4, 60e5)
    exact = compress(np.array(GAS.fractions), kelvin, suction, ratio * suction)
    t, p = np.array([kelvin]), np.array([suction])
    state = window.at(t, p)
    work = window.isentropic(t, state, np.array([ratio]), ratio * p)
    assert work[0] == pytest.approx(float(exact.work), rel=6e-4)
    assert state[0][0] == pytest.approx(float(exact.suction_compressibility), rel=3e-4)


def test_beyond_the_window_the_answer_stays_finite():
    assert GAS is not None
    window = made.real_gas_window(GAS.fractions, 260.0, 460.0, 5e4, 60e5)
    for one in window.at(np.array([150.0, 900.0]), np.array([1e3, 1e9])):
        assert np.isfinite(one).all()
    assert real_gas.COMPONENTS[0] == "methane"


@pytest.mark.parametrize("name", ["s4", "s5"])
def test_balances_are_their_own_derivatives(name):
    of = judged(name).assembled
    x, u = of.readings.values, of.balances.starting(of.start)
    formula = of.balances.formula
    f, exact = complex_step(formula, x, u)
    g, rough = central_differences(formula, x, u)
    scale = np.concatenate([of.readings.u, 0.01 * u])
    rows = np.linalg.norm(exact * scale, axis=1)
    assert np.allclose(f, g)
    assert np.abs((exact - rough) * scale / rows[:, None]).max() < 1e-4
