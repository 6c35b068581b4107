"""Near lambda 1: elements are kept, the seam at lambda 1 is none, lean exhaust is met, and an oracle agrees.

The oracle is a general chemistry library (dev only): exhaust in equilibrium, frozen at 1,721 K, where the water-gas
ratio is the 3.5 of the published formulas.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.crosscheck.assemble import assemble
from asfound.crosscheck.engine_point import EnginePoint
from asfound.crosscheck.engine_values import engine_values
from asfound.crosscheck.findings import find
from asfound.crosscheck.looks import look_at
from asfound.crosscheck.of_case import cross_check_of
from asfound.crosscheck.plant import Plant, molar_gas
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.rich_point import RichPoint
from asfound.crosscheck.rich_side import BALANCES
from asfound.exhaust.mixture_balance import Pollutants, from_oxygen
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR
from asfound.power.exhaust_heat import CARBON_DIOXIDE_IN_AIR, NITROGEN_IN_AIR
from asfound.quantities.findings import Case
from asfound.quantities.sheet import work_out

from .a2 import GAS, reading, visit

METHANE = molar_gas({"methane": 1.0})
FIELD = molar_gas({"methane": 0.83, "ethane": 0.08, "propane": 0.03, "nitrogen": 0.02, "carbon_dioxide": 0.04})
BASE = {
    "excess_air_ratio": 0.99, "exhaust_co_dry": 6e-3, "exhaust_nox_dry": 2e-3, "unburned_share": 0.01,
    "exhaust_co_dry_after": 3e-4, "exhaust_nox_dry_after": 6e-5, "hydrogen_to_co_after": 2.0,
    "catalyst_slip_share": 0.45, "water_gas_ratio": 3.5, "gas_richness": 1.0, "heating_value_factor": 1.0,
    "ambient_temperature": 293.15, "relative_humidity": 0.5, "barometric_pressure": 101_325.0, "fuel": 1.0,
    "catalyst_inlet_temperature": 850.0, "catalyst_outlet_temperature": 900.0, "turbine_outlet_temperature": 860.0,
    "fuel_temperature": 293.15,
}  # fmt: skip
RICHES = st.fixed_dictionaries({
    "excess_air_ratio": st.floats(0.93, 1.06), "exhaust_co_dry": st.floats(0.0, 0.03),
    "exhaust_nox_dry": st.floats(0.0, 0.004), "unburned_share": st.floats(0.0, 0.03),
    "exhaust_co_dry_after": st.floats(0.0, 0.01), "hydrogen_to_co_after": st.floats(0.0, 5.0),
    "water_gas_ratio": st.floats(2.5, 5.0), "relative_humidity": st.floats(0.05, 1.0),
})  # fmt: skip


def point(kind: type[EnginePoint] = RichPoint, gas=FIELD, **given: float) -> EnginePoint:
    values = {name: np.array([float(one)]) for name, one in (BASE | given).items()}
    return kind(values, Plant(fuel=gas, stoichiometric=kind is RichPoint), None, None)


@given(RICHES)
@settings(max_examples=60, deadline=None)
def test_the_elements_of_gas_and_air_are_those_of_the_exhaust_on_both_sides_of_the_catalyst(given_):
    at = point(**given_)
    air, humidity, gas = at.air[0], at.humidity[0], at.fuel
    for one in (at.before, at.behind):
        left = one.unburned[0]
        carbon = one.dioxide + one.monoxide + left * gas.carbon
        hydrogen = 2 * one.water + 2 * one.hydrogen + left * gas.hydrogen
        oxygen = 2 * one.oxygen + one.monoxide + 2 * one.dioxide + one.water + one.nitric_oxide + left * gas.oxygen
        assert carbon[0] == pytest.approx(gas.carbon + CARBON_DIOXIDE_IN_AIR * air, rel=1e-12)
        assert hydrogen[0] == pytest.approx(gas.hydrogen + 2 * humidity * air, rel=1e-12)
        brought = gas.oxygen + air * (2 * OXYGEN_IN_DRY_AIR + 2 * CARBON_DIOXIDE_IN_AIR + humidity)
        assert oxygen[0] == pytest.approx(brought, rel=1e-12)
        argon = air * (1 - OXYGEN_IN_DRY_AIR - CARBON_DIOXIDE_IN_AIR - NITROGEN_IN_AIR)
        nitrogen = NITROGEN_IN_AIR * air + (1 - left) * gas.nitrogen / 2 - one.nitric_oxide / 2
        parts = one.monoxide + one.dioxide + one.hydrogen + one.oxygen + one.nitric_oxide + nitrogen + argon + left
        assert parts[0] == pytest.approx(one.dry[0], rel=1e-12)


@given(RICHES)
@settings(max_examples=40, deadline=None)
def test_hydrogen_keeps_the_water_gas_ratio(given_):
    one = point(**(given_ | {"exhaust_co_dry": max(given_["exhaust_co_dry"], 1e-4)})).before
    found = one.monoxide * one.water / (one.dioxide * one.hydrogen)
    assert found[0] == pytest.approx(given_["water_gas_ratio"], rel=1e-9)


@given(st.floats(1.0, 1.8), st.floats(0.0, 0.03), st.floats(0.0, 0.004))
@settings(max_examples=40, deadline=None)
def test_without_carbon_monoxide_it_is_lean_exhaust_to_the_last_digit(ratio, slip, nox):
    same = {"excess_air_ratio": ratio, "unburned_share": slip, "exhaust_nox_dry": nox, "exhaust_co_dry": 0.0}
    rich, lean = point(**same), point(EnginePoint, **same)
    for name in ("dry", "oxygen", "dioxide", "water", "nitric_oxide"):
        assert getattr(rich, name)[0] == pytest.approx(getattr(lean, name)[0], rel=1e-13, abs=1e-15)
    hot = "turbine_outlet_temperature"
    assert rich.exhaust_heat(hot)[0] == pytest.approx(lean.exhaust_heat(hot)[0], rel=1e-12)


def test_of_lean_exhaust_the_hydrogen_that_it_brings_in_is_less_than_any_analyser_sees():
    same = {"excess_air_ratio": 1.6, "exhaust_co_dry": 4e-4, "exhaust_nox_dry": 1.5e-4, "unburned_share": 0.015}
    rich, lean = point(**same), point(EnginePoint, **same)
    assert abs(rich.oxygen / rich.dry - lean.oxygen / lean.dry)[0] < 2e-4


def test_there_is_no_seam_at_lambda_1():
    """The slope of oxygen over lambda is the same on both sides."""
    at = np.array([0.999, 0.9999, 1.0, 1.0001, 1.001])
    values = {name: np.full(5, float(one)) for name, one in BASE.items()} | {"excess_air_ratio": at}
    one = RichPoint(values, Plant(fuel=FIELD, stoichiometric=True), None, None)
    slopes = np.diff(one.oxygen / one.dry) / np.diff(at)
    assert slopes[1] == pytest.approx(slopes[2], rel=5e-4), "a seam would double or halve it"


@given(RICHES)
@settings(max_examples=40, deadline=None)
def test_it_says_what_the_mixture_worksheet_says(given_):
    """Another derivation, in another room; it counts the carbon dioxide of the air as nitrogen: 4e-4 of lambda."""
    at = point(gas=METHANE, **given_)
    one = at.before
    read = Pollutants(given_["exhaust_co_dry"], float(one.unburned[0] / one.dry[0]), given_["exhaust_nox_dry"], 0.0)
    oxygen = float((one.oxygen / one.dry)[0])
    if oxygen < 0.0:
        return
    found = from_oxygen(oxygen, 1.0, 4.0, 0.0, 0.0, read, float(at.humidity[0])).ratio
    off = abs(given_["water_gas_ratio"] - 3.5) * given_["exhaust_co_dry"]
    assert float(found) == pytest.approx(given_["excess_air_ratio"], abs=6e-4 + off)


@pytest.mark.parametrize("ratio", [0.95, 0.97, 0.99, 1.0, 1.02])
def test_a_chemistry_library_agrees_on_exhaust_frozen_at_the_water_gas_temperature(ratio):
    """Oxygen, carbon dioxide, hydrogen and water of equilibrium at 1,721 K, from its CO and NO alone."""
    ct = pytest.importorskip("cantera")
    gas = ct.Solution("gri30.yaml")
    gas = ct.Solution(thermo="ideal-gas", species=[
        one for one in gas.species() if one.name in ("CH4", "O2", "N2", "AR", "CO2", "CO", "H2", "H2O", "NO")
    ])  # fmt: skip
    air = 2.0 * ratio / OXYGEN_IN_DRY_AIR
    here = point(gas=METHANE, excess_air_ratio=ratio, unburned_share=0.0)
    argon = 1 - NITROGEN_IN_AIR - OXYGEN_IN_DRY_AIR - CARBON_DIOXIDE_IN_AIR
    gas.TPX = 1721.0, 101_325.0, {
        "CH4": 1.0, "O2": OXYGEN_IN_DRY_AIR * air, "N2": NITROGEN_IN_AIR * air, "AR": argon * air,
        "CO2": CARBON_DIOXIDE_IN_AIR * air, "H2O": float(here.humidity[0]) * air,
    }  # fmt: skip
    gas.equilibrate("TP")
    x = dict(zip(gas.species_names, gas.X, strict=True))
    dry = 1 - x["H2O"]
    constant = x["CO"] * x["H2O"] / (x["CO2"] * x["H2"])
    assert constant == pytest.approx(3.5, rel=0.01)
    one = point(
        gas=METHANE, excess_air_ratio=ratio, unburned_share=0.0, exhaust_co_dry=x["CO"] / dry,
        exhaust_nox_dry=x["NO"] / dry, water_gas_ratio=constant,
    ).before  # fmt: skip
    for name, formula in (("oxygen", "O2"), ("dioxide", "CO2"), ("hydrogen", "H2"), ("water", "H2O")):
        assert (getattr(one, name) / one.wet)[0] == pytest.approx(x[formula], abs=2e-6)


def test_the_heat_over_the_catalyst_is_that_of_the_library():
    """The temperature to which the library warms the same gas when what the catalyst burns is burned, no heat lost."""
    ct = pytest.importorskip("cantera")
    gas = ct.Solution("gri30.yaml")
    at = point(gas=METHANE, unburned_share=0.01, excess_air_ratio=1.005, catalyst_inlet_temperature=800.0)
    into, out = (
        {
            "O2": one.oxygen[0], "CO2": one.dioxide[0], "CO": one.monoxide[0], "H2": one.hydrogen[0],
            "H2O": one.water[0], "NO": one.nitric_oxide[0], "CH4": one.unburned[0],
            "N2": NITROGEN_IN_AIR * at.air[0] - one.nitric_oxide[0] / 2,
            "AR": (1 - NITROGEN_IN_AIR - OXYGEN_IN_DRY_AIR - CARBON_DIOXIDE_IN_AIR) * at.air[0],
        }
        for one in (at.before, at.behind)
    )  # fmt: skip
    assert out["O2"] > 0
    gas.TPX = 800.0, 101_325.0, into
    enthalpy = gas.enthalpy_mass
    gas.TPX = 800.0, 101_325.0, out
    gas.HP = enthalpy, 101_325.0
    closing = point(
        gas=METHANE, unburned_share=0.01, excess_air_ratio=1.005, catalyst_inlet_temperature=800.0,
        catalyst_outlet_temperature=gas.T,
    )  # fmt: skip
    formula = next(one for one in BALANCES if one.name == "catalyst_three_way").formula
    heat_of_a_kelvin = 33.0 * closing.wet[0]
    assert abs(formula(closing)[0]) < 0.5 * heat_of_a_kelvin
    assert gas.T - 800.0 > 40.0


def test_a_textbook_example_with_carbon_monoxide():
    """Moran, Shapiro, example 13.2 as an open companion prints it: CO2 9.7, CO 0.5, O2 2.95 %; 113 % theoretical air.

    The book counts no hydrogen, which is the water-gas ratio without bound.
    """
    from scipy.optimize import brentq

    def off(ratio: float) -> float:
        one = point(
            gas=METHANE, excess_air_ratio=ratio, unburned_share=0.0, exhaust_nox_dry=0.0, exhaust_co_dry=0.005,
            water_gas_ratio=1e9,
        ).before  # fmt: skip
        return float((one.oxygen / one.dry)[0]) - 0.0295

    assert brentq(off, 0.9, 1.4) == pytest.approx(1.1324, abs=0.003)


# ---------------------------------------------------------------------- visits

RICH = {f"fuel/{name}": text for name, text in GAS.items()} | {
    "site/site_height": "85 m", "site/barometric_pressure": "1006 hPa", "site/ambient_temperature": "20 °C",
    "site/relative_humidity": "50 %", "engine/engine_speed": "1200 rpm", "engine/fuel_flow": "180 m3(n)/h",
    "engine/engine_power": "600 kW", "engine/catalyst_inlet_temperature": "560 °C",
    "engine/catalyst_outlet_temperature": "605 °C", "before_catalyst/exhaust_oxygen_dry": "0.55 %",
    "before_catalyst/exhaust_co_dry": "5200 ppm", "before_catalyst/exhaust_nox_dry": "2300 ppm",
    "after_catalyst/exhaust_oxygen_dry": "0.15 %", "after_catalyst/exhaust_co_dry": "300 ppm",
    "after_catalyst/exhaust_nox_dry": "60 ppm",
}  # fmt: skip
U = {"exhaust_co_dry": 0.03, "exhaust_nox_dry": 0.03}


def rich(changed=None, without=(), family="TR14") -> Case:
    found = {key: text for key, text in (RICH | dict(changed or {})).items() if key not in without}
    readings = []
    for key, text in found.items():
        one = reading(key, text, "as_found")
        if one.quantity in U:
            one = replace(one, standard_uncertainty=U[one.quantity] * one.value)
        readings.append(one)
    worked = work_out(readings, number=200)
    return Case(readings=tuple(readings), worked=worked, limits=(), engine={"family": family, "catalogue": ""})


def said(case: Case) -> dict[str, object]:
    return {one.code: one for one in find(case)}


def test_a_visit_to_an_engine_with_a_three_way_catalyst_gets_its_balances():
    found = cross_check_of(rich())
    names = {one.name for one in found.balances}
    assert {"oxygen_dry", "oxygen_dry_after", "catalyst_three_way", "energy_at_catalyst", "fuel_by_flow"} <= names
    assert not found.contradiction
    assert "CC-21" not in said(rich())


def test_air_in_the_line_behind_the_catalyst_is_seen_by_the_sample_before_it():
    found = cross_check_of(rich({"after_catalyst/exhaust_oxygen_dry": "2.4 %"}))
    assert found.contradiction
    names = {member.name for one in found.explanations[0].groups for member in one}
    assert names & {"exhaust_oxygen_dry_after", "sample_leak_after"}


def test_a_fuel_meter_that_reads_twice_as_much_is_seen_by_the_energy():
    assert cross_check_of(rich({"engine/fuel_flow": "360 m3(n)/h"})).contradiction


def test_one_side_of_the_catalyst_is_enough_and_what_is_assumed_is_said():
    case = rich(without=tuple(one for one in RICH if one.startswith("before_catalyst")))
    found = cross_check_of(case)
    assert "oxygen_dry_after" in {one.name for one in found.balances}
    assert "exhaust_co_dry" in {one.name for one in found.assumed}
    assert "no CO was read before the catalyst" in said(case)["CC-21"].says
    assert "0.6 % (give or take 0.3)" in said(case)["CC-21"].says


def test_an_engine_without_a_catalyst_shows_in_its_stack_what_leaves_the_cylinders():
    stack = {"stack/exhaust_oxygen_dry": "0.4 %", "stack/exhaust_co_dry": "6800 ppm"}
    case = rich(stack, without=tuple(one for one in RICH if "catalyst" in one), family="")
    found = cross_check_of(case)
    names = {one.name for one in found.balances}
    assert "oxygen_dry" in names
    assert "oxygen_dry_after" not in names


def test_a_lean_family_with_rich_exhaust_is_said_and_its_reading_doubted():
    case = visit({"stack/exhaust_oxygen_dry": "0.4 %", "stack/exhaust_co_dry": "3800 ppm"}, left=False)
    found = next(one for one in find(case) if one.code == "CC-21")
    assert "this engine burns lean" in found.says
    assert found.severity == "clash"
    wrong = cross_check_of(case)
    assert wrong is None or wrong.contradiction


def test_values_near_lambda_1_have_something_to_look_at_and_bounds_around_what_is_assumed():
    for name, about in engine_values((), True).items():
        assert look_at(name) or about.role == "assumption", name
        if about.value is not None and about.low is not None and about.high is not None:
            assert about.low <= about.value <= about.high


def test_lean_values_are_as_they_were():
    assert "water_gas_ratio" not in engine_values()
    assert engine_values()["exhaust_oxygen_dry"].places[0] == "stack"


@given(st.floats(0.97, 1.01))
@settings(max_examples=10, deadline=None)
def test_a_noise_free_truth_is_found_again(ratio):
    """Readings made at a mixture by the balances of the other room are reconciled to that mixture."""
    gas = molar_gas({"methane": 1.0})
    values = BASE | {"excess_air_ratio": ratio, "exhaust_co_dry": 0.004 + 0.3 * max(1 - ratio, 0.0)}
    one = point(gas=gas, **values)
    oxygen, behind = (float((of.oxygen / of.dry)[0]) for of in (one.before, one.behind))
    names = ("exhaust_oxygen_dry", "exhaust_co_dry", "exhaust_oxygen_dry_after", "exhaust_co_dry_after")
    read = np.array([oxygen, values["exhaust_co_dry"], behind, values["exhaust_co_dry_after"]])
    of = assemble(
        Plant(fuel=gas, stoichiometric=True), (*names, "barometric_pressure"), np.append(read, 101_325.0),
        np.diag([1e-3, 1e-4, 1e-3, 1e-5, 50.0]) ** 2,
        known={name: (values[name], 1e-3 * abs(values[name]) + 1e-9) for name in (
            "unburned_share", "catalyst_slip_share", "hydrogen_to_co_after", "water_gas_ratio")},
    )  # fmt: skip
    assert math.isclose(of.start["excess_air_ratio"], 1.0)
    solved = reconcile(of.balances, of.readings, start=of.start)
    assert dict(zip(of.balances.unmeasured, solved.unmeasured, strict=True))["excess_air_ratio"] == pytest.approx(
        ratio, abs=3e-3
    )
