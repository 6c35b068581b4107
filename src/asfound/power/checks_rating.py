"""Published values of rating, test corrections, cycles and the standard atmosphere, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

import asfound.power.rating_iso3046 as iso
import asfound.power.rating_j1349 as test_bed
from asfound.power.duty_cycle import cycle
from asfound.power.height import standard_pressure
from asfound.power.rating_words import mean_of_the_day
from asfound.power.site_air import saturation_pressure
from asfound.power.vapour_polynomial import saturation_pressure_iso8178
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

RANKINE = 1 / 1.8  # K
INCH_OF_MERCURY = 3386.389  # Pa, at 0 °C


def _air(pressure: str, temperature: str, coolant: str, vapour: str) -> iso.Air:
    return iso.Air(
        pressure=float(pressure), temperature=float(temperature), coolant=float(coolant), vapour=float(vapour)
    )


def _ratio(row: str, _: str, *airs: str) -> float:
    return float(iso.ratio_by_row(_air(*airs[:4]), _air(*airs[4:8]), row))


def _adjustment(row: str, efficiency: str, *airs: str) -> float:
    return float(iso.power_adjustment(_ratio(row, efficiency, *airs), float(efficiency)))


def _fuel_adjustment(*given: str) -> float:
    return float(iso.fuel_adjustment(_ratio(*given), _adjustment(*given)))


def _power_between(power: str, row: str, efficiency: str, *airs: str) -> float:
    """Return the power in a second air: its pressure, temperature and coolant come last."""
    reference = airs[4:8]
    here = _adjustment(row, efficiency, *airs[:8])
    there = _adjustment(row, efficiency, *airs[8:11], airs[3], *reference)
    return float(iso.power_elsewhere(float(power), here, there))


def _spark_factor(pressure: str, temperature: str, vapour: str, *there: str) -> float:
    return float(
        test_bed.spark_ignition_between(
            float(pressure) - float(vapour),
            float(temperature),
            float(there[0]) - float(there[2]),
            float(there[1]),
        )
    )


def _manual_factor(row: str, efficiency: str, dry: str, fahrenheit: str) -> float:
    """Return power at 29.2 inHg dry and 77 °F over power in the given air, both dry."""
    reference = iso.Air(pressure=29.2 * INCH_OF_MERCURY, temperature=537 * RANKINE)
    here = iso.Air(pressure=float(dry) * INCH_OF_MERCURY, temperature=(float(fahrenheit) + 460) * RANKINE)
    return float(iso.power_adjustment(iso.ratio_by_row(reference, here, row), float(efficiency)))


WAYS: dict[str, Callable[..., float]] = {
    "ratio": _ratio,
    "adjustment": _adjustment,
    "fuel_adjustment": _fuel_adjustment,
    "power_here": lambda power, *given: float(power) * _adjustment(*given),
    "power_there": lambda power, *given: float(power) / _adjustment(*given),
    "fuel_here": lambda fuel, *given: float(fuel) * _fuel_adjustment(*given),
    "power_between": _power_between,
    "spark_factor": _spark_factor,
    "spark_power": lambda power, *given: float(power) * _spark_factor(*given),
    "sae_j1349": lambda dry, temperature: float(test_bed.sae_j1349(float(dry), float(temperature))),
    "manual_factor": _manual_factor,
    "manual_factor_loss": lambda *given: _manual_factor(*given) - 1,
    "polynomial": lambda temperature: float(saturation_pressure_iso8178(float(temperature))),
    "cfr": lambda temperature: float(saturation_pressure(float(temperature))),
    "weights": lambda name: sum(cycle(name).weights),
    "ramped_seconds": lambda name: sum(one.ramped_seconds or 0.0 for one in cycle(name).modes),
    "standard_pressure": lambda height: float(standard_pressure(float(height))),
    "mean_of_day": lambda loads: float(mean_of_the_day(np.array([float(one) for one in loads.split(";")]))),
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.power", "data/published_rating.csv"):
        yield Check.of_row("power", WAYS[row["of"]](*row["inputs"].split("|")), row)
