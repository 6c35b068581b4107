"""Thermocouples of all letter types: voltage from temperature and back, by the reference functions of ITS-90.

Source: NIST Monograph 175 (types B E J K N R S T), IEC 60584-1 (types A, C); see ``data/thermocouples.csv``. Inside a
reference function temperatures are in °C and voltages in mV, as the sources print them; every function here takes and
gives K and V, floats or arrays of any shape, and nan where the type is not defined.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from asfound.cylinders.thermocouple_reference import LETTERS as LETTERS
from asfound.cylinders.thermocouple_reference import emf_of, inverse_of, reference, slope_of, temperature_of
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

BASE_METAL = ("E", "J", "K", "N", "T")
ZERO = 273.15
CHUNK = 8192
"""Elements worked on at once, so that they stay in the cache of the processor."""
Work: TypeAlias = Callable[[Array], Array]


def emf(letter: str, temperature: Values) -> Values:
    """Return the voltage of a thermocouple whose reference junction is at 0 °C. [V]

    Parameters
    ----------
    letter : str
        Letter type.
    temperature : float or ndarray
        Of the measuring junction. [K]
    """
    function = reference(letter)
    return _by_chunks(lambda t: emf_of(function, t - ZERO, nan=True) * 1e-3, temperature)


def seebeck(letter: str, temperature: Values) -> Values:
    """Return the slope of the voltage. [V/K]"""
    function = reference(letter)
    return _by_chunks(lambda t: slope_of(function, t - ZERO, nan=True) * 1e-3, temperature)


def temperature(letter: str, voltage: Values) -> Values:
    """Return the temperature at which the reference function gives a voltage, reference junction at 0 °C. [K]

    The standard's inverse polynomials are near by 0.06 K at worst (type A: 1 K); Newton's steps on the reference
    function make the answer its inverse. A table of cubics through such answers gives them back within 1e-9 K, at a
    fifth of the time. Type B from 250 °C on.
    """
    function = reference(letter)
    return _by_chunks(lambda volt: temperature_of(function, volt * 1e3) + ZERO, voltage)


def inverse_polynomial(letter: str, voltage: Values) -> Values:
    """Return the temperature by the standard's inverse polynomial alone; nan where it gives none. [K]"""
    function = reference(letter)
    return _by_chunks(lambda volt: inverse_of(function, volt * 1e3) + ZERO, voltage)


def measured_temperature(letter: str, voltage: Values, cold_junction: Values) -> Values:
    """Return the temperature from a voltage measured at terminals that are at ``cold_junction``. [K]

    The terminals take away what the thermocouple would give at their own temperature; that is added first.
    """
    return temperature(letter, voltage + emf(letter, cold_junction))


def terminal_voltage(letter: str, measured: Values, cold_junction: Values) -> Values:
    """Return the voltage at terminals at ``cold_junction`` for a junction at ``measured``. [V]"""
    return emf(letter, measured) - emf(letter, cold_junction)


def temperature_range(letter: str) -> tuple[float, float]:
    """Return the lowest and highest temperature of the reference function. [K]"""
    function = reference(letter)
    return function.low + ZERO, function.high + ZERO


def error_band(letter: str) -> tuple[tuple[float, float, float], ...]:
    """Return what the source states of each inverse polynomial: from and to voltage, largest error. [V], [V], [K]"""
    return tuple(
        (float(row["low"]) * 1e-3, float(row["high"]) * 1e-3, float(row["band"]))
        for row in load_csv("asfound.cylinders", "data/thermocouples.csv")
        if row["type"] == letter and row["band"]
    )


def _by_chunks(work: Work, given: Values) -> Values:
    """Return what ``work`` gives for each element, a float for a float."""
    flat = np.asarray(given, dtype=float)
    shape, flat = flat.shape, np.ravel(flat)
    found = np.empty_like(flat)
    for start in range(0, flat.size, CHUNK):
        part = slice(start, start + CHUNK)
        found[part] = work(flat[part])
    return float(found[0]) if shape == () else found.reshape(shape)
