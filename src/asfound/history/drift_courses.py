"""The courses that a drift may take from its onset: straight, ever quicker or slower, a slow start, a rise that holds.

Each is a share of the whole drift, 0 at the onset and 1 on the last day, of the share of the time gone since. No
physics is in them: a sensor ages straight or settles, deposits begin slowly, a leak opens and holds; a course that is
none of these lies between some of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

STRAIGHT = 0.25
"""Prior share of the straight line."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One family of courses with one parameter: what it may be, and where it is tried at first."""

    name: str
    low: float
    high: float
    tried: tuple[float, ...]
    prior: float
    """Share of the family, its straight member apart."""


KINDS = (
    Kind("bent", -6.0, 7.0, (-3.0, -1.5, 1.5, 3.0, 5.5), 0.30),
    Kind("power", 1.2, 4.0, (2.0, 3.0), 0.15),
    Kind("ramp", 0.1, 1.0, (0.3, 0.6, 0.85), 0.10),
    Kind("smooth", 0.1, 1.5, (0.3, 0.6, 0.9, 1.15, 1.35), 0.20),
)
"""Rate of (1 - exp(-rate x share)); exponent; share of the time after which a straight or a smooth rise holds;
a smooth one may not be over yet."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One course, its prior within those that are tried."""

    kind: int
    """Index in `KINDS`; -1 is straight."""
    value: float
    prior: float

    def gone(self, share: Array) -> Array:
        """Return the share of the drift after a share of the time."""
        if self.kind < 0:
            return share
        name, value = KINDS[self.kind].name, self.value
        if name == "bent":
            bent: Array = np.expm1(-value * share) / math.expm1(-value) if abs(value) > 1e-6 else share
            return bent
        if name == "power":
            return np.asarray(share**value, dtype=float)
        risen = np.minimum(share / value, 1.0)
        if name == "ramp":
            return risen
        end = min(1.0 / value, 1.0)
        return risen * risen * (3.0 - 2.0 * risen) / (end * end * (3.0 - 2.0 * end))

    @property
    def pace(self) -> float:
        """Return the slope at the end."""
        if self.kind < 0:
            return 1.0
        name, value = KINDS[self.kind].name, self.value
        if name == "bent":
            return value * math.exp(-value) / -math.expm1(-value) if abs(value) > 1e-6 else 1.0
        if name == "power":
            return value
        if value <= 1.0:
            return float(name == "ramp" and value == 1.0)
        end = 1.0 / value
        return 6.0 * (1.0 - end) / (3.0 - 2.0 * end)


SHAPES = (
    Shape(-1, 0.0, STRAIGHT),
    *(Shape(number, value, kind.prior / len(kind.tried)) for number, kind in enumerate(KINDS) for value in kind.tried),
)
"""What is tried at first."""
CLOSER = 15
"""Members of each family looked at closely."""


def closer(weight: Array) -> tuple[Shape, ...]:
    """Return courses about those that fit, from the weights of `SHAPES`."""
    found = [SHAPES[0]]
    for number, kind in enumerate(KINDS):
        at = [k for k, shape in enumerate(SHAPES) if shape.kind == number]
        own = weight[at]
        if own.sum() < 1e-4:
            continue
        places = [kind.low, *kind.tried, kind.high]
        some = np.flatnonzero(own > 1e-3 * own.max())
        low, high = places[int(some[0])], places[int(some[-1]) + 2]
        prior = kind.prior * (high - low) / (kind.high - kind.low) / CLOSER
        found += [Shape(number, float(value), prior) for value in np.linspace(low, high, CLOSER)]
    return tuple(found)
