"""Patterns of error that leave their own mark in several readings at once.

A wrong barometer needs no pattern: gauge pressures are kept gauge, so its error runs through the balances by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.assemble import Assembled
from asfound.crosscheck.marks import Mark
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR
from asfound.power.exhaust_heat import CARBON_DIOXIDE_IN_AIR

DRY_SAMPLE = ("exhaust_oxygen_dry", "exhaust_co2_dry", "exhaust_nox_dry", "exhaust_co_dry")
SAMPLES = {"": DRY_SAMPLE, "_after": tuple(f"{one}_after" for one in DRY_SAMPLE)}
"""Readings of one sample line; behind a three-way catalyst the sample has values of its own."""
SCANNED = (
    "cylinder_exhaust_mean", "turbine_inlet_temperature", "turbine_outlet_temperature", "catalyst_inlet_temperature",
    "catalyst_outlet_temperature",
)  # fmt: skip
COLD_AND_HOT = (
    ("jacket_water_inlet_temperature", "jacket_water_outlet_temperature"),
    ("auxiliary_water_inlet_temperature", "auxiliary_water_outlet_temperature"),
    ("oil_temperature", "oil_outlet_temperature"),
    ("turbine_outlet_temperature", "turbine_inlet_temperature"),
    ("manifold_temperature", "compressor_outlet_temperature"),
)
"""Two temperatures of which the second is the higher on a running engine."""
MOST_OF_ALLOY = 130.0
"""Wrong alloy and a cold junction together: no more at exhaust temperatures. [K]"""
WATER_IN_EXHAUST = 0.12
"""Of lean exhaust, about; the doubt is in the spread of the pattern. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """An error that somebody can name, with what it does and where to look."""

    name: str
    title: str
    says: str
    """What is wrong if this is it."""
    look: str
    unit: str
    """Of its size: ``share`` or ``K``."""
    low: float = 0.0
    high: float = np.inf
    """Sizes that can be."""
    mark: Mark


def patterns(assembled: Assembled) -> tuple[Pattern, ...]:
    """Return the patterns that can be drawn on the values at hand."""
    read = {
        name: float(value)
        for name, value in zip(assembled.readings.names, assembled.readings.values, strict=True)
        if name not in assembled.assumed
    }
    # Of a gas that is not there a leak moves nothing: such a pattern cannot be told from no error at all.
    return tuple(one for make in _ALL for one in make(read) if any(one.mark.effect.values()))


def _sample_leak(read: dict[str, float]) -> Iterator[Pattern]:
    air = {"exhaust_oxygen_dry": OXYGEN_IN_DRY_AIR, "exhaust_co2_dry": CARBON_DIOXIDE_IN_AIR}
    for side, names in SAMPLES.items():
        effect = {name: air.get(name.removesuffix("_after"), 0.0) - read[name] for name in names if name in read}
        if len(effect) < 2:
            continue
        behind = " behind the catalyst" if side else ""
        yield Pattern(
            name=f"sample_leak{side}",
            title=f"Air in the sample line{behind}",
            says=f"air is drawn into the sample line{behind}",
            look="Give span gas at the tip of the probe, through all the line: it must read as at the analyser. "
            "Close the tip: the flow must stop.",
            unit="share",
            high=0.9,
            mark=Mark(name=f"sample_leak{side}", effect=effect, size=0.06, spread=0.05, probability=0.02),
        )


def _wet_sample(read: dict[str, float]) -> Iterator[Pattern]:
    for side, names in SAMPLES.items():
        effect = {name: -WATER_IN_EXHAUST * read[name] for name in names if name in read}
        if len(effect) < 2:
            continue
        behind = " behind the catalyst" if side else ""
        yield Pattern(
            name=f"wet_sample{side}",
            title=f"Sample{behind} not dried",
            says="the analyser reads wet gas: its cooler or dryer does not work, or wet and dry are mixed up",
            look="Look at the sample cooler: its temperature, its drain, water in the line.",
            unit="share",
            low=0.4,
            high=1.8,
            mark=Mark(name=f"wet_sample{side}", effect=effect, size=1.0, spread=0.25, probability=0.01),
        )


def _scanner(read: dict[str, float]) -> Iterator[Pattern]:
    effect = {name: 1.0 for name in SCANNED if name in read}
    if len(effect) > 2:
        yield Pattern(
            name="scanner",
            title="All exhaust temperatures of one instrument",
            says="all exhaust temperatures are off by the same: cold junction, wire or input set for another alloy",
            look="Read the cold junction with a thermometer; look at the colour of the wires and the type the input is "
            "set to.",
            unit="K",
            low=-MOST_OF_ALLOY,
            high=MOST_OF_ALLOY,
            mark=Mark(name="scanner", effect=effect, size=0.0, spread=50.0, probability=0.01),
        )


def _swapped(read: dict[str, float]) -> Iterator[Pattern]:
    """Two temperatures the wrong way round: only where they were read so."""
    for cold, hot in COLD_AND_HOT:
        if cold in read and hot in read and read[cold] > read[hot]:
            apart = read[cold] - read[hot]
            name = f"swapped:{cold}"
            what = f"{cold.replace('_', ' ')} and {hot.replace('_', ' ')}"
            yield Pattern(
                name=name,
                title=f"{what[0].upper()}{what[1:]} exchanged",
                says=f"{what} are exchanged",
                look="Follow both leads to their wells.",
                unit="share",
                mark=Mark(name=name, effect={cold: apart, hot: -apart}, size=1.0, spread=0.05, probability=0.02),
            )


def turned(name: str, true: float, read: dict[str, float]) -> bool:
    """Tell whether a true value would leave what is cold hotter than what is hot."""
    for cold, hot in COLD_AND_HOT:
        if cold in read and hot in read and name in (cold, hot) and read[cold] < read[hot]:
            return true > read[hot] if name == cold else true < read[cold]
    return False


_ALL: tuple[Callable[[dict[str, float]], Iterator[Pattern]], ...] = (_sample_leak, _wet_sample, _scanner, _swapped)
