"""Worksheet of the oxygen sensor's millivolts: lambda near 1, with what a sensor does not know."""

from __future__ import annotations

from asfound.exhaust import balance
from asfound.exhaust import mixture_takes as take
from asfound.exhaust.sensor_voltage import lambda_from_voltage
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

HIGHEST = 1.15
"""No zirconia cell in exhaust gives more. [V]"""
TEMPERATURE = Take(
    quantity="oxygen_sensor_temperature",
    assume=Assumption(
        value=923.15, standard_uncertainty=60.0, says="650 °C, give or take 60 K, of a heated sensor",
        source="engineering_judgement",
    ),
)  # fmt: skip
SHIFT = Take(
    quantity="oxygen_sensor_shift",
    assume=Assumption(
        value=0.002, standard_uncertainty=0.003,
        says="0.002 too rich, give or take 0.003: hydrogen reaches the cell sooner than oxygen",
        source="engineering_judgement",
    ),
)  # fmt: skip


def _of_a_cell(voltage: Reading | Result) -> None:
    """Refuse a voltage that no zirconia cell gives."""
    if not -0.05 <= voltage.value <= HIGHEST:
        raise impossible(
            voltage,
            "is no voltage of a zirconia cell in exhaust",
            allowed=f"0 to {1000 * HIGHEST:.0f} mV",
            try_next="Is it millivolts, read across the cell's own leads, and no broad-band sensor? Look at polarity.",
        )


@worksheet(
    title="Mixture, from the voltage of the oxygen sensor",
    takes=("oxygen_sensor_voltage", TEMPERATURE, SHIFT, *take.GAS, take.AIR),
    gives="excess_air_ratio_by_sensor",
    method=Method("Nernst equation, exhaust in equilibrium on the cell", "own_calculation"),
    cautions=("hot", "elec", "local"),
    valid={"oxygen_sensor_voltage": (0.05, 0.92, "50 to 920 mV: hot, steady, near lambda 1")},
    refuses={"oxygen_sensor_voltage": _of_a_cell},
)
def mixture_from_sensor_voltage(
    voltage: Values, temperature: Values, shift: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return lambda that belongs to the sensor's millivolts; below 0.98 and above 1.01 only the side is told. [1]"""
    humidity = balance.humidity_of(water)
    return lambda_from_voltage(voltage, temperature, carbon, hydrogen, fuel_oxygen, nitrogen, humidity) + shift
