"""Worksheets of the generator: its power by each road, its factor and efficiency, the speed behind its frequency."""

from __future__ import annotations

import asfound.power.generator as generator
from asfound.quantities.refusals import between, impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

AT_THE_PANEL = ("elec", "local")


def _take(quantity: str, *, optional: bool = False, default: float | None = None) -> Take:
    return Take(quantity=quantity, place="generator", optional=optional, default=default)


RATIOS = (
    _take("current_transformer_ratio", optional=True, default=1.0),
    _take("voltage_transformer_ratio", optional=True, default=1.0),
)
RATED_FACTOR = Take(
    quantity="generator_rated_power_factor",
    place="generator",
    assume=Assumption(
        value=0.8,
        standard_uncertainty=0.0,
        says="power factor 0.8, as most plates of generating sets have it",
        source="common_practice",
    ),
)
_RATIO = between(
    1.0, 1e4, "1 or more", "Divide primary by secondary as the plate of the transformer has them: 300/5 is 60."
)
_EFFICIENCY = between(0.5, 0.999, "50 to 99.9 %", "Take it from the test sheet of the generator, at this load.")
_POLES = between(2.0, 60.0, "2 or more", "Count poles, not pairs: 120 times the rated frequency over the rated speed.")
DEFINITION = Method("three balanced phases", "own_calculation", "S = sqrt(3) U I; P = S cos phi")


def _of_a_loaded_generator(factor: Reading | Result) -> None:
    """Refuse a power factor that is none, or none that a loaded generator has."""
    if not 0.05 <= abs(factor.value) <= 1.0:
        raise impossible(
            factor,
            "is no power factor of a loaded generator",
            allowed="0.05 to 1, leading ones with a minus sign or without",
            try_next="Read the power factor again, or enter kvar instead.",
        )


@worksheet(
    title="Generator power, from kVA and power factor",
    takes=(_take("generator_apparent_power"), _take("generator_power_factor")),
    gives="generator_power",
    at="generator",
    method=DEFINITION,
    cautions=AT_THE_PANEL,
    refuses={"generator_power_factor": _of_a_loaded_generator},
)
def generator_power_by_factor(apparent: Values, factor: Values) -> Values:
    """Return active power from apparent power and power factor. [W]"""
    return generator.active_power(apparent, factor)


@worksheet(
    title="Generator power, from the meter and its transformers",
    takes=(_take("generator_meter_power"), *RATIOS),
    gives="generator_power",
    at="generator",
    method=Method("meter on the secondary side, times the ratios of its transformers", "own_calculation"),
    cautions=AT_THE_PANEL,
    refuses={"current_transformer_ratio": _RATIO, "voltage_transformer_ratio": _RATIO},
)
def generator_power_by_transformers(power: Values, current_ratio: Values, voltage_ratio: Values) -> Values:
    """Return active power from what the meter shows and the ratios it does not count with. [W]"""
    return generator.metered_power(1.0, power, 1.0, current_ratio, voltage_ratio)


@worksheet(
    title="Generator power, from pulses counted at the energy meter",
    takes=(_take("generator_meter_count"), _take("generator_meter_constant"), _take("generator_meter_time"), *RATIOS),
    gives="generator_power",
    at="generator",
    method=Method("energy counted over a time", "own_calculation"),
    cautions=AT_THE_PANEL,
    valid={"generator_meter_time": (60.0, 7200.0, "1 minute or more: a watch stopped by hand is good to 0.3 s")},
    refuses={"current_transformer_ratio": _RATIO, "voltage_transformer_ratio": _RATIO},
)
def generator_power_by_count(
    count: Values, energy: Values, time: Values, current_ratio: Values, voltage_ratio: Values
) -> Values:
    """Return mean active power over the time of a count. [W]

    It is the road that needs nothing but the sealed meter and a watch; the load must hold still meanwhile.
    """
    return generator.metered_power(count, energy, time, current_ratio, voltage_ratio)


@worksheet(
    title="Apparent power, from volts and amps",
    takes=(_take("generator_voltage"), _take("generator_current")),
    gives="generator_apparent_power",
    at="generator",
    method=DEFINITION,
    cautions=AT_THE_PANEL,
)
def generator_apparent_power_by_amps(voltage: Values, current: Values) -> Values:
    """Return apparent power from voltage between lines and mean current of the lines. [VA]"""
    return generator.three_phase_power(voltage, current)


@worksheet(
    title="Apparent power, from kW and kvar",
    takes=(_take("generator_power"), _take("generator_reactive_power")),
    gives="generator_apparent_power",
    at="generator",
    method=Method("root of the sum of squares", "own_calculation"),
    cautions=AT_THE_PANEL,
)
def generator_apparent_power_by_kvar(active: Values, reactive: Values) -> Values:
    """Return apparent power from active and reactive power. [VA]"""
    return generator.apparent_power(active, reactive)


@worksheet(
    title="Apparent power, from kW and power factor",
    takes=(_take("generator_power"), _take("generator_power_factor")),
    gives="generator_apparent_power",
    at="generator",
    method=Method("active power over power factor", "own_calculation"),
    cautions=AT_THE_PANEL,
    refuses={"generator_power_factor": _of_a_loaded_generator},
)
def generator_apparent_power_by_factor(active: Values, factor: Values) -> Values:
    """Return apparent power from active power and power factor. [VA]"""
    return generator.apparent_power_by_factor(active, factor)


@worksheet(
    title="Power factor",
    takes=(_take("generator_power"), _take("generator_apparent_power")),
    gives="generator_power_factor",
    at="generator",
    method=Method("active over apparent power", "own_calculation"),
    cautions=AT_THE_PANEL,
)
def generator_power_factor(active: Values, apparent: Values) -> Values:
    """Return active over apparent power; whether it leads or lags is not told by them. [1]"""
    return generator.power_factor(active, apparent)


@worksheet(
    title="Apparent load of the generator",
    takes=(_take("generator_apparent_power"), _take("generator_rated_apparent_power")),
    gives="generator_apparent_load",
    at="generator",
    method=Method("apparent power over rated", "own_calculation"),
    cautions=AT_THE_PANEL,
)
def generator_apparent_load(apparent: Values, rated: Values) -> Values:
    """Return how far the windings are loaded: apparent over rated apparent power. [1]"""
    return generator.share(apparent, rated)


@worksheet(
    title="Losses of the generator, from its test sheet",
    takes=(
        _take("generator_rated_apparent_power"),
        RATED_FACTOR,
        _take("generator_full_load_efficiency"),
        _take("generator_half_load_efficiency"),
    ),
    gives=("generator_constant_loss", "generator_load_loss"),
    at="generator",
    method=Method("a constant loss and one with the square of the current", "iec_60034_2_1"),
    refuses={"generator_full_load_efficiency": _EFFICIENCY, "generator_half_load_efficiency": _EFFICIENCY},
)
def generator_losses(rated: Values, factor: Values, full: Values, half: Values) -> tuple[Values, Values]:
    """Return constant loss and load loss of the generator, from its efficiencies at full and at half load. [W], [W]"""
    return generator.losses(rated, factor, full, half)


@worksheet(
    title="Efficiency of the generator at this load",
    takes=(
        _take("generator_power"),
        _take("generator_apparent_power"),
        _take("generator_rated_apparent_power"),
        _take("generator_constant_loss"),
        _take("generator_load_loss"),
    ),
    gives="generator_efficiency",
    at="generator",
    method=Method("separate losses at this load and power factor", "iec_60034_2_1"),
)
def generator_efficiency(active: Values, apparent: Values, rated: Values, constant: Values, load: Values) -> Values:
    """Return electrical power out over shaft power in, from the generator's own losses. [1]

    A low power factor costs current, and so efficiency, at the same kilowatts.
    """
    return generator.efficiency(active, apparent, rated, constant, load)


@worksheet(
    title="Engine speed, from frequency and poles",
    takes=(_take("generator_frequency"), _take("generator_poles")),
    gives="engine_speed",
    at="engine",
    method=Method("synchronous speed of a generator on the engine's own shaft", "own_calculation", "n = 120 f / poles"),
    refuses={"generator_poles": _POLES},
)
def engine_speed_by_frequency(frequency: Values, poles: Values) -> Values:
    """Return the speed of the crankshaft from the frequency at the terminals; for a direct drive. [rad/s]"""
    return generator.synchronous_speed(frequency, poles)
