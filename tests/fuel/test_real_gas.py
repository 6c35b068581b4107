"""Real gas: laws that any equation of state of a gas must keep, and the shapes that callers rely on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import UnknownNameError
from asfound.fuel import real_gas
from asfound.fuel.checks_properties import published_gas

laws = settings(deadline=None, max_examples=60)

GULF = real_gas.composition(published_gas("Gulf Coast"))
EQUATIONS = ("detail", "gerg")
temperatures, pressures = st.floats(260.0, 350.0), st.floats(1e4, 1.2e7)
equations = st.sampled_from(EQUATIONS)


@st.composite
def natural_gases(draw):
    rest = np.array(draw(st.lists(st.floats(0.0, 1.0), min_size=20, max_size=20)))
    share = np.array([0.04, 0.04, 0.06, 0.02, *[0.002] * 10, 0.03, 0.002, 0.002, 0.0001, 0.001, 0.002, 0.001])[:20]
    parts = rest * share
    return np.concatenate([[1 - parts.sum()], parts])


@given(natural_gases(), temperatures, equations)
@laws
def test_at_low_pressure_every_gas_is_ideal(gas, temperature, equation):
    assert real_gas.compressibility(gas, temperature, 10.0, equation=equation) == pytest.approx(1.0, abs=2e-5)


@given(natural_gases(), temperatures, pressures, equations)
@laws
def test_pressure_of_the_density_is_the_pressure(gas, temperature, pressure, equation):
    state = real_gas.gas_state(gas, temperature, pressure, equation=equation)
    if np.isfinite(state.molar_density):
        back = real_gas.pressure_at(gas, temperature, state.molar_density, equation=equation)
        assert back == pytest.approx(pressure, rel=1e-8)


@given(natural_gases(), temperatures, st.floats(1e5, 6e6), equations)
@laws
def test_density_grows_with_pressure_and_falls_with_temperature(gas, temperature, pressure, equation):
    here = real_gas.mass_density(gas, temperature, pressure, equation=equation)
    assert real_gas.mass_density(gas, temperature, 1.01 * pressure, equation=equation) > here
    assert real_gas.mass_density(gas, temperature + 1.0, pressure, equation=equation) < here


@given(natural_gases(), temperatures, st.floats(1e5, 5e6))
@laws
def test_derivatives_are_those_of_enthalpy_and_entropy(gas, temperature, pressure):
    """Heat capacity is dH/dT, dS/dT is cp/T, and throttling keeps the enthalpy: by differences of the same state."""
    t = np.array([temperature - 0.05, temperature + 0.05])
    state = real_gas.gas_state(gas, t, pressure)
    middle = real_gas.gas_state(gas, temperature, pressure)
    assert np.diff(state.enthalpy)[0] / 0.1 == pytest.approx(middle.isobaric_heat_capacity, rel=1e-5)
    assert np.diff(state.entropy)[0] / 0.1 == pytest.approx(middle.isobaric_heat_capacity / temperature, rel=1e-5)
    drop = 100.0
    after = real_gas.gas_state(gas, temperature - drop * middle.throttling_coefficient, pressure - drop)
    assert after.enthalpy == pytest.approx(middle.enthalpy, abs=2e-4)


@given(natural_gases(), temperatures, st.floats(1e5, 8e6))
@laws
def test_the_two_equations_agree_on_natural_gas(gas, temperature, pressure):
    """Both claim 0.1 % for pipeline gas; richer ones may differ more."""
    one, other = (real_gas.compressibility(gas, temperature, pressure, equation=each) for each in EQUATIONS)
    if one > 0.7:
        assert one == pytest.approx(other, rel=0.02)


@pytest.mark.parametrize("equation", EQUATIONS)
def test_many_at_once_is_one_at_a_time(equation):
    rng = np.random.default_rng(3)
    gases = GULF * rng.uniform(0.9, 1.1, (2500, 21))
    gases /= gases.sum(axis=1, keepdims=True)
    t, p = rng.uniform(270, 330, 2500), rng.uniform(1e5, 9e6, 2500)
    together = real_gas.compressibility(gases, t, p, equation=equation)
    for at in (0, 1023, 1024, 2499):
        assert real_gas.compressibility(gases[at], t[at], p[at], equation=equation) == pytest.approx(
            together[at], 1e-13
        )
    grid = real_gas.compressibility(GULF, t[:5, None], p[None, :4], equation=equation)
    assert grid.shape == (5, 4)
    assert grid[2, 3] == pytest.approx(real_gas.compressibility(GULF, t[2], p[3], equation=equation), rel=1e-13)


def test_components_that_are_not_there_change_nothing():
    state = real_gas.compressibility(np.stack([GULF, np.eye(21)[0], np.eye(21)[17] * 0.001 + 0.999 * GULF]), 300.0, 5e6)
    assert state[0] == pytest.approx(float(real_gas.compressibility(GULF, 300.0, 5e6)), rel=1e-13)


def test_pure_methane_by_a_reference_equation():
    """The equation of Setzmann and Wagner (1991), computed with CoolProp 8 (not printed values), in kg/m³."""
    methane = real_gas.composition({"methane": 1.0})
    found = real_gas.mass_density(methane, 300.0, np.array([1e6, 10e6]), equation="gerg")
    assert found == pytest.approx([6.541543654, 75.175485834], rel=2e-4)


@pytest.mark.parametrize(
    ("gas", "temperature", "pressure"),
    [
        (GULF, -5.0, 1e5), (GULF, 300.0, 0.0), (GULF, np.nan, 1e5), (GULF, 300.0, -1e5),
        (0.5 * GULF, 300.0, 1e5), (np.where(GULF > 0.9, -GULF, GULF), 300.0, 1e5), (np.zeros(21), 300.0, 1e5),
    ],
)  # fmt: skip
def test_no_answer_is_nan(gas, temperature, pressure):
    assert np.isnan(real_gas.compressibility(gas, temperature, pressure))
    assert np.isnan(real_gas.gas_state(gas, temperature, pressure).speed_of_sound)


def test_wrong_names_are_told():
    with pytest.raises(UnknownNameError, match="equations of state"):
        real_gas.composition({"methane": 0.9, "neon": 0.1})
    with pytest.raises(UnknownNameError, match="equation of state"):
        real_gas.compressibility(GULF, 300.0, 1e5, equation="cubic")
    with pytest.raises(ValueError, match="21"):
        real_gas.compressibility(np.ones(3) / 3, 300.0, 1e5)


def test_names_with_blanks_and_hyphens_are_the_same():
    assert (real_gas.composition({"n-butane": 1.0}) == real_gas.composition({"n_butane": 1.0})).all()
