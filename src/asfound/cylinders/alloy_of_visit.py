"""Hot or cold ports of a visit that a thermocouple of another alloy than its input explains."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from asfound.cylinders.spread_of_case import Cylinder, SpreadOfVisit
from asfound.cylinders.thermocouple_faults import PAIRS, true_temperature
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import State

TERMINALS_ABOVE_AMBIENT, TERMINALS = 15.0, 308.15
"""Terminals of an input on or beside a running engine: over the site's air, or as such. Engineering judgement. [K]"""
FITS = 25.0
"""A true temperature this near to the median of the bank fits it: the usual spread. Engineering judgement. [K]"""

Fit = tuple[tuple[str, str], list[float]]
"""Types of wire and of input, and the temperature behind each port. [K]"""


def hot_ports(spread: SpreadOfVisit) -> list[Cylinder]:
    """Return the ports that stand above the others by more than the limit."""
    return [one for one in spread.cylinders if one.beyond_limit and one.deviation > 0]


def fits_of(case: Case, odd: Sequence[Cylinder], state: State) -> list[Fit]:
    """Return wire and input that bring all odd cylinders back to the others, best first, with the true temperatures."""
    values, away = tuple(one.value for one in odd), tuple(one.deviation for one in odd)
    return [(pair, list(true)) for pair, true in _fits(values, away, terminals(case, state))]


@lru_cache(maxsize=32)
def _fits(values: tuple[float, ...], deviations: tuple[float, ...], at_ends: float) -> tuple[Fit, ...]:
    """Return the same from the temperatures alone: several findings ask for it."""
    shown = np.array(values)
    level = shown - np.array(deviations)
    found = []
    for pair in PAIRS:
        true = np.asarray(true_temperature(*pair, shown, at_ends))
        away = np.abs(true - level)
        if bool((away < FITS).all()):  # nan is no fit
            found.append((float(away.max()), pair, true.tolist()))
    return tuple((pair, true) for _, pair, true in sorted(found, key=lambda one: one[0]))


def behind(case: Case, spread: SpreadOfVisit) -> dict[str, float]:
    """Return by place what the true temperature lies off the one shown, of several hot ports explained alike. [K]"""
    hot = hot_ports(spread)
    fits = fits_of(case, hot, spread.state) if len(hot) > 1 else []
    if not fits:
        return {}
    return {one.place: true - one.value for one, true in zip(hot, fits[0][1], strict=True)}


def terminals(case: Case, state: State) -> float:
    """Return the temperature of the terminals: as read, else over the site's air, else assumed. [K]"""
    read = number_at(case.worked, state, "engine", "terminal_temperature")
    if read is not None:
        return read.value
    air = number_at(case.worked, state, "site", "ambient_temperature")
    return air.value + TERMINALS_ABOVE_AMBIENT if air is not None else TERMINALS
