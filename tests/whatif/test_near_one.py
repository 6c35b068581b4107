"""Near lambda 1: what leaves the cylinder, which parts of a setting may be assumed, and what is said of a catalyst."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.fuel.iso6976 import Reference, properties
from asfound.quantities.findings import Case
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading
from asfound.whatif.ask import ask, worth_setting
from asfound.whatif.calibrate import calibrate
from asfound.whatif.charge import air_by_mixer, charge
from asfound.whatif.engine import Build, Setting, Unknowns, run
from asfound.whatif.leaving import LEAN, left_over
from asfound.whatif.of_case import Lacking, Modelled, modelled
from asfound.whatif.priors import believed, priors
from asfound.whatif.uses import ways_to
from asfound.whatif.usual import GAS, MOST, to_take

METHANE = {"methane": 1.0}
FIELD = {"methane": 0.82, "ethane": 0.09, "propane": 0.04, "nitrogen": 0.02, "carbon dioxide": 0.03}


@pytest.mark.parametrize("ratio", [0.93, 0.96, 0.98, 0.99, 1.0, 1.01])
@pytest.mark.parametrize("fuel", [METHANE, {"methane": 0.9, "ethane": 0.1}])
def test_a_chemistry_library_agrees_on_gas_frozen_at_the_water_gas_temperature(ratio, fuel):
    """Oracle: equilibrium at 1,721 K, where CO H2O / (CO2 H2) is 3.5; what still comes apart there is not counted."""
    ct = pytest.importorskip("cantera")
    gas = ct.Solution("gri30.yaml")
    gas = ct.Solution(thermo="ideal-gas", species=[
        one for one in gas.species() if one.name in ("CH4", "C2H6", "O2", "N2", "AR", "CO2", "CO", "H2", "H2O")
    ])  # fmt: skip
    loaded = charge(fuel, ratio, humidity=0.01)
    carbon, hydrogen, oxygen, nitrogen, argon, _ = loaded.elements[:, 0]
    gas.TPX = 1721.0, 5e5, {
        "CO2": carbon, "H2": hydrogen / 2, "O2": oxygen / 2 - carbon, "N2": nitrogen / 2, "AR": argon,
    }  # fmt: skip
    gas.equilibrate("TP")
    x = dict(zip(gas.species_names, gas.X, strict=True))
    dry = 1.0 - x["H2O"]
    found = left_over(loaded, np.ones(1), uneven=0.0)
    for here, name in ((found.monoxide, "CO"), (found.hydrogen, "H2"), (found.oxygen, "O2")):
        assert float((here / found.dry)[0]) == pytest.approx(x[name] / dry, rel=0.01, abs=7e-4)


@given(st.floats(0.9, 1.14), st.floats(0.0, 0.04), st.floats(0.93, 1.0))
@settings(max_examples=60, deadline=None)
def test_oxygen_is_neither_made_nor_lost(ratio, uneven, burned):
    """Free oxygen less half of carbon monoxide and hydrogen is what the mixture has beyond its need."""
    loaded = charge(FIELD, ratio)
    found = left_over(loaded, np.array([burned]), uneven=uneven)
    carbon, hydrogen, oxygen, _, _, sulfur = loaded.elements
    beyond = burned * (oxygen - 2 * carbon - hydrogen / 2 - 2 * sulfur) / 2 + (1 - burned) * loaded.oxygen
    assert (found.oxygen - (found.monoxide + found.hydrogen) / 2)[0] == pytest.approx(beyond[0], rel=1e-9, abs=1e-12)
    assert found.monoxide[0] >= 0.0
    assert found.hydrogen[0] >= 0.0


def test_richer_has_more_carbon_monoxide_and_less_oxygen_without_a_kink_at_lambda_1():
    ratio = np.linspace(0.94, 1.08, 141)
    found = left_over(charge(METHANE, ratio), np.ones(141))
    co, oxygen = found.monoxide / found.dry, found.oxygen / found.dry
    assert np.all(np.diff(co) < 0.0)
    assert np.all(np.diff(oxygen) > 0.0)
    assert np.abs(np.diff(oxygen, 2)).max() < 4e-5, "a kink would be ten times as much"


@given(st.floats(LEAN + 0.02, 2.1), st.floats(0.93, 1.0))
@settings(max_examples=30, deadline=None)
def test_lean_exhaust_is_complete_burning_as_it_was(ratio, burned):
    loaded = charge(FIELD, ratio)
    found = left_over(loaded, np.array([burned]))
    carbon, hydrogen, oxygen, nitrogen, argon, sulfur = loaded.elements
    left = (oxygen - 2 * carbon - hydrogen / 2 - 2 * sulfur) / 2
    assert found.oxygen[0] == pytest.approx(burned * left[0] + (1 - burned) * loaded.oxygen[0], rel=1e-13)
    assert np.isnan(found.monoxide[0])
    assert found.dry[0] > burned * (carbon + nitrogen / 2 + argon + sulfur + left)[0] * (1 - 1e-12)


def test_before_any_reading_such_an_engine_is_a_usual_one():
    """AP-42 table 3.2-3 (from memory): 3.72 lb/MMBtu of CO are 5,900 ppm at no oxygen."""
    build = Build(cylinders=14, bore=0.186, stroke=0.214, rod=0.428, compression_ratio=10.0, near_one=True)
    setting = Setting(speed=125.7, manifold_pressure=1.1e5, charge_temperature=320.0, excess_air_ratio=0.99,
                      timing=np.radians(-24.0), exhaust_pressure=1.15e5)  # fmt: skip
    usual = Unknowns(**{name: one.middle for name, one in believed(near_one=True).items()})
    found = run(build, setting, usual, METHANE)
    assert 2500e-6 < float(found.co_dry[0]) < 9000e-6
    assert 1000e-6 < float(found.nox_dry[0]) < 6000e-6
    assert 820.0 < float(found.exhaust_temperature[0]) < 1020.0


def test_a_lean_engine_is_believed_of_as_before():
    assert believed(near_one=False) is priors()
    assert believed(near_one=True)["duration"].middle < priors()["duration"].middle


# ---------------------------------------------------------------------- what may be assumed


def test_what_is_missing_most_is_to_be_read_first_and_two_parts_may_be_assumed():
    everything = ("excess_air_ratio", "ignition_timing", "manifold_temperature", GAS)
    assert to_take(everything, near_one=True, gas_may_be=True) == ("excess_air_ratio", "ignition_timing")
    assert to_take(("ignition_timing", GAS), near_one=True, gas_may_be=True) == ()
    assert to_take(("ignition_timing", GAS), near_one=True, gas_may_be=False) == (GAS,)
    assert to_take(("excess_air_ratio",), near_one=False, gas_may_be=True) == ("excess_air_ratio",)
    assert to_take(("manifold_pressure", GAS), near_one=True, gas_may_be=True) == ("manifold_pressure",)


@given(st.sets(st.sampled_from(["excess_air_ratio", "ignition_timing", "manifold_temperature", GAS, "engine_speed"])),
       st.booleans(), st.booleans())  # fmt: skip
def test_never_more_than_two_are_assumed_and_never_a_lean_mixture(missing, near_one, gas):
    must = to_take(tuple(missing), near_one=near_one, gas_may_be=gas)
    assumed = missing - set(must)
    assert len(assumed) <= MOST
    assert "engine_speed" not in assumed
    assert near_one or "excess_air_ratio" not in assumed
    assert gas or GAS not in assumed


N1 = {
    "site/barometric_pressure": "1006 hPa", "site/ambient_temperature": "6 °C", "site/relative_humidity": "84 %",
    "engine/engine_speed": "1200 rpm", "engine/manifold_pressure": "0.02 bar g",
    "engine/manifold_temperature": "44 °C", "engine/engine_power": "600 kW", "engine/ignition_timing": "24 deg",
    "after_catalyst/exhaust_oxygen_dry": "0.2 %", "after_catalyst/exhaust_nox_dry": "60 ppm",
    "after_catalyst/exhaust_co_dry": "900 ppm", "fuel/fuel_methane": "95.1 %", "fuel/fuel_ethane": "2.6 %",
    "fuel/fuel_propane": "0.6 %", "fuel/fuel_nitrogen": "1.0 %", "fuel/fuel_carbon_dioxide": "0.7 %",
}  # fmt: skip


def visit(without: tuple[str, ...] = (), family: str = "TR14", **engine: object) -> Case:
    readings = []
    for key, text in N1.items():
        if any(key.endswith(one) or key.startswith(one) for one in without):
            continue
        place, name = key.split("/")
        about, amount = quantity(name), parse_amount(text, quantity=name, decimal=".", default_unit=None)
        assert amount.value is not None
        readings.append(Reading(
            quantity=name, place=place, state="as_found", time="2032-02-12T09:00:00+00:00", value=amount.value,
            unit=about.si_unit, as_typed=text, gauge=bool(amount.gauge), standard_uncertainty=0.01 * abs(amount.value),
        ))  # fmt: skip
    of = {"family": family, "catalogue": "", **engine}
    return Case(readings=tuple(readings), worked=work_out(readings, number=100), limits=(), engine=of)


def test_the_mixture_is_taken_from_behind_the_catalyst_and_neither_nox_nor_oxygen_is():
    found = modelled(visit(), "as_found")
    assert isinstance(found, Modelled)
    assert found.near_one
    assert found.keys["excess_air_ratio"] == "as_found/after_catalyst/excess_air_ratio"
    assert {one.output for one in found.visit.readings} == {"power"}


def test_without_timing_and_gas_usual_values_stand_wide_and_are_named():
    case = visit(without=("ignition_timing", "fuel/"))
    assert isinstance(modelled(case, "as_found"), Lacking), "not where nobody asks for it"
    found = modelled(case, "as_found", assume=True)
    assert isinstance(found, Modelled)
    assert found.unread == ("ignition_timing", GAS)
    assert found.visit.u["timing"] > np.radians(5.0)
    assert any("Ignition timing 24 deg, give or take 6 deg" in one for one in found.assumed)
    assert any("Natural gas of pipeline quality" in one for one in found.assumed)


def test_where_too_much_is_missing_the_two_that_count_most_are_asked_for():
    case = visit(without=("ignition_timing", "fuel/", "after_catalyst", "manifold_temperature"))
    found = modelled(case, "as_found", assume=True)
    assert isinstance(found, Lacking)
    assert found.quantities == ("excess_air_ratio", "ignition_timing")
    assert found.then_assumed == (GAS, "manifold_temperature")


def test_an_engine_on_biogas_is_not_taken_for_one_on_natural_gas():
    case = visit(without=("fuel/",), rules={"fuel": "landfill_gas"})
    found = modelled(case, "as_found", assume=True)
    assert isinstance(found, Lacking)
    assert GAS in found.quantities


def test_the_mixture_of_a_lean_family_is_never_assumed():
    case = visit(without=("after_catalyst",), family="HM6")
    found = modelled(case, "as_found", assume=True)
    assert isinstance(found, Lacking)
    assert "excess_air_ratio" in found.quantities


def test_an_assumed_part_makes_the_answer_wider_and_its_reading_is_worth_something():
    """The unread timing widens what is said of a change of timing."""
    answers = {}
    for name, case in (("read", visit()), ("assumed", visit(without=("ignition_timing",)))):
        found = modelled(case, "as_found", assume=True)
        assert isinstance(found, Modelled)
        engine = calibrate(found.build, [found.visit])
        answer = ask(engine, {"timing": np.radians(-3.0)})
        answers[name] = answer.number("efficiency").change
        gain = worth_setting(engine, answer, "efficiency", "timing", np.radians(0.5))
        assert 0.0 <= gain < 1.0
    wide = {name: high - low for name, (low, _, high) in answers.items()}
    assert wide["assumed"] > wide["read"]


def test_what_a_mixer_left_alone_does_with_another_gas_goes_as_the_wobbe_index():
    """Net Wobbe index by ISO 6976:2016 (another room): of hydrocarbons the air a heat needs differs by 1 %."""
    names = ("methane", "ethane", "propane", "nitrogen", "carbon dioxide")
    one, other = np.array([0.91, 0.05, 0.02, 0.01, 0.01]), np.array([0.58, 0.0, 0.0, 0.03, 0.39])
    wobbe = [float(properties(x, names, Reference.named("15/15")).wobbe_net) for x in (one, other)]
    drawn = [air_by_mixer(dict(zip(names, x.tolist(), strict=True))) for x in (one, other)]
    assert drawn[0] / drawn[1] == pytest.approx(wobbe[0] / wobbe[1], rel=0.015)
    assert air_by_mixer({"methane": 2.0, "nitrogen": 2.0}) == pytest.approx(
        air_by_mixer({"methane": 0.5, "nitrogen": 0.5})
    )


def test_a_wanted_change_is_found_on_the_rich_side_of_the_hump_of_nox():
    """NOx is highest just lean of lambda 1 (Heywood ch. 11, from memory): less of it lies on both sides."""
    found = modelled(visit(), "as_found")
    assert isinstance(found, Modelled)
    engine = calibrate(found.build, [found.visit])
    way = ways_to(engine, "nox_dry", 0.75, knobs=("excess_air_ratio",))[0]
    assert way.reached
    assert way.by < 0.0
