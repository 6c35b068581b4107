"""What sensors and loggers do to true values: noise, steps, and now and then a stuck value, a spike, a gap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import split_channel
from asfound.history.demo.calendar import DAY, HOUR, STEP
from asfound.history.demo.cause import Cause
from asfound.history.demo.engine import Signals

NOISE = {
    "cylinder_exhaust_temperature": 2.0, "turbine_inlet_temperature": 1.5, "turbine_outlet_temperature": 1.5,
    "catalyst_inlet_temperature": 1.2, "catalyst_outlet_temperature": 1.2, "bearing_temperature": 0.3,
    "jacket_water_inlet_temperature": 0.3, "jacket_water_outlet_temperature": 0.3, "oil_temperature": 0.3,
    "manifold_temperature": 0.4, "ambient_temperature": 0.2, "fuel_temperature": 0.2, "barometric_pressure": 15.0,
    "relative_humidity": 0.005, "fuel_pressure": 800.0, "oxygen_sensor_reading": 0.0004, "throttle_position": 0.004,
    "wastegate_position": 0.004, "bypass_position": 0.002, "fuel_actuator_position": 0.004,
    "fuel_hydrogen_sulfide": 8.0e-6,
}  # fmt: skip
"""Standard deviation by quantity, SI."""
SHARE_OF_READING = {"fuel_flow": 0.006, "nox_sensor_reading": 0.02, "engine_power": 0.006, "generator_power": 0.002}
ONLY_WHILE_RUNNING = frozenset(
    ("oxygen_sensor_reading", "throttle_position", "wastegate_position", "bypass_position", "fuel_actuator_position")
)
STUCK_CAN = ("oil_temperature", "jacket_water_outlet_temperature", "fuel_pressure", "turbine_outlet_temperature",
             "manifold_temperature", "bearing_temperature", "oxygen_sensor_reading")  # fmt: skip
SPIKE_CAN = {
    "cylinder_exhaust_temperature": 640.0, "oil_pressure": -3.9e5, "turbine_inlet_temperature": -480.0,
    "jacket_water_inlet_temperature": 160.0, "fuel_pressure": 5.0e5, "oil_temperature": -75.0,
}  # fmt: skip
"""By quantity, how far a spike stands off."""
COARSE = 4.0
"""Steps of the temperature inputs of D2. [K]"""


def measure(cause: Cause, shown: Signals) -> None:
    """Put noise on every channel."""
    n = len(cause.time)
    for name in shown:
        quantity, _ = split_channel(name)
        random = cause.random(f"noise {name}")
        if quantity in NOISE:
            noise = NOISE[quantity] * random.standard_normal(n)
            shown[name] = shown[name] + (noise * cause.running if quantity in ONLY_WHILE_RUNNING else noise)
        elif quantity in SHARE_OF_READING:
            shown[name] = shown[name] * (1 + SHARE_OF_READING[quantity] * random.standard_normal(n))


def clip(shown: Signals) -> None:
    """Keep shares and fractions where they can be."""
    for name in shown:
        if name.split("@")[0].endswith("_position") or name.startswith(("relative_humidity", "knock_level")):
            shown[name] = np.clip(shown[name], 0.0, 1.0)
        elif name.startswith(("oxygen_sensor", "fuel_hydrogen", "nox_sensor")):
            shown[name] = np.maximum(shown[name], 0.0)


def coarse(cause: Cause, shown: Signals) -> None:
    """Keep the exhaust temperatures of D2 in the steps of its inputs."""
    if cause.spec.tag != "D2":
        return
    for cylinder in cause.spec.cylinders:
        name = f"cylinder_exhaust_temperature@cylinder_{cylinder}"
        shown[name] = np.round((shown[name] - 273.15) / COARSE) * COARSE + 273.15


def faults(cause: Cause, shown: Signals, near: tuple[int, ...]) -> NDArray[np.bool_]:
    """Plant stuck values and spikes into the channels; return which rows are lost in gaps. (n,)"""
    random = cause.random("faults")
    _stuck(cause, shown, random)
    _spikes(cause, shown, random)
    return _gaps(cause, random, near)


def _names(shown: Signals, quantities: tuple[str, ...] | dict[str, float]) -> list[str]:
    return [name for name in shown if split_channel(name)[0] in quantities]


def _stuck(cause: Cause, shown: Signals, random: np.random.Generator) -> None:
    for name in random.choice(_names(shown, STUCK_CAN), size=3, replace=False):
        long = round(random.uniform(9, 60)) * 6
        for _ in range(60):
            at = int(random.integers(2000, len(cause.time) - 2000))
            if cause.running[at - 12 : at + long + 6].all():
                break
        shown[str(name)][at : at + long] = shown[str(name)][at]
        end = int(cause.time[at + long - 1])
        cause.tell("stuck", str(name), int(cause.time[at]), end, long / 6, "h", "same number while the engine runs")


def _spikes(cause: Cause, shown: Signals, random: np.random.Generator) -> None:
    names = _names(shown, SPIKE_CAN)
    taken: set[tuple[str, int]] = set()
    while len(taken) < 14:
        name = str(random.choice(names))
        at = int(random.integers(1000, len(cause.time) - 1000))
        if not cause.running[at - 3 : at + 4].all() or any(
            one == name and abs(at - where) < 50 for one, where in taken
        ):
            continue
        taken.add((name, at))
        size = SPIKE_CAN[split_channel(name)[0]] * random.uniform(0.8, 1.1)
        shown[name][at] += size
        when = int(cause.time[at])
        cause.tell("spike", name, when, when, size, "SI", "one sample")


def _gaps(cause: Cause, random: np.random.Generator, near: tuple[int, ...]) -> NDArray[np.bool_]:
    lost = np.zeros(len(cause.time), dtype=bool)
    made = 0
    while made < 3:
        long = round(random.uniform(3, 20) * DAY / STEP)
        at = int(random.integers(144 * 20, len(cause.time) - 144 * 30))
        start, end = int(cause.time[at]), int(cause.time[at + long])
        told = (edge for one in cause.truth if one.kind in ("stuck", "spike") for edge in (one.start, one.end))
        close = any(start - 10 * DAY < when < end + 10 * DAY for when in near)
        if close or any(start - HOUR <= when <= end + HOUR for when in told) or lost[at - 144 : at + long + 144].any():
            continue
        lost[at : at + long] = True
        made += 1
        cause.tell("gap", "", start, end, long / 144, "d", "no rows")
    return lost
