"""Median, MAD and modified z of the few sensors of a bank: what holds with 5 to 24 values, some of them missing.

Everything works along the last axis, on one snapshot or on a year of them; nan is a sensor that does not count.

A modified z with the textbook limit of 3.5 is not usable with so few: of sound engines with six cylinders it flags one
snapshot in seven. The limits here come from simulation, for each number of sensors (`Cutoffs`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

NORMAL_QUARTILE = 0.6745
"""Of the modified z, as Iglewicz and Hoaglin print it."""
MANY = 256
"""From so many rows on they are sorted side by side."""
FEWEST = 5
"""With fewer valid sensors the MAD says nothing."""

TAIL = {
    "cutoff_20pct": 0.20,
    "cutoff_10pct": 0.10,
    "cutoff_5pct": 0.05,
    "cutoff_2pct": 0.02,
    "cutoff_1pct": 0.01,
    "cutoff_01pct": 0.001,
}
"""Columns of the simulated tail, with the share of snapshots beyond."""


@dataclass(frozen=True, slots=True)
class Cutoffs:
    """What simulation says of so many sensors of a sound engine, normally scattered."""

    mad_factor: float
    """Standard deviation over mean MAD: 1.4826 for very many."""
    cutoff_20pct: float
    """Modified z that the oddest of them exceeds in 20 % of snapshots; then in 10, 5, 2, 1 and 0.1 %."""
    cutoff_10pct: float
    cutoff_5pct: float
    cutoff_2pct: float
    cutoff_1pct: float
    cutoff_01pct: float
    false_flags_35: float
    """Share of snapshots with a flag at the textbook limit of 3.5."""
    false_flags_5: float
    """Share of snapshots with a flag at 5."""


@cache
def cutoffs() -> dict[tuple[int, int], Cutoffs]:
    """Return the simulated figures by (banks pooled, sensors in each)."""
    return {
        (int(row["banks"]), int(row["sensors"])): Cutoffs(
            *(float(row[name]) for name in ("mad_factor", *TAIL, "flags_35", "flags_5"))
        )
        for row in load_csv("asfound.cylinders", "data/robust_cutoffs.csv")
    }


def cutoff(valid: Values, *, banks: int = 1, rare: bool = False) -> Values:
    """Return the modified z that a sound engine's oddest sensor exceeds in 1 % of snapshots, or in 0.1 %.

    Parameters
    ----------
    valid : number or array
        Valid sensors; with two banks pooled, those of the smaller bank.
    banks : int
        2 where the scatter of both banks about their own medians is taken together.
    rare : bool
        0.1 % instead of 1 %.

    Returns
    -------
    number or array
        nan below 5 sensors (below 3 in each of two banks).
    """
    return _looked_up(valid, banks, "cutoff_01pct" if rare else "cutoff_1pct")


def mad_factor(valid: Values, *, banks: int = 1) -> Values:
    """Return the factor that makes the MAD of so few values a standard deviation without bias; nan for too few."""
    return _looked_up(valid, banks, "mad_factor")


def rarity(z: Values, valid: int, *, banks: int = 1) -> Values:
    """Return the share of sound engines' snapshots whose oddest sensor has as large a modified z.

    Parameters
    ----------
    z : float or array
        Modified z, either sign.
    valid, banks
        As in `cutoff`; one number of sensors.

    Returns
    -------
    float or array
        Between the simulated 20 % and 0.1 %, straight in the logarithms; 0.2 stands for 'a fifth or more', 0.001 for
        'one in a thousand or fewer'. nan for too few sensors.
    """
    walls = np.array([_looked_up(valid, banks, name) for name in TAIL])
    shares = np.array(list(TAIL.values()))
    size = np.abs(np.asarray(z, dtype=float))
    if np.isnan(walls).any():
        found: Array = np.full(size.shape, np.nan)
    else:
        found = np.exp(np.interp(np.log(np.maximum(size, 1e-9)), np.log(walls), np.log(shares)))
        found = np.where(np.isnan(size), np.nan, found)
    return float(found) if found.ndim == 0 else found


@cache
def _column(banks: int, name: str) -> Array:
    """Return one column by number of sensors; beyond the table its last value holds."""
    known = {one: getattr(row, name) for (many, one), row in cutoffs().items() if many == banks}
    column = np.full(max(known) + 1, np.nan)
    for sensors, value in known.items():
        column[sensors] = value
    column.setflags(write=False)
    return column


def _looked_up(valid: Values, banks: int, name: str) -> Values:
    column = _column(banks, name)
    at = np.clip(np.asarray(valid, dtype=int), 0, column.size - 1)
    found: Array = column[at]
    return float(found) if found.ndim == 0 else found


def median(values: Array) -> Array:
    """Return the median along the last axis without the missing ones; nan where all are missing.

    Parameters
    ----------
    values : array, shape (..., n)

    Returns
    -------
    array, shape (...)
    """
    number = values.shape[-1]
    if not number:
        return np.full(values.shape[:-1], np.nan)
    ordered = _sorted(values)
    middle: Array = np.asarray(0.5 * (ordered[..., (number - 1) // 2] + ordered[..., number // 2]))
    gaps = np.isnan(ordered[..., -1])
    if gaps.any():
        middle[gaps] = _median_of_some(ordered[gaps])
    return middle


def _sorted(values: Array) -> Array:
    """Return the values sorted along the last axis, nan last; many short rows side by side, at a third of the time."""
    if values.ndim < 2 or values.size < MANY * values.shape[-1]:
        return np.sort(values, axis=-1)
    return np.moveaxis(np.sort(np.moveaxis(values, -1, 0), axis=0), 0, -1)


def _median_of_some(ordered: Array) -> Array:
    """Return the medians of sorted rows that end in nan. Shape (rows, n) to (rows,)."""
    count = valid_count(ordered)
    row = np.arange(len(ordered))
    found = 0.5 * (
        ordered[row, np.maximum(count - 1, 0) // 2] + ordered[row, np.minimum(count // 2, ordered.shape[1] - 1)]
    )
    middle: Array = np.where(count > 0, found, np.nan)
    return middle


def valid_count(values: Array) -> Array:
    """Return how many along the last axis are not missing. Shape (...)."""
    count: Array = values.shape[-1] - np.isnan(values).sum(axis=-1)
    return count


def mad(deviations: Array) -> Array:
    """Return the median of the absolute deviations from a median, along the last axis. Same unit, shape (...)."""
    return median(np.abs(deviations))


def modified_z(deviations: Array, mad_of_them: Array) -> Array:
    """Return 0.6745 times deviation over MAD (Iglewicz and Hoaglin 1993); nan where the MAD is 0 or missing.

    Parameters
    ----------
    deviations : array, shape (..., n)
    mad_of_them : array, shape (...)
    """
    divisor = np.where(mad_of_them > 0.0, mad_of_them, np.nan)
    z: Array = NORMAL_QUARTILE * deviations / divisor[..., None]
    return z
