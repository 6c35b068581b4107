"""What happens to the four generating engines of the demo world."""

from __future__ import annotations

import numpy as np

from asfound.history.demo.calendar import DAY, HOUR, MINUTE, moment
from asfound.history.demo.cause import Cause
from asfound.history.demo.engine import NOX_BY_MIXTURE, Signals
from asfound.history.demo.planted import Stay
from asfound.history.demo.units_mistaken import absolute_read_as_gauge, type_k_on_n
from asfound.quantities.typing import Array

N1_LOGGER = moment(47, 250, 9)
N1_GAINS = (moment(47, 300, 11), moment(48, 120, 10), moment(48, 310, 12))
N1_TWIN = (moment(47, 300), moment(48, 310, 12))
N1_METER = 41_230 * 3600.0
N2_WIRES, N2_VISIT = moment(47, 200, 13), moment(49, 20, 12)
N2_FOULING = (moment(47, 90), N2_VISIT)
N2_FOULED = 16.0
N2_LIMIT = 373.15
N2_CYLINDERS = ("3", "7")
D1_SATURATED, D1_VISIT, D1_RENEWED = moment(49, 30), moment(49, 61, 9), moment(49, 75, 9)
D1_PLUGS = (("4", moment(47, 163), 6), ("2", moment(48, 58), 9), ("5", moment(48, 291), 7))
"""Cylinder, when its plug begins to fail, days until it is changed."""
D2_AGEING = (moment(47, 60), moment(48, 170))
D2_LOW = 0.12


def stops(tag: str) -> tuple[Stay, ...]:
    """Return the stops that a story needs."""
    if tag == "N2":
        return (Stay(N2_VISIT, N2_VISIT + 7 * HOUR, "maintenance", "visit: thermocouples, radiator washed"),)
    if tag == "D1":
        plugs = (Stay(at + days * DAY, at + days * DAY + 2 * HOUR, "maintenance", "plugs") for _, at, days in D1_PLUGS)
        return (*plugs, Stay(D1_RENEWED, D1_RENEWED + 26 * HOUR, "planned", "catalyst washed, gas cleaning renewed"))
    if tag == "N1":
        return (Stay(N1_GAINS[2] - 50 * MINUTE, N1_GAINS[2], "maintenance", "visit: gains"),)
    return ()


def before(cause: Cause) -> None:
    """Change what drives the engine."""
    {"N1": _n1, "N2": _n2, "D1": _d1, "D2": _d2}[cause.spec.tag](cause)


def after(cause: Cause, shown: Signals) -> None:
    """Change what its sensors show."""
    {"N1": _n1_sensors, "N2": _n2_sensors, "D1": _nothing, "D2": _d2_sensors}[cause.spec.tag](cause, shown)


def hours_counter(cause: Cause, total: Array) -> Array:
    """Return what the counter shows where it was exchanged for a new one. [s]"""
    if cause.spec.tag != "N1":
        return total
    over = total >= N1_METER
    at = int(cause.time[int(np.argmax(over))])
    cause.tell(
        "meter_exchange",
        "engine_hours@engine",
        at,
        at,
        41_230.0,
        "h",
        "a new counter began at 0 when the old one read 41,230 h",
    )
    return np.asarray(np.where(over, total - N1_METER, total))


def _nothing(cause: Cause, shown: Signals) -> None:
    del cause, shown


def _n1(cause: Cause) -> None:
    first, second, back = N1_GAINS
    end = int(cause.time[-1])
    cause.governor = 1 + 0.5 * cause.between(first, second) + 1.2 * cause.between(second, back)
    cause.tell(
        "hunting",
        "generator_power@generator",
        int(cause.time[0]),
        end,
        0.045,
        "share of rated",
        "a crusher, 17:00 to 21:30 local on five days of seven: the load leads, the speed follows",
    )
    cause.tell("governor", "engine_speed@engine", first, second, 1.5, "", "gains changed by a visitor")
    cause.tell("governor", "engine_speed@engine", second, back, 2.2, "", "gains changed again; put back at the visit")


def _n1_sensors(cause: Cause, shown: Signals) -> None:
    old = cause.time < N1_LOGGER
    first = int(cause.time[0])
    for bank in cause.spec.banks:
        name = f"manifold_pressure@{bank}"
        shown[name] = np.where(old, absolute_read_as_gauge(shown[name], 101_325.0), shown[name])
        cause.tell(
            "gauge_absolute",
            name,
            first,
            N1_LOGGER,
            101.325,
            "kPa",
            "absolute pressure under a head that says bar gauge",
        )
    cause.tell("renamed", "", N1_LOGGER, int(cause.time[-1]), 0.0, "", "logger replaced, columns renamed")
    twin = "oxygen_sensor_reading@before_catalyst"
    shown[twin] = shown[twin] + 0.004 * cause.ramp(*N1_TWIN) * cause.between(0, N1_TWIN[1]) * cause.running
    cause.tell("drift", twin, *N1_TWIN, 0.004, "mol/mol", "the second of two sensors side by side")


def _n2(cause: Cause) -> None:
    cause.fouled = N2_FOULED * cause.ramp(*N2_FOULING) * cause.between(0, N2_VISIT)
    cause.tell(
        "fouling", "jacket_water_inlet_temperature@engine", *N2_FOULING, N2_FOULED, "K", "radiator; washed at the visit"
    )


def _n2_sensors(cause: Cause, shown: Signals) -> None:
    wrong = cause.between(N2_WIRES, N2_VISIT) > 0
    for cylinder in N2_CYLINDERS:
        name = f"cylinder_exhaust_temperature@cylinder_{cylinder}"
        shown[name] = np.where(wrong, type_k_on_n(shown[name]), shown[name])
        cause.tell(
            "wrong_alloy",
            name,
            N2_WIRES,
            N2_VISIT,
            88.5,
            "K",
            "type K wire on a type N input: 88.5 K too high at 500 °C",
        )
    name = "jacket_water_outlet_temperature@engine"
    over = shown[name] > N2_LIMIT
    if over.any():
        found = cause.time[over]
        cause.tell("at_limit", name, int(found[0]), int(found[-1]), 100.0, "°C", "transmitter ends at 100 °C")
    shown[name] = np.minimum(shown[name], N2_LIMIT)


def _d1(cause: Cause) -> None:
    end = int(cause.time[-1])
    for cylinder, at, days in D1_PLUGS:
        random = cause.random(f"plug {cylinder}")
        weak = cause.ramp(at, at + days * DAY) * cause.between(at, at + days * DAY)
        now_and_then = random.random(len(cause.time)) < 0.5
        cause.misfire[cylinder] = np.clip(weak * (0.25 + 0.5 * now_and_then), 0.0, 1.0)
        name = f"cylinder_exhaust_temperature@cylinder_{cylinder}"
        cause.tell("misfire", name, at, at + days * DAY, -150.0, "K", "spark plug at the end of its life: siloxanes")
    deposit = cause.ramp(int(cause.time[0]), end)
    cause.deposits = 0.55 * deposit
    cause.retard = np.deg2rad(4.0) * deposit * (1 + 0.1 * np.tanh((cause.ambient - 288.15) / 10))
    cause.knock = np.clip(cause.knock + 0.18 * deposit, 0.0, 1.0)
    cause.tell(
        "fouling",
        "ignition_retard@engine",
        int(cause.time[0]),
        end,
        4.0,
        "deg",
        "deposits of silica: the knock margin shrinks",
    )
    sour = cause.between(D1_SATURATED, D1_RENEWED)
    cause.h2s = cause.h2s + (9.0e-4 - 2.0e-4) * sour * cause.ramp(D1_SATURATED, D1_SATURATED + 4 * DAY)
    poisoned = cause.ramp(D1_SATURATED, D1_VISIT) * cause.between(0, D1_RENEWED)
    cause.conversion = 0.88 - 0.27 * poisoned - 0.04 * cause.between(D1_RENEWED, end + 1)
    cause.tell(
        "saturation",
        "fuel_hydrogen_sulfide@fuel",
        D1_SATURATED,
        D1_RENEWED,
        9.0e-4,
        "mol/mol",
        "gas cleaning saturated: 0.02 to 0.09 %",
    )
    cause.tell(
        "drift",
        "catalyst_conversion_co@engine",
        D1_SATURATED,
        D1_VISIT,
        -0.27,
        "",
        "88 to 61 %; washed with the gas cleaning",
    )


def _d2(cause: Cause) -> None:
    low = D2_LOW * cause.ramp(*D2_AGEING)
    cause.lean = cause.lean + np.log(1 / (1 - low)) / NOX_BY_MIXTURE
    cause.tell(
        "drift",
        "nox_mass_concentration@stack",
        *D2_AGEING,
        58.6,
        "mg/m3",
        "the trim follows a probe that ages: 430 to 489 mg/m3 at 5 % oxygen",
    )


def _d2_sensors(cause: Cause, shown: Signals) -> None:
    name = "nox_sensor_reading@stack"
    shown[name] = shown[name] * (1 - D2_LOW * cause.ramp(*D2_AGEING))
    cause.tell("drift", name, *D2_AGEING, -D2_LOW, "share of reading", "reads low, and stays so")
    for cylinder in cause.spec.cylinders:
        name = f"cylinder_exhaust_temperature@cylinder_{cylinder}"
        cause.tell("coarse", name, int(cause.time[0]), int(cause.time[-1]), 4.0, "K", "eight bits over 1,000 K")


NEAR = {
    "N1": (N1_LOGGER, *N1_GAINS),
    "N2": (N2_WIRES, N2_VISIT),
    "D1": (D1_SATURATED, D1_VISIT, D1_RENEWED, *(at for _, at, _ in D1_PLUGS)),
    "D2": D2_AGEING,
}
"""Moments that no gap of the log may hide."""
