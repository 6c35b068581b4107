"""The closed part of the cycle, from intake valve closing to exhaust valve opening, for many cases in one call.

Two zones at one pressure: fresh charge of one composition, burned gas mixed and in equilibrium. Mass goes over as a
Wiebe function says. The fresh charge is compressed isentropically but for the heat that it loses; the burned gas gets
what the first law leaves: enthalpy of all = enthalpy before + V dp - heat, so the first law holds by construction, and
the pressure of each step is that at which the burned gas, with this enthalpy, fills its volume.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.charge import Charge
from asfound.whatif.equilibrium import COLDEST, HOTTEST, Burnt, flame, follow
from asfound.whatif.geometry import Geometry

STEPS = (16, 56, 40)
"""Steps of compression, of burning, of expansion."""
GROWTH = 12.0
"""Last step of the expansion over its first one."""
IGNITION_TURNS = 12
"""Corrections of the first flame, before anything has burned."""
TRIES = 2
"""Newton steps for the pressure of each step of the crank."""
LEAST_MOVE, HEATS = 0.5, (1000.0, 8000.0)
"""Change of temperature from which the heat capacity in equilibrium is taken, and its bounds. [K], [J/(kg K)]"""
NEAR_RICH = 1.15
"""Oxygen there over oxygen needed below which the equilibrium wants more Newton steps (own tests)."""
EQUILIBRIUM_HEAT = 1450.0
"""First guess of the heat capacity of burned gas in equilibrium. [J/(kg K)]"""


@dataclass(frozen=True, slots=True)
class Burn:
    """Wiebe function: x = 1 - exp(-a ((angle - start)/duration)^(m + 1)); arrays of shape (cases,) or (1,).

    With a = 5 the charge is burned to 99.3 % after the duration, and goes on burning beyond it.
    """

    start: Array
    """After firing top dead centre. [rad]"""
    duration: Array
    """[rad]"""
    a: Array
    m: Array
    complete: Array
    """Share of the charge that burns at all. [kg/kg]"""

    def burned(self, angle: Array) -> Array:
        """Return the mass fraction burned. [kg/kg]"""
        part = np.clip((angle - self.start) / self.duration, 0.0, 3.0)
        x: Array = -np.expm1(-self.a * part ** (self.m + 1.0)) * self.complete
        return x


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat to the walls: one coefficient for the cylinder, one wall temperature; arrays (cases,) or (1,)."""

    factor: Array
    """On the correlation; 0 for none. [1]"""
    wall: Array
    """[K]"""
    swirl: float = 0.0
    """C2 of Woschni's burning term; 0 leaves it out. [m/(s K)]"""


@dataclass(frozen=True, slots=True)
class Trace:
    """The cycle along the crank; arrays of shape (steps + 1, cases)."""

    angle: Array
    """[rad]"""
    volume: Array
    """[m³]"""
    pressure: Array
    """[Pa]"""
    fresh_temperature: Array
    """[K]"""
    burned_temperature: Array
    """nan before anything burns. [K]"""
    burned: Array
    """Mass fraction. [kg/kg]"""
    burned_volume: Array
    """[m³/kg of all]"""
    parts: Array
    """O, N2, O2, OH and NO in equilibrium, partial pressures over 1 bar. Shape (5, steps + 1, cases)"""
    heat: Array
    """Given to the walls since intake valve closing. [J/kg]"""


@dataclass(frozen=True, slots=True)
class Cycle:
    """What the closed cycle comes to; arrays of shape (cases,)."""

    trace: Trace
    mass: Array
    """In one cylinder. [kg]"""
    work: Array
    """Of the gas on the piston, intake closing to exhaust opening. [J]"""
    heat: Array
    """To the walls. [J]"""
    start_energy: Array
    """Internal energy at intake valve closing. [J/kg]"""
    end_energy: Array
    """At exhaust valve opening. [J/kg]"""
    end: Burnt
    """Burned gas at exhaust valve opening."""
    first: int
    """Step of the trace at which burning starts."""
    lean: bool
    """Oxygen is left in all cases: one Newton step of the equilibrium a step is enough."""


def closed_cycle(
    geometry: Geometry,
    charge: Charge,
    *,
    pressure: Array,
    temperature: Array,
    speed: Array,
    burn: Burn,
    heat: Heat,
    closes: Array,
    opens: Array,
    steps: tuple[int, int, int] = STEPS,
) -> Cycle:
    """Return the closed cycle of each case.

    Parameters
    ----------
    geometry : Geometry
    charge : Charge
    pressure, temperature : array
        In the cylinder at intake valve closing. [Pa], [K]
    speed : array
        Of the crank. [rad/s]
    burn : Burn
    heat : Heat
    closes, opens : array
        Crank angle of intake valve closing (below zero) and exhaust valve opening. [rad]
    steps : tuple of int
        Of compression, burning, expansion.

    References
    ----------
    .. [1] Heywood, Internal Combustion Engine Fundamentals (1988), 9.2 and 14.4: two-zone models.
    """
    march = _March(geometry, charge, pressure, temperature, speed, burn, heat, closes, opens, steps)
    march.compress()
    march.burn_and_expand()
    return march.result()


def _angles(burn: Burn, closes: Array, opens: Array, steps: tuple[int, int, int], cases: int) -> Array:
    """Return the crank angles of all steps: each case has its own, so that steps end where something begins or ends."""
    start = np.maximum(burn.start, closes + 1e-3)
    end = np.minimum(start + burn.duration, opens - 1e-3)
    first = np.linspace(0.0, 1.0, steps[0] + 1)[:, None]
    second = np.linspace(0.0, 1.0, steps[1] + 1)[1:, None]
    grown = np.cumsum(GROWTH ** np.linspace(0.0, 1.0, steps[2]))
    third = (grown / grown[-1])[:, None]
    parts = closes + first * (start - closes), start + second * (end - start), end + third * (opens - end)
    return np.concatenate([np.broadcast_to(one, (len(one), cases)) for one in parts])


class _March:
    """The state of all cases while it goes along the crank; everything per kilogram of charge."""

    def __init__(
        self,
        geometry: Geometry,
        charge: Charge,
        pressure: Array,
        temperature: Array,
        speed: Array,
        burn: Burn,
        heat: Heat,
        closes: Array,
        opens: Array,
        steps: tuple[int, int, int],
    ) -> None:
        self.charge, self.gas, self.heat_model = charge, charge.fresh, heat
        cases = np.broadcast_shapes(
            charge.fuel.shape, pressure.shape, temperature.shape, speed.shape, closes.shape, opens.shape,
            geometry.bore.shape, geometry.stroke.shape, geometry.rod.shape, geometry.compression_ratio.shape,
            burn.start.shape, burn.duration.shape, burn.a.shape, burn.m.shape, heat.factor.shape, heat.wall.shape,
        )[0]  # fmt: skip
        self.first = steps[0]
        self.angle = _angles(burn, closes, opens, steps, cases)
        count = len(self.angle)
        self.volume = geometry.volume(self.angle)
        self.wall = geometry.wall(self.angle)
        self.burned = np.maximum(burn.burned(self.angle), 0.0)
        self.burned[: self.first + 1] = 0.0
        self.time = np.diff(self.angle, axis=0) / speed
        self.p = np.empty((count, cases))
        self.tu, self.tb = np.empty((count, cases)), np.full((count, cases), np.nan)
        self.lost, self.vb = np.zeros((count, cases)), np.zeros((count, cases))
        self.parts = np.zeros((5, count, cases))
        self.p[0], self.tu[0] = pressure, temperature
        self.mass = self.p[0] * self.volume[0] / (self.gas.gas_constant * self.tu[0])
        self.v = self.volume / self.mass
        self.energy_start = self.gas.enthalpy(self.tu[0]) - self.gas.gas_constant * self.tu[0]
        # what does not change along the crank in Woschni's coefficient
        self.by_bore = 3.26 * geometry.bore**-0.2
        self.mean_velocity = 2.28 * (2 * geometry.stroke * speed / (2 * np.pi))
        self.swirled = heat.swirl * (geometry.displacement * self.tu[0] / (self.p[0] * self.volume[0]))
        self.motored = self.p[0] * (self.volume[0] / self.volume[self.first :]) ** 1.3
        self.flows = [np.zeros(cases), np.zeros(cases)]
        self.state: Burnt | None = None
        carbon, hydrogen, oxygen, _, _, sulfur = charge.elements
        spare = oxygen / (2 * carbon + hydrogen / 2 + 2 * sulfur)
        lean = spare.min() > NEAR_RICH
        self.newton, self.tries = (1, TRIES) if lean else (3, 2 * TRIES)

    # ------------------------------------------------------------------ heat

    def coefficient(self, at: int) -> Array:
        """Return Woschni's coefficient at a step. [W/(m² K)]"""
        p, t = self.p[at], self.p[at] * self.v[at] / self.gas.gas_constant
        velocity = self.mean_velocity
        if self.heat_model.swirl and at > self.first:
            velocity = velocity + self.swirled * np.maximum(p - self.motored[at - self.first], 0.0)
        found: Array = self.by_bore * (p / 1000.0) ** 0.8 * t**-0.55 * velocity**0.8
        return found

    def flow(self, at: int) -> tuple[Array, Array]:
        """Return the heat flow from fresh charge and burned gas to the walls. [W/kg]

        Each zone touches the part of the wall that goes with the surface of its volume.
        """
        whole = self.heat_model.factor * self.coefficient(at) * self.wall[at] / self.mass
        if at <= self.first:
            return whole * (self.tu[at] - self.heat_model.wall), np.zeros_like(whole)
        share = np.minimum(np.maximum(self.vb[at] / self.v[at], 0.0), 1.0)
        hot = share ** (2.0 / 3.0)
        cold = (1.0 - share) ** (2.0 / 3.0)
        whole = whole / (hot + cold)
        return (
            whole * cold * (self.tu[at] - self.heat_model.wall),
            whole * hot * (self.tb[at] - self.heat_model.wall),
        )

    def step_heat(self, at: int) -> tuple[Array, Array]:
        """Return the heat that goes to the walls on the way to the next step, by what it was here and one before."""
        time = self.time[at]
        if not np.any(self.heat_model.factor):
            return self.flows[0], self.flows[1]
        now = self.flow(at)
        if at in (0, self.first):
            ahead = now
        else:
            half = 0.5 * time / self.time[at - 1]
            ahead = tuple(one + half * (one - last) for one, last in zip(now, self.flows, strict=True))
        self.flows = list(now)
        return ahead[0] * time, ahead[1] * time

    # ------------------------------------------------------------------ before anything burns

    def compress(self) -> None:
        """Go from intake valve closing to the start of burning: one zone, its entropy known."""
        gas = self.gas
        entropy = gas.entropy(self.tu[0])
        log_v = np.log(self.v[: self.first + 1])
        for at in range(self.first):
            cold, _ = self.step_heat(at)
            t = self.tu[at]
            guess = t * np.exp(gas.gas_constant / (gas.cp(t) - gas.gas_constant) * (log_v[at] - log_v[at + 1]))
            wanted = entropy - gas.gas_constant * (np.log(t) - log_v[at]) - cold / (0.5 * (t + guess))
            for _ in range(2):
                now = gas.entropy(guess) - gas.gas_constant * (np.log(guess) - log_v[at + 1])
                guess = guess - (now - wanted) * guess / (gas.cp(guess) - gas.gas_constant)
            self.tu[at + 1] = guess
            self.p[at + 1] = gas.gas_constant * guess / self.v[at + 1]
            entropy = gas.entropy(guess)
            self.lost[at + 1] = self.lost[at] + cold

    # ------------------------------------------------------------------ two zones

    def burn_and_expand(self) -> None:
        """Go from the start of burning to exhaust valve opening."""
        gas, first = self.gas, self.first
        constant = gas.gas_constant
        enthalpy = gas.enthalpy(self.tu[first])
        slope = np.log(self.p[first] / self.p[first - 1]) / np.diff(self.angle[first - 1 : first + 1], axis=0)[0]
        heat_capacity = np.full_like(enthalpy, EQUILIBRIUM_HEAT)
        state, at_t = flame(self.charge.elements, self.p[first], enthalpy, turns=IGNITION_TURNS, steps=self.newton)
        for at in range(first, len(self.angle) - 1):
            cold, hot = self.step_heat(at)
            x, v, p0, t0 = self.burned[at + 1], self.v[at + 1], self.p[at], self.tu[at]
            rest = 1.0 - x
            safe = np.maximum(x, 1e-12)
            middle = 0.5 * (self.v[at] + v)
            before = enthalpy - cold - hot
            width = self.angle[at + 1] - self.angle[at]
            p = p0 * np.exp(slope * width)
            exponent = constant / gas.cp(t0 * (p / p0) ** (0.5 * constant / 1100.0))
            cooled = cold / np.maximum(1.0 - self.burned[at], 0.02) / 1100.0
            for _ in range(self.tries):
                tu = t0 * np.exp(exponent * np.log(p / p0)) - cooled
                vu = rest * constant * tu / p
                room = v - vu
                hb = (before + middle * (p - p0) - rest * gas.enthalpy(tu)) / safe
                tb = np.minimum(np.maximum(p * room / (safe * state.gas_constant), COLDEST), HOTTEST)
                last_t, last_h = at_t, state.enthalpy
                state, at_t = follow(self.charge.elements, tb, p, state, steps=self.newton), tb
                moved = at_t - last_t
                fast = np.abs(moved) > LEAST_MOVE
                seen = (state.enthalpy - last_h) / np.where(fast, moved, 1.0)
                heat_capacity = np.where(fast, np.minimum(np.maximum(seen, HEATS[0]), HEATS[1]), heat_capacity)
                filled = p * room / (safe * state.gas_constant)
                miss = state.enthalpy + heat_capacity * (filled - tb) - hb
                grows = heat_capacity * (room + vu * (1.0 - exponent)) / state.gas_constant - (middle - vu)
                p = np.minimum(np.maximum(p - miss * safe / grows, 0.5 * p), 1.6 * p)
            tu = t0 * np.exp(exponent * np.log(p / p0)) - cooled
            room = v - rest * constant * tu / p
            self.p[at + 1], self.tu[at + 1] = p, tu
            self.tb[at + 1] = p * room / (safe * state.gas_constant)
            self.vb[at + 1] = room
            self.parts[:, at + 1] = state.parts[[7, 2, 3, 6, 9]]
            enthalpy = before + middle * (p - p0)
            self.lost[at + 1] = self.lost[at] + cold + hot
            slope = np.log(p / p0) / width
        self.state = state
        self.enthalpy_end = enthalpy

    def result(self) -> Cycle:
        """Return what it came to."""
        assert self.state is not None
        end = self.enthalpy_end - self.p[-1] * self.v[-1]
        work = (self.energy_start - end - self.lost[-1]) * self.mass
        trace = Trace(self.angle, self.volume, self.p, self.tu, self.tb, self.burned, self.vb, self.parts, self.lost)
        return Cycle(
            trace,
            self.mass,
            work,
            self.lost[-1] * self.mass,
            self.energy_start,
            end,
            self.state,
            self.first,
            self.newton == 1,
        )
