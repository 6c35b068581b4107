"""What happens to the three compressor engines of the demo world."""

from __future__ import annotations

import numpy as np

from asfound.history.demo.calendar import DAY, MINUTE, moment
from asfound.history.demo.cause import Cause
from asfound.history.demo.engine import OXYGEN, Signals
from asfound.history.demo.fleet import gas
from asfound.history.demo.planted import Stay
from asfound.history.demo.units_mistaken import celsius_read_as_fahrenheit

GAS_CHANGE = moment(48, 205, 16)
A1_DERATED = moment(48, 230, 20)
A2_BEGAN, A2_STOP = moment(47, 128), moment(48, 190, 16.55)
A2_STOPPED = 22 * MINUTE
A2_LEAN = 0.06
A2_CELSIUS = (moment(47, 330, 15), moment(48, 12, 18))
A3_COLD, A3_RENEWED = moment(48, 60), moment(48, 75, 16.0833)
A3_COIL, A3_TRIP, A3_REPAIRED = moment(48, 240), moment(48, 262, 20.6167), moment(48, 263, 22)
A3_READS_LOW = -55.0
LEFT_ROW = ("L1", "L2", "L3", "L4", "L5")


def stops(tag: str) -> tuple[Stay, ...]:
    """Return the stops that a story needs."""
    if tag == "A1":
        return (Stay(moment(48, 230, 15), moment(48, 230, 17.5), "maintenance", "visit: gas analysis, knock"),)
    if tag == "A2":
        return (Stay(A2_STOP, A2_STOP + A2_STOPPED, "maintenance", "visit: oxygen sensor changed"),)
    return (
        Stay(A3_RENEWED, A3_RENEWED + 35 * MINUTE, "maintenance", "visit: thermocouple at L4 changed"),
        Stay(A3_TRIP, A3_REPAIRED, "forced", "catalyst outlet temperature"),
    )


def before(cause: Cause) -> None:
    """Change what drives the engine."""
    {"A1": _a1, "A2": _a2, "A3": _a3}[cause.spec.tag](cause)


def after(cause: Cause, shown: Signals) -> None:
    """Change what its sensors show."""
    if cause.spec.tag == "A2":
        _a2_sensors(cause, shown)
    elif cause.spec.tag == "A3":
        _a3_sensors(cause, shown)


def _a1(cause: Cause) -> None:
    end = int(cause.time[-1])
    cause.second_gas = cause.between(GAS_CHANGE, end + 1)
    cause.load = np.where(cause.time >= A1_DERATED, np.minimum(cause.load, 0.74), cause.load)
    hot = (
        np.clip((cause.ambient - 293.15) / 10, 0.0, 1.6) * cause.second_gas * np.clip((cause.load - 0.70) / 0.14, 0, 1)
    )
    cause.retard = np.deg2rad(4.5) * hot
    cause.knock = np.clip(cause.knock + 0.35 * hot, 0.0, 1.0)
    cause.tell(
        "gas_change",
        "",
        GAS_CHANGE,
        end,
        0.0,
        "",
        "gas G1 until then, G2 from a new well after; methane number 76 to 59",
    )
    cause.tell(
        "knock",
        "ignition_retard@engine",
        GAS_CHANGE,
        A1_DERATED,
        4.5,
        "deg",
        "in the heat of the afternoon at high load",
    )
    cause.tell("derate", "engine_power@engine", A1_DERATED, end, 0.74, "share of rated", "after the visit")


def _a2(cause: Cause) -> None:
    aged = cause.ramp(A2_BEGAN, A2_STOP) * cause.between(0, A2_STOP + A2_STOPPED)
    cause.lean = cause.lean - A2_LEAN * aged
    cause.tell(
        "drift", "excess_air_ratio@stack", A2_BEGAN, A2_STOP, -A2_LEAN, "",
        "the oxygen sensor reads too high as it ages, so the control enriches: lambda 1.72 to 1.66, NOx 0.55 to 0.95; "
        "new sensor and lambda 1.72 from the visit on",
    )  # fmt: skip
    cause.tell("repair", "oxygen_sensor_reading@engine", A2_STOP, A2_STOP + A2_STOPPED, 0.0, "", "sensor changed")


def _a2_sensors(cause: Cause, shown: Signals) -> None:
    burnt = gas("G1")
    aged = cause.ramp(A2_BEGAN, A2_STOP) * cause.between(0, A2_STOP + A2_STOPPED)

    def dry(lean: np.ndarray) -> np.ndarray:
        return OXYGEN * burnt.air * (lean - 1) / (burnt.dry + burnt.air * (lean - 1))

    error = (dry(cause.lean + A2_LEAN * aged) - dry(cause.lean)) * 0.885  # share of dry in wet exhaust
    shown["oxygen_sensor_reading@engine"] = shown["oxygen_sensor_reading@engine"] + error * cause.running
    cause.tell(
        "drift", "oxygen_sensor_reading@engine", A2_BEGAN, A2_STOP, float(error.max()), "mol/mol", "reads too high"
    )
    wrong = cause.between(*A2_CELSIUS) > 0
    for name in shown:
        if name.startswith(("cylinder_exhaust", "turbine_", "bearing_temperature")):
            shown[name] = np.where(wrong, celsius_read_as_fahrenheit(shown[name]), shown[name])
            cause.tell("unit_change", name, *A2_CELSIUS, 0.0, "", "°C under a head that says °F")


def _a3(cause: Cause) -> None:
    sick = cause.between(A3_COIL, A3_REPAIRED)
    random = cause.random("coil")
    share = 0.36 + 0.64 * cause.ramp(A3_COIL, A3_TRIP) + 0.05 * random.standard_normal(len(cause.time))
    cause.misfire["L2"] = np.clip(share, 0.0, 1.0) * sick
    cause.tell(
        "misfire", "cylinder_exhaust_temperature@cylinder_L4", A3_COIL, A3_TRIP, -250.0, "K",
        "coil of L2, which the display calls L4: oxygen and the rise over the catalyst grow with it",
    )  # fmt: skip
    cause.tell("trip", "catalyst_outlet_temperature@engine", A3_TRIP, A3_REPAIRED, 0.0, "", "first out: TSHH-CAT-OUT")
    cause.tell(
        "repair",
        "cylinder_exhaust_temperature@cylinder_L2",
        A3_TRIP,
        A3_REPAIRED,
        0.0,
        "",
        "coil and thermocouple of L2; order of the strip set",
    )


def _a3_sensors(cause: Cause, shown: Signals) -> None:
    low = cause.ramp(A3_COLD, A3_COLD + 3 * DAY) * cause.between(0, A3_REPAIRED)
    name = "cylinder_exhaust_temperature@cylinder_{}".format
    shown[name("L2")] = shown[name("L2")] + A3_READS_LOW * low * (shown[name("L2")] > 500)
    cause.tell(
        "drift", name("L4"), A3_COLD, A3_REPAIRED, A3_READS_LOW, "K",
        "thermocouple of L2, which the display calls L4; at the visit of day 75 the sound one at L4 was changed",
    )  # fmt: skip
    reversed_row = {k: shown[name(other)] for k, other in zip(LEFT_ROW, LEFT_ROW[::-1], strict=True)}
    turned = cause.time >= A3_REPAIRED
    for cylinder in LEFT_ROW:
        shown[name(cylinder)] = np.where(turned, shown[name(cylinder)], reversed_row[cylinder])
        cause.tell(
            "order_reversed", name(cylinder), int(cause.time[0]), A3_REPAIRED, 0.0, "",
            f"the strip counts backwards: shows cylinder {dict(zip(LEFT_ROW, LEFT_ROW[::-1], strict=True))[cylinder]}",
        )  # fmt: skip


NEAR = {
    "A1": (GAS_CHANGE, A1_DERATED),
    "A2": (A2_BEGAN, A2_STOP, *A2_CELSIUS),
    "A3": (A3_COLD, A3_RENEWED, A3_COIL, A3_TRIP, A3_REPAIRED),
}
"""Moments that no gap of the log may hide."""
