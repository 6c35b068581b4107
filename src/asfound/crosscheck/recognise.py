"""Recognise a well-known mistake by the size of an error: gauge and absolute, a wrong unit, ratio, alloy, base."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asfound.crosscheck.plant import Plant
from asfound.quantities.constants import ATMOSPHERE

TRANSFORMER_STEPS = (100, 150, 200, 250, 300, 400, 500, 600, 750, 800, 1000, 1200, 1500, 1600, 2000, 2500, 3000)
"""Rated primary currents in use, to 5 A: after the preferred values of IEC 61869-2, from memory."""
BASES = {"15 °C": 288.15 / 273.15, "60 °F": 288.7056 / 273.15, "20 °C": 293.15 / 273.15}
"""Volume of a gas at a base temperature over that at 0 °C, one pressure."""
WRONG_ALLOY = (60.0, 130.0)
"""Type K wire on a type N input or the reverse, 400 to 650 °C: about 80 to 110 K (IEC 60584 tables). [K]"""
UNITS = {"kPa and psi": 6.894757, "bar and psi": 14.50377}
"""Units of pressure that are taken for each other, the larger number over the smaller. [1]"""
WEATHER = 2500.0
"""By so much a barometer reduced to sea level lies about the standard atmosphere. [Pa]"""
FITS = 2.0
"""A size fits when it is this near in units of its own uncertainty, and nothing else is."""
NARROW = 0.25
"""The uncertainty of a size must be below this share of it, or everything would fit. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """A mistake whose size fits."""

    name: str
    says: str
    weight: float
    """How much more probable the reading is to be the wrong one, because the size fits. [1]"""


def recognise(
    name: str, quantity: str, read: float, size: float, u: float, plant: Plant, barometer: float | None
) -> Recognised | None:
    """Return the well-known mistake that an error of this size would be, or None.

    Parameters
    ----------
    name, quantity : str
        Of the value, and its quantity.
    read, size, u : float
        Reading, how much too high it is, and the uncertainty of that. [SI]
    plant : Plant
        Which pressures are gauge.
    barometer : float or None
        [Pa]
    """
    if not (u > 0 and abs(size) > u / NARROW):
        return None
    if quantity == "barometric_pressure" and abs(read - ATMOSPHERE) < WEATHER < size:
        return Recognised(name="sea_level", says="it is the pressure reduced to sea level", weight=20.0)
    found = [
        (abs(size - would) / u, one)
        for would, one in _candidates(name, quantity, read, plant, barometer)
        if abs(size - would) < FITS * u or abs(size - would) < 0.02 * abs(would)
    ]
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _candidates(
    name: str, quantity: str, read: float, plant: Plant, barometer: float | None
) -> Iterator[tuple[float, Recognised]]:
    """Yield the size that each mistake would have."""
    if quantity.endswith("pressure") and quantity != "barometric_pressure" and barometer:
        yield from _pressure(name, read, plant, barometer)
    if quantity.endswith("temperature"):
        yield from _temperature(read)
    if quantity == "generator_current":
        yield from _ratio(read)
    if quantity in ("fuel_flow", "compressed_gas_flow"):
        yield from _base(read)
    if name == "heating_value_factor" and plant.fuel is not None:
        would = read * (1 - 1 / plant.fuel.gross_over_net)
        yield would, Recognised(name="gross_net", says="gross and net heating value are mixed up", weight=20.0)
    if quantity in ("exhaust_oxygen_wet", "oxygen_sensor_reading", "exhaust_nox_wet", "nox_sensor_reading"):
        yield read * 0.12, Recognised(name="dry_as_wet", says="it shows dry gas, not wet", weight=5.0)
    if quantity in ("exhaust_oxygen_dry", "exhaust_nox_dry", "exhaust_co2_dry"):
        yield -read * 0.136, Recognised(name="wet_as_dry", says="it shows wet gas, not dry", weight=2.0)


def _pressure(name: str, read: float, plant: Plant, barometer: float) -> Iterator[tuple[float, Recognised]]:
    says = (
        "an absolute pressure was entered as gauge"
        if name in plant.gauge
        else "a gauge pressure was entered as absolute"
    )
    would = barometer if name in plant.gauge else -barometer
    yield would, Recognised(name="gauge_absolute", says=f"it is off by the barometer: {says}", weight=50.0)
    for title, factor in UNITS.items():
        says = f"{title} are mixed up"
        yield read * (1 - factor), Recognised(name="unit", says=says, weight=10.0)
        yield read * (1 - 1 / factor), Recognised(name="unit", says=says, weight=10.0)


def _temperature(read: float) -> Iterator[tuple[float, Recognised]]:
    celsius = read - 273.15
    would = celsius - (celsius - 32) / 1.8
    yield would, Recognised(name="fahrenheit", says="degrees Fahrenheit were entered as Celsius", weight=10.0)
    if celsius > 250.0:
        for sign in (1.0, -1.0):
            yield (
                sign * sum(WRONG_ALLOY) / 2,
                Recognised(name="alloy", says="as large as type K wire on a type N input, or the reverse", weight=2.0),
            )


def _ratio(read: float) -> Iterator[tuple[float, Recognised]]:
    for at, entered in enumerate(TRANSFORMER_STEPS):
        for fitted in TRANSFORMER_STEPS[max(at - 3, 0) : at + 4]:
            factor = entered / fitted
            if entered != fitted and fitted >= read / factor:
                says = (
                    f"the factor {factor:.2f} is a step of current transformers, as {entered}/5 entered for {fitted}/5"
                )
                yield read * (1 - 1 / factor), Recognised(name="transformer_ratio", says=says, weight=20.0)


def _base(read: float) -> Iterator[tuple[float, Recognised]]:
    for title, factor in BASES.items():
        says = f"volumes at 0 °C and {title} are mixed up"
        yield read * (1 - 1 / factor), Recognised(name="base", says=says, weight=5.0)
        yield read * (1 - factor), Recognised(name="base", says=says, weight=5.0)
