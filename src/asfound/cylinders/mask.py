"""Sensors that do not count: open, out of range, at cold-junction value, frozen, not read; each found by its own mark.

A masked sensor is not a cold cylinder. It is taken out before the statistics and told apart, because what to do about
it is another thing. Limits are engineering judgement and can be set.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
import numpy.typing as npt

from asfound.cylinders.robust import median
from asfound.quantities.typing import Array

Flags = npt.NDArray[np.bool_]
Marks = npt.NDArray[np.int8]

AT_LOAD = 473.15
"""Median of the port temperatures above which an engine carries load. [K]"""
OPEN_ABOVE, OPEN_BELOW = 1273.15, 253.15
"""An input that loses its wire runs to one end of its scale, by design up or down. [K]"""
HIGHEST, LOWEST = 1073.15, 363.15
"""What the port of a firing or motored cylinder can show at load: 90 to 800 degC. [K]"""
FROZEN_ROWS = 12
"""Snapshots at load in a row with the same digits, while the others moved."""


class Mark(IntEnum):
    """Why a sensor counts or not."""

    VALID = 0
    NOT_READ = 1
    OPEN = 2
    OUT_OF_RANGE = 3
    COLD_JUNCTION = 4
    FROZEN = 5
    STOPPED = 6


WORDS: dict[Mark, str] = {
    Mark.VALID: "valid",
    Mark.NOT_READ: "not read",
    Mark.OPEN: "open circuit: at the end of its scale",
    Mark.OUT_OF_RANGE: "out of range",
    Mark.COLD_JUNCTION: "at the temperature of its terminals while the engine carries load",
    Mark.FROZEN: "frozen: the same digits while the others moved",
    Mark.STOPPED: "engine not at load",
}


def at_load(temperatures: Array) -> Flags:
    """Tell for each snapshot whether the engine carries load: the median port is above 200 degC. Shape (...).

    Parameters
    ----------
    temperatures : array, shape (..., n)
        Of the ports. [K]
    """
    loaded: Flags = median(temperatures) > AT_LOAD
    return loaded


def mask(
    temperatures: Array,
    *,
    running: Flags | None = None,
    lowest: float = LOWEST,
    highest: float = HIGHEST,
    frozen_rows: int = FROZEN_ROWS,
) -> Marks:
    """Return why each port temperature counts or not (`Mark`).

    Parameters
    ----------
    temperatures : array, shape (n,) or (times, n)
        In the order of time; nan where not read. [K]
    running : array of bool, shape (times,), optional
        Snapshots at load; told from the temperatures when left out.
    lowest, highest : float
        What a port can show at load. [K]
    frozen_rows : int
        Equal snapshots in a row that make a frozen input; a single snapshot cannot show one.
    """
    given = np.asarray(temperatures, dtype=float)
    loaded = at_load(given) if running is None else np.asarray(running, dtype=bool)
    marks = np.zeros(given.shape, np.int8)
    marks[given < lowest] = Mark.COLD_JUNCTION
    marks[given > highest] = Mark.OUT_OF_RANGE
    marks[(given < OPEN_BELOW) | (given > OPEN_ABOVE)] = Mark.OPEN
    if given.ndim == 2:
        still = frozen(given, running=loaded, at_least=frozen_rows)
        marks[still & (marks == Mark.VALID)] = Mark.FROZEN
    marks[np.isnan(given)] = Mark.NOT_READ
    marks[~loaded] = Mark.STOPPED
    return marks


def frozen(temperatures: Array, *, running: Flags | None = None, at_least: int = FROZEN_ROWS) -> Flags:
    """Tell where a sensor shows the same digits in a row of snapshots at load, while most of the others moved.

    Parameters
    ----------
    temperatures : array, shape (times, n)
    running : array of bool, shape (times,), optional
        Snapshots at load; the others are passed over and do not break a row.
    at_least : int
        Snapshots with the same digits.

    Returns
    -------
    array of bool, shape (times, n)
        The whole row of equal snapshots, from its first.
    """
    found = np.zeros(temperatures.shape, bool)
    rows = np.arange(len(temperatures)) if running is None else np.flatnonzero(running)
    kept = temperatures[rows]
    if len(kept) < at_least:
        return found
    same = np.zeros(kept.shape, bool)
    same[1:] = kept[1:] == kept[:-1]
    same[same.mean(axis=1) > 0.5] = False  # nothing moved: a steady minute, or a copied row
    at = np.arange(len(kept))[:, None]
    first = np.maximum.accumulate(np.where(same, 0, at), axis=0)
    ends = np.vstack([~same[1:], np.ones((1, kept.shape[1]), bool)])
    last = np.minimum.accumulate(np.where(ends, at, len(kept))[::-1], axis=0)[::-1]
    found[rows] = last - first + 1 >= at_least
    return found


def valid(temperatures: Array, marks: Marks) -> Array:
    """Return the temperatures with nan where the sensor does not count. Shape as given."""
    counted: Array = np.where(marks == Mark.VALID, temperatures, np.nan)
    return counted
