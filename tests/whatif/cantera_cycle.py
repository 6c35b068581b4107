"""The same cycle step by step with a general chemistry library: two zones, burned gas in equilibrium, no heat loss.

Everything that the model does by tables, polynomials and Newton steps for many cases at once is left to the library
here: isentropic compression, equilibrium at given enthalpy and pressure, reaction rates from its own concentrations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cantera as ct
import numpy as np

from asfound.whatif.charge import AIR
from asfound.whatif.gases import BURNT, STANDARD_PRESSURE

FORMULA = {"methane": "CH4", "ethane": "C2H6", "propane": "C3H8"}
SET_A = {
    "k1r": (1.6e13, 0, 0), "k2f": (6.4e9, 1, 3150), "k3f": (4.1e13, 0, 0),
}  # fmt: skip
"""Extended Zeldovich, Heywood 1988 table 11.1 (from memory), cm³/(mol s)."""


def nasa() -> ct.Solution:
    """Return an ideal gas of the same species and polynomials, at their standard pressure of 1 bar."""
    kept = []
    for one in ct.Species.list_from_file("nasa_gas.yaml"):
        if one.name in (*BURNT, "N", *FORMULA.values()):
            t = one.thermo
            one.thermo = ct.NasaPoly2(t.min_temp, t.max_temp, STANDARD_PRESSURE, t.coeffs)
            kept.append(one)
    return ct.Solution(thermo="ideal-gas", species=kept)


@dataclass(frozen=True)
class Engine:
    bore: float = 0.20
    stroke: float = 0.22
    rod: float = 0.44
    ratio: float = 12.0

    def volume(self, angle: float) -> float:
        a = self.stroke / 2
        swept = math.pi / 4 * self.bore**2 * self.stroke
        x = self.rod + a - a * math.cos(angle) - math.sqrt(self.rod**2 - (a * math.sin(angle)) ** 2)
        return swept / (self.ratio - 1) + math.pi / 4 * self.bore**2 * x

    @property
    def swept(self) -> float:
        return math.pi / 4 * self.bore**2 * self.stroke


class TwoZones:
    """The state of one cycle in the library's own gas."""

    def __init__(self, gas: ct.Solution, fuel: dict[str, float], ratio: float, air: dict[str, float]) -> None:
        demand = sum(x * (_atoms(gas, n, "C") + _atoms(gas, n, "H") / 4) for n, x in fuel.items())
        self.mole = {FORMULA[n]: x for n, x in fuel.items()}
        for name, share in air.items():
            self.mole[name] = self.mole.get(name, 0.0) + ratio * demand / air["O2"] * share
        self.gas = gas

    def begin(self, pressure: float, temperature: float, volume: float) -> None:
        gas = self.gas
        gas.TPX = temperature, pressure, self.mole
        self.mass = gas.density * volume
        self.fresh, self.entropy, self.hu = gas.Y.copy(), gas.entropy_mass, gas.enthalpy_mass
        self.mb, self.hb, self.vb, self.p, self.v = 0.0, 0.0, 0.0, pressure, volume

    def unburned(self, trial: float) -> tuple[float, float]:
        """Return specific volume and enthalpy after isentropic compression. [m³/kg], [J/kg]"""
        self.gas.SPY = self.entropy, trial, self.fresh
        return 1.0 / self.gas.density, self.gas.enthalpy_mass

    def burned(self, trial: float, amount: float, added: float) -> tuple[float, float]:
        """Set the gas to the burned zone of a step; its enthalpy and volume. [J/kg], [m³]"""
        gas, room, enthalpy = self.gas, self.vb, 0.0
        for _ in range(3):
            middle = 0.5 * (self.vb + room) * (trial - self.p)
            enthalpy = (self.mb * self.hb + (amount - self.mb) * added + middle) / amount
            gas.TPY = 2000.0, trial, self.fresh
            gas.equilibrate("TP", rtol=1e-10)
            gas.HP = enthalpy, trial
            gas.equilibrate("HP", rtol=1e-10)
            room = amount / gas.density
        return enthalpy, room

    def miss(self, trial: float, x: float, v: float) -> float:
        """Return by how much both zones are larger than the cylinder at a pressure. [m³]"""
        vu, hu = self.unburned(trial)
        if x == 0.0:
            return self.mass * vu - v
        _, room = self.burned(trial, self.mass * x, 0.5 * (self.hu + hu))
        return self.mass * (1.0 - x) * vu + room - v

    def step(self, x: float, v: float) -> None:
        """Go to the next volume and burned fraction."""
        one, two = self.p * self.v / v, self.p * (self.v / v) ** 1.35
        f1, f2 = self.miss(one, x, v), self.miss(two, x, v)
        for _ in range(30):
            if abs(two - one) < 1e-9 * two or f1 == f2:
                break
            one, f1, two = two, f2, two - f2 * (two - one) / (f2 - f1)
            f2 = self.miss(two, x, v)
        _, hu = self.unburned(two)
        if x > 0.0:
            self.hb, self.vb = self.burned(two, self.mass * x, 0.5 * (self.hu + hu))
            self.mb = self.mass * x
        self.p, self.v, self.hu = two, v, hu


def cycle(
    gas: ct.Solution,
    fuel: dict[str, float],
    ratio: float,
    *,
    engine: Engine | None = None,
    pressure: float = 2.6e5,
    temperature: float = 330.0,
    rpm: float = 1000.0,
    start: float = -12.0,
    duration: float = 45.0,
    step: float = 0.5,
    air: dict[str, float] = AIR,
) -> dict[str, float]:
    """Return indicated mean effective pressure and greatest pressure [Pa], burned temperature [K], NO and mass [kg]."""
    engine = engine or Engine()
    zones = TwoZones(gas, fuel, ratio, air)
    zones.begin(pressure, temperature, engine.volume(-math.pi))
    no = work = hot = rate = 0.0
    top, seconds = pressure, math.radians(step) / (rpm * math.pi / 30)
    for angle in np.arange(-180.0 + step, 180.0 + 1e-9, step):
        part = min(max((angle - start) / duration, 0.0), 3.0)
        p, v = zones.p, zones.v
        zones.step(1.0 - math.exp(-5.0 * part**3), engine.volume(math.radians(float(angle))))
        work += 0.5 * (p + zones.p) * (zones.v - v)
        top = max(top, zones.p)
        if zones.mb > 0.0:
            hot = max(hot, gas.T)
            no = max(no + seconds * 0.5 * (rate + _no_rate(gas, no, zones.vb)), 0.0)
            rate = _no_rate(gas, no, zones.vb)
    return {"imep": work / engine.swept, "pmax": top, "tmax": hot, "no": no * 30.006e-3, "mass": zones.mass}


def _no_rate(gas: ct.Solution, no: float, volume: float) -> float:
    """Return moles of NO formed in the burned gas. [mol/s]"""
    t, c = gas.T, {n: 1e-3 * x for n, x in zip(gas.species_names, gas.concentrations, strict=True)}  # mol/cm³
    k = {n: a * t**b * math.exp(-e / t) for n, (a, b, e) in SET_A.items()}
    alpha = no / (c["NO"] * volume * 1e6)
    r1 = k["k1r"] * c["N"] * c["NO"]
    r2 = k["k2f"] * c["N"] * c["O2"]
    r3 = k["k3f"] * c["N"] * c["OH"]
    return 2 * r1 * (1 - alpha**2) / (1 + alpha * r1 / (r2 + r3)) * volume * 1e6


def _atoms(gas: ct.Solution, name: str, element: str) -> float:
    return gas.n_atoms(FORMULA[name], element)
