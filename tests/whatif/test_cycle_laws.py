"""Laws that hold for every cycle: energy, entropy, ideal limits, and which way things go."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.whatif.charge import charge, molar_mass_of
from asfound.whatif.cycle import STEPS, Burn, Cycle, Heat, closed_cycle
from asfound.whatif.equilibrium import equilibrium
from asfound.whatif.gases import BURNT, STANDARD_PRESSURE, R, look_up, species, tables
from asfound.whatif.geometry import Geometry
from asfound.whatif.ideal import otto_efficiency
from asfound.whatif.knock import knock_integral
from asfound.whatif.layers import in_layers
from asfound.whatif.nitric_oxide import along, of_layers

GAS = {"methane": 0.92, "ethane": 0.05, "propane": 0.02, "nitrogen": 0.01}
SPEED = 1000 * np.pi / 30


def run(
    *,
    ratio=1.7,
    start=-14.0,
    duration=50.0,
    pressure=2.5e5,
    temperature=335.0,
    factor=0.0,
    compression=12.0,
    complete=1.0,
    fuel=GAS,
    speed=SPEED,
    cases=1,
    steps=STEPS,
) -> tuple[Geometry, Cycle, object]:
    one = np.ones(cases)
    geometry = Geometry(0.20 * one, 0.22 * one, 0.44 * one, compression * one)
    loaded = charge(fuel, ratio * one, humidity=0.01, residual=0.03)
    found = closed_cycle(
        geometry,
        loaded,
        pressure=pressure * one,
        temperature=temperature * one,
        speed=speed * one,
        burn=Burn(np.radians(start) * one, np.radians(duration) * one, 5.0 * one, 2.0 * one, complete * one),
        heat=Heat(factor * one, 430.0 * one, 3.24e-3),
        closes=np.radians(-140.0) * one,
        opens=np.radians(120.0) * one,
        steps=steps,
    )
    return geometry, found, loaded


def entropy_of_all(found: Cycle, loaded, at: int) -> float:
    """Return the entropy of both zones, with that of mixing of the burned gas. [J/(kg K)]"""
    trace = found.trace
    x, p = trace.burned[at, 0], trace.pressure[at, 0]
    cold = loaded.fresh.entropy(trace.fresh_temperature[at]) - loaded.fresh.gas_constant * np.log(p / STANDARD_PRESSURE)
    if x == 0.0:
        return float(cold[0])
    gas = equilibrium(loaded.elements, trace.burned_temperature[at], trace.pressure[at])
    level = look_up(tables().entropy, trace.burned_temperature[at])
    parts = np.maximum(gas.parts, 1e-30)
    hot = R * np.sum(gas.amounts * (level - np.log(parts)), axis=0)
    return float((1 - x) * cold[0] + x * hot[0])


mixtures = st.fixed_dictionaries(
    {
        "ratio": st.floats(1.0, 2.2),
        "start": st.floats(-30.0, 5.0),
        "duration": st.floats(20.0, 80.0),
        "pressure": st.floats(0.8e5, 4.5e5),
        "temperature": st.floats(300.0, 380.0),
        "factor": st.floats(0.0, 1.5),
        "compression": st.floats(9.0, 14.0),
    }
)


@settings(max_examples=25, deadline=None)
@given(mixtures)
def test_energy_is_neither_made_nor_lost(point):
    """Work and heat are what the internal energy lost, when work is summed up from pressure and volume."""
    _, found, _ = run(**point, steps=(120, 120, 120))  # fine, for the sum here is of straight lines
    trace = found.trace
    work = np.sum(0.5 * (trace.pressure[1:] + trace.pressure[:-1]) * np.diff(trace.volume, axis=0), axis=0)
    fuel = found.mass * found.start_energy
    assert work[0] == pytest.approx(found.work[0], rel=1e-3)
    closed = found.mass * (found.start_energy - found.end_energy) - found.work - found.heat
    assert abs(closed[0]) <= 1e-6 * abs(fuel[0])


@settings(max_examples=15, deadline=None)
@given(mixtures)
def test_what_the_state_says_is_what_the_first_law_says(point):
    """Enthalpies looked up anew at the end, against the enthalpy carried along: 1e-4 of the heat of the fuel."""
    _, found, loaded = run(**point)
    trace = found.trace
    x = trace.burned[-1]
    gas = equilibrium(loaded.elements, trace.burned_temperature[-1], trace.pressure[-1])
    cold = loaded.fresh.enthalpy(trace.fresh_temperature[-1])
    energy = (1 - x) * cold + x * gas.enthalpy - trace.pressure[-1] * trace.volume[-1] / found.mass
    assert abs(energy - found.end_energy)[0] <= 2e-3 * (loaded.heating_value * loaded.fuel)[0]


@settings(max_examples=10, deadline=None)
@given(mixtures)
def test_without_heat_to_the_walls_entropy_never_falls(point):
    _, found, loaded = run(**{**point, "factor": 0.0})
    first = found.first
    after = [entropy_of_all(found, loaded, at) for at in range(first + 1, len(found.trace.angle), 8)]
    assert np.all(np.diff(after) > -0.5)  # J/(kg K), of some 9,000: the noise of the steps


@settings(max_examples=10, deadline=None)
@given(mixtures)
def test_with_heat_to_the_walls_entropy_of_gas_and_walls_together_never_falls(point):
    """The second law with heat: what the gas loses in entropy the walls, at their lower temperature, gain with more."""
    _, found, loaded = run(**{**point, "factor": max(point["factor"], 0.3)})
    first, steps = found.first, range(0, len(found.trace.angle), 6)
    gas = {at: entropy_of_all(found, loaded, at) for at in steps}
    both = [gas[at] + found.trace.heat[at, 0] / 430.0 for at in steps if at > first]
    before = [gas[at] + found.trace.heat[at, 0] / 430.0 for at in steps if at <= first]
    assert np.all(np.diff(both) > -0.5)
    assert np.all(np.diff(before) > -0.5)
    assert both[0] > before[-1]  # burning makes entropy


def test_a_motored_cycle_without_heat_comes_back_to_where_it_began():
    """Nothing burns, nothing is lost: symmetric about top dead centre, and isentropic."""
    one = np.ones(1)
    geometry = Geometry(0.2 * one, 0.22 * one, 0.44 * one, 12 * one)
    loaded = charge(GAS, 1.7)
    found = closed_cycle(
        geometry, loaded, pressure=2.5e5 * one, temperature=335.0 * one, speed=SPEED * one,
        burn=Burn(np.radians(139.0) * one, np.radians(0.5) * one, 5.0 * one, 2.0 * one, 1e-12 * one),
        heat=Heat(0.0 * one, 430.0 * one), closes=np.radians(-140.0) * one, opens=np.radians(140.0) * one,
    )  # fmt: skip
    fresh, trace = loaded.fresh, found.trace
    entropy = fresh.entropy(trace.fresh_temperature) - fresh.gas_constant * np.log(trace.pressure)
    assert np.ptp(entropy[: found.first + 1]) < 1e-6
    assert trace.pressure[-1, 0] == pytest.approx(2.5e5, rel=1e-3)
    assert abs(found.work[0]) < 1e-3 * 2.5e5 * geometry.displacement[0]


def test_a_burn_without_length_at_the_top_comes_near_the_otto_cycle():
    """The heat of the fuel over 3 degrees: efficiency within the Otto cycles of k = 1.25 and 1.36."""
    _, found, loaded = run(start=-1.5, duration=3.0, ratio=2.0)
    share = found.work[0] / (found.mass * loaded.fuel * loaded.heating_value)[0]
    assert otto_efficiency(12.0, 1.20) < share < otto_efficiency(12.0, 1.36)


def test_timing_off_the_best_costs_work():
    starts = np.arange(-44.0, 12.0, 2.0)
    work = np.array([run(start=float(one), factor=0.6)[1].work[0] for one in starts])
    best = int(np.argmax(work))
    assert 2 < best < len(starts) - 3
    assert np.all(np.diff(work[: best + 1]) > 0)
    assert np.all(np.diff(work[best:]) < 0)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("ratio", 1.5, 1.9), ("start", -20.0, -5.0)],
)
def test_leaner_and_later_make_less_nitric_oxide(name, low, high):
    """Known of every lean-burn engine: NO falls steeply with lambda above 1.1, and with later burning."""
    made = []
    for value in (low, high):
        _, found, loaded = run(**{name: value})
        time = np.diff(found.trace.angle, axis=0) / SPEED
        made.append(of_layers(time[found.first :], in_layers(found, loaded))[-1, 0])
    assert made[1] < made[0] / 2


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("pressure", 2.0e5, 3.5e5), ("temperature", 320.0, 350.0), ("compression", 10.5, 13.0), ("start", -8.0, -22.0)],
)
def test_the_knock_integral_rises_with_boost_heat_ratio_and_advance(name, low, high):
    found = []
    for value in (low, high):
        _, cycle, loaded = run(**{name: value})
        trace = cycle.trace
        time = np.diff(trace.angle, axis=0) / SPEED
        found.append(knock_integral(time, trace.fresh_temperature, trace.pressure, trace.burned, loaded)[0])
    assert found[1] > 1.05 * found[0]


def test_many_cases_give_what_each_gives_alone():
    ratios = np.array([1.0, 1.3, 1.75, 2.1])
    _, together, _ = run(ratio=ratios, cases=4)
    for at, one in enumerate(ratios[1:], start=1):
        _, alone, _ = run(ratio=float(one))
        assert together.work[at] == pytest.approx(alone.work[0], rel=2e-4)
        assert together.trace.pressure[:, at].max() == pytest.approx(alone.trace.pressure.max(), rel=2e-4)


@settings(max_examples=30, deadline=None)
@given(
    st.floats(0.75, 2.5), st.floats(900.0, 2900.0), st.floats(1e5, 2e7),
)  # fmt: skip
def test_equilibrium_keeps_every_atom(ratio, temperature, pressure):
    loaded = charge(GAS, ratio, humidity=0.012)
    gas = equilibrium(loaded.elements, np.array([temperature]), np.array([pressure]))
    assert tables().atoms.T @ gas.amounts == pytest.approx(loaded.elements, rel=1e-7, abs=1e-9)
    assert gas.parts.sum() == pytest.approx(pressure / STANDARD_PRESSURE, rel=1e-7)
    assert np.all(gas.amounts >= 0)


def test_what_burned_first_is_the_hottest_at_the_peak_of_pressure():
    _, found, loaded = run()
    layers = in_layers(found, loaded, layers=6)
    top = int(np.argmax(found.trace.pressure[found.first :, 0]))
    there = layers.there[top, :, 0]
    assert there.sum() >= 3
    hot = layers.temperature[top, there, 0]
    assert np.all(np.diff(hot) < 0)
    assert hot[0] > found.trace.burned_temperature[found.first + top, 0] > hot[-1]


def test_no_follows_equilibrium_and_never_overtakes_it_while_it_rises():
    for ratio in (0.95, 1.1, 1.5):
        _, found, _ = run(ratio=ratio)
        trace = found.trace
        time = np.diff(trace.angle, axis=0) / SPEED
        made, full = along(time, trace.burned_temperature, trace.burned_volume, trace.parts)
        rising = slice(found.first + 1, int(np.argmax(full[:, 0])))
        assert np.all(made[rising] <= full[rising])
        assert np.all(made >= 0)


def test_a_charge_holds_its_own_mass_and_its_heat():
    loaded = charge({"methane": 1.0}, 1.0)
    assert molar_mass_of(loaded.elements)[0] == pytest.approx(1.0, abs=1e-9)
    # methane: 50.03 MJ/kg net at 25 C (ISO 6976:2016, table 3: 802.69 kJ/mol, 16.0425 g/mol), 17.2 kg of air
    assert loaded.heating_value[0] == pytest.approx(802.69e3 / 16.04246e-3, rel=1e-3)
    assert (loaded.air / loaded.fuel)[0] == pytest.approx(17.24, abs=0.03)
    assert {"CO2", "H2O"} <= set(BURNT) <= set(species())


@pytest.mark.parametrize(
    ("fuel", "ratio", "more", "says"),
    [
        ({"unobtainium": 1.0}, 1.7, {}, "not in the table"),
        ({"nitrogen": 1.0}, 1.7, {}, "cannot run the engine"),
        ({"methane": 1.0}, 0.4, {}, "too rich"),
        ({"methane": 1.0}, 1.7, {"residual": 0.8}, "no residual"),
    ],
)
def test_what_cannot_be_is_refused_by_name(fuel, ratio, more, says):
    with pytest.raises(InputError, match=says):
        charge(fuel, ratio, **more)
