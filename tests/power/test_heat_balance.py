"""Efficiency, heat balance and heat recovery beside published values, the laws they must keep, and the findings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fuel.stoichiometry import element_columns, stoichiometry
from asfound.power import coolant, efficiency, findings_heat, findings_recovery, heat_balance, heat_recovery
from asfound.power.checks_heat import checks
from asfound.power.exhaust_heat import MOLAR_MASS, SPECIES, air_heat, exhaust_of, molar_heat
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

from .sheet_of_an_engine import worked

NAMES = (
    "methane",
    "ethane",
    "propane",
    "nitrogen",
    "carbon dioxide",
    "hydrogen sulfide",
    "carbon monoxide",
    "hydrogen",
)
ratios = st.floats(0.9, 3.0)
kelvins = st.floats(210.0, 1490.0)
gases = st.tuples(st.floats(0.3, 1.0), *[st.floats(0.0, 0.1)] * 7)
heats = st.floats(0.0, 1e7)


def elements(parts):
    x = np.array(parts) / sum(parts)
    return x @ element_columns(NAMES)


@pytest.mark.parametrize("check", list(checks()), ids=lambda one: one.check)
def test_published_and_computed_values(check):
    assert check.holds, (check.value, check.published)


def test_the_printed_efficiency_of_the_gas_engine_test_mixes_two_volumes():
    """Mathur and Sharma, example 18.2, prints 26.3 %: work over metered volume times a heating value at 0 °C, 760 mmHg.

    On the volume that the heating value belongs to it is 27.4 %.
    """
    work = efficiency.power_of_pressure(7.5e5, np.pi / 4 * 0.24**2 * 0.48, 77 / 60)
    metered, normal = 13 / 3600, 13 / 3600 * 771 / 760 * 273 / 288
    assert 100 * efficiency.efficiency(work, metered * 22e6) == pytest.approx(26.3, abs=0.05)
    assert 100 * efficiency.efficiency(work, normal * 22e6) == pytest.approx(27.4, abs=0.05)


@given(gases, ratios, st.floats(0.0, 0.05))
def test_mass_and_atoms_are_kept(parts, ratio, water):
    sums = elements(parts)
    gas = exhaust_of(sums, ratio, water)
    carbon, hydrogen, nitrogen, oxygen, sulfur = sums[:5]
    made = dict(zip(SPECIES, gas.moles, strict=True))
    air = stoichiometry(np.array(parts) / sum(parts), NAMES).dry_air * ratio
    vapour = air * water / (1 - water)
    assert made["carbon_dioxide"] + made["carbon_monoxide"] == pytest.approx(carbon + sulfur + 0.0004 * air, rel=1e-9)
    assert 2 * (made["water"] + made["hydrogen"] - vapour) == pytest.approx(hydrogen, rel=1e-9)
    out = 2 * (made["oxygen"] + made["carbon_dioxide"]) + made["water"] + made["carbon_monoxide"]
    assert out == pytest.approx(oxygen + 2 * (0.20939 + 0.0004) * air + vapour, rel=1e-9)
    assert 2 * made["nitrogen"] == pytest.approx(nitrogen + 2 * (1 - 0.20939 - 0.00933 - 0.0004) * air, rel=1e-9)
    # sulfur counts as carbon dioxide, 20 g/mol too light; molar masses of two tables
    assert gas.mass == pytest.approx(gas.air + gas.fuel - sulfur * 20.055e-3, rel=3e-5)
    assert (gas.moles >= -1e-12).all()


@given(st.floats(0.85, 2.5), st.floats(0.0, 0.04))
def test_the_other_room_s_balance_of_the_elements_says_the_same(ratio, water):
    """Two modules that know nothing of each other; theirs counts argon as nitrogen and 20.95 % of oxygen."""
    from asfound.exhaust.balance import exhaust

    ours = dict(zip(SPECIES, exhaust_of(element_columns(("methane",))[0], ratio, water).moles, strict=True))
    theirs = exhaust(ratio, 1.0, 4.0, 0.0, 0.0, humidity=water / (1 - water), oxygen_in_air=0.20939)
    assert ours["carbon_monoxide"] == pytest.approx(theirs.carbon_monoxide, rel=1e-6, abs=1e-12)
    assert ours["hydrogen"] == pytest.approx(theirs.hydrogen, rel=1e-6, abs=1e-12)
    assert ours["water"] == pytest.approx(theirs.water, rel=1e-6)
    assert ours["oxygen"] == pytest.approx(theirs.oxygen, rel=1e-6, abs=1e-12)
    inert = ours["nitrogen"] + ours["argon"] + ours["carbon_dioxide"]
    assert inert == pytest.approx(theirs.nitrogen + theirs.carbon_dioxide, rel=1e-6)


@given(gases, ratios, kelvins, st.floats(0.5, 10.0))
def test_hotter_exhaust_holds_more_heat(parts, ratio, kelvin, more):
    gas = exhaust_of(elements(parts), ratio)
    assert gas.specific_heat(kelvin + min(more, 1500 - kelvin)) > gas.specific_heat(kelvin)


@given(ratios)
def test_at_25_degrees_there_is_no_heat(ratio):
    gas = exhaust_of(element_columns(("methane",))[0], ratio)
    assert gas.specific_heat(298.15) == pytest.approx(0.0, abs=2.0)  # J/kg: between two points of the table
    assert air_heat(298.15, 0.01) == pytest.approx(0.0, abs=2.0)


def test_no_heat_outside_the_table_and_no_exhaust_without_air():
    assert np.isnan(molar_heat(np.array([150.0, 1600.0, np.nan]))).all()
    assert np.isnan(exhaust_of(element_columns(("methane",))[0], np.array([0.0, -1.0, np.nan])).wet).all()
    assert np.isnan(exhaust_of(element_columns(("nitrogen",))[0], 1.5).wet)
    assert MOLAR_MASS[SPECIES.index("hydrogen")] == pytest.approx(2.016e-3, rel=1e-4)


@given(heats, heats, heats, heats, heats, heats, st.floats(1e5, 1e8))
def test_energy_is_neither_made_nor_lost(work, exhaust, air, jacket, auxiliary, unburned, fuel):
    rest, share = heat_balance.rest(fuel, work, exhaust, air, jacket, auxiliary, unburned)
    assert fuel + air == pytest.approx(work + exhaust + jacket + auxiliary + unburned + rest, abs=1.0)
    assert share == pytest.approx(rest / fuel)


@given(st.floats(1e3, 1e8), st.floats(1e3, 1e8))
def test_heat_rate_is_the_inverse_of_efficiency(work, heat):
    assert efficiency.efficiency(work, heat) * efficiency.heat_rate(work, heat) == pytest.approx(1.0)


@given(st.floats(1e4, 1e7), st.floats(1e-3, 1.0), st.floats(10, 300))
def test_power_and_mean_effective_pressure_go_both_ways(power, volume, speed):
    pressure = efficiency.mean_effective_pressure(power, volume, speed)
    assert efficiency.power_of_pressure(pressure, volume, speed / (4 * np.pi)) == pytest.approx(power)


def test_stopped_engine_is_nan():
    power = np.array([0.0, -10.0, np.nan])
    assert np.isnan(efficiency.efficiency(power, 1e6)).all()
    assert np.isnan(efficiency.heat_rate(power, 1e6)).all()
    assert np.isnan(efficiency.efficiency(1e6, np.array([0.0, np.nan]))).all()
    assert np.isnan(efficiency.specific_fuel_consumption(0.05, power)).all()
    assert np.isnan(efficiency.mean_effective_pressure(1e5, 0.02, np.array([0.0, np.nan]))).all()
    assert np.isnan(heat_balance.rest(0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0).share)
    assert np.isnan(heat_balance.oil_heat(0.0, 360.0, 350.0))
    assert np.isnan(coolant.heat_of_flow(0.0, 350.0, 360.0))
    assert np.isnan(heat_recovery.acid_dew_point(1e4, np.array([0.0, -1.0]))).all()
    assert np.isnan(heat_recovery.primary_energy_saving(0.0, 0.0))


@given(st.integers(0, 10_000))
def test_arrays_are_scalars_side_by_side(seed):
    draw = np.random.default_rng(seed).uniform
    ratio, kelvin, flow, t, glycol = (
        draw(1, 2, 4),
        draw(400, 900, 4),
        draw(0.001, 0.02, 4),
        draw(300, 370, 4),
        draw(0, 0.6, 4),
    )
    sums = element_columns(("methane",))[0]
    many = exhaust_of(sums[:, np.newaxis], ratio).specific_heat(kelvin)
    water = coolant.heat_of_flow(flow, t, t + 5, glycol)
    for at in range(4):
        assert exhaust_of(sums, ratio[at]).specific_heat(kelvin[at]) == pytest.approx(many[at], rel=1e-12)
        one = coolant.heat_of_flow(flow[at], t[at], t[at] + 5, glycol[at])
        assert one == pytest.approx(water[at], rel=1e-12)


@given(st.floats(275.0, 370.0), st.floats(0.0, 0.59), st.floats(0.001, 0.01))
def test_more_glycol_carries_less_heat(kelvin, glycol, more):
    one, two = (coolant.heat_of_flow(0.01, kelvin, kelvin + 8, x) for x in (glycol, glycol + more))
    assert two < one
    assert coolant.heat_of_flow(0.01, kelvin + 8, kelvin, glycol) == pytest.approx(-one)


def test_coolant_ends_with_its_table():
    assert np.isnan(coolant.density(np.array([200.0, 390.0, 350.0]), np.array([0.3, 0.3, 0.61]))).all()


@given(st.floats(0.2, 0.5), st.floats(0.1, 0.6), st.floats(0.001, 0.1))
def test_more_useful_heat_saves_more(power, heat, more):
    assert heat_recovery.primary_energy_saving(power, heat + more) > heat_recovery.primary_energy_saving(power, heat)
    assert heat_recovery.primary_energy_saving(0.53, 0.0) == pytest.approx(0.0)


@given(st.floats(2e3, 2e4), st.floats(0.01, 10.0), st.floats(1.01, 2.0))
def test_more_trioxide_condenses_hotter(water, trioxide, more):
    assert heat_recovery.acid_dew_point(water, trioxide * more) > heat_recovery.acid_dew_point(water, trioxide)


def test_unburned_heat_of_methane_slip_is_its_share_of_the_fuel():
    """1 % of the methane goes through: 1 % of its carbon in the exhaust, 1 % of its heat."""
    gas = exhaust_of(element_columns(("methane",))[0], 1.7)
    lost = heat_balance.unburned(1.0, gas.dry, gas.wet, 0.0, 0.01 / gas.wet, 802.6e3)
    assert lost == pytest.approx(0.01 * 802.6e3)


def value(sheet, name, place="engine"):
    return sheet.result(f"as_found/{place}/{name}").value


def test_a_visit_adds_up():
    sheet = worked()
    fuel, gross = value(sheet, "fuel_heat_input_net"), value(sheet, "fuel_heat_input")
    shares = ("exhaust_heat_share", "jacket_heat_share", "auxiliary_heat_share", "unburned_share", "balance_rest_share")
    assert sum(value(sheet, one) for one in shares) + value(sheet, "brake_efficiency") == pytest.approx(1.0)
    assert value(sheet, "brake_efficiency") / value(sheet, "brake_efficiency_gross") == pytest.approx(gross / fuel)
    assert value(sheet, "latent_heat_share") == pytest.approx(1 - fuel / gross)
    assert 1.105 < gross / fuel < 1.111  # about 1.108 for methane
    assert value(sheet, "exhaust_mass_flow") == pytest.approx(
        value(sheet, "intake_air_mass_flow") + value(sheet, "fuel_mass_flow"), rel=1e-9
    )
    assert value(sheet, "heat_rate") * value(sheet, "brake_efficiency") == pytest.approx(1.0)


def test_air_that_leaks_in_before_a_probe_makes_no_exhaust():
    """Two probes, one of them behind a leak: the richer mixture counts, and the carbon monoxide before a catalyst."""
    leaking = {
        ("after_catalyst", "exhaust_oxygen_dry"): (12.0, "%", 0.01),
        ("after_catalyst", "exhaust_co_dry"): (20.0, "ppm", 0.05),
    }
    for name in ("exhaust_mass_flow", "exhaust_heat", "unburned_heat"):
        assert value(worked(leaking), name) == pytest.approx(value(worked(), name), rel=1e-12)


def test_an_engine_without_turbine_has_its_exhaust_heat_before_the_catalyst():
    other = {("engine", "catalyst_inlet_temperature"): (450.0, "°C", 0.003)}
    sheet = worked(other, without=("turbine_outlet_temperature",))
    assert value(sheet, "exhaust_heat") == pytest.approx(value(worked(), "exhaust_heat"))


def test_heat_put_to_use():
    sheet = worked({("stack", "recovery_outlet_temperature"): (120.0, "°C", 0.002)})
    power, useful = 1e6, value(sheet, "useful_heat")
    assert useful == pytest.approx(value(sheet, "recovered_exhaust_heat") + value(sheet, "jacket_heat"))
    assert value(sheet, "power_to_heat_ratio") == pytest.approx(power / useful)
    assert value(sheet, "overall_efficiency") == pytest.approx((power + useful) / value(sheet, "fuel_heat_input_net"))
    assert value(sheet, "recovered_exhaust_heat") < value(sheet, "exhaust_heat")


def found(changed=None, without=()) -> dict[str, Finding]:
    sheet = worked(changed, without)
    case = Case(readings=sheet.readings, worked=sheet)
    return {one.code: one for subject in (findings_heat, findings_recovery) for one in subject.find(case)}


def test_a_sound_engine_raises_no_clash():
    codes = found()
    assert not {"PW-30", "PW-31", "PW-33"} & set(codes)
    assert codes["PW-32"].severity == "note"


def test_fuel_counted_too_low_or_too_high_is_seen_twice():
    low = found({("fuel_meter", "fuel_index_end"): (1007.0, "m3", 0.0)})
    assert low["PW-30"].severity == "clash"
    assert "less than nothing" in low["PW-33"].says
    high = found({("fuel_meter", "fuel_index_end"): (1024.0, "m3", 0.0)})
    assert high["PW-31"].severity == "clash"
    assert "PW-33" in high


def test_what_was_not_measured_is_said_and_not_taken_for_a_leak():
    codes = found(without=("jacket_water_flow", "auxiliary_water_flow"))
    assert "jacket water, auxiliary water" in codes["PW-34"].says
    assert "PW-33" not in codes


def test_exhaust_cooled_near_the_acid_dew_point():
    sour = {("fuel", "fuel_hydrogen_sulfide"): (1000.0, "ppm", 0.02)}
    cold = {("stack", "recovery_outlet_temperature"): (110.0, "°C", 0.002)}
    codes = found({**sour, **cold})
    assert "sulfuric acid" in codes["PW-39"].says
    assert "PW-39" not in found({("stack", "recovery_outlet_temperature"): (180.0, "°C", 0.002)})


def test_swapped_water_temperatures_are_refused_in_words():
    sheet = worked({("engine", "jacket_water_outlet_temperature"): (70.0, "°C", 0.0003)})
    refused = {one.worksheet: one.says for one in sheet.refused}
    assert "which thermometer sits where" in refused["jacket_heat"]
    assert sheet.result("as_found/engine/balance_rest") is not None


def test_heat_recovery_beside_published_ranges():
    """50 to 90 % (HHV) overall, 1,000 to 5,000 Btu/kWh: public guides, see data/published_ranges.csv."""
    cold = {("stack", "recovery_outlet_temperature"): (120.0, "°C", 0.002)}
    assert "HHV) stands" in found(cold)["PW-32"].says
    barely = found(
        {("stack", "recovery_outlet_temperature"): (430.0, "°C", 0.0005)}, without=("fuel_hydrogen_sulfide",)
    )
    assert "Btu/kWh" in barely["PW-32"].says
    twice = found({**cold, ("engine", "jacket_water_flow"): (150.0, "m3/h", 0.02)})
    assert "overall efficiency" in twice["PW-32"].says


def test_us_units_make_no_difference():
    us = {
        ("fuel_meter", "fuel_pressure"): (400e3 / 6894.757293168361, "psi", 0.003),
        ("fuel_meter", "fuel_temperature"): (64.4, "°F", 0.0),
        ("engine", "turbine_outlet_temperature"): (842.0, "°F", 0.0),
        ("engine", "jacket_water_flow"): (45.0 / 0.227124707, "gpm", 0.02),
    }
    si = {
        ("fuel_meter", "fuel_temperature"): (18.0, "°C", 0.0),
        ("engine", "turbine_outlet_temperature"): (450.0, "°C", 0.0),
    }
    one, two = worked(si), worked(us)
    for name in ("fuel_flow", "brake_efficiency", "exhaust_heat", "jacket_heat", "balance_rest_share"):
        assert value(two, name) == pytest.approx(value(one, name), rel=1e-8)


def test_a_size_class_is_the_narrowest_that_fits():
    assert findings_heat.size_class(600.0) == ("100 to 630 kW", 0.321)
    assert findings_heat.size_class(1500.0) == ("1140 to 3300 kW", 0.39)
    assert findings_heat.size_class(50.0)[0] == "30 to 9300 kW"
    assert findings_heat.size_class(20_000.0) is None
    assert findings_heat.published_range() == (0.23, 0.416)
