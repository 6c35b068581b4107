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
"""How large a gross error usually is, in units of the reading's u: engineering judgement. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """An error that somebody can name: one reading wrong, or a pattern in several.

    ``effect`` says by how much each reading is too high per unit of the error: ``{"O2_dry": 1.0}`` for one reading in
    its own unit; ``{"O2_dry": 20.94 - 9.4, "CO2_dry": -6.6}`` for a share of air in the sample line. ``size`` and
    ``spread`` say what sizes are plausible: a gauge pressure entered as absolute is off by the barometer (size) within
    its doubt (spread). Left out, a reading is off either way by some 10 of its u, and by more with falling odds.
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


def before_looking(marks: Sequence[Mark], scaled: Array, alone: Array) -> tuple[Array, Array]:
    """Return the logarithm of each error's odds and the spread of its size, before the balances are looked at, (k,).

    A mark without a spread of its own has 10 u of the reading that it moves most. Gross errors know no scale: where
    the error, if it were alone, is larger than that, so is the spread, and the odds fall with 1 / size.

    Parameters
    ----------
    scaled : array of shape (n, k)
        Effects in units of the readings' u.
    alone : array of shape (k,)
        Size of each error if it were alone.
    """
    probability = np.array([mark.probability for mark in marks])
    own = np.array([np.nan if mark.spread is None else mark.spread for mark in marks])
    usual = SPREAD / np.abs(scaled).max(axis=0, initial=0.0)
    wide = np.maximum(usual, np.abs(alone))
    given = np.isfinite(own)
    log_odds = np.log(probability) - np.log1p(-probability) + np.where(given, 0.0, np.log(usual / wide))
    return log_odds, np.where(given, own, wide)


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
