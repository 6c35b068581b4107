"""Sulfur, water and air of a gas: masses are conserved, units cannot change a result, nothing is made of nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fuel import contaminants as trace
from asfound.fuel import worksheets_quality as sheets
from asfound.fuel.air_in_sample import without_air
from asfound.fuel.components import component
from asfound.fuel.composition import composition
from asfound.fuel.stoichiometry import stoichiometry
from asfound.fuel.visit_analysis import without_noise
from asfound.quantities.constants import ATMOSPHERE, NORMAL_TEMPERATURE
from asfound.quantities.sheet import work_out
from asfound.quantities.units import unit

from .test_findings import LANDFILL, LEAN, RICH, reading, sheet

shares = st.floats(1e-9, 0.05)


@given(shares, st.sampled_from((273.15, 288.15, 293.15)), st.floats(90e3, 110e3))
def test_mass_and_fraction_go_round(fraction, temperature, pressure):
    mass = trace.mass_of(fraction, trace.MOLAR_MASS_HYDROGEN_SULFIDE)
    at_state = mass * NORMAL_TEMPERATURE / temperature * pressure / ATMOSPHERE
    back = trace.fraction_of(at_state, trace.MOLAR_MASS_HYDROGEN_SULFIDE, temperature, pressure)
    assert back == pytest.approx(fraction)


def test_masses_are_those_of_the_standard_and_of_the_units():
    assert pytest.approx(component("hydrogen sulfide").molar_mass) == trace.MOLAR_MASS_HYDROGEN_SULFIDE
    assert pytest.approx(component("sulfur dioxide").molar_mass) == trace.MOLAR_MASS_SULFUR_DIOXIDE
    assert unit("mg/m3(n)") is not None
    # 1 gr/100 scf of H2S is about 15.9 ppm: 64.799 mg / 2.83168 m3 / 34.081 g/mol x 23.636 L/mol at 60 F, 14.73 psia
    assert 1e6 * trace.fraction_of(64.799e-6 / 2.83168, 34.081e-3, 288.7056, 101_559.8) == pytest.approx(
        15.87, abs=0.01
    )


@given(st.floats(1e-6, 0.01), st.floats(1e7, 5e7))
def test_every_atom_of_sulfur_leaves_as_its_dioxide(fraction, heat):
    """Mass balance by moles: x moles of H2S make x moles of SO2."""
    per_heat = trace.sulfur_dioxide_per_heat(trace.sulfur_of_hydrogen_sulfide(fraction), heat)
    burned = stoichiometry([1 - fraction, fraction], ["methane", "hydrogen sulfide"])
    by_moles = burned.sulfur_dioxide * trace.MOLAR_MASS_SULFUR_DIOXIDE / trace.NORMAL_MOLAR_VOLUME / heat
    assert per_heat == pytest.approx(by_moles)


def test_no_heat_no_answer_and_arrays_as_floats():
    assert np.isnan(trace.sulfur_dioxide_per_heat(1e-6, 0.0))
    many = trace.sulfur_dioxide_per_heat(np.array([1e-6, 2e-6, np.nan]), np.array([3e7, 3e7, 3e7]))
    assert many[:2] == pytest.approx([float(trace.sulfur_dioxide_per_heat(one, 3e7)) for one in (1e-6, 2e-6)])
    assert np.isnan(many[2])


def test_sulfur_dioxide_of_the_fuel_on_a_visit():
    """200 ppm H2S: 286.1 mg S/m3(n), 571.6 mg SO2/m3(n); over 23.3 MJ/m3(n) 24.5 g/GJ."""
    worked = sheet({**LANDFILL, "fuel_hydrogen_sulfide": "200 ppm"}, fuel_flow="400 m3(n)/h")
    sulfur = worked.result("as_found/fuel/fuel_sulfur").value
    heat = worked.result("as_found/fuel/gross_heating_value").value
    assert sulfur == pytest.approx(286.1e-6, rel=1e-3)
    assert worked.result("as_found/engine/so2_mass_flow").value == pytest.approx(571.6e-6 * 400 / 3600, rel=1e-3)
    assert worked.result("as_found/fuel/fuel_so2_per_heat").value == pytest.approx(571.6e-6 / heat, rel=1e-3)
    typed = sheet({**LANDFILL, "fuel_hydrogen_sulfide": "200 ppm", "fuel_sulfur": "400 mg/m3(n)"})
    assert typed.result("as_found/fuel/fuel_so2_per_heat").value == pytest.approx(400e-6 * 64.0638 / 32.065 / heat)


@given(st.floats(0.0, 0.5))
def test_air_that_was_put_in_comes_out(air):
    clean = {"methane": 0.97, "ethane": 0.03}
    aired = {name: share * (1 - air) for name, share in clean.items()}
    gas = composition(
        {**aired, "oxygen": air * trace.OXYGEN_IN_AIR, "nitrogen": air * trace.NITROGEN_IN_AIR,
         "argon": air * (1 - trace.OXYGEN_IN_AIR - trace.NITROGEN_IN_AIR)}
    )  # fmt: skip
    left, taken = without_air(gas)
    assert taken == pytest.approx(air, abs=1e-9)
    assert left.by_name["ethane"] / left.by_name["methane"] == pytest.approx(3 / 97)
    assert left.total == pytest.approx(gas.total)


def test_methods_of_the_methane_number_stand_beside_each_other():
    worked = sheet(LEAN)
    ways = {one.worksheet: one.value for one in worked.alternatives("as_found/fuel/methane_number")}
    assert set(ways) == {"methane_number", "methane_number_linear", "methane_number_of_ratio"}
    assert worked.result("as_found/fuel/methane_number").worksheet == "methane_number"  # the one that is taken
    for gas in (RICH, LANDFILL):
        refused = {one.worksheet for one in sheet(gas).refused}
        assert {"methane_number_linear", "methane_number_of_ratio"} <= refused


def test_an_f_factor_typed_with_the_gas_goes_before_that_of_the_analysis():
    worked = sheet({**LEAN, "fuel_f_factor": "8700 scf/MMBtu (20 C, 101.325 kPa)"})
    taken = worked.result("as_found/engine/fuel_f_factor")
    assert taken.worksheet == "f_factor_stated"
    assert {one.worksheet for one in worked.alternatives("as_found/engine/fuel_f_factor")} == {
        "f_factor_stated", "f_factor_of_the_gas",
    }  # fmt: skip
    assert sheet(LEAN).result("as_found/engine/fuel_f_factor").worksheet == "f_factor_of_the_gas"


def test_a_component_that_is_not_there_leaves_every_draw_an_answer():
    readings = [reading(name, text) for name, text in LEAN.items()]
    readings += [reading("fuel_oxygen", "0 %", u=5e-5), reading("fuel_hydrogen_sulfide", "0 ppm", u=2e-6)]
    worked = work_out(readings, number=1000)
    for name in ("wobbe_index", "methane_number", "stoichiometric_air"):
        assert worked.without_answer(worked.result(f"as_found/fuel/{name}")) == 0, name
    assert without_noise(np.array([-2e-5, 0.3, -0.2])).tolist() == [0.0, 0.3, -0.2]
    assert np.isnan(sheets.air_in_the_sample(np.nan, 0.1))
