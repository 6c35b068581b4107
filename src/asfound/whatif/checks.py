"""Published values of the cycle, recomputed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.sources.prove import Check
from asfound.sources.tables import load_csv
from asfound.whatif.charge import AIR, charge
from asfound.whatif.cycle import Burn, Heat, closed_cycle
from asfound.whatif.flame import laminar_speed
from asfound.whatif.gases import Fresh, R, fresh, species
from asfound.whatif.geometry import Geometry
from asfound.whatif.ideal import finite_heat_release
from asfound.whatif.knock import ignition_delay
from asfound.whatif.nitric_oxide import MOLAR_MASS, along

THEIR_AIR = {"O2": 1 / 4.76, "N2": 3.76 / 4.76}
_PACKAGE = "asfound.whatif"


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    found = {**_otto_air(), **_isentropic_air(), "pmax": _finite()}
    for row in load_csv(_PACKAGE, "data/published_cycles.csv"):
        yield Check(
            row["check"], "whatif", found[row["inputs"]], float(row["published"]), float(row["tolerance"]),
            row["source"], row["clause"], row["unit"], row["note"],
        )  # fmt: skip
    yield from _delays()
    yield from _flames()
    yield from _shared_cycle()


def _air() -> Fresh:
    mass = sum(share * species()[name].molar_mass for name, share in AIR.items())
    return fresh(tuple(AIR), np.array([[share / mass] for share in AIR.values()]))


def _compressed(air: Fresh, start: float, ratio: float) -> float:
    """Return the temperature after isentropic compression by a ratio of volumes. [K]"""
    constant = air.gas_constant
    wanted = air.entropy(np.array([start])) - constant * np.log(start)
    t = np.array([start * ratio**0.38])
    for _ in range(30):
        t = t - (air.entropy(t) - constant * np.log(t) - wanted - constant * np.log(ratio)) * t / (air.cp(t) - constant)
    return float(t[0])


def _energy(air: Fresh, t: float) -> float:
    return float((air.enthalpy(np.array([t])) - air.gas_constant * t)[0])


def _otto_air() -> dict[str, float]:
    """Ratio 8, 290 K, 100 kPa, 800 kJ/kg. Hot air is beyond the polynomials of fresh charge: from the species."""
    air, ratio, start, heat = _air(), 8.0, 290.0, 800e3
    constant = float(air.gas_constant[0])
    two = _compressed(air, start, ratio)
    three = 1500.0
    for _ in range(40):
        three -= (_hot(three)[0] - _hot(two)[0] - heat) / _hot(three)[2]
    four = 800.0
    for _ in range(60):
        four -= (_hot(four)[1] - _hot(three)[1] + constant * np.log(ratio)) * four / _hot(four)[2]
    work = heat - (_hot(four)[0] - _hot(start)[0])
    volume = constant * start / 100e3
    return {
        "T3": three, "p3": 100e3 * ratio * three / start / 1e6, "w": work / 1e3, "eta": work / heat,
        "mep": work / (volume * (1 - 1 / ratio)) / 1e3,
    }  # fmt: skip


def _hot(t: float) -> tuple[float, float, float]:
    """Return internal energy [J/kg], entropy at fixed volume [J/(kg K)] and heat capacity at fixed volume of air."""
    mass = sum(share * species()[name].molar_mass for name, share in AIR.items())
    at = np.array([t])
    energy = entropy = capacity = 0.0
    for name, share in AIR.items():
        cp, h, s = (float(one[0]) for one in species()[name].evaluate(at))
        energy += share * (h - t)
        entropy += share * (s - np.log(t))
        capacity += share * (cp - 1.0)
    return R * energy / mass, R * entropy / mass, R * capacity / mass


def _isentropic_air() -> dict[str, float]:
    two = _compressed(_air(), 300.0, 8.0)
    return {"T2": two, "p2": 8.0 * two / 300.0}


def _finite() -> float:
    return finite_heat_release(10.0, 1.4, 20.0, start=-20.0, duration=40.0)[0]


def _delays() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/published_delays.csv"):
        t, p, phi = float(row["temperature"]), float(row["pressure_bar"]) * 1e5, float(row["phi"])
        for name, methane in (("methane", 1.0), ("mixed", 0.95)):
            demand = 2.0 * methane + 3.5 * (1.0 - methane)
            all_ = 1.0 + demand / phi * 4.76
            density = p / (R * t)
            found = ignition_delay(
                np.array([t]), np.array([density * demand / phi / all_]), np.array([density * methane / all_]),
                np.array([density * (1.0 - methane) / all_]),
            )  # fmt: skip
            published = float(row[name])
            if name == "methane" and float(row["mixed"]) > published:
                continue
            yield Check(
                f"ignition delay, {name}, {t:.0f} K, {p / 1e5:.0f} bar, phi {phi:g}", "whatif", float(found[0]),
                published, 1e-4 * published, row["source"], "", "s", "correlation from memory: 1e-4",
            )  # fmt: skip


def _flames() -> Iterator[Check]:
    for row in load_csv(_PACKAGE, "data/published_flames.csv"):
        t, p, phi = float(row["temperature"]), float(row["pressure_bar"]) * 1e5, float(row["phi"])
        found = float(laminar_speed(np.array(1 / phi), np.array(t), np.array(p)))
        if row["correlation"]:
            yield Check(
                f"laminar burning speed, {t:.0f} K, {p / 1e5:.0f} bar, phi {phi:g}", "whatif", found,
                float(row["correlation"]), 1e-4, "gu_2000", "", "m/s", "correlation from memory: 1e-4 m/s",
            )  # fmt: skip
    lean = [float(laminar_speed(np.array(1 / phi), np.array(800.0), np.array(60e5))) for phi in (0.5263, 0.5882)]
    yield Check(
        "laminar burning speed, 800 K, 60 bar: lambda 1.9 over 1.7", "whatif", lean[0] / lean[1], 0.164637 / 0.221417,
        0.02, "gri_30_computed", "", "1", "what is used of it is the ratio: 0.02",
    )  # fmt: skip


def _shared_cycle() -> Iterator[Check]:
    """The engine of the shared baseline, worked out with GRI-Mech 3.0 in steps of half a degree."""
    one = np.ones(1)
    speed = 1000 * np.pi / 30 * one
    geometry = Geometry(0.20 * one, 0.22 * one, 0.44 * one, 12.0 * one)
    found = closed_cycle(
        geometry, charge({"methane": 1.0}, 1.75, air=THEIR_AIR), pressure=2.6e5 * one, temperature=330.0 * one,
        speed=speed, heat=Heat(0.0 * one, 430.0 * one), closes=-np.pi * one, opens=np.pi * one,
        burn=Burn(np.radians(-12.0) * one, np.radians(45.0) * one, 5.0 * one, 2.0 * one, one),
    )  # fmt: skip
    trace = found.trace
    made, _ = along(np.diff(trace.angle, axis=0) / speed, trace.burned_temperature, trace.burned_volume, trace.parts)
    values = {
        "indicated mean effective pressure": (found.work[0] / geometry.displacement[0] / 1e5, 23.7501, 0.005, "bar"),
        "greatest pressure": (trace.pressure.max() / 1e5, 133.631, 0.01, "bar"),
        "highest burned temperature": (float(np.nanmax(trace.burned_temperature)), 2158.50, 10.0 / 2158.50, "K"),
        "nitric oxide": (float((made[-1] * found.mass)[0] * MOLAR_MASS * 1e6), 3.72445, 0.05, "mg"),
    }
    for name, (value, published, share, unit) in values.items():
        yield Check(
            f"two-zone cycle: {name}", "whatif", float(value), published, share * published, "gri_30_computed", "",
            unit, f"as asked of the model: {100 * share:.1f} %; its steps of 0.5 degrees are good to 1.5 % of NO",
        )  # fmt: skip
