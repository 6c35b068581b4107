"""The reference functions of thermocouples and their inverse, in °C and mV as the sources print them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TypeAlias

import numpy as np

from asfound.errors import UnknownNameError
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

LETTERS = ("A", "B", "C", "E", "J", "K", "N", "R", "S", "T")
NEWTON_STEPS, CLOSE = 12, 1e-5
"""Once a Newton step is this small, the next would be below the digits of a float. [K]"""
FIRST_CUBICS, MOST_CUBICS, TABLE_ERROR = 128, 8192, 1e-9
"""Cubics of the table of an inverse, and what it may lose against Newton's steps. [1], [1], [K]"""
SLACK = 1e-9
"""Beyond the ends of a range, so that its own end is not lost to rounding. [°C], [mV]"""
TYPE_B_FROM = 250.0
"""Below this the standard gives no inverse for type B: two temperatures may give one voltage. [°C]"""


@dataclass(frozen=True, slots=True)
class Piece:
    """A polynomial between two ends, perhaps with an exponential."""

    low: float
    high: float
    coefficients: tuple[float, ...]
    slope: tuple[float, ...]
    exponential: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """Temperatures by voltage within one piece of the reference function: a cubic in each of many equal steps."""

    low: float
    high: float
    cubics: Array
    """Coefficients from the constant up, shape (4, steps)."""

    def at(self, millivolt: Array) -> Array:
        """Return °C of mV; nan outside."""
        steps = self.cubics.shape[1]
        along = (millivolt - self.low) * (steps / (self.high - self.low))
        outside = ~((along >= -SLACK) & (along <= steps + SLACK))
        along[outside] = 0.0
        step = np.clip(along.astype(np.intp), 0, steps - 1)
        along -= step
        found: Array = self.cubics[3].take(step)
        for i in (2, 1, 0):
            found *= along
            found += self.cubics[i].take(step)
        found[outside] = np.nan
        return found


@dataclass(frozen=True, slots=True)
class Reference:
    """What the standard says of one letter type."""

    emf: tuple[Piece, ...]
    """mV from °C."""
    inverse: tuple[Piece, ...]
    """°C from mV: near, to start from."""
    grid: tuple[Array, Array] = (np.empty(0), np.empty(0))
    """Rising voltages and their temperatures, to start from where the standard has no inverse."""
    tables: tuple[Table, ...] = ()
    """The inverse, ready to be looked up."""

    @property
    def low(self) -> float:
        """Lowest temperature of the reference function. [°C]"""
        return self.emf[0].low

    @property
    def high(self) -> float:
        """Highest temperature. [°C]"""
        return self.emf[-1].high


How: TypeAlias = Callable[[Piece, Array], Array]


@cache
def reference(letter: str) -> Reference:
    """Return the reference function of a letter type; UnknownNameError for any other name."""
    if letter not in LETTERS:
        raise UnknownNameError("letter type of thermocouple", letter, LETTERS)
    listed = [row for row in load_csv("asfound.cylinders", "data/thermocouples.csv") if row["type"] == letter]
    forward = tuple(_piece(row) for row in listed if row["of"] == "emf")
    inverse = tuple(_piece(row) for row in listed if row["of"] == "temperature")
    bare = Reference(forward, inverse)
    low = TYPE_B_FROM if letter == "B" else bare.low
    degrees = np.linspace(low, bare.high, 1 + 2 * round(bare.high - low))
    with_grid = replace(bare, grid=(emf_of(bare, degrees, nan=False), degrees))
    return replace(with_grid, tables=tuple(_tables(with_grid)))


def _piece(row: dict[str, str]) -> Piece:
    coefficients = tuple(float(one) for one in row["coefficients"].split("|"))
    slope = tuple(i * one for i, one in enumerate(coefficients))[1:]
    exponential = tuple(float(one) for one in row["exponential"].split("|")) if row["exponential"] else ()
    return Piece(float(row["low"]), float(row["high"]), coefficients, slope, exponential)


def emf_of(function: Reference, t: Array, *, nan: bool) -> Array:
    """Return mV of °C; outside its range nan, or the outer polynomial carried on."""
    return _pieced(function.emf, t, _value, nan=nan)


def slope_of(function: Reference, t: Array, *, nan: bool) -> Array:
    """Return the slope in mV/K of °C, as `emf_of`."""
    return _pieced(function.emf, t, _rise, nan=nan)


def inverse_of(function: Reference, millivolt: Array) -> Array:
    """Return °C of mV by the standard's own inverse polynomials; nan where there is none."""
    return _pieced(function.inverse, millivolt, _value, nan=True)


def temperature_of(function: Reference, millivolt: Array) -> Array:
    """Return °C of mV: from the tables, below them by Newton."""
    low, high = (float(millivolt.min()), float(millivolt.max())) if millivolt.size else (np.nan, np.nan)
    for table in function.tables:
        if table.low <= low and high <= table.high:
            return table.at(millivolt)
    found = np.full_like(millivolt, np.nan)
    for table, following in zip(function.tables, (*function.tables[1:], None), strict=True):
        top = table.high + SLACK if following is None else following.low  # pieces leave gaps of some picovolts
        mine = (millivolt >= table.low - SLACK) & (millivolt <= top)
        if mine.any():
            np.copyto(found, table.at(np.clip(millivolt, table.low, table.high)), where=mine)
    cold = millivolt < function.tables[0].low - SLACK
    if cold.any():
        found[cold] = newton(function, millivolt[cold])
    return found


def newton(function: Reference, millivolt: Array) -> Array:
    """Return °C of mV: start near, then Newton's steps on the reference function."""
    volts, degrees = function.grid
    outside = ~((millivolt >= volts[0] - SLACK) & (millivolt <= volts[-1] + SLACK))
    wanted = np.where(outside, volts[-1], millivolt)
    t = inverse_of(function, wanted)
    unknown = np.isnan(t)
    if unknown.any():
        t[unknown] = np.interp(wanted[unknown], volts, degrees)
    for _ in range(NEWTON_STEPS):
        step = emf_of(function, np.clip(t, degrees[0], degrees[-1], out=t), nan=False)
        step -= wanted
        step /= slope_of(function, t, nan=False)
        t -= step
        if np.abs(step, out=step).max() < CLOSE:
            break
    np.clip(t, degrees[0], degrees[-1], out=t)
    t[outside] = np.nan
    return t


def _tables(function: Reference) -> Iterator[Table]:
    """Yield the inverse of each piece, from where the standard has an inverse on."""
    start = max(function.inverse[0].low if function.inverse else -np.inf, function.grid[0][0])
    for piece in function.emf:
        first, last = (float(one) for one in _value(piece, np.array([piece.low, piece.high])))
        if last > start:
            yield _table(piece, function, max(first, start), last)


def _table(piece: Piece, function: Reference, low: float, high: float) -> Table:
    """Return the inverse of a piece: cubics that meet with equal slope, finer until nothing is lost."""
    alone = replace(function, emf=(piece,))
    count = FIRST_CUBICS
    while True:
        volts = np.linspace(low, high, count + 1)
        degrees = newton(alone, volts)
        slopes = (high - low) / count / _rise(piece, degrees)
        rise = np.diff(degrees)
        cubics = np.stack(
            [degrees[:-1], slopes[:-1], 3 * rise - 2 * slopes[:-1] - slopes[1:], slopes[:-1] + slopes[1:] - 2 * rise]
        )
        table = Table(low, high, cubics)
        between = (volts[:-1] + volts[1:]) / 2
        if np.abs(table.at(between) - newton(alone, between)).max() < TABLE_ERROR or count >= MOST_CUBICS:
            return table
        count *= 2


def _pieced(pieces: Sequence[Piece], x: Array, how: How, *, nan: bool) -> Array:
    """Return ``how`` of the piece that holds each element; outside all of them nan, or the outer piece carried on."""
    if x.size == 0:
        return np.empty_like(x)
    low, high = float(x.min()), float(x.max())  # nan goes through both comparisons as False
    for piece in pieces:
        if piece.low <= low and high <= piece.high:
            return how(piece, x)
    found = np.full_like(x, np.nan)
    for i in reversed(range(len(pieces))):  # where two overlap, the first one holds
        piece = pieces[i]
        below = piece.low if i else piece.low - SLACK if nan else -np.inf
        above = piece.high if i < len(pieces) - 1 else piece.high + SLACK if nan else np.inf
        mine = (x >= below) & (x <= above)
        if mine.any():  # a mask costs more than a polynomial, so it is worked out for all
            np.copyto(found, how(piece, x), where=mine)
    return found


def _value(piece: Piece, x: Array) -> Array:
    found = _polynomial(piece.coefficients, x)
    if piece.exponential:
        a0, a1, a2 = piece.exponential
        found += a0 * np.exp(a1 * (x - a2) ** 2)
    return found


def _rise(piece: Piece, x: Array) -> Array:
    found = _polynomial(piece.slope, x)
    if piece.exponential:
        a0, a1, a2 = piece.exponential
        found += 2 * a0 * a1 * (x - a2) * np.exp(a1 * (x - a2) ** 2)
    return found


def _polynomial(coefficients: Sequence[float], x: Array) -> Array:
    """Return the polynomial by Horner's rule, in place."""
    found = np.full_like(x, coefficients[-1])
    for one in coefficients[-2::-1]:
        found *= x
        found += one
    return found
