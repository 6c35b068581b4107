"""Laws that every exhaust formula must keep, whatever the readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound.exhaust.emission_rate as rate
from asfound.exhaust.concentration import MOLAR_MASS, mass_concentration
from asfound.exhaust.mixture import dry_oxygen, excess_air_ratio
from asfound.exhaust.reference_oxygen import at_reference_oxygen

oxygen = st.floats(0.0, 0.19)
fraction = st.floats(0.0, 5e-3)
gas = st.tuples(st.floats(0.5, 3.0), st.floats(0.5, 8.0), st.floats(0.0, 0.8), st.floats(0.0, 0.5))


@given(fraction, oxygen)
def test_at_the_reference_nothing_changes(c: float, o: float) -> None:
    assert at_reference_oxygen(c, o, o) == pytest.approx(c, rel=1e-12)


@given(fraction, oxygen, st.floats(0.0, 0.18), st.floats(0.0, 0.18))
def test_to_another_reference_and_back(c: float, o: float, first: float, second: float) -> None:
    once = at_reference_oxygen(c, o, first)
    assert at_reference_oxygen(at_reference_oxygen(once, first, second), second, first) == pytest.approx(once, rel=1e-9)


@given(st.floats(1.0, 3.0), gas)
def test_mixture_and_oxygen_are_inverse(ratio: float, atoms: tuple[float, float, float, float]) -> None:
    if atoms[0] + atoms[1] / 4 - atoms[2] / 2 < 0.1:
        return
    assert excess_air_ratio(dry_oxygen(ratio, *atoms), *atoms) == pytest.approx(ratio, rel=1e-9)


@given(gas, st.floats(0.0, 0.15), st.floats(1e-4, 0.04))
def test_more_oxygen_is_leaner(atoms: tuple[float, float, float, float], o: float, more: float) -> None:
    assert excess_air_ratio(o + more, *atoms) > excess_air_ratio(o, *atoms)


@given(fraction, oxygen, st.floats(1e5, 1e7))
def test_air_after_the_engine_changes_no_mass(c: float, o: float, heat: float) -> None:
    """Dilution by air lowers the reading and raises the flow: what is emitted stays (air as the rule takes it)."""
    share = 0.3
    diluted_c, diluted_o = c * (1 - share), o * (1 - share) + rate.OXYGEN_IN_AIR * share
    f = rate.f_factor_si(rate.F_FACTOR_NATURAL_GAS)
    before = rate.mass_flow(c, rate.dry_exhaust_flow(heat, o, f), rate.RULE_CONSTANT["nox"])
    after = rate.mass_flow(diluted_c, rate.dry_exhaust_flow(heat, diluted_o, f), rate.RULE_CONSTANT["nox"])
    assert after == pytest.approx(before, rel=1e-9)


def test_a_standing_engine_in_a_log_answers_nan_and_leaves_the_rest() -> None:
    o = np.array([0.089, 0.209, 0.21, np.nan])
    answer = at_reference_oxygen(np.full(4, 150e-6), o, 0.15)
    assert answer[0] == pytest.approx(150e-6 * 5.9 / 12.0)
    assert np.isnan(answer[1:]).all()
    assert np.isnan(rate.mass_per_energy(np.array([1.0, 1.0]), np.array([0.0, -5.0]))).all()


@given(fraction, st.floats(250, 330))
def test_one_reading_and_a_log_agree(c: float, t: float) -> None:
    log = mass_concentration(np.array([c, c]), MOLAR_MASS["nox"], t)
    assert log[0] == log[1] == mass_concentration(c, MOLAR_MASS["nox"], t)
