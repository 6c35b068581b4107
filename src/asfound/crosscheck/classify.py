"""What the balances can say of each value: observable or not, checked or not, and how large an error must be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.elimination import Checking, take_out
from asfound.crosscheck.parity import NOT_CHECKED
from asfound.crosscheck.readings import Flags, Readings
from asfound.quantities.typing import Array

REDUNDANT = 1e-7
"""Share of a reading's column that must survive the projection; below it, rounding. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Classes:
    """Names by class, in the order of the balances."""

    redundant: tuple[str, ...]
    """Readings that the others check."""
    just_measured: tuple[str, ...]
    """Readings that stand in balances and that nothing checks: without them something could not be computed."""
    untouched: tuple[str, ...]
    """Readings in no balance at all."""
    observable: tuple[str, ...]
    """Unmeasured values that follow from the readings."""
    unobservable: tuple[str, ...]
    """Unmeasured values that no reading tells."""
    degrees: int
    """Number of independent checks."""

    @property
    def not_checked(self) -> tuple[str, ...]:
        """Readings of which nothing may be said: neither that they agree nor that they lie."""
        return self.just_measured + self.untouched


def classes_of(checking: Checking, by_readings: Array, balances: Balances) -> Classes:
    """Return the classes at a point where the balances are linearised already."""
    seen = np.linalg.norm(checking.marks, axis=0) > NOT_CHECKED
    redundant: Flags = (checking.redundant_structure > REDUNDANT) & seen
    touched: Flags = np.linalg.norm(by_readings, axis=0) > 0
    names, unmeasured = np.array(balances.readings, dtype=object), np.array(balances.unmeasured, dtype=object)
    return Classes(
        redundant=tuple(names[redundant]),
        just_measured=tuple(names[touched & ~redundant]),
        untouched=tuple(names[~touched & ~redundant]),
        observable=tuple(unmeasured[checking.observable]),
        unobservable=tuple(unmeasured[~checking.observable]),
        degrees=checking.degrees,
    )


def classify(balances: Balances, readings: Readings, unmeasured: Array | None = None) -> Classes:
    """Return the classes at the readings as they are; ``unmeasured`` (p,) is where to linearise, 1 when left out."""
    readings = readings.in_order(balances.readings)
    at = np.ones(len(balances.unmeasured)) if unmeasured is None else unmeasured
    _, by_x, by_u = balances.linearised(readings.values, at)
    return classes_of(take_out(by_x, by_u, readings.scale, readings.correlation), by_x, balances)
