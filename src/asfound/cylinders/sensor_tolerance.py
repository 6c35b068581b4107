"""How far a new thermocouple or resistance thermometer may be off, by its class, and what doubt that leaves.

Sources: IEC 60584-1, ASTM E230, IEC 60751 (``data/sensor_tolerances.csv``). A tolerance holds as delivered: base metal
drifts with hours and heat, mostly low (common practice, no source). Printed tables carry the formulas of IEC 60751 on
beyond the range of the class; ``beyond=True`` does so too. Class 1 of types R and S is not in the table.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from asfound.cylinders.thermocouple import ZERO
from asfound.errors import UnknownNameError
from asfound.quantities.typing import Values
from asfound.sources.tables import load_csv


def thermocouple_tolerance(letter: str, grade: str, temperature: Values, *, standard: str = "iec_60584") -> Values:
    """Return the tolerance of a new thermocouple, the larger of its two terms; nan outside the class's range. [K]

    Parameters
    ----------
    letter : str
        Letter type.
    grade : str
        Class: ``1``, ``2``, ``3`` of IEC 60584, ``standard``, ``special`` of ASTM E230.
    temperature : float or ndarray
        [K]

    Raises
    ------
    UnknownNameError
        The standard gives this type no such class: IEC gives type J no class 3.
    """
    absolute, relative, low, high = _row(standard, letter, grade)
    celsius = temperature - ZERO
    return _within(np.maximum(absolute, relative * np.abs(celsius)), celsius, low, high)


def resistance_tolerance(grade: str, temperature: Values, *, beyond: bool = False) -> Values:
    """Return the tolerance of a platinum resistance thermometer of class AA, A, B or C, wire-wound. [K]

    nan outside the class's range, unless ``beyond``.
    """
    absolute, relative, low, high = _row("iec_60751", "Pt", grade)
    celsius = temperature - ZERO
    found = absolute + relative * np.abs(celsius)
    return found if beyond else _within(found, celsius, low, high)


def standard_uncertainty(tolerance: Values) -> Values:
    """Return the standard uncertainty of a tolerance: anywhere within it alike (GUM, 4.3.7). [K]"""
    return tolerance / math.sqrt(3)


def difference_of_two(tolerance: Values) -> Values:
    """Return by how much two sound sensors may differ, root sum square of their tolerances. [K]"""
    return tolerance * math.sqrt(2)


def classes(letter: str, *, standard: str = "iec_60584") -> tuple[str, ...]:
    """Return the classes that a standard gives a type."""
    return tuple(grade for where, one, grade in _rows() if (where, one) == (standard, letter))


def _within(found: Values, celsius: Values, low: float, high: float) -> Values:
    answer = np.where((celsius >= low - 1e-9) & (celsius <= high + 1e-9), found, np.nan)
    return float(answer) if answer.shape == () else answer


def _row(standard: str, letter: str, grade: str) -> tuple[float, float, float, float]:
    listed = _rows()
    if (standard, letter, grade) not in listed:
        known = (f"{a} {b} {c}" for a, b, c in listed)
        raise UnknownNameError("tolerance class", f"{standard} {letter} {grade}", known)
    return listed[standard, letter, grade]


@cache
def _rows() -> dict[tuple[str, str, str], tuple[float, float, float, float]]:
    return {
        (row["standard"], letter, row["class"]): (
            float(row["absolute"]), float(row["relative"]), float(row["low"]), float(row["high"])
        )
        for row in load_csv("asfound.cylinders", "data/sensor_tolerances.csv")
        for letter in row["types"].split()
    }  # fmt: skip
