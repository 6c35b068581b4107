"""Worksheets of the spread: medians of banks and engine, each cylinder and bearing against them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from asfound.cylinders.mask import HIGHEST, LOWEST, at_load
from asfound.cylinders.robust import mad, mad_factor, median, valid_count
from asfound.cylinders.spread import FEWEST_FOR_MEDIAN
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

PORT = "cylinder_exhaust_temperature"
HOT = ("hot", "local")
BY_MEDIAN = Method("median of the sensors that count", "own_calculation")
FROM_MEDIAN = Method("reading less the median", "own_calculation")
BY_MAD = Method("median absolute deviation, with its factor for so few sensors", "iglewicz_hoaglin", "modified z-score")


def counted(ports: Array) -> Array:
    """Return ports of shape (places, draws) as (draws, places), nan out of a port's range or where no load is on."""
    given = np.asarray(ports, dtype=float).T
    inside = (given >= LOWEST) & (given <= HIGHEST) & at_load(given)[..., None]
    return np.where(inside, given, np.nan)


def _each(pattern: str, *, optional: bool = False) -> Take:
    return Take(quantity=PORT, place=pattern, each=True, some=True, optional=optional)


def _median_of(place: str, pattern: str) -> Callable[..., Values]:
    """Register the median port of a bank or of the engine."""

    def formula(ports: Array) -> Values:
        given = counted(ports)
        middle: Array = np.where(valid_count(given) >= FEWEST_FOR_MEDIAN, median(given), np.nan)
        return middle

    formula.__name__ = f"exhaust_median_{place}"
    formula.__doc__ = "Return the median of the port temperatures that count; no answer with fewer than three. [K]"
    return worksheet(
        title=f"Median cylinder exhaust temperature, {place.replace('_', ' ')}",
        takes=(_each(pattern),),
        gives="exhaust_median",
        method=BY_MEDIAN,
        at=place,
        cautions=HOT,
    )(formula)


MEDIANS = {
    place: _median_of(place, pattern)
    for place, pattern in (("left_bank", "cylinder_L*"), ("right_bank", "cylinder_R*"), ("engine", "cylinder_*"))
}


@worksheet(
    title="Deviation of a cylinder's exhaust temperature",
    takes=(PORT, "exhaust_median"),
    gives="cylinder_exhaust_deviation",
    method=FROM_MEDIAN,
    cautions=HOT,
)
def cylinder_exhaust_deviation(port: Values, middle: Values) -> Values:
    """Return a port's temperature less the median of its bank, else of the engine. [K]"""
    return port - middle


@worksheet(
    title="Difference of the bank medians",
    takes=(Take(quantity="exhaust_median", place="*_bank", each=True),),  # of banks only: an engine in line has none
    gives="exhaust_bank_difference",
    method=Method("left less right", "own_calculation"),
    cautions=HOT,
)
def exhaust_bank_difference(banks: Array) -> Values:
    """Return how much hotter the left bank's median port is than the right's; nan where one has none. [K]"""
    both = np.asarray(banks, dtype=float)
    return both[0] - both[1] if len(both) == 2 else np.full(both.shape[1:], np.nan)


@worksheet(
    title="Hottest less coldest cylinder",
    takes=(_each("cylinder_*"),),
    gives="exhaust_range",
    method=Method("highest less lowest of the sensors that count", "common_practice"),
    cautions=HOT,
)
def exhaust_range(ports: Array) -> Values:
    """Return the hottest port less the coldest, of the sensors that count. [K]"""
    given = counted(ports)
    apart = np.fmax.reduce(given, axis=-1) - np.fmin.reduce(given, axis=-1)
    spread: Array = np.where(valid_count(given) >= FEWEST_FOR_MEDIAN, apart, np.nan)
    return spread


@worksheet(
    title="Scatter of the cylinders, one row",
    takes=(_each("cylinder_[0-9]*"),),
    gives="exhaust_spread_scale",
    method=BY_MAD,
    cautions=HOT,
)
def exhaust_scatter_one_row(ports: Array) -> Values:
    """Return the robust standard deviation of the ports about their median; no answer with fewer than five. [K]"""
    row = counted(ports)
    return mad_factor(valid_count(row)) * mad(row - median(row)[:, None])


@worksheet(
    title="Scatter of the cylinders, two rows",
    takes=(_each("cylinder_L*"), _each("cylinder_R*")),
    gives="exhaust_spread_scale",
    method=BY_MAD,
    cautions=HOT,
)
def exhaust_scatter_two_rows(left: Array, right: Array) -> Values:
    """Return the robust standard deviation of the ports, each about its own bank's median, both banks together. [K]"""
    one, two = (counted(ports) for ports in (left, right))
    fewest = np.minimum(valid_count(one), valid_count(two))
    size = max(len(one), len(two))
    away = [np.broadcast_to(row - median(row)[:, None], (size, row.shape[1])) for row in (one, two)]
    return mad_factor(fewest, banks=2) * mad(np.concatenate(away, axis=-1))


@worksheet(
    title="Main bearing over the oil",
    takes=("bearing_temperature", Take(quantity="oil_temperature", place="engine")),
    gives="bearing_over_oil",
    method=Method("bearing less oil into the engine", "common_practice"),
    cautions=("hot", "local"),
)
def bearing_over_oil(bearing: Values, oil: Values) -> Values:
    """Return how much warmer a main bearing is than the oil into the engine. [K]"""
    return bearing - oil


@worksheet(
    title="Median main bearing temperature",
    takes=(Take(quantity="bearing_temperature", place="bearing_*", each=True, some=True),),
    gives="bearing_median",
    method=BY_MEDIAN,
    cautions=("hot", "local"),
)
def bearing_median(bearings: Array) -> Values:
    """Return the median of the main bearings read; no answer with fewer than three. [K]"""
    given = np.asarray(bearings, dtype=float).T
    middle: Array = np.where(valid_count(given) >= FEWEST_FOR_MEDIAN, median(given), np.nan)
    return middle


@worksheet(
    title="Deviation of a main bearing temperature",
    takes=("bearing_temperature", "bearing_median"),
    gives="bearing_deviation",
    method=FROM_MEDIAN,
    cautions=("hot", "local"),
)
def bearing_deviation(bearing: Values, middle: Values) -> Values:
    """Return a main bearing's temperature less the median of all. [K]"""
    return bearing - middle
