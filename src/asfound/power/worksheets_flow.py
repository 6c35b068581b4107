"""Worksheets of the fuel meters that count volume or mass, and of what a display shows."""

from __future__ import annotations

from asfound.power import turbine_meter as meter
from asfound.power.meter_takes import AT_THE_METER, BASE_FACTOR, LINE_FACTOR, METER_ERROR, at_meter
from asfound.power.pairs import rising
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Take, worksheet


def _a_step_forward(time: Reading | Result) -> None:
    """Refuse a time in which nothing can be counted."""
    if time.value <= 0:
        raise impossible(
            time,
            "is no time between two readings",
            allowed="above 0 s",
            try_next="Read index and watch together, twice, ten minutes apart at steady load.",
        )


COUNTED = Method("counted volume over time, its certificate's error taken off", "oiml_r_137")


@worksheet(
    title="Gas through the meter, from its index",
    takes=(at_meter("fuel_index_start"), at_meter("fuel_index_end"), at_meter("fuel_meter_time"), METER_ERROR),
    gives="fuel_flow_metered",
    method=COUNTED,
    cautions=AT_THE_METER,
    refuses={"fuel_meter_time": _a_step_forward},
)
def fuel_flow_metered_by_index(start: Values, end: Values, time: Values, error: Values) -> Values:
    """Return the volume flow at line conditions from two readings of the meter's index. [m³/s]"""
    rising(
        "fuel_index_end", start, end, "is below the index at the start", "the index at the start, and above",
        "Read both again; if the counter went over its last digit meanwhile, add one to the digit before it.",
    )  # fmt: skip
    return meter.flow_by_index(start, end, time, error)


@worksheet(
    title="Gas through the meter, from its pulses",
    takes=(at_meter("fuel_meter_pulses"), at_meter("fuel_pulse_volume"), at_meter("fuel_meter_time"), METER_ERROR),
    gives="fuel_flow_metered",
    method=COUNTED,
    cautions=AT_THE_METER,
    refuses={"fuel_meter_time": _a_step_forward},
)
def fuel_flow_metered_by_pulses(pulses: Values, volume: Values, time: Values, error: Values) -> Values:
    """Return the volume flow at line conditions from counted pulses. [m³/s]"""
    return meter.flow_by_pulses(pulses, volume, time, error)


@worksheet(
    title="Fuel flow, from a meter that counts volume",
    takes=(
        at_meter("fuel_flow_metered"),
        at_meter("fuel_pressure"),
        at_meter("fuel_temperature"),
        LINE_FACTOR,
        BASE_FACTOR,
    ),
    gives="fuel_flow",
    method=Method("volume as metered, to normal by pressure, temperature and compressibility", "common_practice"),
    cautions=AT_THE_METER,
)
def fuel_flow_by_volume_meter(
    flow: Values, pressure: Values, temperature: Values, line: Values, base: Values
) -> Values:
    """Return the fuel flow from a turbine, rotary or diaphragm meter. [m³(n)/s]

    Counted at 0 °C and 101.325 kPa as an ideal gas from its metering temperature on, like all gas volumes here.
    """
    return flow * meter.volume_correction(pressure, temperature, line, base_compressibility=base)


@worksheet(
    title="Fuel flow, from a meter of mass",
    takes=(at_meter("fuel_mass_flow"), Take(quantity="fuel_density", place="fuel")),
    gives="fuel_flow",
    method=Method("mass flow over density", "own_calculation"),
    cautions=AT_THE_METER,
)
def fuel_flow_by_mass(mass: Values, density: Values) -> Values:
    """Return the fuel flow from its mass flow. [m³(n)/s]"""
    return mass / density


@worksheet(
    title="Fuel flow, from a display at its own base",
    takes=(at_meter("fuel_flow_displayed"), at_meter("meter_base_temperature"), at_meter("meter_base_pressure")),
    gives="fuel_flow",
    method=Method("displayed flow, counted back from its base as an ideal gas", "iso_13443"),
    cautions=AT_THE_METER,
)
def fuel_flow_by_display(flow: Values, temperature: Values, pressure: Values) -> Values:
    """Return the fuel flow that a corrector or flow computer shows. [m³(n)/s]"""
    return flow * meter.ideal_base(temperature, pressure)


@worksheet(
    title="Fuel mass flow",
    takes=("fuel_flow", Take(quantity="fuel_density", place="fuel")),
    gives="fuel_mass_flow",
    method=Method("flow times density, both at one reference state", "own_calculation"),
    cautions=AT_THE_METER,
)
def fuel_mass_flow(flow: Values, density: Values) -> Values:
    """Return the mass of gas that the engine takes per second. [kg/s]"""
    return flow * density


@worksheet(
    title="What the display should show",
    takes=(
        Take(quantity="fuel_flow", place="engine"),
        at_meter("meter_base_temperature"),
        at_meter("meter_base_pressure"),
    ),
    gives="fuel_flow_at_base",
    method=Method("fuel flow, counted at the base of the display", "iso_13443"),
)
def fuel_flow_at_base(flow: Values, temperature: Values, pressure: Values) -> Values:
    """Return the fuel flow at base temperature and pressure of display or contract. [m³/s]"""
    return flow / meter.ideal_base(temperature, pressure)


@worksheet(
    title="Volume correction of the meter",
    takes=(
        at_meter("fuel_pressure"),
        at_meter("fuel_temperature"),
        LINE_FACTOR,
        at_meter("meter_base_pressure"),
        at_meter("meter_base_temperature"),
        BASE_FACTOR,
    ),
    gives="fuel_volume_correction",
    method=Method("real gas law, line over base", "own_calculation"),
    cautions=AT_THE_METER,
)
def fuel_volume_correction(
    pressure: Values, temperature: Values, line: Values, base_pressure: Values, base_temperature: Values, base: Values
) -> Values:
    """Return base volume over metered volume: the factor that a corrector at this meter should show. [1]"""
    return meter.volume_correction(pressure, temperature, line, base_pressure, base_temperature, base)
