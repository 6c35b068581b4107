"""Air and exhaust: conservation, round trips, and one whole combustion counted by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fuel.components import ELEMENTS, table
from asfound.fuel.elements import ATOMS, atoms
from asfound.fuel.stoichiometry import (
    DRY_STANDARD_VOLUME,
    MOLAR_MASS_DRY_AIR,
    f_factor_method_19,
    per_heat,
    stoichiometry,
)
from asfound.fuel.visit_analysis import COMPONENTS, burning

G1 = (0.9120, 0.0460, 0.0155, 0.0022, 0.0031, 0.0007, 0.0005, 0.0005, 0.0105, 0.0090, 0.0, 0.0, 0.0, 3e-6)

weights = st.lists(st.floats(0.0, 1.0), min_size=60, max_size=60).filter(lambda w: sum(w) > 0.5)


@given(weights)
def test_mass_is_conserved(w):
    """Gas and air in, products out: carbon, hydrogen, sulfur, nitrogen and noble gas leave as they came."""
    x = np.array(w) / sum(w)
    data = table()
    burned = stoichiometry(x)
    oxygen, nitrogen_and_rest = burned.oxygen * 31.9988e-3, (burned.dry_air - burned.oxygen)
    rest_mass = burned.dry_air * MOLAR_MASS_DRY_AIR - oxygen  # all of the air but its oxygen
    counts = x @ data.atoms
    of = dict(zip(ELEMENTS, counts, strict=True))
    out = (
        burned.carbon_dioxide * 44.0095e-3
        + burned.water * 18.01528e-3
        + burned.sulfur_dioxide * 64.0638e-3
        + of["N"] / 2 * 28.0134e-3
        + of["He"] * 4.002602e-3
        + of["Ne"] * 20.1797e-3
        + of["Ar"] * 39.948e-3
        + rest_mass
    )
    assert out == pytest.approx(float(x @ data.molar_mass) + burned.dry_air * MOLAR_MASS_DRY_AIR, rel=1e-6)
    gas_left = of["N"] / 2 + of["He"] + of["Ne"] + of["Ar"]
    assert burned.dry_exhaust == pytest.approx(
        burned.carbon_dioxide + burned.sulfur_dioxide + gas_left + nitrogen_and_rest, rel=1e-9
    )
    assert burned.wet_exhaust == pytest.approx(burned.dry_exhaust + burned.water)


@given(weights, weights, st.floats(0.0, 1.0))
def test_air_demand_of_a_blend_is_straight(a, b, share):
    x, y = np.array(a) / sum(a), np.array(b) / sum(b)
    one, other, mixed = stoichiometry(np.stack([x, y, share * x + (1 - share) * y])).dry_air
    assert mixed == pytest.approx(share * one + (1 - share) * other, abs=1e-9)


@given(st.floats(0.0, 0.05))
def test_moist_air_brings_its_water(moist):
    dry, wet = stoichiometry([1.0], ["methane"]), stoichiometry([1.0], ["methane"], water_in_air=moist)
    assert wet.moist_air * (1 - moist) == pytest.approx(dry.dry_air)
    assert wet.water - dry.water == pytest.approx(wet.moist_air - dry.dry_air, abs=1e-12)
    assert wet.dry_exhaust == dry.dry_exhaust


def test_counts_of_the_old_worksheet_are_the_same():
    x = np.array(G1) / sum(G1)
    c, h, o, _ = atoms(*G1[: len(ATOMS)])
    burned = stoichiometry(x, COMPONENTS)
    assert burned.oxygen == pytest.approx(c + h / 4 - o / 2, rel=1e-5)  # 3 ppm of H2S is not in the old one


def test_rule_and_elements_agree_on_the_demo_gas():
    """Method 19 counts air with 20.9 % oxygen; its rounded constants are within 0.15 % of the balance."""
    x, (_, heat) = np.array(G1) / sum(G1), burning(*G1)
    exact = per_heat(x, float(heat), COMPONENTS, oxygen_in_dry_air=0.209)
    assert f_factor_method_19(x, float(heat), COMPONENTS) == pytest.approx(exact.f_dry, rel=1.5e-3)
    assert exact.f_carbon / DRY_STANDARD_VOLUME * 44.0095e-3 == pytest.approx(exact.carbon_dioxide)


def test_landfill_gas_is_not_natural_gas():
    """58 % methane, 38 % CO2: its F factor is 6 % above the 8710 dscf/MMBtu of natural gas; CO2 comes through."""
    x = np.array([0.5840, 0.0260, 0.3830, 0.0070])
    names = ["methane", "nitrogen", "carbon dioxide", "oxygen"]
    heat = float(x @ table().gross[[table().place[one] for one in names], 2])
    f = f_factor_method_19(x, heat, names) / 0.028316846592 * 1055.05585262e6
    assert f == pytest.approx(9250, abs=30)


def test_no_answer():
    log = np.array([[1.0, 0.0], [-0.1, 1.1], [np.nan, 1.0]])
    assert np.isfinite(stoichiometry(log, ["methane", "nitrogen"]).dry_air).tolist() == [True, False, False]
    assert np.isnan(per_heat([1.0], 0.0, ["nitrogen"]).f_dry)
    assert np.isnan(f_factor_method_19([1.0], 0.0, ["nitrogen"]))
    assert np.isnan(stoichiometry([1.0], ["methane"], water_in_air=1.0).moist_air)
    with pytest.raises(ValueError, match="3 fractions"):
        stoichiometry([1.0, 0.0, 0.0], ["methane"])


def test_excess_oxygen_in_the_gas_counts_against_the_air():
    assert stoichiometry([1.0], ["oxygen"]).oxygen == -1.0
