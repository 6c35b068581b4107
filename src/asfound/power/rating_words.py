"""The words and days of ratings: what COP, PRP, ESP ... mean, and in which air a rating is declared."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import UnknownNameError
from asfound.power.rating_iso3046 import (
    MECHANICAL_EFFICIENCY,
    Air,
    power_adjustment,
    power_elsewhere,
    ratio_by_row,
)
from asfound.power.site_air import saturation_pressure
from asfound.quantities.typing import Values
from asfound.sources.tables import load_csv

LIGHTEST = 0.30
"""Share of the prime or standby power that a lighter load counts as in the mean of 24 hours (from memory)."""
MEAN_OF_DAY = 0.70
"""Share of the prime or standby power that the mean of 24 hours may reach (ISO 8528-1, at second hand)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingWord:
    """A word of the standards on ratings, or a number that goes with it."""

    id: str
    standard: str
    term: str
    says: str
    value: str
    unit: str
    found: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceDay:
    """The air in which a standard lets a rating be declared."""

    day: str
    title: str
    pressure: float
    """Total. [Pa]"""
    temperature: float
    """[K]"""
    relative_humidity: float
    """[1]"""
    coolant: float | None
    """Into the charge cooler; None where the standard does not say. [K]"""
    found: str
    source: str

    @property
    def air(self) -> Air:
        """The day as the power adjustment takes it; coolant that is not said is as warm as the air."""
        return Air(
            pressure=self.pressure,
            temperature=self.temperature,
            coolant=self.temperature if self.coolant is None else self.coolant,
            vapour=self.relative_humidity * float(saturation_pressure(self.temperature)),
        )


@cache
def rating_words() -> tuple[RatingWord, ...]:
    """Return the words, in the order of the table."""
    names = ("id", "standard", "term", "says", "value", "unit", "found", "source")
    rows = load_csv("asfound.power", "data/rating_classes.csv", columns=names)
    return tuple(RatingWord(**{name: row[name] for name in names}) for row in rows)


@cache
def reference_days() -> tuple[ReferenceDay, ...]:
    """Return the reference days, in the order of the table."""
    return tuple(
        ReferenceDay(
            day=row["day"],
            title=row["title"],
            pressure=float(row["pressure"]),
            temperature=float(row["temperature"]),
            relative_humidity=float(row["relative_humidity"]),
            coolant=float(row["coolant"]) if row["coolant"] else None,
            found=row["found"],
            source=row["source"],
        )
        for row in load_csv("asfound.power", "data/reference_days.csv")
    )


def reference_day(day: str) -> ReferenceDay:
    """Return a reference day by its key; UnknownNameError when the table has none such."""
    for one in reference_days():
        if one.day == day:
            return one
    raise UnknownNameError("reference day", day, (one.day for one in reference_days()))


def on_another_day(
    power: Values, declared: str, wanted: str, row: str, mechanical_efficiency: Values = MECHANICAL_EFFICIENCY
) -> Values:
    """Return a rating declared on one reference day as it would be on another. [W]

    Two plates are compared only after this. It is the standard's formula, with the exponents of a row A to G; what the
    maker lets the engine give may be less.
    """
    there, here = reference_day(declared).air, reference_day(wanted).air
    adjustment = power_adjustment(ratio_by_row(here, there, row), mechanical_efficiency)
    return power_elsewhere(power, 1.0, adjustment)


def mean_of_the_day(load: Values) -> Values:
    """Return the mean load that a prime or standby rating counts: light loads count 30 %, standstill does not.

    Parameters
    ----------
    load : array
        Load over the prime or standby power at even steps of time; 0 or nan where the engine stood. Shape (..., times):
        a year of hours as (365, 24) answers for each day. [1]

    Returns
    -------
    float or array
        To be held against `MEAN_OF_DAY`; nan where the engine never ran. Shape (...). [1]

    References
    ----------
    .. [1] ISO 8528-1, prime power and emergency standby power; the 30 % from memory.

    Examples
    --------
    >>> print(f"{mean_of_the_day(np.array([1.0, 0.8, 0.1, 0.0])):.2f}")
    0.70
    """
    steps = np.asarray(load, dtype=float)
    with np.errstate(all="ignore"):
        running = np.isfinite(steps) & (steps > 0)
        count = running.sum(axis=-1)
        total = np.where(running, np.maximum(steps, LIGHTEST), 0.0).sum(axis=-1)
        return np.asarray(total / np.where(count > 0, count, np.nan))


@dataclass(frozen=True, slots=True, kw_only=True)
class PerformanceClass:
    """What a class of ISO 8528-5 lets frequency and voltage of a generating set do, all from memory."""

    name: str
    frequency_droop: float
    """From no load to rated power, over rated frequency. [1]"""
    frequency_band: float
    """Of the steady frequency at one load, from top to bottom, over rated frequency. [1]"""
    voltage_deviation: float
    """Of the steady voltage, to either side, over rated voltage. [1]"""


@cache
def performance_classes() -> tuple[PerformanceClass, ...]:
    """Return the classes G1 to G3, the widest first."""
    found = []
    for one in rating_words():
        if one.id.startswith("8528.5."):
            droop, band, voltage = (float(part) / 100 for part in one.value.split("/"))
            found.append(
                PerformanceClass(
                    name=one.id.removeprefix("8528.5."),
                    frequency_droop=droop,
                    frequency_band=band,
                    voltage_deviation=voltage,
                )
            )
    return tuple(found)


def classes_met(
    *, frequency_droop: float | None = None, frequency_band: float | None = None, voltage_deviation: float | None = None
) -> tuple[str, ...]:
    """Return the classes that what was measured does not speak against; what was not measured is left out.

    Examples
    --------
    A frequency that wanders over 0.6 Hz at 60 Hz is good for G2, not for G3.

    >>> classes_met(frequency_band=0.6 / 60)
    ('G1', 'G2')
    """
    measured = {
        "frequency_droop": frequency_droop,
        "frequency_band": frequency_band,
        "voltage_deviation": voltage_deviation,
    }
    return tuple(
        one.name
        for one in performance_classes()
        if all(abs(value) <= getattr(one, name) * (1 + 1e-12) for name, value in measured.items() if value is not None)
    )
