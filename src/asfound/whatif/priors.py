"""What is believed of the unknowns before the readings speak, in standard normal numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

UNITS = {"deg": math.pi / 180.0, "1": 1.0, "bar": 1e5, "K": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Belief in one number, in SI units: it becomes standard normal by `standard`."""

    name: str
    title: str
    shape: Literal["normal", "log"]
    middle: float
    spread: float
    """Standard deviation; of the logarithm where the shape is log."""
    low: float
    high: float
    note: str = ""
    source: str = "common_practice"

    def value(self, z: Array) -> Array:
        """Return the number for standard normal numbers, kept within its bounds."""
        raw = self.middle * np.exp(self.spread * z) if self.shape == "log" else self.middle + self.spread * z
        found: Array = np.clip(raw, self.low, self.high)
        return found

    def standard(self, value: float) -> float:
        """Return the standard normal number of a value."""
        return (math.log(value / self.middle) if self.shape == "log" else value - self.middle) / self.spread


NEAR_ONE = {
    "duration": (math.radians(42.0), 0.22), "no_factor": (1.0, 0.35), "heat_factor": (1.4, 0.25),
    "exhaust_loss": (0.38, 0.06),
}  # fmt: skip
"""Middle and spread near lambda 1: a quicker burn; NO nearer to equilibrium, so that rates say less; walls and cooled
ports together take the 25 to 30 % of the fuel's heat that the jacket water of such engines carries. Engineering
judgement, no source."""
MOST_LOST = 0.60
"""Of the exhaust's excess near lambda 1, in place of the bound of lean engines. [1]"""


@cache
def believed(*, near_one: bool) -> dict[str, Prior]:
    """Return the beliefs by name of the unknown: the shipped ones, some of them others near lambda 1."""
    if not near_one:
        return priors()
    others = {
        name: replace(priors()[name], middle=middle, spread=spread) for name, (middle, spread) in NEAR_ONE.items()
    }
    others["exhaust_loss"] = replace(others["exhaust_loss"], high=MOST_LOST)
    return {**priors(), **others}


@cache
def priors() -> dict[str, Prior]:
    """Return the shipped beliefs by name of the unknown."""
    made = {}
    for row in load_csv("asfound.whatif", "data/priors.csv"):
        unit = UNITS[row["unit"]]
        spread = float(row["spread"])
        made[row["name"]] = Prior(
            name=row["name"],
            title=row["title"],
            shape="log" if row["shape"] == "log" else "normal",
            middle=float(row["middle"]) * unit,
            spread=spread if row["shape"] == "log" else spread * unit,
            low=float(row["low"]) * unit,
            high=float(row["high"]) * unit,
            note=row["note"],
            source=row["source"],
        )
    return made
