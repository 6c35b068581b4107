"""The engine as the model sees it: how it is built, how it is set, what is not known of it, and what comes of that.

One call works out many cases: a draw of the unknowns, a point of a map, a slider's place. A burn that was found from
readings belongs to the setting at which they were taken; at another it is carried along by the ratio of flame speeds
and of piston speeds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.whatif.charge import Charge, charge
from asfound.whatif.cycle import STEPS, Burn, Cycle, Heat, closed_cycle
from asfound.whatif.exchange import Closed, residual_and_temperature
from asfound.whatif.flame import diluted, laminar_speed
from asfound.whatif.gases import BURNT, R, look_up, tables
from asfound.whatif.geometry import Geometry
from asfound.whatif.knock import knock_integral
from asfound.whatif.layers import LAYERS, in_layers
from asfound.whatif.leaving import left_over
from asfound.whatif.nitric_oxide import Rates, along, of_layers

NO2_MASS = 46.0055e-3
"""NOx is counted as NO2. [kg/mol]"""
BY_FLAME, BY_SPEED = 2.0 / 3.0, 1.0 / 3.0
"""Burn angle goes with piston speed to the one and flame speed to minus the other power (Hires et al. 1978)."""
POLYTROPIC = 1.33
"""For the state at the start of burning when flames are compared. [1]"""
DELAY, DURATION = math.radians(8.0), math.radians(55.0)
CLOSES, OPENS = math.radians(-145.0), math.radians(125.0)
QUICK = (8, 28, 16)
"""Steps that are enough for draws: work within 0.3 % of many steps; what a change does to power within 0.1 %, to NO
within 2 %, in the middle of many engines (own tests). NO itself stands 6 % higher, which its factor takes up."""
NO_NITRIC_OXIDE = -1
"""In place of the layers where only power, pressures and temperatures are wanted: half the work."""
ROUGH = (6, 18, 10)
"""Steps that are enough for the ratio of two powers: within 0.5 % of `QUICK`."""
SEEN = 0.02
"""Share burned from which the temperature of the burned gas is told: that of the very first is noise."""
LATEST = 0.3
"""Start of burning beyond which its state is taken no later. [rad]"""
SWIRL = 3.24e-3
"""Woschni's C2 for burning and expansion. [m/(s K)]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """What does not change from setting to setting; lengths in m, angles in rad after firing top dead centre."""

    cylinders: int
    bore: float
    stroke: float
    rod: float
    """Length of the connecting rod; about 2 strokes where nobody knows (common practice)."""
    compression_ratio: float
    ratio_doubt: float = 0.25
    """Standard uncertainty of the compression ratio: heads and pistons within their tolerance. [1]"""
    closes: float = CLOSES
    """Intake valve closing: 35 degrees after bottom dead centre where nobody knows (engineering judgement)."""
    opens: float = OPENS
    """Exhaust valve opening: 55 degrees before bottom dead centre where nobody knows (engineering judgement)."""
    wall: float = 430.0
    """Mean temperature of the walls (engineering judgement). [K]"""
    rates: Rates = "bowman_1975"
    """Of the nitric oxide: which of the published sets."""
    near_one: bool = False
    """It burns near lambda 1: before readings speak, other numbers are usual (`priors.believed`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How the engine runs; floats or arrays over cases."""

    speed: Values
    """[rad/s]"""
    manifold_pressure: Values
    """Absolute. [Pa]"""
    charge_temperature: Values
    """In the intake manifold. [K]"""
    excess_air_ratio: Values
    """[1]"""
    timing: Values
    """Crank angle of the spark, below nought before top dead centre. [rad]"""
    exhaust_pressure: Values
    """In the exhaust manifold, absolute. [Pa]"""
    humidity: Values = 0.010
    """Water in the charge air. [mol/mol dry air]"""
    residual_temperature: Values = 850.0
    """Of the gas that stays in the cylinder. [K]"""

    def at(self, **changes: Values) -> Setting:
        """Return the setting with changes."""
        return replace(self, **changes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknowns:
    """What no reading says outright; floats or arrays over draws. `calibrate` finds them from readings."""

    delay: Values = DELAY
    """Crank angle from spark to the start of the Wiebe function. [rad]"""
    duration: Values = DURATION
    """Of the Wiebe function at the setting of the readings. [rad]"""
    heat_factor: Values = 1.0
    """On Woschni's coefficient. [1]"""
    residual_factor: Values = 1.0
    """On the burned gas of the clearance volume. [1]"""
    blow_by: Values = 0.005
    """Share of the charge that is lost past rings and valves. [1]"""
    ratio_change: Values = 0.0
    """Of the compression ratio, from the one that was stated. [1]"""
    filling: Values = 0.97
    """Pressure at intake closing over that of the manifold. [1]"""
    no_factor: Values = 1.0
    """On the nitric oxide of the model. [1]"""
    friction: Values = 1.5e5
    """Mean effective pressure of friction and driven pumps. [Pa]"""
    exhaust_loss: Values = 0.08
    """Share of its excess over the walls that the exhaust loses on the way to the thermocouple. [1]"""
    complete: Values = 0.985
    """Share of the charge that burns. [1]"""

    def array(self) -> dict[str, Array]:
        """Return all as arrays by name."""
        return {one.name: np.atleast_1d(np.asarray(getattr(self, one.name), dtype=float)) for one in fields(self)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the engine does; arrays of shape (cases,)."""

    power: Array
    """At the shaft. [W]"""
    efficiency: Array
    """Of the net heat of the fuel. [1]"""
    mean_effective_pressure: Array
    """At the shaft. [Pa]"""
    peak_pressure: Array
    """[Pa]"""
    peak_angle: Array
    """[rad]"""
    exhaust_temperature: Array
    """At the thermocouple of the port. [K]"""
    nox_dry: Array
    """[mol/mol]"""
    oxygen_dry: Array
    """[mol/mol]"""
    co_dry: Array
    """nan leaner than lambda 1.15, where it is no matter of equilibrium. [mol/mol]"""
    hydrogen_dry: Array
    """Likewise. [mol/mol]"""
    nox_per_energy: Array
    """As NO2, of work at the shaft. [kg/J]"""
    knock: Array
    """Integral of dt over the ignition delay. [1]"""
    fuel_flow: Array
    """[kg/s]"""
    air_flow: Array
    """Dry. [kg/s]"""
    wall_heat: Array
    """[W]"""
    half_burned: Array
    """Crank angle at which half is burned. [rad]"""
    burned_temperature: Array
    """Highest of the mixed burned gas. [K]"""
    residual: Array
    """[kg/kg]"""
    cycle: Cycle
    charge: Charge
    nitric_oxide: Array
    """Along the crank, per kilogram of charge, already times its factor. [mol/kg], shape (steps + 1, cases)"""


def run(
    build: Build,
    setting: Setting,
    unknowns: Unknowns,
    fuel: Mapping[str, Values],
    *,
    reference: Setting | None = None,
    layers: int = LAYERS,
    rates: Rates | None = None,
    steps: tuple[int, int, int] = STEPS,
) -> Outcome:
    """Return what the engine does at a setting.

    Parameters
    ----------
    build : Build
    setting : Setting
    unknowns : Unknowns
    fuel : mapping of str to float or array
        Component to mole fraction.
    reference : Setting, optional
        To which the burn of the unknowns belongs; the setting itself when left out.
    layers : int
        Of burned gas for the nitric oxide; 0: one mixed zone; `NO_NITRIC_OXIDE`: none is worked out (nought stands).
    rates : str, optional
        Of the nitric oxide; those of the build when left out.
    steps : tuple of int
        Of the crank: `cycle.STEPS`, or `QUICK` for draws and maps.
    """
    u = unknowns.array()
    given = _arrays(setting)
    cases = np.broadcast_shapes(*(one.shape for one in (*u.values(), *given.values())))
    u = {name: np.broadcast_to(one, cases) for name, one in u.items()}
    given = {name: np.broadcast_to(one, cases) for name, one in given.items()}
    one = np.ones(cases)
    geometry = Geometry(
        build.bore * one, build.stroke * one, build.rod * one, build.compression_ratio + u["ratio_change"]
    )
    before = charge(fuel, given["excess_air_ratio"], humidity=given["humidity"])
    closed = _closed(build, geometry, before, given, u)
    loaded = charge(fuel, given["excess_air_ratio"], humidity=given["humidity"], residual=closed.residual)
    longer = _longer(build, geometry, given, u, closed, fuel, reference)
    burn = Burn(given["timing"] + u["delay"] * longer, u["duration"] * longer, 5.0 * one, 2.0 * one, u["complete"])
    cycle = closed_cycle(
        geometry, loaded, pressure=closed.pressure, temperature=closed.temperature, speed=given["speed"], burn=burn,
        heat=Heat(u["heat_factor"], build.wall * one, SWIRL), closes=build.closes * one, opens=build.opens * one,
        steps=steps,
    )  # fmt: skip
    made = _nitric_oxide(cycle, loaded, given["speed"], layers, rates or build.rates) * u["no_factor"]
    return _outcome(build, geometry, given, u, closed, loaded, burn, cycle, made)


def _arrays(setting: Setting) -> dict[str, Array]:
    return {one.name: np.atleast_1d(np.asarray(getattr(setting, one.name), dtype=float)) for one in fields(setting)}


def _closed(
    build: Build, geometry: Geometry, loaded: Charge, given: Mapping[str, Array], u: Mapping[str, Array]
) -> Closed:
    """Return what the cylinder holds; blow-by takes its share of pressure and mass alike."""
    closed = residual_and_temperature(
        geometry, loaded, manifold_pressure=given["manifold_pressure"],
        manifold_temperature=given["charge_temperature"], exhaust_pressure=given["exhaust_pressure"],
        residual_temperature=given["residual_temperature"], filling=u["filling"],
        residual_factor=u["residual_factor"], closes=np.full_like(u["filling"], build.closes),
    )  # fmt: skip
    stays = 1.0 - u["blow_by"]
    return Closed(closed.pressure * stays, closed.temperature, closed.mass * stays, closed.residual)


def _longer(
    build: Build,
    geometry: Geometry,
    given: Mapping[str, Array],
    u: Mapping[str, Array],
    closed: Closed,
    fuel: Mapping[str, Values],
    reference: Setting | None,
) -> Array:
    """Return how much longer the burn is than at the setting to which it belongs, in crank angle. [1]"""
    if reference is None:
        return np.ones_like(u["duration"])
    there = {name: np.broadcast_to(one, u["duration"].shape) for name, one in _arrays(reference).items()}
    mixed = charge(fuel, there["excess_air_ratio"], humidity=there["humidity"])
    before = _closed(build, geometry, mixed, there, u)
    then = _flame(geometry, there, u, before, before.pressure)
    found: Array = (then / _flame(geometry, given, u, closed, before.pressure)) ** BY_FLAME * (
        given["speed"] / there["speed"]
    ) ** BY_SPEED
    return found


def _flame(
    geometry: Geometry, given: Mapping[str, Array], u: Mapping[str, Array], closed: Closed, pressure: Array
) -> Array:
    """Return the laminar burning speed at the start of burning, at a given pressure at intake closing. [m/s]

    Flames of two settings are compared at one pressure: a higher one slows the laminar flame and wrinkles the turbulent
    one more, and what is left of both is small (Kobayashi et al. 1996).
    """
    start = np.minimum(given["timing"] + u["delay"], LATEST)
    ratio = geometry.volume(np.full_like(start, -np.pi)) / geometry.volume(start)
    temperature = closed.temperature * ratio ** (POLYTROPIC - 1.0)
    found: Array = laminar_speed(given["excess_air_ratio"], temperature, pressure * ratio**POLYTROPIC)
    return found * diluted(closed.residual)


def _nitric_oxide(cycle: Cycle, loaded: Charge, speed: Array, layers: int, rates: Rates) -> Array:
    """Return the NO of the model along the crank. [mol/kg]"""
    trace = cycle.trace
    if layers == NO_NITRIC_OXIDE:
        return np.zeros_like(trace.pressure)
    time = np.diff(trace.angle, axis=0) / speed
    if layers == 0:
        return along(time, trace.burned_temperature, trace.burned_volume, trace.parts, rates=rates)[0]
    made = np.zeros_like(trace.pressure)
    made[cycle.first :] = of_layers(time[cycle.first :], in_layers(cycle, loaded, layers=layers), rates=rates)
    return made


def _outcome(
    build: Build,
    geometry: Geometry,
    given: Mapping[str, Array],
    u: Mapping[str, Array],
    closed: Closed,
    loaded: Charge,
    burn: Burn,
    cycle: Cycle,
    made: Array,
) -> Outcome:
    """Return what a shaft, a thermocouple and an analyser show."""
    trace, swept = cycle.trace, geometry.displacement
    bottom = geometry.clearance + swept
    p_exhaust, p_in = given["exhaust_pressure"], closed.pressure
    blow_down = 0.5 * (trace.pressure[-1] + p_exhaust) * (bottom - trace.volume[-1])
    pumped = (p_in - p_exhaust) * swept - p_in * (bottom - trace.volume[0])
    work = cycle.work + blow_down + pumped - u["friction"] * swept
    rate = given["speed"] / (4.0 * np.pi) * build.cylinders
    drawn = cycle.mass / (1.0 - u["blow_by"])
    fuel_flow = drawn * loaded.fuel * rate
    heat = fuel_flow * loaded.heating_value
    x = trace.burned[-1]
    leaving = left_over(loaded, x)
    dry = leaving.dry
    power = work * rate
    formed = made[-1]
    new = cycle.mass * (1.0 - closed.residual)  # leaves the cylinder each cycle
    return Outcome(
        power=power,
        efficiency=power / heat,
        mean_effective_pressure=work / swept,
        peak_pressure=trace.pressure.max(axis=0),
        peak_angle=np.take_along_axis(trace.angle, trace.pressure.argmax(axis=0)[None, :], axis=0)[0],
        exhaust_temperature=_exhaust_temperature(cycle, loaded, p_exhaust, x, u["exhaust_loss"], build.wall),
        nox_dry=formed / dry,
        oxygen_dry=leaving.oxygen / dry,
        co_dry=leaving.monoxide / dry,
        hydrogen_dry=leaving.hydrogen / dry,
        nox_per_energy=np.where(power > 0.0, formed * NO2_MASS * new * rate / np.maximum(power, 1e-9), np.nan),
        knock=knock_integral(
            np.diff(trace.angle, axis=0) / given["speed"], trace.fresh_temperature, trace.pressure, trace.burned, loaded
        ),
        fuel_flow=fuel_flow,
        air_flow=drawn * loaded.air * rate,
        wall_heat=cycle.heat * rate,
        half_burned=burn.start + burn.duration * (np.log(2.0) / burn.a) ** (1.0 / (burn.m + 1.0)),
        burned_temperature=np.max(np.where(trace.burned > SEEN, trace.burned_temperature, 0.0), axis=0),
        residual=closed.residual,
        cycle=cycle,
        charge=loaded,
        nitric_oxide=made,
    )


def _exhaust_temperature(cycle: Cycle, loaded: Charge, pressure: Array, x: Array, loss: Array, wall: float) -> Array:
    """Return the mean temperature of what leaves: its enthalpy is the energy at opening and p v at exhaust pressure."""
    wanted = cycle.end_energy + pressure * cycle.trace.volume[-1] / cycle.mass
    amounts = cycle.end.amounts
    t = np.maximum(cycle.trace.burned_temperature[-1] * 0.85, 500.0)
    for _ in range(6):
        rows = look_up(tables().rows, t)[-len(BURNT) :]
        ahead = look_up(tables().rows, t + 10.0)[-len(BURNT) :]
        has = x * R * (rows * amounts).sum(axis=0) + (1.0 - x) * loaded.fresh.enthalpy(t)
        more = x * R * (ahead * amounts).sum(axis=0) + (1.0 - x) * loaded.fresh.enthalpy(t + 10.0)
        t = np.clip(t + (wanted - has) * 10.0 / (more - has), 300.0, 2500.0)
    found: Array = wall + (t - wall) * (1.0 - loss)
    return found
