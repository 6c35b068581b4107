"""Marks of assumed errors: what one unit of an error does to the readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from asfound.crosscheck.readings import Readings
from asfound.errors import InputError
from asfound.quantities.typing import Array

PROBABILITY = 0.02
"""How probable a reading is to be grossly wrong before the balances are looked at: engineering judgement. [1]"""
SPREAD = 10.0
"""How large a gross error is, as a standard deviation in units of the reading's u: engineering judgement. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """An error that somebody can name: one reading wrong, or a pattern in several.

    ``effect`` says by how much each reading is too high per unit of the error: ``{"O2_dry": 1.0}`` for one reading in
    its own unit; ``{"O2_dry": 20.94 - 9.4, "CO2_dry": -6.6}`` for a share of air in the sample line. ``size`` and
    ``spread`` say what sizes are plausible: a gauge pressure entered as absolute is off by the barometer (size) within
    its doubt (spread). Left out, a single reading is off by 0 with a spread of 10 of its u, either way.
    """

    name: str
    effect: Mapping[str, float] = field(hash=False)
    size: float = 0.0
    spread: float | None = None
    probability: float = PROBABILITY

    def column(self, readings: Readings) -> Array:
        """Return the effect on each reading, shape (n,)."""
        column = np.zeros(len(readings.names))
        for name, effect in self.effect.items():
            column[readings.at(name)] = effect
        return column


def single_marks(readings: Readings, probability: Mapping[str, float] | None = None) -> tuple[Mark, ...]:
    """Return one mark for each reading, in its own unit; ``probability`` overrides that of some by name."""
    given = dict(probability or {})
    for name in given:
        readings.at(name)
    return tuple(
        Mark(name=name, effect={name: 1.0}, probability=given.get(name, PROBABILITY)) for name in readings.names
    )


def plausible_spreads(marks: Sequence[Mark], scaled: Array) -> Array:
    """Return the spread of each mark's size: its own, or 10 u of the reading that it moves most, shape (k,).

    ``scaled`` (n, k) are the effects in units of the readings' u.
    """
    usual = SPREAD / np.abs(scaled).max(axis=0, initial=0.0)
    own = np.array([np.nan if mark.spread is None else mark.spread for mark in marks])
    return np.where(np.isnan(own), usual, own)


def matrix(marks: Sequence[Mark], readings: Readings) -> Array:
    """Return the effects of all marks side by side, shape (n, k).

    Raises
    ------
    InputError
        A mark moves nothing, or two bear one name.
    """
    names = [mark.name for mark in marks]
    if len(set(names)) != len(names):
        raise InputError("marks", ", ".join(names), "name a mark twice", allowed="each once")
    where = {name: at for at, name in enumerate(readings.names)}
    columns = np.zeros((len(readings.names), len(marks)))
    for at, mark in enumerate(marks):
        for name, effect in mark.effect.items():
            columns[where[name] if name in where else readings.at(name), at] = effect
        if not columns[:, at].any():
            raise InputError("mark", mark.name, "moves no reading", allowed="an effect on at least one")
    return columns
