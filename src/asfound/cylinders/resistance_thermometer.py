"""Platinum resistance thermometers: resistance from temperature and back, and what two wires add.

Source: IEC 60751 (Callendar-Van Dusen equation); other curves in ``data/resistance_curves.csv``. Temperatures in K,
resistances in ohm, floats or arrays; nan outside the curve's range.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from asfound.cylinders.thermocouple import ZERO
from asfound.errors import UnknownNameError
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

NEWTON_STEPS = 6
"""From the quadratic without C below 0 °C: the error squares at each, 2 K at -200 °C to start with."""

PRINTED = 1e-5
"""Of R/R0: tables print the resistance at their ends rounded. [1]"""


@dataclass(frozen=True, slots=True)
class Curve:
    """Coefficients of platinum of one purity, for t in °C."""

    alpha: float
    """Mean rise between 0 and 100 °C, as the curve is called by. [1/K]"""
    a: float
    b: float
    c: float
    low: float
    high: float


@cache
def curve(name: str) -> Curve:
    """Return a curve by name; UnknownNameError for any other."""
    listed = {
        row["curve"]: Curve(*(float(row[one]) for one in ("alpha", "a", "b", "c", "low", "high")))
        for row in load_csv("asfound.cylinders", "data/resistance_curves.csv")
    }
    if name not in listed:
        raise UnknownNameError("curve of platinum", name, listed)
    return listed[name]


def resistance(temperature: Values, r0: Values = 100.0, *, of: str = "iec_60751") -> Values:
    """Return the resistance of a thermometer with ``r0`` at 0 °C. [ohm]"""
    one = curve(of)
    t = np.asarray(temperature, dtype=float) - ZERO
    return _plain(r0 * np.where(_inside(t, one.low, one.high), _ratio(one, t), np.nan))


def temperature_of_resistance(measured: Values, r0: Values = 100.0, *, of: str = "iec_60751") -> Values:
    """Return the temperature behind a resistance: closed form from 0 °C on, Newton's steps below. [K]"""
    one = curve(of)
    low, high = (float(_ratio(one, np.array(end))) for end in (one.low, one.high))
    ratio = np.asarray(measured / r0, dtype=float)
    inside = _inside(ratio, low, high, slack=PRINTED)
    held = np.where(inside, ratio, 1.0)
    t = (-one.a + np.sqrt(one.a**2 - 4 * one.b * (1 - held))) / (2 * one.b)
    if (held < 1).any():
        cold = np.minimum(t, 0.0)
        for _ in range(NEWTON_STEPS):
            cold = cold - (_ratio(one, cold) - held) / _rise(one, cold)
        t = np.where(held < 1, cold, t)
    return _plain(np.where(inside, t + ZERO, np.nan))


def sensitivity(temperature: Values, r0: Values = 100.0, *, of: str = "iec_60751") -> Values:
    """Return the slope of the resistance. [ohm/K]"""
    one = curve(of)
    t = np.asarray(temperature, dtype=float) - ZERO
    return _plain(r0 * np.where(_inside(t, one.low, one.high), _rise(one, t), np.nan))


def two_wire_error(temperature: Values, leads: Values, r0: Values = 100.0, *, of: str = "iec_60751") -> Values:
    """Return what a two-wire connection shows too much, ``leads`` being both wires together. [K]

    A three-wire or four-wire connection takes the leads away; a Pt1000 feels them ten times less.
    """
    return temperature_of_resistance(resistance(temperature, r0, of=of) + leads, r0, of=of) - temperature


def _ratio(one: Curve, t: Array) -> Array:
    found: Array = 1 + one.a * t + one.b * t**2 + np.where(t < 0, one.c * (t - 100) * t**3, 0.0)
    return found


def _rise(one: Curve, t: Array) -> Array:
    found: Array = one.a + 2 * one.b * t + np.where(t < 0, one.c * (4 * t - 300) * t**2, 0.0)
    return found


def _inside(x: Array, low: float, high: float, slack: float = 1e-9) -> npt.NDArray[np.bool_]:
    """Tell what lies in a range, its ends with it whatever their last digit."""
    return np.asarray((x >= low - slack) & (x <= high + slack))


def _plain(found: Array) -> Values:
    return float(found) if found.shape == () else found
