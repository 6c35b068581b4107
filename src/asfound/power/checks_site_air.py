"""Published values of the site's air, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import asfound.power.site_air as air
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv


def _humidity_ratio(saturation: float, relative: float, pressure: float) -> float:
    return float(air.humidity_ratio(air.water_fraction(saturation, relative, pressure)))


def _density_humid(temperature: float, pressure: float, relative: float) -> float:
    water = air.water_fraction(air.saturation_pressure(temperature), relative, pressure)
    return float(air.moist_air_density(temperature, pressure, water))


WAYS: dict[str, Callable[..., float]] = {
    "saturation_pressure": lambda t: float(air.saturation_pressure(t)),
    "humidity_ratio": _humidity_ratio,
    "air_density": lambda t, p, x: float(air.moist_air_density(t, p, x)),
    "air_density_humid": _density_humid,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.power", "data/published_site_air.csv"):
        given = (float(one) for one in row["inputs"].split("|"))
        yield Check.of_row("power", WAYS[row["of"]](*given), row)
