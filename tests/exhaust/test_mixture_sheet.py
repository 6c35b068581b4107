"""Mixture on the sheet of a visit: which ways there are, what wet readings become, and what is found in them.

Readings come from the oracle, so lambda is known; uncertainties are those of a portable analyser.
"""

from __future__ import annotations

import pytest

from asfound.errors import InputError
from asfound.exhaust import findings_burning, findings_mixture
from asfound.exhaust.checks_mixture import checks
from asfound.exhaust.worksheets_mixture import mixture_from_nitrogen
from asfound.quantities.findings import Case
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Reading
from asfound.quantities.worked import Worked
from asfound.quantities.worksheets import find as worksheet

from .mixture_oracle import atoms, burn, least_co

GAS = {"methane": 0.94, "ethane": 0.03, "propane": 0.01, "carbon_dioxide": 0.005, "nitrogen": 0.015}
BIOGAS = {"methane": 0.6, "carbon_dioxide": 0.4}
U = {
    "exhaust_oxygen_dry": 0.0015,
    "exhaust_oxygen_wet": 0.002,
    "exhaust_co2_dry": 0.0012,
    "exhaust_co_dry": 15e-6,
    "exhaust_nox_dry": 5e-6,
    "exhaust_hydrocarbons_dry": 50e-6,
    "oxygen_sensor_reading": 0.002,
}


def reading(name: str, value: float, place: str = "stack") -> Reading:
    return Reading(
        quantity=name, place=place, state="as_found", time="2032-07-08T09:00:00+00:00", value=value,
        unit=quantity(name).si_unit, as_typed=f"{value:g}", standard_uncertainty=U.get(name, 0.0),
    )  # fmt: skip


def gas_readings(gas: dict[str, float]) -> list[Reading]:
    return [reading(f"fuel_{name}", value, "fuel") for name, value in gas.items()]


def sheet(gas: dict[str, float], *given: Reading, humidity: float = 0.0) -> Worked:
    water = humidity / (1 + humidity)
    return work_out([*gas_readings(gas), reading("air_water_fraction", water, "site"), *given], number=2000)


def found(worked: Worked) -> dict[str, Finding]:
    case = Case(readings=worked.readings, worked=worked)
    return {one.code: one for topic in (findings_mixture, findings_burning) for one in topic.find(case)}


def lambdas(worked: Worked, place: str = "stack") -> dict[str, float]:
    return {one.worksheet: one.value for one in worked.alternatives(f"as_found/{place}/excess_air_ratio")}


def analyser(one, *, co: bool = True) -> list[Reading]:
    given = [reading("exhaust_oxygen_dry", one.oxygen), reading("exhaust_co2_dry", one.carbon_dioxide)]
    return [*given, reading("exhaust_co_dry", one.carbon_monoxide)] if co else given


def test_every_way_finds_the_lambda_that_was_burned():
    one = burn(GAS, 1.65, 0.01, 0.0, 0.006, 0.001)
    wet = reading("exhaust_oxygen_wet", one.oxygen * (1 - one.water_wet))
    given = [*analyser(one), wet, reading("exhaust_nox_dry", one.no)]
    ways = lambdas(sheet(GAS, *given, humidity=0.01))
    assert list(ways) == [
        "mixture_from_oxygen_and_co", "mixture_from_oxygen", "mixture_from_wet_oxygen", "mixture_from_co2",
        "mixture_brettschneider", "mixture_1065", "mixture_spindt", "mixture_from_nitrogen",
    ]  # fmt: skip
    exact = {"mixture_from_oxygen_and_co": 1e-6, "mixture_from_co2": 1e-6, "mixture_brettschneider": 2e-4}
    for name, value in ways.items():
        assert value == pytest.approx(1.65, rel=exact.get(name, 8e-3)), name


def test_unburned_fuel_is_counted_where_it_was_read():
    """AP-42 has some 3 % of the methane unburned in lean engines; oxygen alone then reads 0.05 high."""
    one = burn(GAS, 1.65, 0.01, 0.03, 0.006)
    worked = sheet(GAS, *analyser(one), reading("exhaust_hydrocarbons_dry", one.hydrocarbons), humidity=0.01)
    ways = lambdas(worked)
    assert ways["mixture_from_oxygen_and_co"] == pytest.approx(1.65, abs=2e-3)
    assert ways["mixture_from_oxygen"] == pytest.approx(1.70, abs=0.01)
    assert worked.result("as_found/stack/unburned_fuel_share").value == pytest.approx(0.03 / atoms(GAS)[0], rel=5e-3)
    assert found(worked)["EX-10"].next_step == "Nothing to do."
    efficiency = worked.result("as_found/stack/combustion_efficiency").value
    assert efficiency == pytest.approx(1 - 0.03 / atoms(GAS)[0] - 0.006, abs=3e-4)


def test_rich_of_stoichiometric_with_a_three_way_catalyst():
    ratio = 0.985
    one = burn(GAS, ratio, 0.01, co=least_co(GAS, ratio) + 0.002)
    assert one.oxygen > 0
    ways = lambdas(sheet(GAS, *analyser(one), humidity=0.01))
    for name in ("mixture_from_oxygen_and_co", "mixture_from_co2", "mixture_brettschneider", "mixture_1065"):
        assert ways[name] == pytest.approx(ratio, abs=3e-3), name
    assert ways["mixture_from_oxygen"] > 1.0  # blind to what did not burn, and its range says so


def test_wet_readings_become_dry_and_everything_follows():
    one = burn(GAS, 1.65, 0.016, co=0.006)
    dry = 1 - one.water_wet
    given = [
        reading("exhaust_oxygen_wet", one.oxygen * dry),
        reading("exhaust_co_wet", one.carbon_monoxide * dry),
        reading("exhaust_co2_wet", one.carbon_dioxide * dry),
        reading("exhaust_nox_wet", 120e-6 * dry),
        reading("exhaust_hydrocarbons_wet", 900e-6 * dry),
    ]
    worked = sheet(GAS, *given, humidity=0.016)

    def value(name: str) -> float:
        return worked.result(f"as_found/stack/{name}").value

    assert value("exhaust_oxygen_dry") == pytest.approx(one.oxygen, rel=2e-3)  # CO holds back a little oxygen
    assert value("exhaust_water_fraction") == pytest.approx(one.water_wet, rel=2e-3)
    assert value("exhaust_co_dry") == pytest.approx(one.carbon_monoxide, rel=1e-3)
    assert value("exhaust_co2_dry") == pytest.approx(one.carbon_dioxide, rel=1e-3)
    assert value("exhaust_nox_dry") == pytest.approx(120e-6, rel=1e-3)
    assert value("exhaust_hydrocarbons_dry") == pytest.approx(900e-6, rel=1e-3)
    assert worked.result("as_found/stack/nox_at_reference_oxygen") is not None


def test_a_dry_reading_goes_before_what_a_wet_one_becomes():
    given = [reading("exhaust_oxygen_dry", 0.089), reading("exhaust_oxygen_wet", 0.070)]
    taken = sheet(GAS, *given).result("as_found/stack/excess_air_ratio")
    assert "as_found/stack/exhaust_oxygen_wet" not in {one.key for one in taken.readings()}


def test_what_to_set_is_what_an_analyser_then_reads():
    worked = sheet(BIOGAS, reading("target_excess_air_ratio", 1.5, "engine"), humidity=0.012)
    one = burn(BIOGAS, 1.5, 0.012)
    expected = {
        "oxygen_to_set": one.oxygen,
        "oxygen_to_set_wet": one.oxygen * (1 - one.water_wet),
        "co2_to_set": one.carbon_dioxide,
    }
    for name, value in expected.items():
        assert worked.result(f"as_found/engine/{name}").value == pytest.approx(value, rel=1e-9)


def test_nox_at_reference_humidity_never_reaches_the_permit():
    worked = sheet(GAS, reading("exhaust_oxygen_dry", 0.089), reading("exhaust_nox_dry", 154.7e-6), humidity=0.0225)
    corrected = worked.result("as_found/stack/nox_at_reference_humidity")
    assert corrected.value == pytest.approx(169.5e-6, abs=0.1e-6)  # 40 CFR 1065.670, its own example at 0.022
    assert "not for stationary limits" in corrected.method.name
    permit = worked.result("as_found/stack/nox_at_reference_oxygen")
    assert not {one.quantity for _, one in permit.walk()} & {"air_water_fraction", "humidity_ratio"}


def test_exhaust_flow_agrees_by_carbon_by_oxygen_and_by_air():
    one = burn(GAS, 1.65, 0.01)
    gas_flow = 0.1  # m3(n)/s
    moles = gas_flow / (8.314462618 * 273.15 / 101_325)
    air = moles * one.air_moles * (28.96546e-3 + 0.01 * 18.015e-3)
    given = [reading("fuel_flow", gas_flow, "engine"), reading("intake_air_mass_flow", air, "engine")]
    worked = sheet(GAS, *analyser(one, co=False), *given, humidity=0.01)
    expected = moles * one.dry_moles * 8.314462618 * 293.15 / 101_325
    flows = {one.worksheet: one.value for one in worked.alternatives("as_found/stack/exhaust_flow_dry")}
    for name in ("exhaust_flow_from_carbon", "exhaust_flow_from_oxygen", "exhaust_flow_from_intake"):
        assert flows[name] == pytest.approx(expected, rel=1e-6), name
    assert flows["exhaust_flow_dry"] == pytest.approx(expected, rel=0.015)  # F factor and heating value
    mass = worked.result("as_found/stack/exhaust_mass_flow").value
    assert mass == pytest.approx(air + moles * 17.06e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "value", "sheet_name"),
    [
        ("exhaust_oxygen_dry", 0.21, "mixture_from_oxygen"),
        ("exhaust_oxygen_wet", 0.208, "mixture_from_wet_oxygen"),
        ("exhaust_co2_dry", 7.0, "mixture_from_co2"),
        ("exhaust_co2_dry", 0.0, "mixture_1065"),
    ],
)
def test_nonsense_is_refused_with_what_to_do(name: str, value: float, sheet_name: str):
    with pytest.raises(InputError) as refused:
        worksheet(sheet_name).refuses[name](reading(name, value))
    assert refused.value.try_next


def test_spindt_refuses_biogas_and_says_what_to_take():
    one = burn(BIOGAS, 1.5)
    worked = sheet(BIOGAS, *analyser(one, co=False))
    assert "mixture_spindt" not in lambdas(worked)
    (said,) = (one.says for one in worked.refused if one.worksheet == "mixture_spindt")
    assert "Brettschneider" in said


def test_nitrogen_of_the_gas_is_outside_what_the_tie_holds_for():
    gas = {"methane": 0.85, "nitrogen": 0.15}
    one = burn(gas, 1.5)
    worked = sheet(gas, *analyser(one, co=False))
    tied = worked.result("as_found/stack/excess_air_ratio", "mixture_from_nitrogen")
    assert tied.outside
    assert mixture_from_nitrogen(one.oxygen, one.carbon_dioxide, 0.0, 0.3) == pytest.approx(1.5 * 0.9924, rel=1e-3)


def test_agreeing_witnesses_are_noted():
    one = burn(GAS, 1.65, 0.01)
    codes = found(sheet(GAS, *analyser(one, co=False), humidity=0.01))
    assert set(codes) == {"EX-10"}
    assert "agree" in codes["EX-10"].says
    assert "Hydrocarbons were not read" in codes["EX-10"].next_step


def test_biogas_burned_under_the_analysis_of_pipeline_gas():
    one = burn(BIOGAS, 1.5)
    told = found(sheet(GAS, *analyser(one, co=False)))
    assert set(told) == {"EX-13"}
    assert "do not fit this gas" in told["EX-13"].says
    assert told["EX-13"].severity == "clash"
    assert "gas analysis" in told["EX-13"].next_step
    assert "the gas holds more of it than analysed" in told["EX-13"].next_step


def test_where_nobody_analysed_the_gas_the_finding_says_that_it_was_assumed():
    one = burn(BIOGAS, 1.5)
    worked = work_out(analyser(one, co=False), number=2000)
    assert "assumed" in found(worked)["EX-13"].says


def test_units_cannot_change_a_result():
    """A share typed in per cent, parts per million or as it is gives one lambda, to the last digit but one."""
    ways = []
    for text in ("8.9 %", "89000 ppm", "0.089 mol/mol"):
        value = parse_amount(text, quantity="exhaust_oxygen_dry", decimal=".").value
        assert value is not None
        ways.append(lambdas(sheet(GAS, reading("exhaust_oxygen_dry", value)))["mixture_from_oxygen"])
    assert ways == pytest.approx([ways[0]] * 3, rel=1e-14)


def test_a_leak_in_the_sample_line_shows_against_the_hot_probe_and_not_against_carbon_dioxide():
    one, leak = burn(GAS, 1.55, 0.01), 0.12
    oxygen = (one.oxygen + leak * 0.2095) / (1 + leak)
    carbon_dioxide = one.carbon_dioxide / (1 + leak)
    dry = [reading("exhaust_oxygen_dry", oxygen), reading("exhaust_co2_dry", carbon_dioxide)]
    assert set(found(sheet(GAS, *dry, humidity=0.01))) == {"EX-10"}
    probe = reading("exhaust_oxygen_wet", one.oxygen * (1 - one.water_wet))
    three = found(sheet(GAS, *dry, probe, humidity=0.01))
    assert "wet oxygen stands apart" in three["EX-11"].says  # two against one; the words name the line too
    two = found(sheet(GAS, dry[0], probe, humidity=0.01))
    assert set(two) == {"EX-14"}
    assert "sample line" in two["EX-14"].next_step


def test_an_old_oxygen_cell_stands_apart_from_two_others():
    one = burn(GAS, 1.65, 0.01)
    given = [
        reading("exhaust_oxygen_dry", one.oxygen - 0.012),
        reading("exhaust_co2_dry", one.carbon_dioxide),
        reading("exhaust_oxygen_wet", one.oxygen * (1 - one.water_wet)),
    ]
    told = found(sheet(GAS, *given, humidity=0.01))
    assert "dry oxygen stands apart" in told["EX-11"].says
    assert "cell" in told["EX-11"].next_step


def test_the_engines_own_sensor():
    one = burn(GAS, 1.65, 0.01)
    oxygen = reading("exhaust_oxygen_dry", one.oxygen)
    wet = one.oxygen * (1 - one.water_wet)

    def codes(shown: float) -> set[str]:
        return set(found(sheet(GAS, oxygen, reading("oxygen_sensor_reading", shown, "engine"), humidity=0.01)))

    assert codes(wet) == set()
    assert codes(one.oxygen) == {"EX-16"}
    assert codes(one.oxygen + 0.02) == {"EX-15"}


def test_unburned_fuel_carbon_monoxide_beside_oxygen_and_air_across_the_catalyst():
    one = burn(GAS, 1.65, 0.01, 0.07)
    told = found(sheet(GAS, *analyser(one), reading("exhaust_hydrocarbons_dry", one.hydrocarbons), humidity=0.01))
    assert "EX-17" in told
    assert "EX-18" in found(sheet(GAS, reading("exhaust_oxygen_dry", 0.03), reading("exhaust_co_dry", 0.006)))
    assert "EX-18" not in found(sheet(GAS, reading("exhaust_oxygen_dry", 0.22), reading("exhaust_co_dry", 0.006)))
    sides = [
        reading("exhaust_oxygen_dry", 0.079, "before_catalyst"),
        reading("exhaust_oxygen_dry", 0.095, "after_catalyst"),
    ]
    assert "Air comes in between" in found(sheet(GAS, *sides))["EX-19"].next_step
    banks = [reading("exhaust_oxygen_dry", 0.079, "left_bank"), reading("exhaust_oxygen_dry", 0.088, "right_bank")]
    assert "left bank" in found(sheet(GAS, *banks))["EX-19"].says
    same = [reading("exhaust_oxygen_dry", 0.079, place) for place in ("before_catalyst", "after_catalyst")]
    assert "EX-19" not in found(sheet(GAS, *same))


def test_a_fuel_meter_read_at_another_reference_moves_one_way_to_the_flow():
    one = burn(GAS, 1.65, 0.01)
    given = [reading("fuel_flow", 0.1, "engine"), reading("intake_air_mass_flow", 2.6, "engine")]
    told = found(sheet(GAS, *analyser(one, co=False), *given, humidity=0.01))
    assert "fuel meter" in told["EX-12"].next_step


def test_all_published_values_hold():
    assert [one.check for one in checks() if not one.holds] == []
