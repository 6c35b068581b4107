"""Laws of the mixture: what was burned is found again, atoms stay, air's humidity changes no dry reading."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.exhaust import humidity_correction as humid
from asfound.exhaust.balance import air_fuel_ratio, exhaust, humidity_of, molar_mass
from asfound.exhaust.balance_1065 import OXYGEN_OF_THE_RULE, balance_1065
from asfound.exhaust.brettschneider import lambda_brettschneider
from asfound.exhaust.exhaust_flow import dry_exhaust_from_air, dry_exhaust_from_carbon, exhaust_mass_flow
from asfound.exhaust.mixture import dry_oxygen, excess_air_ratio, stoichiometric_oxygen
from asfound.exhaust.mixture_balance import Pollutants, from_carbon_dioxide, from_oxygen
from asfound.exhaust.nitrogen_tie import lambda_from_nitrogen
from asfound.exhaust.spindt import air_fuel_ratio_spindt
from asfound.exhaust.wet_dry import (
    dry_from_wet,
    exhaust_dew_point,
    lambda_from_wet_oxygen,
    saturated_sample,
    water_fraction,
    water_fraction_from_oxygen,
    wet_from_measured,
)
from asfound.fuel.stoichiometry import WATER_GAS
from asfound.quantities.typing import Values

from .mixture_oracle import atoms, burn, least_co, need

AIR_IN_RULE = OXYGEN_OF_THE_RULE / 0.2095

natural_gases = st.fixed_dictionaries(
    {
        "methane": st.floats(0.5, 1.0),
        "ethane": st.floats(0.0, 0.12),
        "propane": st.floats(0.0, 0.06),
        "carbon_dioxide": st.floats(0.0, 0.03),
        "nitrogen": st.floats(0.0, 0.10),
    }
)
any_gas = st.fixed_dictionaries(
    {
        "methane": st.floats(0.2, 1.0),
        "ethane": st.floats(0.0, 0.2),
        "propane": st.floats(0.0, 0.1),
        "carbon_dioxide": st.floats(0.0, 0.6),
        "nitrogen": st.floats(0.0, 0.3),
        "hydrogen": st.floats(0.0, 0.3),
        "carbon_monoxide": st.floats(0.0, 0.2),
    }
)
lean, humidities = st.floats(1.0, 2.6), st.floats(0.0, 0.04)


@given(any_gas, st.floats(0.7, 3.0), humidities)
def test_no_atom_is_lost(gas: dict[str, float], ratio: float, humidity: float) -> None:
    c, h, o, n = atoms(gas)
    found = exhaust(ratio, c, h, o, n, humidity=humidity)
    if np.isnan(found.dry):
        assert ratio < 1  # so rich that soot would form
        return
    air = ratio * need(gas) / 0.2095
    assert found.carbon_dioxide + found.carbon_monoxide == pytest.approx(c)
    assert 2 * (found.water + found.hydrogen) == pytest.approx(h + 2 * air * humidity)
    oxygen = 2 * found.carbon_dioxide + found.carbon_monoxide + 2 * found.oxygen + found.water
    assert oxygen == pytest.approx(o + 2 * 0.2095 * air + air * humidity)
    assert 2 * found.nitrogen == pytest.approx(n + 2 * 0.7905 * air)
    for part in (found.carbon_dioxide, found.carbon_monoxide, found.hydrogen, found.oxygen, found.water):
        assert part >= -1e-12


@given(any_gas, st.floats(0.8, 0.9999), humidities)
def test_rich_exhaust_stands_in_the_water_gas_balance(gas: dict[str, float], ratio: float, humidity: float) -> None:
    found = exhaust(ratio, *atoms(gas), humidity=humidity)
    if not np.isnan(found.dry):
        left = found.carbon_monoxide * found.water
        assert left == pytest.approx(WATER_GAS * found.carbon_dioxide * found.hydrogen, rel=1e-6, abs=1e-12)


@given(any_gas, lean, humidities)
def test_complete_burning_is_found_again_by_every_form(gas: dict[str, float], ratio: float, humidity: float) -> None:
    """Exhaust of an oracle that shares no code; gas with carbon dioxide, hydrogen, carbon monoxide of its own."""
    one, g = burn(gas, ratio, humidity), atoms(gas)
    assert excess_air_ratio(one.oxygen, *g) == pytest.approx(ratio, rel=1e-9)
    assert from_oxygen(one.oxygen, *g).ratio == pytest.approx(ratio, rel=1e-9)
    assert from_carbon_dioxide(one.carbon_dioxide, *g).ratio == pytest.approx(ratio, rel=1e-9)
    assert lambda_brettschneider(one.carbon_dioxide, one.oxygen, *g[:3]) == pytest.approx(ratio, rel=1e-9)
    wet = one.oxygen * (1 - one.water_wet)
    assert lambda_from_wet_oxygen(wet, *g, humidity) == pytest.approx(ratio, rel=1e-9)
    rule = balance_1065(one.carbon_dioxide, *g, humidity=humidity)
    assert rule.ratio == pytest.approx(ratio, rel=4e-3)  # other air: 0.15 % and what that makes of the rest
    assert rule.water == pytest.approx(one.water_wet, abs=3e-4)


@given(natural_gases, lean)
def test_spindt_finds_gas_of_little_carbon_dioxide(gas: dict[str, float], ratio: float) -> None:
    one, g = burn(gas, ratio), atoms(gas)
    found = air_fuel_ratio_spindt(one.carbon_dioxide, one.oxygen, *g) / air_fuel_ratio(1.0, *g)
    assert found == pytest.approx(ratio, rel=0.04)


def test_spindt_is_a_fifth_wrong_on_landfill_gas() -> None:
    gas = {"methane": 0.6, "carbon_dioxide": 0.4}
    one, g = burn(gas, 1.5), atoms(gas)
    found = air_fuel_ratio_spindt(one.carbon_dioxide, one.oxygen, *g) / air_fuel_ratio(1.0, *g)
    assert found / 1.5 - 1 > 0.15


@given(natural_gases, st.floats(1.0, 2.2), humidities, st.floats(0.0, 0.03), st.floats(0.0, 0.02), st.floats(0.0, 0.02))
def test_unburned_gas_and_pollutants_are_counted(
    gas: dict[str, float], ratio: float, humidity: float, slip: float, co: float, no: float
) -> None:
    """Unburned methane: exact for gas whose hydrocarbons are methane, close where there is some ethane and propane."""
    one, g = burn(gas, ratio, humidity, slip, co, no, no / 4), atoms(gas)
    if one.oxygen < 0:
        return
    read = Pollutants(one.carbon_monoxide, one.hydrocarbons, one.no, one.no2)
    assert from_oxygen(one.oxygen, *g, read, humidity).ratio == pytest.approx(ratio, rel=4e-3)
    assert from_carbon_dioxide(one.carbon_dioxide, *g, read, humidity).ratio == pytest.approx(ratio, rel=4e-3)
    found = lambda_brettschneider(one.carbon_dioxide, one.oxygen, *g[:3], *read)
    assert found == pytest.approx(ratio, rel=8e-3)  # it gives hydrogen of the gas's mean to what is unburned
    rule = balance_1065(one.carbon_dioxide, *g, *read, humidity).ratio
    assert rule == pytest.approx(ratio, rel=1.2e-2)


@given(st.floats(0.85, 2.2), humidities, st.floats(0.0, 0.03), st.floats(0.0, 0.03), st.floats(0.0, 0.02))
def test_methane_is_found_again_exactly(ratio: float, humidity: float, slip: float, more_co: float, no: float) -> None:
    """Lean and rich, with all that an analyser sees beside oxygen."""
    gas = {"methane": 1.0}
    co = least_co(gas, ratio) + more_co
    one = burn(gas, ratio, humidity, slip, co, no, no / 4)
    if one.oxygen < 0:
        return
    read = Pollutants(one.carbon_monoxide, one.hydrocarbons, one.no, one.no2)
    by_oxygen = from_oxygen(one.oxygen, 1, 4, 0, 0, read, humidity)
    by_carbon = from_carbon_dioxide(one.carbon_dioxide, 1, 4, 0, 0, read, humidity)
    for found in (by_oxygen, by_carbon):
        assert found.ratio == pytest.approx(ratio, rel=1e-9)
        assert found.hydrogen == pytest.approx(one.hydrogen, rel=1e-7, abs=1e-12)
        assert found.oxygen == pytest.approx(one.oxygen, abs=1e-9)
        assert found.carbon_dioxide == pytest.approx(one.carbon_dioxide, rel=1e-9)
        assert 1 / found.gas == pytest.approx(one.dry_moles, rel=1e-9)
        assert found.air(2.0) == pytest.approx(one.air_moles / one.dry_moles, rel=1e-9)


@given(st.floats(0.95, 1.3), humidities)
def test_brettschneider_and_the_rule_hold_rich(ratio: float, humidity: float) -> None:
    gas = {"methane": 0.95, "ethane": 0.05}
    one, g = burn(gas, ratio, humidity, co=least_co(gas, ratio)), atoms(gas)
    found = lambda_brettschneider(one.carbon_dioxide, one.oxygen, *g[:3], one.carbon_monoxide)
    assert found == pytest.approx(ratio, rel=5e-3)  # its water is that of dry air
    rule = balance_1065(one.carbon_dioxide, *g, one.carbon_monoxide, humidity=humidity).ratio
    assert rule == pytest.approx(ratio, rel=6e-3)


@given(any_gas, lean, humidities)
def test_humidity_changes_wet_readings_only(gas: dict[str, float], ratio: float, humidity: float) -> None:
    dry_air, moist = (exhaust(ratio, *atoms(gas), humidity=one) for one in (0.0, humidity))
    for name in ("oxygen", "carbon_dioxide", "nitrogen"):
        assert getattr(moist, name) / moist.dry == getattr(dry_air, name) / dry_air.dry
    assert moist.oxygen / moist.wet <= dry_air.oxygen / dry_air.wet
    assert water_fraction(ratio, *atoms(gas), humidity) >= water_fraction(ratio, *atoms(gas))


@given(natural_gases, lean, st.floats(0.0, 0.3))
def test_air_in_the_sample_line_stays_on_the_line_of_the_gas(gas: dict[str, float], ratio: float, leak: float) -> None:
    """So oxygen and carbon dioxide cannot show a leak: both say the same, too lean."""
    one, g = burn(gas, ratio), atoms(gas)
    oxygen = (one.oxygen + leak * 0.2095) / (1 + leak)
    carbon_dioxide = one.carbon_dioxide / (1 + leak)
    too_lean = from_oxygen(oxygen, *g).ratio
    assert from_carbon_dioxide(carbon_dioxide, *g).ratio == pytest.approx(too_lean, rel=1e-9)
    assert too_lean >= ratio * (1 - 1e-12)


@given(st.floats(1.0, 2.6))
def test_nitrogen_needs_no_gas_where_the_gas_has_none(ratio: float) -> None:
    one = burn({"methane": 0.9, "ethane": 0.1}, ratio)
    assert lambda_from_nitrogen(one.oxygen, one.carbon_dioxide) == pytest.approx(ratio, rel=1e-9)


@given(any_gas, lean, humidities)
def test_exhaust_flow_is_the_same_by_carbon_by_oxygen_and_by_air(
    gas: dict[str, float], ratio: float, humidity: float
) -> None:
    one, g = burn(gas, ratio, humidity), atoms(gas)
    by_carbon = dry_exhaust_from_carbon(2.0, g[0], one.carbon_dioxide)
    assert by_carbon == pytest.approx(2.0 * one.dry_moles, rel=1e-9)
    balanced = from_oxygen(one.oxygen, *g)
    assert 2.0 / balanced.gas == pytest.approx(by_carbon, rel=1e-9)
    air_mass = 2.0 * one.air_moles * (28.96546e-3 + humidity * 18.015e-3)
    from_air = dry_exhaust_from_air(air_mass, balanced.air(stoichiometric_oxygen(*g[:3])), humidity)
    assert from_air == pytest.approx(by_carbon, rel=1e-9)
    whole = exhaust_mass_flow(2.0, ratio, *g, humidity)
    assert whole == pytest.approx(2.0 * molar_mass(*g) + air_mass, rel=1e-9)  # what goes in comes out


@given(st.floats(0.0, 0.9), st.floats(0.0, 0.3), st.floats(0.0, 0.3))
def test_wet_and_dry_are_inverse(fraction: float, water: float, left: float) -> None:
    assert dry_from_wet(wet_from_measured(fraction, 0.0, water), water) == pytest.approx(fraction, rel=1e-12)
    assert wet_from_measured(fraction, water, water) == pytest.approx(fraction, rel=1e-12)
    assert wet_from_measured(dry_from_wet(fraction, left) * (1 - left), left, left) == pytest.approx(
        fraction / (1 - left) * (1 - left), rel=1e-12
    )


@given(st.floats(275.0, 370.0), st.floats(60e3, 110e3))
def test_a_sample_is_saturated_at_its_dew_point(temperature: float, pressure: float) -> None:
    water = saturated_sample(temperature, pressure)
    if np.isfinite(water):
        assert exhaust_dew_point(water, pressure) == pytest.approx(temperature, abs=1e-5)


def test_at_the_reference_humidity_no_form_changes_nox():
    mass = humid.REFERENCE_HUMIDITY
    moles = mass * 28.96559 / 18.01528
    fraction = moles / (1 + moles)
    assert humid.factor_spark_ignition(fraction) == pytest.approx(1.0, abs=1e-3)
    assert humid.factor_compression_ignition(fraction) == pytest.approx(1.0, abs=1e-3)
    assert humid.factor_vehicle(mass) == pytest.approx(1.0, abs=1e-12)
    assert humid.factor_gas_engine_iso(mass) == pytest.approx(1.0, abs=2e-4)


@given(st.floats(0.0, 0.023), st.floats(1e-4, 0.002))
def test_more_water_in_the_air_always_corrects_nox_upward(humidity: float, more: float) -> None:
    for form in (
        humid.factor_spark_ignition,
        humid.factor_compression_ignition,
        humid.factor_vehicle,
        humid.factor_gas_engine_iso,
    ):
        assert form(humidity + more) > form(humidity)


def test_humidity_that_no_air_has_gets_no_answer():
    no_air = np.array([-0.001, 0.3, np.nan])
    for form in (humid.factor_spark_ignition, humid.factor_vehicle, humid.factor_gas_engine_iso):
        assert np.isnan(form(no_air)).all()


GAS = (1.06, 4.08, 0.02, 0.02)
LOG = {"oxygen": [0.089, 0.209, 0.2095, np.nan, -0.3], "co2": [0.069, 0.0, -0.01, np.nan, 0.6]}


def test_a_standing_engine_answers_nan_and_leaves_the_rest() -> None:
    o2, co2 = (np.array(LOG[name]) for name in ("oxygen", "co2"))
    answers = [
        from_oxygen(o2, *GAS).ratio[[0, 2, 3, 4]],
        from_carbon_dioxide(co2, *GAS).ratio,
        lambda_brettschneider(co2, o2, *GAS[:3])[:4],
        balance_1065(co2, *GAS).ratio,
        lambda_from_wet_oxygen(np.array([0.08, 0.2095, 0.3, np.nan]), *GAS, 0.01),
        air_fuel_ratio(np.array([1.6, 0.0, -1.0]), *GAS),
        water_fraction(np.array([1.6, 0.0, np.nan]), *GAS),
        dry_exhaust_from_carbon(np.array([1.0, 1.0]), 1.06, np.array([0.07, 0.0])),
        humidity_of(np.array([0.01, 1.0, -0.1])),
        exhaust_dew_point(np.array([0.12, 0.0, np.nan]), 1e5),
    ]
    for answer in answers:
        assert np.isfinite(answer[0])
        assert np.isnan(answer[1:]).all()


@given(st.lists(st.tuples(st.floats(0.0, 0.19), st.floats(0.03, 0.15), st.floats(0.0, 0.02)), min_size=1, max_size=5))
def test_one_reading_and_a_log_agree(rows: list[tuple[float, float, float]]) -> None:
    o2, co2, co = (np.array(column) for column in zip(*rows, strict=True))

    def all_forms(o: Values, c: Values, m: Values) -> list[Values]:
        read = Pollutants(m, m / 2, m / 9)
        return [
            from_oxygen(o, *GAS, read, 0.01).ratio,
            from_carbon_dioxide(c, *GAS, read, 0.01).ratio,
            lambda_brettschneider(c, o, *GAS[:3], m),
            balance_1065(c, *GAS, m, m / 2, humidity=0.01).ratio,
            air_fuel_ratio_spindt(c, o, *GAS, m),
            lambda_from_nitrogen(o, c, m),
            water_fraction_from_oxygen(o, *GAS, 0.01),
            lambda_from_wet_oxygen(o, *GAS, 0.01),
        ]

    together = np.array(all_forms(o2, co2, co))
    alone = np.array([[float(one) for one in all_forms(*row)] for row in rows]).T
    np.testing.assert_allclose(together, alone, rtol=1e-12, equal_nan=True)


@given(natural_gases, st.floats(0.0, 0.15), st.floats(1e-4, 0.03))
def test_more_oxygen_is_leaner_and_more_carbon_dioxide_richer(
    gas: dict[str, float], oxygen: float, more: float
) -> None:
    g = atoms(gas)
    assert from_oxygen(oxygen + more, *g).ratio > from_oxygen(oxygen, *g).ratio
    most = float(burn(gas, 1.0).carbon_dioxide)
    here, above = most - 0.05, most - 0.05 + more
    assert from_carbon_dioxide(above, *g).ratio < from_carbon_dioxide(here, *g).ratio


def test_the_handy_shortcut_is_a_trap() -> None:
    """20.95 / (20.95 - O2) reads 1.670 where methane burns at 1.600."""
    oxygen = float(dry_oxygen(1.6, 1, 4, 0, 0))
    assert 0.2095 / (0.2095 - oxygen) == pytest.approx(1.670, abs=5e-4)
    assert excess_air_ratio(oxygen, 1, 4, 0, 0) == pytest.approx(1.6)


def test_forgetting_excess_air_is_the_usual_mistake_with_the_rule() -> None:
    """For raw exhaust the rule's 'dilution' is the excess air: the intake term alone says lambda 1."""
    found = balance_1065(0.071101, 1.035, 4.02, 0.01, 0.03)
    carbon_need = found.fuel_carbon * (1.035 + 4.02 / 4 - 0.01 / 2) / 1.035
    assert found.intake_air * OXYGEN_OF_THE_RULE / carbon_need == pytest.approx(1.0, abs=1e-9)
    assert found.ratio == pytest.approx(1.6024, abs=1e-4)
    assert found.ratio / AIR_IN_RULE == pytest.approx(1.6, abs=1e-4)


def test_very_rich_methane_is_solved_to_the_last_digits() -> None:
    gas, ratio = {"methane": 1.0}, 0.80
    one = burn(gas, ratio, 0.03, co=least_co(gas, ratio))
    assert one.carbon_monoxide > 0.05
    found = from_oxygen(one.oxygen, 1, 4, 0, 0, Pollutants(one.carbon_monoxide), 0.03)
    assert found.ratio == pytest.approx(ratio, abs=1e-9)


def the_rules_own_iteration(co2, gas, co, hc, no, no2, humidity, air_co2):
    """Guess and repeat, term by term as 40 CFR 1065.655(c) is read; for raw exhaust dilution is the excess air."""
    c, h, o, n = gas
    alpha, beta, delta = h / c, o / c, n / c
    water_int, co2_int = humidity / (1 + humidity), air_co2 / (1 + humidity)
    oxygen_int = (0.209820 - air_co2) / (1 + humidity)
    water, dilution, int_dry = 0.1, 0.3, 0.5
    for _ in range(400):
        dil_dry = dilution * (1 + water)
        carbon = co2 + co + hc - co2_int * dil_dry - co2_int * int_dry
        h2 = co * (water - water_int * dil_dry) / (3.5 * (co2 - co2_int * dil_dry))
        water = alpha / 2 * (carbon - hc) + water_int * dil_dry + water_int * int_dry - h2
        int_dry = ((alpha / 2 - beta + 2) * (carbon - hc) - (co - no - 2 * no2 + h2)) / (2 * oxygen_int)
        raw = ((alpha / 2 + beta + delta) * (carbon - hc) + (2 * hc + co - no2 + h2)) / 2 + int_dry
        dilution = 1 - raw / (1 + water)
    total = int_dry + dilution * (1 + water)
    return total * oxygen_int / (carbon * (1 + alpha / 4 - beta / 2)), water / (1 + water)


@given(
    st.floats(0.05, 0.11), st.floats(0.0, 0.02), st.floats(0.0, 0.003), st.floats(0.0, 0.003), humidities,
    st.floats(0.0, 5e-4),
)  # fmt: skip
def test_the_rule_is_solved_as_its_own_iteration_ends(
    co2: float, co: float, hc: float, no: float, humidity: float, air_co2: float
) -> None:
    gas = (1.035, 4.02, 0.01, 0.03)
    found = balance_1065(co2, *gas, co, hc, no, no / 5, humidity, air_co2)
    if np.isfinite(found.ratio):
        ratio, water = the_rules_own_iteration(co2, gas, co, hc, no, no / 5, humidity, air_co2)
        assert found.ratio == pytest.approx(ratio, rel=1e-10)
        assert found.water == pytest.approx(water, rel=1e-10)
