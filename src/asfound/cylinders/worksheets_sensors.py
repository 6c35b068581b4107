"""Worksheets of sensors: what a wrong thermocouple hides, what a voltage or a resistance means, what a class allows."""

from __future__ import annotations

import math

from asfound.cylinders.firing_order import firing_interval
from asfound.cylinders.resistance_thermometer import temperature_of_resistance
from asfound.cylinders.sensor_tolerance import difference_of_two, standard_uncertainty, thermocouple_tolerance
from asfound.cylinders.thermocouple import ZERO, emf, measured_temperature, temperature_range
from asfound.cylinders.thermocouple_faults import true_temperature
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Refusal, Take, worksheet

TERMINALS = Take(
    quantity="terminal_temperature",
    assume=Assumption(
        value=308.15,
        standard_uncertainty=10.0,
        says="terminals at 35 °C, on or beside a running engine",
        source="engineering_judgement",
    ),
)
REFERENCE = "reference functions of ITS-90"
WRONG_TYPE = Method(f"{REFERENCE}, terminals as known to the input", "nist_srd_60", "types by IEC 60584-1")
BY_VOLTAGE = Method(f"{REFERENCE}, cold junction added", "nist_srd_60")
BELOW = 5.0
"""Warm terminals take as much off the least voltage of a type. [mV]"""
PLATINUM = Method("Callendar-Van Dusen equation", "iec_60751", "R/R0 = 1 + At + Bt² (+ C(t - 100)t³ below 0 °C)")


def _reads(letter: str) -> Refusal:
    """Return a refusal of what a type's input cannot show."""

    def refuse(reading: Reading | Result) -> None:
        low, high = temperature_range(letter)
        if not low <= reading.value <= high:
            raise impossible(
                reading,
                f"is not what an input of type {letter} can show",
                allowed=f"{low - ZERO:g} to {high - ZERO:g} °C",
                try_next="Look at the type letter of the input, and whether a wire is open: many then show their end.",
            )

    return refuse


def _gives(letter: str) -> Refusal:
    """Return a refusal of a voltage that no junction of a type gives, whatever its terminals."""

    def refuse(reading: Reading | Result) -> None:
        low, high = temperature_range(letter)
        least, most = 1e3 * float(emf(letter, low)) - BELOW, 1e3 * float(emf(letter, high))
        if not least <= 1e3 * reading.value <= most:
            raise impossible(
                reading,
                f"is no voltage of a type {letter} thermocouple",
                allowed=f"{least:.1f} to {most:.1f} mV",
                try_next="Look at the range of the multimeter and whether the wires are open or exchanged.",
            )

    return refuse


def _of_platinum(r0: float) -> Refusal:
    """Return a refusal of a resistance that such a thermometer never has."""

    def refuse(reading: Reading | Result) -> None:
        if not math.isfinite(float(temperature_of_resistance(reading.value, r0))):
            raise impossible(
                reading,
                f"is no resistance of a Pt{r0:g} between -200 and 850 °C",
                allowed=f"{0.18520 * r0:.4g} to {3.90481 * r0:.5g} ohm",
                try_next="Look whether it is open or shorted, and which of Pt100 and Pt1000 it is.",
            )

    return refuse


@worksheet(
    title="Firing interval",
    takes=("cylinder_count",),
    gives="firing_interval",
    method=Method("720° over the number of cylinders, four-stroke, evenly fired", "own_calculation"),
)
def firing_interval_of_count(cylinders: Values) -> Values:
    """Return the crank angle between firings of an evenly firing four-stroke engine. [rad]"""
    return firing_interval(1) / cylinders


@worksheet(
    title="True temperature: type K thermocouple on a type N input",
    takes=("thermocouple_reading", TERMINALS),
    gives="true_temperature_k_on_n",
    method=WRONG_TYPE,
    refuses={"thermocouple_reading": _reads("N")},
)
def k_wire_on_n_input(reading: Values, terminals: Values) -> Values:
    """Return the true temperature behind what a type N input shows for a type K thermocouple. [K]"""
    return true_temperature("K", "N", reading, terminals)


@worksheet(
    title="True temperature: type N thermocouple on a type K input",
    takes=("thermocouple_reading", TERMINALS),
    gives="true_temperature_n_on_k",
    method=WRONG_TYPE,
    refuses={"thermocouple_reading": _reads("K")},
)
def n_wire_on_k_input(reading: Values, terminals: Values) -> Values:
    """Return the true temperature behind what a type K input shows for a type N thermocouple. [K]"""
    return true_temperature("N", "K", reading, terminals)


@worksheet(
    title="True temperature: type J thermocouple on a type K input",
    takes=("thermocouple_reading", TERMINALS),
    gives="true_temperature_j_on_k",
    method=WRONG_TYPE,
    refuses={"thermocouple_reading": _reads("K")},
)
def j_wire_on_k_input(reading: Values, terminals: Values) -> Values:
    """Return the true temperature behind what a type K input shows for a type J thermocouple. [K]"""
    return true_temperature("J", "K", reading, terminals)


@worksheet(
    title="True temperature: type K thermocouple on a type J input",
    takes=("thermocouple_reading", TERMINALS),
    gives="true_temperature_k_on_j",
    method=WRONG_TYPE,
    refuses={"thermocouple_reading": _reads("J")},
)
def k_wire_on_j_input(reading: Values, terminals: Values) -> Values:
    """Return the true temperature behind what a type J input shows for a type K thermocouple. [K]"""
    return true_temperature("K", "J", reading, terminals)


@worksheet(
    title="Temperature by voltage, type K",
    takes=("thermocouple_voltage", TERMINALS),
    gives="type_k_junction_temperature",
    method=BY_VOLTAGE,
    refuses={"thermocouple_voltage": _gives("K")},
)
def type_k_temperature(voltage: Values, terminals: Values) -> Values:
    """Return the temperature of the junction of a type K thermocouple from the voltage at its terminals. [K]"""
    return measured_temperature("K", voltage, terminals)


@worksheet(
    title="Temperature by voltage, type J",
    takes=("thermocouple_voltage", TERMINALS),
    gives="type_j_junction_temperature",
    method=BY_VOLTAGE,
    refuses={"thermocouple_voltage": _gives("J")},
)
def type_j_temperature(voltage: Values, terminals: Values) -> Values:
    """Return the temperature of the junction of a type J thermocouple from the voltage at its terminals. [K]"""
    return measured_temperature("J", voltage, terminals)


@worksheet(
    title="Temperature by voltage, type N",
    takes=("thermocouple_voltage", TERMINALS),
    gives="type_n_junction_temperature",
    method=BY_VOLTAGE,
    refuses={"thermocouple_voltage": _gives("N")},
)
def type_n_temperature(voltage: Values, terminals: Values) -> Values:
    """Return the temperature of the junction of a type N thermocouple from the voltage at its terminals. [K]"""
    return measured_temperature("N", voltage, terminals)


@worksheet(
    title="Temperature by voltage, type E",
    takes=("thermocouple_voltage", TERMINALS),
    gives="type_e_junction_temperature",
    method=BY_VOLTAGE,
    refuses={"thermocouple_voltage": _gives("E")},
)
def type_e_temperature(voltage: Values, terminals: Values) -> Values:
    """Return the temperature of the junction of a type E thermocouple from the voltage at its terminals. [K]"""
    return measured_temperature("E", voltage, terminals)


@worksheet(
    title="Tolerance of a new thermocouple",
    takes=("thermocouple_reading",),
    gives=(
        "thermocouple_tolerance_class_1",
        "thermocouple_tolerance_class_2",
        "thermocouple_uncertainty_class_2",
        "thermocouple_difference_of_two",
    ),
    method=Method("tolerance classes of types K and N", "iec_60584_1", "larger of the two values of a class"),
    valid={"thermocouple_reading": (233.15, 1273.15, "-40 to 1000 °C (class 1); class 2 to 1200 °C")},
)
def thermocouple_reading_tolerance(reading: Values) -> tuple[Values, Values, Values, Values]:
    """Return how far a new type K or N thermocouple may be off: classes 1 and 2, its doubt, two of class 2 apart. [K]

    As delivered: with hours and heat base metal drifts further, mostly low (common practice, no source).
    """
    second = thermocouple_tolerance("K", "2", reading)
    return (
        thermocouple_tolerance("K", "1", reading),
        second,
        standard_uncertainty(second),
        difference_of_two(second),
    )


LEADS = Take(quantity="lead_resistance", optional=True, default=0.0)


@worksheet(
    title="Temperature by resistance, Pt100",
    takes=("sensor_resistance", LEADS),
    gives="platinum_100_temperature",
    method=PLATINUM,
    refuses={"sensor_resistance": _of_platinum(100.0)},
)
def platinum_100(measured: Values, leads: Values) -> Values:
    """Return the temperature of a Pt100 from its resistance, less that of two leads. [K]"""
    return temperature_of_resistance(measured - leads, 100.0)


@worksheet(
    title="Temperature by resistance, Pt1000",
    takes=("sensor_resistance", LEADS),
    gives="platinum_1000_temperature",
    method=PLATINUM,
    refuses={"sensor_resistance": _of_platinum(1000.0)},
)
def platinum_1000(measured: Values, leads: Values) -> Values:
    """Return the temperature of a Pt1000 from its resistance, less that of two leads. [K]"""
    return temperature_of_resistance(measured - leads, 1000.0)
