"""The load by generator, torque and fuel: definitions done by hand, the laws, and what the findings say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound.power.generator as generator
import asfound.power.shaft_power as shaft
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit
from asfound.quantities.worksheets import load

from .visit import findings, reading, sheet, value

powers = st.floats(1e3, 2e7)
factors = st.floats(0.1, 1.0)
NOX = Limit(quantity="nox_mass_per_energy", value=3.7e-10, as_typed="1.0 g/hp-h")


# --- laws


@given(powers, factors)
def test_active_and_apparent_power_there_and_back(apparent: float, factor: float) -> None:
    active = generator.active_power(apparent, factor)
    assert generator.apparent_power_by_factor(active, factor) == pytest.approx(apparent, rel=1e-12)
    assert generator.power_factor(active, apparent) == pytest.approx(factor, rel=1e-12)
    reactive = apparent * math.sqrt(max(0.0, 1 - factor**2))
    assert generator.apparent_power(active, reactive) == pytest.approx(apparent, rel=1e-9)


@given(powers, st.floats(0.6, 1.0), st.floats(0.90, 0.975), st.floats(0.0, 0.02))
def test_losses_give_back_the_efficiencies_they_came_from(rated: float, pf: float, full: float, less: float) -> None:
    constant, load_loss = generator.losses(rated, pf, full, full - less)
    if not np.isfinite(constant):  # half load so much better or worse than full that no two losses can be behind it
        return
    for apparent, expected in ((rated, full), (rated / 2, full - less)):
        found = generator.efficiency(apparent * pf, apparent, rated, constant, load_loss)
        assert found == pytest.approx(expected, rel=1e-12)


@given(st.floats(0.3, 0.95), st.floats(1.01, 1.05))
def test_a_worse_power_factor_costs_efficiency_at_the_same_kilowatts(pf: float, better: float) -> None:
    at = [float(generator.efficiency(8e5, 8e5 / one, 1e6, 12e3, 25e3)) for one in (pf, min(pf * better, 1.0))]
    assert at[0] < at[1]


@pytest.mark.parametrize(
    ("hertz", "poles", "rpm"), [(60, 8, 900), (60, 6, 1200), (50, 6, 1000), (50, 4, 1500), (60, 4, 1800)]
)
def test_synchronous_speeds(hertz: float, poles: int, rpm: float) -> None:
    """Speed is 120 f / p, in every textbook of electrical machines."""
    speed = generator.synchronous_speed(hertz, poles)
    assert speed * 30 / math.pi == pytest.approx(rpm)
    assert generator.poles(hertz, speed) == pytest.approx(poles)


def test_a_stopped_engine_has_no_answer() -> None:
    stopped = np.array([0.0, -1.0, np.nan])
    for found in (
        generator.shaft_power(stopped, 0.95),
        generator.three_phase_power(480.0, stopped),
        generator.active_power(stopped, 0.8),
        generator.synchronous_speed(stopped, 8),
        generator.efficiency(stopped, 1e6, 1e6, 1e4, 1e4),
        generator.metered_power(stopped, 3600.0, 60.0, 1.0, 1.0),
        shaft.from_torque(stopped, 94.0),
        shaft.from_torque(9000.0, stopped),
        shaft.from_mean_effective_pressure(12e5, 0.1, stopped),
        shaft.from_cycles(7e5, 0.02, stopped),
        shaft.from_fuel(stopped, 0.38),
    ):
        assert np.isnan(found).all()


def test_arrays_are_scalars_side_by_side() -> None:
    p, eta = np.array([1e5, 5e5, 9e5]), np.array([0.93, 0.95, 0.96])
    assert list(generator.shaft_power(p, eta, 1e4)) == [
        float(generator.shaft_power(*one, 1e4)) for one in zip(p, eta, strict=True)
    ]


def test_two_meters_at_unity_may_cross_a_little_and_not_by_much() -> None:
    assert list(generator.power_factor(np.array([1.02e6, 0.8e6]), 1e6)) == [1.0, 0.8]
    assert np.isnan(generator.power_factor(1.2e6, 1e6))


@given(st.floats(2e5, 25e5), st.floats(0.01, 0.5), st.floats(50.0, 200.0))
def test_two_strokes_give_twice_the_power_of_four(pressure: float, volume: float, speed: float) -> None:
    four = shaft.from_mean_effective_pressure(pressure, volume, speed)
    assert shaft.from_mean_effective_pressure(pressure, volume, speed, 1.0) == pytest.approx(2 * four)
    assert shaft.from_cycles(pressure, volume, speed / (4 * math.pi)) == pytest.approx(four)


# --- on the sheet


def test_every_way_to_the_electrical_power_gives_the_same() -> None:
    """480 V, 1500 A, power factor 0.8: 997.661 kW; the other meters are set to show just that."""
    ways = {
        "generator_power_by_factor": {
            "generator/generator_voltage": "480 V", "generator/generator_current": "1500 A",
            "generator/generator_power_factor": "0.8",
        },
        "generator_power_by_transformers": {
            "generator/generator_meter_power": "3.325537 kW", "generator/current_transformer_ratio": "300",
        },
        "generator_power_by_count": {
            "generator/generator_meter_count": "33", "generator/generator_meter_time": "119.07852 s",
            "generator/generator_meter_constant": "1 Wh", "generator/current_transformer_ratio": "1000",
        },
    }  # fmt: skip
    for name, typed in ways.items():
        assert value(sheet(typed), "generator/generator_power", name) == pytest.approx(997_661, rel=1e-5), name
    worked = sheet(ways["generator_power_by_factor"])
    assert value(worked, "engine/engine_power") == pytest.approx(1044.67e3, rel=1e-5)  # with 95.5 %, as assumed


def test_auxiliaries_that_the_engine_drives_are_carried_too() -> None:
    typed = {"generator/generator_power": "700 kW", "generator/generator_efficiency": "95 %"}
    alone = value(sheet(typed), "engine/engine_power")
    assert value(sheet({**typed, "engine/auxiliary_power": "25 kW"}), "engine/engine_power") == alone + 25e3


def test_efficiency_from_the_test_sheet_goes_before_the_assumed_one() -> None:
    typed = {
        "generator/generator_power": "500 kW", "generator/generator_power_factor": "0.8",
        "generator/generator_rated_apparent_power": "1000 kVA",
        "generator/generator_full_load_efficiency": "95.0 %", "generator/generator_half_load_efficiency": "94.2 %",
    }  # fmt: skip
    worked = sheet(typed)
    efficiency = value(worked, "generator/generator_efficiency")
    assert 0.942 < efficiency < 0.9545  # between half and full load the curve may have its top
    assert value(worked, "engine/engine_power") == pytest.approx(500e3 / efficiency)
    assumed = work_out([reading("generator/generator_power", "500 kW")]).result("as_found/engine/engine_power")
    assert assumed is not None
    assert [one.quantity for one in assumed.assumed] == ["generator_efficiency"]
    low, high = assumed.interval
    assert low == pytest.approx(500e3 / 0.97, rel=2e-3)
    assert high == pytest.approx(500e3 / 0.94, rel=2e-3)


def test_the_roads_come_in_order_and_a_person_can_choose() -> None:
    typed = {
        "generator/generator_power": "700 kW", "engine/engine_torque": "7.8 kN.m", "engine/engine_speed": "900 rpm",
        "engine/fuel_heat_input_net": "1950 kW", "engine/data_sheet_efficiency": "38 %",
    }  # fmt: skip
    worked = sheet(typed)
    roads = [one.worksheet for one in worked.alternatives("as_found/engine/engine_power")]
    assert roads == ["engine_power_from_generator", "engine_power_from_torque", "engine_power_from_fuel"]
    chosen = work_out(
        [reading(key, text) for key, text in typed.items()], chosen={"engine_power": "engine_power_from_torque"}
    ).result("as_found/engine/engine_power")
    assert chosen is not None
    assert chosen.value == pytest.approx(7800 * 900 * math.pi / 30)


def test_a_power_made_from_an_efficiency_never_makes_an_efficiency() -> None:
    """Fuel and data sheet alone: a power, and no efficiency but the one that was typed."""
    alone = sheet({"engine/fuel_heat_input_net": "1950 kW", "engine/data_sheet_efficiency": "38 %"})
    assert value(alone, "engine/engine_power") == pytest.approx(0.38 * 1950e3)
    efficiencies = alone.alternatives("as_found/engine/brake_efficiency")
    assert [one.worksheet for one in efficiencies] == ["efficiency_of_the_data_sheet"]
    both = sheet({
        "engine/fuel_heat_input_net": "1950 kW", "engine/data_sheet_efficiency": "38 %",
        "generator/generator_power": "650 kW",
    })  # fmt: skip
    first, *rest = both.alternatives("as_found/engine/brake_efficiency")
    assert first.worksheet == "efficiency_at_the_shaft"
    assert "data_sheet_efficiency" not in {one.quantity for one in first.readings()}
    assert [one.worksheet for one in rest] == ["efficiency_of_the_data_sheet"]
    by_fuel = both.result("as_found/engine/engine_power", "engine_power_from_fuel")
    assert by_fuel is not None
    assert "generator_power" not in {one.quantity for one in by_fuel.readings()}


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("generator/generator_power_factor", "1.3", "power factor"),
        ("generator/current_transformer_ratio", "0.2", "Divide primary by secondary"),
        ("generator/generator_poles", "1", "pairs"),
        ("engine/data_sheet_efficiency", "88 %", "net heating value"),
        ("generator/generator_efficiency", "20 %", "test sheet"),
    ],
)
def test_nonsense_is_refused_with_what_to_do(key: str, text: str, says: str) -> None:
    typed = {
        "generator/generator_voltage": "480 V", "generator/generator_current": "900 A",
        "generator/generator_power_factor": "0.8", "generator/generator_meter_power": "2 kW",
        "generator/generator_frequency": "60 Hz",
    } | {key: text}  # fmt: skip
    worked = sheet(typed)
    assert any(says in one.says for one in worked.refused)


def test_every_worksheet_of_the_load_names_its_cautions_and_source() -> None:
    from asfound.sources.cautions import cautions
    from asfound.sources.register import sources

    known = {one.tag for one in cautions().values()}
    for sheet_ in load().values():
        if sheet_.formula.__module__.endswith(("_load", "_generator", "_compressor", "_compressor_gas", "_from_fuel")):
            assert set(sheet_.cautions) <= known, sheet_.name
            assert sheet_.method.source in sources(), sheet_.name


# --- findings

SET = {
    "generator/generator_power": "700 kW", "generator/generator_power_factor": "0.85",
    "generator/generator_rated_apparent_power": "1000 kVA", "generator/generator_rated_power_factor": "0.8",
    "generator/generator_frequency": "60.0 Hz", "generator/generator_poles": "8", "engine/engine_speed": "900 rpm",
    "engine/rated_speed": "900 rpm",
}  # fmt: skip


def test_a_sound_set_has_nothing_to_be_told() -> None:
    assert findings(sheet(SET, u=0.003)) == {}
    assert findings(work_out([], number=10)) == {}


def test_roads_that_stand_apart_are_told_with_the_reading_behind_it() -> None:
    torque = {"engine/engine_torque": "9.5 kN.m"}
    (found,) = findings(sheet({**SET, **torque}, u=0.005))["PW-20"]
    assert "from torque and speed" in found.says
    assert "over that from the generator" in found.says
    assert found.severity == "clash"
    assert "No doubt that was stated explains it" in found.next_step
    agreeing = findings(sheet({**SET, "engine/engine_torque": "7.8 kN.m"}, u=0.005))
    assert set(agreeing) == {"PW-21"}


def test_the_reading_that_weighs_most_is_named() -> None:
    typed = [reading(key, text, 0.002) for key, text in SET.items() if key != "generator/generator_efficiency"]
    typed += [
        reading("generator/generator_efficiency", "95 %", 0.001),
        reading("engine/engine_torque", "9.0 kN.m", 0.04),
    ]
    worked = work_out(typed, number=2000)
    (found,) = findings(worked)["PW-20"]
    assert "Most of the doubt between them is in 'Torque'" in found.says
    assert "as_found/engine/engine_torque" in found.because


def test_the_road_by_the_fuel_is_noted_and_no_clash() -> None:
    fuel = {"engine/fuel_heat_input_net": "2150 kW", "engine/data_sheet_efficiency": "40 %"}
    (found,) = findings(sheet({**SET, **fuel}, u=0.005))["PW-20"]
    assert found.severity == "note"
    assert "takes the data sheet's efficiency for granted" in found.next_step


def test_a_permit_by_work_at_the_shaft_asks_for_the_surest_power() -> None:
    assert "PW-22" not in findings(sheet(SET, u=0.003))
    (assumed,) = findings(sheet(SET, u=0.003), limits=(NOX,))["PW-22"]
    assert "'Generator efficiency', assumed" in assumed.says
    assert assumed.severity == "soon"
    own = {**SET, "generator/generator_efficiency": "95.2 %"}
    (entered,) = findings(sheet(own, u=0.003), limits=(NOX,))["PW-22"]
    assert entered.severity == "note"
    by_fuel = {"engine/fuel_heat_input_net": "1950 kW", "engine/data_sheet_efficiency": "38 %"}
    (last,) = findings(sheet(by_fuel, u=0.003), limits=(NOX,))["PW-22"]
    assert last.severity == "soon"


def test_a_power_without_its_doubt_is_not_called_sure() -> None:
    (found,) = findings(sheet({"engine/engine_power": "700 kW"}), limits=(NOX,))["PW-22"]
    assert "without its doubt" in found.says
    two = findings(sheet({"engine/engine_power": "700 kW", "engine/engine_torque": "8 kN.m",
                          "engine/engine_speed": "900 rpm"}))["PW-20"]  # fmt: skip
    assert "no doubt was stated" in two[0].says


def test_a_power_of_nought_is_told_without_a_share() -> None:
    none = {"engine/engine_power": "0 kW", "engine/engine_torque": "8 kN.m", "engine/engine_speed": "900 rpm"}
    (found,) = findings(sheet(none))["PW-20"]
    assert "stands over that as entered, 0.00 kW" in found.says


@pytest.mark.parametrize(("kva", "severity"), [("700 kVA", "visit"), ("824 kVA", "soon"), ("1000 kVA", None)])
def test_over_the_rated_kva(kva: str, severity: str | None) -> None:
    found = findings(sheet({**SET, "generator/generator_rated_apparent_power": kva}, u=0.003)).get("PW-23")
    assert (found[0].severity if found else None) == severity


@pytest.mark.parametrize(("factor", "says"), [("0.70", "below the 0.80"), ("-0.95", "leads"), ("0.82", None)])
def test_power_factor_below_the_plate_or_leading(factor: str, says: str | None) -> None:
    found = findings(sheet({**SET, "generator/generator_power_factor": factor}, u=0.003)).get("PW-24")
    assert (found is None) == (says is None)
    if found and says:
        assert says in found[0].says


def test_frequency_speed_and_poles_must_fit() -> None:
    (found,) = findings(sheet({**SET, "engine/engine_speed": "1000 rpm"}, u=0.001))["PW-25"]
    assert "7.20 poles, the plate has 8" in found.says
    (other,) = findings(
        sheet({**SET, "generator/generator_frequency": "50 Hz", "engine/engine_speed": "750 rpm"}, u=0.001)
    )["PW-25"]
    assert "60.0 Hz" in other.says  # the rated speed belongs to the other network
