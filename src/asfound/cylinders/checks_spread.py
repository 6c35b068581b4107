"""Published values of spread, lines and plug voltage, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from math import radians

import numpy as np

from asfound.cylinders import compression, plugs
from asfound.cylinders.regression import lines
from asfound.cylinders.robust import cutoff, cutoffs, mad, median, modified_z
from asfound.cylinders.spread import deviation, spread
from asfound.quantities.typing import Array
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

DRAWS = 20_000
KILOVOLT = 1e3


def _values(text: str) -> Array:
    """Return readings; an empty one is a masked sensor."""
    return np.array([float(one) if one else np.nan for one in text.split("|")])


@cache
def _drawn(sensors: int) -> tuple[Array, Array]:
    """Return MAD and the oddest modified z of sound engines, with a fixed seed."""
    away, _ = deviation(np.random.default_rng(sensors).standard_normal((DRAWS, sensors)))
    middle = mad(away)
    return middle, np.abs(modified_z(away, middle)).max(axis=-1)


def _of_snapshot(what: str, at: int, text: str) -> float:
    values = _values(text)
    seen = spread(values)
    return float(
        {
            "count": np.isfinite(values).sum(),
            "median": median(values),
            "mad": seen.mad,
            "mean": np.nanmean(values),
            "deviation": seen.deviation[at],
            "z": modified_z(seen.deviation, seen.mad)[at],
            "odd": seen.odd[at],
        }[what]
    )


def _pull(text: str) -> float:
    """Return how far one cylinder off moves the mean, less how far it moves the median."""
    off, sensors = _values(text)
    port = np.zeros(int(sensors))
    port[0] = off
    return abs(float(port.mean() - median(port)))


def _of_draws(what: str, text: str) -> float:
    middle, oddest = _drawn(int(text))
    found = {
        "factor": 1.0 / middle.mean(),
        "flags": (oddest > 3.5).mean(),
        "beyond": (oddest > cutoff(int(text))).mean(),
    }
    return float(found[what])


def _of_line(what: str, text: str) -> float:
    x, y = (_values(part) for part in text.split("||"))
    line = lines(x, y)
    if what == "start":
        return float((line.intercept - line.slope * line.centre)[0])
    return float(getattr(line, what)[0])


def _breakdown(text: str) -> float:
    gap, pressure, temperature = _values(text)
    return float(plugs.uniform_breakdown(gap, plugs.relative_density(pressure, temperature))) / KILOVOLT


def _plug(text: str) -> float:
    """Return the estimate of a plug's demand: gap, compression ratio, spark before top dead centre in degrees."""
    gap, ratio, before = _values(text)
    volumes = ratio / compression.volume_ratio(radians(before), ratio)
    pressure = compression.polytropic_pressure(101_325.0, volumes)
    temperature = compression.polytropic_temperature(300.0, volumes)
    return 0.8 * float(plugs.uniform_breakdown(gap, plugs.relative_density(pressure, temperature))) / KILOVOLT


WAYS: dict[str, Callable[[str, str], float]] = {
    **{
        one: lambda _, text, one=one: _of_snapshot(one, 0, text)  # type: ignore[misc]
        for one in ("count", "median", "mad", "mean")
    },
    **{
        one: lambda at, text, one=one: _of_snapshot(one, int(at), text)  # type: ignore[misc]
        for one in ("deviation", "z", "odd")
    },
    "pull": lambda _, text: _pull(text),
    "table": lambda column, text: float(getattr(cutoffs()[1, int(text)], column)),
    "drawn": _of_draws,
    "line": _of_line,
    "breakdown": lambda _, text: _breakdown(text),
    "plug": lambda _, text: _plug(text),
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.cylinders", "data/published_spread.csv"):
        way, _, detail = row["of"].partition(" ")
        yield Check.of_row("cylinders", WAYS[way](detail, row["inputs"]), row)
