"""Concentrations and rates: laws they must keep, worksheets beside the formulas, and what they refuse."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound.exhaust.emission_rate as rate
from asfound.errors import InputError
from asfound.exhaust import hydrocarbons, method_19, worksheets_rates
from asfound.exhaust.concentration import MOLAR_MASS, mass_concentration
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading, Result
from asfound.quantities.worked import Worked

fraction = st.floats(1e-9, 5e-3)
share = st.floats(0.0, 0.19)
F_DRY = float(rate.f_factor_si(8710.0))


def read(name: str, typed: str, place: str = "stack", u: float = 0.0) -> Reading:
    amount = parse_amount(typed, quantity=name)
    assert amount.value is not None
    return Reading(
        quantity=name, place=place, state="as_found", time="2032-05-02T09:00Z", value=amount.value,
        unit=quantity(name).si_unit, as_typed=typed, standard_uncertainty=u,
    )  # fmt: skip


STACK = (
    read("exhaust_oxygen_dry", "9.4 %"),
    read("exhaust_nox_dry", "75 ppm"),
    read("exhaust_co_dry", "410 ppm"),
    read("exhaust_voc_dry", "32.5 ppm"),
    read("exhaust_formaldehyde_dry", "18 ppm"),
    read("exhaust_methane_dry", "1400 ppm"),
    read("exhaust_so2_dry", "1.2 ppm"),
    read("exhaust_co2_dry", "6.45 %"),
    read("fuel_heat_input", "2905.9 kW", "engine"),
    read("engine_power", "1340 hp", "engine"),
)


@given(fraction, share, st.floats(0.02, 0.25))
def test_wet_and_dry_readings_of_one_gas_give_one_mass_per_heat(c: float, o: float, water: float) -> None:
    dry = rate.mass_per_heat(c, o, F_DRY, MOLAR_MASS["nox"])
    wet = method_19.mass_per_heat_wet(c * (1 - water), o * (1 - water), water, F_DRY, MOLAR_MASS["nox"])
    assert wet == pytest.approx(dry, rel=1e-9)


@given(fraction, share)
def test_dry_air_has_no_moisture_to_count(c: float, o: float) -> None:
    """Without any water the route by ambient moisture is the dry one."""
    moist = method_19.mass_per_heat_ambient_moisture(c, o, 0.0, F_DRY, MOLAR_MASS["co"])
    assert moist == pytest.approx(rate.mass_per_heat(c, o, F_DRY, MOLAR_MASS["co"]), rel=1e-12)


@given(fraction, st.floats(1.05, 2.2))
def test_carbon_dioxide_and_oxygen_agree_where_the_factors_are_of_the_gas(c: float, ratio: float) -> None:
    """Methane in 20.9 % air by the elements: dry exhaust 1 + 2(0.791/0.209) and 2(ratio - 1)/0.209 of air a mole."""
    stoichiometric = 1 + 2 * 0.791 / 0.209
    dry = stoichiometric + 2 * (ratio - 1) / 0.209
    oxygen, carbon_dioxide = 2 * (ratio - 1) / dry, 1 / dry
    factor = method_19.fuel_factor(stoichiometric, 1.0)
    by_carbon = method_19.at_reference_by_carbon_dioxide(c, carbon_dioxide, 0.15, factor)
    assert by_carbon == pytest.approx(at_reference_oxygen(c, oxygen, 0.15), rel=1e-9)
    per_heat = method_19.mass_per_heat_by_carbon_dioxide(c, carbon_dioxide, 1e-9, MOLAR_MASS["nox"])
    assert per_heat == pytest.approx(rate.mass_per_heat(c, oxygen, stoichiometric * 1e-9, MOLAR_MASS["nox"]), rel=1e-9)


@given(st.floats(0.9, 1.2), st.floats(0.0, 0.05), st.floats(1e-6, 5e-3), st.floats(0.0, 2e-3))
def test_a_cutter_tells_methane_from_the_rest(response: float, passage: float, methane: float, rest: float) -> None:
    """What a pair of analysers would read of a known mixture comes back."""
    whole = rest + response * methane
    behind = passage * rest + methane
    found = hydrocarbons.methane_and_nonmethane(whole, behind, response, passage)
    assert found[0] == pytest.approx(methane, rel=1e-9)
    assert found[1] == pytest.approx(rest, rel=1e-9, abs=1e-15)
    assert hydrocarbons.nonmethane_from_methane(whole, methane, response) == pytest.approx(rest, rel=1e-9, abs=1e-15)


def test_nonmethane_is_a_small_difference_of_large_numbers() -> None:
    """0.02 in the response to methane moves it by more than a third.

    A form that puts methane itself into the second equation of 40 CFR 1065.660 divides twice: it would give 83.55 and
    52.46 here, and no mixture would come back from what its analysers read.
    """
    low = hydrocarbons.methane_and_nonmethane(1650.0, 1495.0, 1.05, 0.019)[1]
    high = hydrocarbons.methane_and_nonmethane(1650.0, 1495.0, 1.07, 0.019)[1]
    assert [float(low), float(high)] == pytest.approx([81.8836, 51.3949], abs=1e-4)
    assert high / low - 1 < -0.35


@given(st.floats(0.0, 1e-2), st.floats(0.0, 3e7), st.floats(1.0, 10.0))
def test_a_year_is_as_long_as_it_runs(emitted: float, running: float, more: float) -> None:
    assert rate.annual_mass(emitted, running * more) == pytest.approx(more * rate.annual_mass(emitted, running))


def test_a_standing_engine_answers_nan_and_leaves_the_rest() -> None:
    carbon_dioxide = np.array([0.0645, 0.0, -0.001, np.nan])
    for answer in (
        method_19.at_reference_by_carbon_dioxide(75e-6, carbon_dioxide, 0.15, 1.75),
        method_19.mass_per_heat_by_carbon_dioxide(75e-6, carbon_dioxide, 3e-8, MOLAR_MASS["nox"]),
    ):
        assert np.isfinite(answer).tolist() == [True, False, False, False]
    oxygen = np.array([0.07, 0.2, 0.21])
    assert np.isfinite(method_19.mass_per_heat_wet(75e-6, oxygen, 0.1, F_DRY, 0.046)).tolist() == [True, False, False]
    assert np.isnan(rate.annual_mass(np.array([1.0]), -1.0)).all()
    assert np.isnan(rate.weighted_over_cycle(np.ones(3), np.ones(3), np.zeros(3)))


@given(st.lists(fraction, min_size=2, max_size=4))
def test_one_reading_and_a_log_agree(cs: list[float]) -> None:
    log = np.asarray(method_19.at_reference_by_carbon_dioxide(np.array(cs), 0.07, 0.15, 1.75))
    assert log.tolist() == [float(method_19.at_reference_by_carbon_dioxide(c, 0.07, 0.15, 1.75)) for c in cs]


def result(worked: Worked, key: str, worksheet: str | None = None) -> Result:
    found = worked.result(f"as_found/{key}", worksheet)
    assert found is not None, key
    return found


def test_every_species_has_its_rates() -> None:
    worked = work_out(STACK)
    assert not worked.refused
    for one in worksheets_rates.SPECIES:
        for what in ("at_reference_oxygen", "mass_flow", "mass_per_heat", "annual_mass"):
            assert result(worked, f"stack/{one.key}_{what}")
    assert result(worked, "stack/formaldehyde_mass_per_energy")


def test_rates_are_those_of_the_rule() -> None:
    """60.4244(f) by hand: 32.5 ppm x 1.833e-3 g/m3 x flow over 1,340 hp; flow by Method 19 from the same heat."""
    worked = work_out(STACK)
    flow = result(worked, "stack/exhaust_flow_dry", "exhaust_flow_dry").value * 3600
    voc = result(worked, "stack/voc_mass_per_energy").value
    assert quantity("voc_mass_per_energy").to_unit(voc, "g/hp-h") == pytest.approx(
        32.5 * 1.833e-3 * flow / 1340, rel=1e-6
    )


def test_a_year_without_hours_is_assumed_whole_and_says_so() -> None:
    tons = result(work_out(STACK), "stack/nox_annual_mass")
    assert any("8,760 h" in one.said_by for one in tons.assumed)
    part = result(work_out((*STACK, read("annual_hours", "500 h", "engine"))), "stack/nox_annual_mass")
    assert part.value == pytest.approx(tons.value * 500 / 8760)
    assert not any(one.quantity == "annual_hours" for one in part.assumed)


def test_both_routes_to_the_reference_stand_side_by_side() -> None:
    both = work_out(STACK).alternatives("as_found/stack/nox_at_reference_oxygen")
    assert [one.worksheet for one in both] == ["nox_at_reference_oxygen", "nox_at_reference_oxygen_by_co2"]
    assert both[1].value == pytest.approx(both[0].value, rel=0.05)


def test_units_cannot_change_a_result() -> None:
    """Any unit a reading is typed in, and any volume state a mass is shown at, is the same gas."""
    typed = {"exhaust_formaldehyde_dry": "0.0018 %", "fuel_heat_input": f"{2905.9e3 / 0.29307107:.6f} Btu/h"}
    other = [read(one.quantity, typed.get(one.quantity, one.as_typed), one.place) for one in STACK]
    for name in ("formaldehyde_mass_flow", "formaldehyde_mass_per_heat", "nox_mass_flow"):
        mine, theirs = (result(work_out(sheet), f"stack/{name}").value for sheet in (STACK, other))
        assert theirs == pytest.approx(mine, rel=1e-6)
    about = quantity("formaldehyde_mass_concentration")
    at_zero = about.from_unit(10.0, "mg/m3(n)")
    assert about.to_unit(at_zero, "mg/m3 (20 C, 101.325 kPa)") == pytest.approx(10 * 273.15 / 293.15, rel=1e-9)
    for kelvin, state in (
        (288.15, "15 C, 101.325 kPa"),
        (288.70555556, "60 F, 14.696 psia"),
        (293.15, "20 C, 101.325 kPa"),
    ):
        direct = mass_concentration(1e-6, MOLAR_MASS["formaldehyde"], kelvin)
        shown = about.to_unit(float(mass_concentration(1e-6, MOLAR_MASS["formaldehyde"])), f"mg/m3 ({state})")
        assert shown == pytest.approx(1e6 * direct, rel=1e-5)  # 14.696 psia is rounded


def test_nox_of_its_parts_goes_behind_a_reading_of_nox() -> None:
    parts = (read("exhaust_no_dry", "60 ppm"), read("exhaust_no2_dry", "15 ppm"), read("exhaust_oxygen_dry", "9.4 %"))
    assert result(work_out(parts), "stack/exhaust_nox_dry").value == pytest.approx(75e-6)
    whole = result(work_out((*parts, read("exhaust_nox_dry", "80 ppm"))), "stack/nox_at_reference_oxygen")
    assert whole.value == pytest.approx(80e-6 * 5.9 / 11.5)


def test_voc_of_a_spectrometer_is_brought_to_flame_ionisation() -> None:
    """60.4244(g): 12.4 ppm of carbon, response 47/51 (reference case N08), in propane: a third."""
    species = read("exhaust_voc_species_dry", "12.4 ppm")
    as_is = result(work_out([species]), "stack/exhaust_voc_dry")
    assert as_is.value == pytest.approx(12.4e-6 / 3)
    corrected = result(
        work_out([species, read("voc_response_factor", f"{47 / 51:.9f}", "engine")]), "stack/exhaust_voc_dry"
    )
    assert corrected.value == pytest.approx(11.427451e-6 / 3, rel=1e-6)
    milligrams = 1e6 * float(mass_concentration(corrected.value, MOLAR_MASS["propane"], 293.15))
    assert milligrams == pytest.approx(6.96846, rel=0.003), "the rule's rounded 0.6098"


@pytest.mark.parametrize(
    ("name", "typed", "place", "worksheet"),
    [
        ("exhaust_co2_dry", "0.04 %", "stack", "nox_at_reference_oxygen_by_co2"),
        ("exhaust_oxygen_dry", "20.9 %", "stack", "voc_at_reference_oxygen"),
        ("annual_hours", "41230 h", "engine", "nox_annual_mass"),
    ],
)
def test_nonsense_is_refused_with_what_to_do(name: str, typed: str, place: str, worksheet: str) -> None:
    readings = [one for one in STACK if one.quantity != name] + [read(name, typed, place)]
    error = next(one.error for one in work_out(readings).refused if one.worksheet == worksheet)
    assert isinstance(error, InputError)
    assert error.given == typed
    assert error.allowed
    assert error.try_next


def test_more_moisture_raises_the_mass_per_heat() -> None:
    masses = [float(method_19.mass_per_heat_wet(60e-6, 0.08, water, F_DRY, 0.046)) for water in (0.05, 0.10, 0.15)]
    assert all(low < high for low, high in pairwise(masses))
