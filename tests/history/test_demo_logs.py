"""The demo logs: seeded, complete, physically coherent, and what is planted is really in them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from asfound.cylinders.thermocouple import emf, temperature
from asfound.errors import UnknownNameError
from asfound.history.channels import split_channel
from asfound.history.demo import ENGINES, DemoLog, generate
from asfound.history.demo.calendar import DAY, iso, moment
from asfound.history.demo.engine import HP_HOUR, OXYGEN
from asfound.history.demo.fleet import gas, spec
from asfound.history.demo.planted import KINDS
from asfound.history.demo.units_mistaken import type_k_on_n
from asfound.quantities.register import quantities

EVERY_ENGINE = (
    "ambient_temperature", "barometric_pressure", "relative_humidity", "engine_speed", "engine_hours", "fuel_flow",
    "fuel_pressure", "fuel_temperature", "manifold_pressure", "manifold_temperature", "ignition_timing",
    "cylinder_exhaust_temperature", "turbine_inlet_temperature", "turbine_outlet_temperature",
    "jacket_water_inlet_temperature", "jacket_water_outlet_temperature", "oil_pressure", "oil_temperature",
    "crankcase_pressure",
)  # fmt: skip
SOME_ENGINES = (
    "throttle_position", "wastegate_position", "bypass_position", "fuel_actuator_position", "ignition_retard",
    "knock_level", "catalyst_inlet_temperature", "catalyst_outlet_temperature", "catalyst_pressure_drop",
    "bearing_temperature", "oxygen_sensor_reading", "nox_sensor_reading", "engine_power", "generator_power",
)  # fmt: skip


@cache
def log(tag: str) -> DemoLog:
    return generate(tag)


def running(one: DemoLog) -> np.ndarray:
    return one.channels.values["raw:running@engine"] > 0


def between(one: DemoLog, start: int, end: int) -> np.ndarray:
    return (one.channels.time >= start) & (one.channels.time < end) & running(one)


def test_works_years_follow_the_mapping_of_the_demo_world():
    assert iso(moment(47, 1)) == "2031-01-01T00:00:00+00:00"
    assert iso(moment(48, 190))[:10] == "2032-07-08"  # the visit to A2 of the demo home
    assert iso(moment(49, 180))[:10] == "2033-06-29"


@pytest.mark.parametrize("tag", ENGINES)
def test_the_columns_asked_for_are_there_and_known(tag):
    one = log(tag)
    names = {split_channel(name)[0] for name in one.channels.values}
    assert set(EVERY_ENGINE) <= names
    assert {name for name in names if not name.startswith("raw:")} <= set(quantities())
    assert {"raw:running", "raw:alarm_bits"} <= names
    assert len([name for name in one.channels.values if name.startswith("cylinder_exhaust")]) == len(
        spec(tag).cylinders
    )
    assert len(one.channels) > 120_000
    assert np.all(np.diff(one.channels.time) > 0)


def test_every_column_of_the_scenario_is_somewhere():
    names = {split_channel(name)[0] for tag in ENGINES for name in log(tag).channels.values}
    assert set(SOME_ENGINES) <= names


def test_the_same_seed_gives_the_same_numbers_and_another_gives_others():
    again, other = generate("D2"), generate("D2", 49)
    for name, value in log("D2").channels.values.items():
        assert np.array_equal(value, again.channels.values[name], equal_nan=True)
    assert log("D2").truth == again.truth
    assert not np.array_equal(
        other.channels.values["fuel_flow@engine"][:99], again.channels.values["fuel_flow@engine"][:99]
    )


def test_an_engine_that_is_not_there_is_refused():
    with pytest.raises(UnknownNameError, match="A9"):
        generate("A9")


@pytest.mark.parametrize("tag", ENGINES)
def test_energy_and_mixture_hold_together(tag):
    one = log(tag)
    rows = running(one)
    values = one.channels.values
    power = values.get("engine_power@engine", values.get("generator_power@generator"))
    burnt = gas(spec(tag).gas)
    sound = rows & (values["raw:alarm_bits@engine"] == 0) & (one.channels.time < moment(48, 200))
    efficiency = power[sound] / (values["fuel_flow@engine"][sound] / 0.022414 * burnt.heat)
    assert np.percentile(efficiency, [1, 99]) == pytest.approx(spec(tag).efficiency, rel=0.07)
    if spec(tag).lean > 1.2:  # excess air gives the oxygen: books on combustion
        lean = one.actual["excess_air_ratio@stack"][sound]
        dry = burnt.dry + (lean - 1) * burnt.air
        off = one.actual["exhaust_oxygen_dry@stack"][sound] - OXYGEN * (lean - 1) * burnt.air / dry
        assert np.quantile(np.abs(off), 0.97) < 1e-4  # D1 misfires now and then
        assert off.min() > -1e-4  # and that only brings more oxygen


def test_cylinders_have_a_constant_pattern_and_little_noise():
    one = log("N1")
    rows = np.flatnonzero(running(one))[2000:60_000]
    table = np.stack([v for k, v in one.channels.values.items() if k.startswith("cylinder_exhaust")])[:, rows]
    pattern = np.median(table - np.median(table, axis=0), axis=1)
    assert 4 < pattern.std() < 16  # scenario: standard deviation 9 K
    step = np.diff(table - np.median(table, axis=0), axis=1)
    assert np.median(np.abs(step)) * 1.4826 / np.sqrt(2) == pytest.approx(2.0, rel=0.25)


def test_a2_drifts_from_0_55_to_0_95_and_its_sensor_does_not_show_it():
    one = log("A2")
    nox = one.actual["nox_mass_per_energy@stack"] * 1e3 * HP_HOUR
    lean = one.actual["excess_air_ratio@stack"]
    early = between(one, moment(47, 60), moment(47, 125))
    late = between(one, moment(48, 175), moment(48, 190))
    after = between(one, moment(48, 192), moment(48, 230))
    assert np.median(lean[early]) == pytest.approx(1.72, abs=0.003)
    assert np.median(lean[late]) == pytest.approx(1.66, abs=0.003)
    assert np.median(lean[after]) == pytest.approx(1.72, abs=0.003)
    assert np.median(nox[early]) == pytest.approx(0.55, rel=0.06)
    assert np.median(nox[late]) == pytest.approx(0.95, rel=0.08)
    sensor = one.channels.values["oxygen_sensor_reading@engine"]
    oxygen = one.actual["exhaust_oxygen_dry@stack"]
    fell = np.median(oxygen[early]) - np.median(oxygen[late])
    assert abs(np.median(sensor[late]) - np.median(sensor[early])) < 0.3 * fell  # the rest is the damp of the summer


def test_a3_has_a_cold_thermocouple_first_and_a_cold_cylinder_later():
    one = log("A3")
    values = one.channels.values
    name = "cylinder_exhaust_temperature@cylinder_{}".format
    apart = values[name("L4")] - values[name("L3")]
    oxygen = values["oxygen_sensor_reading@before_catalyst"]
    rise = values["catalyst_outlet_temperature@engine"] - values["catalyst_inlet_temperature@engine"]
    usual = between(one, moment(48, 1), moment(48, 58))
    cold = between(one, moment(48, 80), moment(48, 235))
    really = between(one, moment(48, 258), moment(48, 262))
    after = between(one, moment(48, 266), moment(48, 300))
    assert np.median(apart[cold]) - np.median(apart[usual]) == pytest.approx(-55, abs=3)
    assert np.median(oxygen[cold]) == pytest.approx(np.median(oxygen[usual]), abs=2e-4)
    assert np.median(apart[really]) - np.median(apart[usual]) < -250
    assert np.median(oxygen[really]) > np.median(oxygen[usual]) + 0.01
    assert np.median(rise[really]) > np.median(rise[usual]) + 50
    assert np.median(rise[after]) == pytest.approx(np.median(rise[usual]), abs=2)
    trip = next(entry for entry in one.alarms if entry.tag == "TSHH-CAT-OUT")
    assert iso(trip.time)[:10] == iso(moment(48, 262))[:10]


def test_n2_reads_what_type_k_wire_gives_on_type_n_inputs():
    junction = np.linspace(0, 800, 17) + 273.15
    terminals = 308.15
    shown = temperature("N", emf("K", junction) - emf("K", terminals) + emf("N", terminals))
    assert type_k_on_n(junction) == pytest.approx(shown, abs=0.01)  # IEC 60584-1 reference functions
    one = log("N2")
    values = one.channels.values
    wrong = between(one, moment(47, 210), moment(49, 19))
    for cylinder in "37":
        hot = values[f"cylinder_exhaust_temperature@cylinder_{cylinder}"]
        assert np.median(hot[wrong] - values["cylinder_exhaust_temperature@cylinder_5"][wrong]) > 75


def test_d1_and_d2_end_where_the_story_says():
    one = log("D1")
    rows = between(one, moment(49, 59), moment(49, 61))
    assert np.median(one.actual["catalyst_conversion_co@engine"][rows]) == pytest.approx(0.61, abs=0.02)
    assert np.median(one.channels.values["fuel_hydrogen_sulfide@fuel"][rows]) == pytest.approx(9e-4, rel=0.03)
    two = log("D2")
    rows = between(two, moment(48, 300), moment(49, 60))
    early = between(two, moment(47, 1), moment(47, 55))
    true = two.actual["nox_mass_concentration@stack"]
    assert np.median(true[early]) * 1e6 == pytest.approx(430, rel=0.02)
    assert np.median(true[rows]) * 1e6 == pytest.approx(490, rel=0.02)
    seen = two.channels.values["nox_sensor_reading@stack"][rows] / two.actual["exhaust_nox_dry@stack"][rows]
    assert np.nanmedian(seen) == pytest.approx(0.88, abs=0.005)


def test_n1_counter_gauge_and_evenings():
    one = log("N1")
    exchanged = next(p for p in one.truth if p.kind == "meter_exchange")
    hours = one.channels.values["engine_hours@engine"] / 3600
    before = hours[one.channels.time < exchanged.start]
    assert before.max() == pytest.approx(41_230, abs=0.5)
    assert hours[one.channels.time >= exchanged.start].min() < 1
    assert hours[np.searchsorted(one.channels.time, spec("N1").hours_at)] == pytest.approx(6120, abs=0.5)
    rest = ~running(one)
    manifold = one.channels.values["manifold_pressure@left_bank"]
    air = one.channels.values["barometric_pressure@site"]
    old = rest & (one.channels.time < moment(47, 250))
    new = rest & (one.channels.time > moment(47, 251))
    assert np.median((manifold - air)[old]) == pytest.approx(101_325, rel=0.02)
    assert np.median((manifold - air)[new]) == pytest.approx(0, abs=2000)
    load = one.channels.values["generator_power@generator"]
    hour = (one.channels.time // 3_600_000_000 + 1) % 24
    swing = np.abs(np.diff(load, prepend=load[0]))
    assert np.median(swing[running(one) & (hour == 19)]) > 3 * np.median(swing[running(one) & (hour == 3)])


def test_a1_knocks_on_hot_afternoons_with_the_new_gas_only():
    one = log("A1")
    retard = np.rad2deg(one.channels.values["ignition_retard@engine"])
    assert retard[one.channels.time < moment(48, 205)].max() == 0
    knocking = between(one, moment(48, 206), moment(48, 230))
    assert retard[knocking].max() > 3
    assert np.median(retard[between(one, moment(48, 240), moment(48, 300))]) < 0.2


@pytest.mark.parametrize("tag", ENGINES)
def test_what_is_planted_is_of_a_known_kind_and_in_the_data(tag):
    one = log(tag)
    assert {p.kind for p in one.truth} <= set(KINDS)
    time = one.channels.time
    for planted in one.truth:
        if planted.kind == "stuck":
            rows = (time >= planted.start) & (time <= planted.end)
            assert np.unique(one.channels.values[planted.channel][rows]).size == 1
        elif planted.kind == "spike":
            at = int(np.searchsorted(time, planted.start))
            value = one.channels.values[planted.channel]
            assert abs(value[at] - value[at - 1]) > 0.5 * abs(planted.size)
        elif planted.kind == "gap":
            assert 3 * DAY <= planted.end - planted.start <= 20.1 * DAY
            assert not ((time >= planted.start) & (time < planted.end)).any()
    assert sum(p.kind == "gap" for p in one.truth) == 3


@pytest.mark.parametrize("tag", ENGINES)
def test_states_have_no_hole_and_running_follows_them(tag):
    one = log(tag)
    assert all(a.end == b.start for a, b in zip(one.states, one.states[1:], strict=False))
    for stay in one.states:
        if stay.state in ("service", "startfail"):
            continue
        inside = (one.channels.time >= stay.start) & (one.channels.time < stay.end)
        assert not one.channels.values["raw:running@engine"][inside].any()
