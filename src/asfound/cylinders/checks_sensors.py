"""Published values of numbering, firing orders and sensors, recomputed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Literal, cast

from asfound.cylinders import resistance_thermometer, sensor_tolerance
from asfound.cylinders.firing_order import companions, even_bank_angles, firing_interval, firing_intervals, parse_order
from asfound.cylinders.numbering import CONVENTIONS, End, Layout, positions
from asfound.cylinders.rotation import Rotation, Turn
from asfound.cylinders.thermocouple import ZERO, emf, measured_temperature, seebeck, temperature
from asfound.cylinders.thermocouple_faults import shown
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv


def _measured(letter: str, millivolt: str, cold: str) -> float:
    return float(measured_temperature(letter, float(millivolt) * 1e-3, float(cold) + ZERO)) - ZERO


def _tolerance(standard: str, letter: str, grade: str, celsius: str) -> float:
    return float(
        sensor_tolerance.thermocouple_tolerance(letter, grade, float(celsius) + ZERO, standard=standard)
    )  # fmt: skip


def _two(letter: str, grade: str, celsius: str) -> float:
    one = sensor_tolerance.thermocouple_tolerance(letter, grade, float(celsius) + ZERO)
    return float(sensor_tolerance.difference_of_two(one))


def _too_much(wire: str, at_input: str, celsius: str, cold: str) -> float:
    true = float(celsius) + ZERO
    return float(shown(wire, at_input, true, float(cold) + ZERO)) - true


def _interval(cylinders: str, angle: str, which: str) -> float:
    return math.degrees(firing_intervals(int(cylinders), math.radians(float(angle)))[int(which)])


def _place(convention: str, form: str, cylinders: str, name: str, row: str) -> float:
    layout = Layout(cast(Literal["inline", "vee"], form), int(cylinders))
    found = positions(layout, CONVENTIONS[convention])[name]
    return float(found.index) if found.row == row else 0.0


def _rotation(turn: str, end: str, word: str) -> float:
    return float(Rotation(cast(Turn, turn), cast(End, end)).sae_j824 == word)


WAYS: dict[str, Callable[..., float]] = {
    "emf": lambda letter, celsius: 1e3 * float(emf(letter, float(celsius) + ZERO)),
    "seebeck": lambda letter, celsius: 1e6 * float(seebeck(letter, float(celsius) + ZERO)),
    "inverse": lambda letter, millivolt: float(temperature(letter, float(millivolt) * 1e-3)) - ZERO,
    "measured": _measured,
    "wrong_type": _too_much,
    "tc_tolerance": _tolerance,
    "tc_two": _two,
    "resistance": lambda celsius: float(resistance_thermometer.resistance(float(celsius) + ZERO)),
    "resistance_inverse": lambda ohm: float(resistance_thermometer.temperature_of_resistance(float(ohm))) - ZERO,
    "rtd_tolerance": lambda grade, celsius: float(
        sensor_tolerance.resistance_tolerance(grade, float(celsius) + ZERO, beyond=True)
    ),
    "interval": _interval,
    "even": lambda cylinders: math.degrees(firing_interval(int(cylinders))),
    "bank": lambda cylinders: math.degrees(even_bank_angles(int(cylinders))[0]),
    "companion": lambda order, name: float(companions(parse_order(order))[name]),
    "numbering": _place,
    "rotation": _rotation,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.cylinders", "data/published_sensors.csv"):
        yield Check.of_row("cylinders", WAYS[row["of"]](*row["inputs"].split("|")), row)
