"""Gross errors one after another (serial elimination), and the sizes of several together (unbiased estimation)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.critical import normal_critical, sidak
from asfound.crosscheck.marks import Mark, matrix, single_marks
from asfound.crosscheck.parity import NOT_CHECKED, Parity
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import Reconciled, reconcile
from asfound.crosscheck.steps import Release
from asfound.crosscheck.tests_of_readings import ErrorTests, likelihood_ratios
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sizes:
    """Sizes of several errors assumed together."""

    names: tuple[str, ...]
    size: Array
    """Shape (k,)."""
    covariance: Array
    """nan where the balances cannot tell the size, shape (k, k)."""
    chi_squared: float
    """What is left."""
    degrees: int

    @property
    def u(self) -> Array:
        """Standard uncertainties of the sizes, shape (k,)."""
        return np.sqrt(np.diag(self.covariance))


def unbiased_estimate(parity: Parity, marks: Sequence[Mark]) -> Sizes:
    """Return the sizes of all suspects together by least squares: Rollins and Davis, AIChE J. 38 (1992) 563."""
    effects = matrix(marks, parity.readings) / parity.readings.scale[:, None]
    release = Release.of(parity.marks @ effects, effects)
    size = release.solve @ parity.vector
    left = parity.vector - release.marks @ size
    return Sizes(
        names=tuple(mark.name for mark in marks),
        size=np.where(release.told, size, np.nan),
        covariance=release.covariance,
        chi_squared=float(left @ left),
        degrees=parity.degrees - release.rank,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Elimination:
    """Readings released one after another."""

    steps: tuple[Reconciled, ...]
    """First with nothing released, then with one more each time."""
    passes: bool
    """Whether the last step agrees, all together and each reading."""
    said: str
    """Why it stopped before it agreed."""

    @property
    def released(self) -> tuple[str, ...]:
        """Names of what was released, in order."""
        return tuple(mark.name for mark in self.steps[-1].released)


def agrees(parity: Parity, marks: Sequence[Mark], p_value: float, alpha: float) -> tuple[bool, ErrorTests]:
    """Return whether readings agree, all together and each alone, and the tests of each.

    ``parity`` is what is left; both tests are made, since each passes what the other sees.
    """
    tests = likelihood_ratios(parity, marks)
    seen = int(np.isfinite(tests.ratio).sum())
    return p_value >= alpha and tests.largest <= normal_critical(sidak(alpha, seen)), tests


def serial_elimination(
    balances: Balances,
    readings: Readings,
    *,
    marks: Sequence[Mark] | None = None,
    start: Mapping[str, float] | None = None,
    alpha: float = 0.05,
    at_most: int = 5,
) -> Elimination:
    """Release the error with the largest test value, reconcile again, until the readings agree.

    Where nothing is left to check, readings agree with anything: that is no pass. An error whose release would leave
    others unchecked is no further suspect: its mark is spanned by those released. Two errors can hide each other or
    swap: `identify.identify` looks at pairs together and says what else passes.

    References
    ----------
    .. [1] Ripps 1965; Serth and Heenan, AIChE J. 32 (1986) 733; Rosenberg, Mah, Iordache 1987.
    """
    readings = readings.in_order(balances.readings)
    suspects = tuple(single_marks(readings) if marks is None else marks)
    steps = [reconcile(balances, readings, start=start)]
    while True:
        now = steps[-1]
        left = now.parity.without(matrix(now.released, readings))
        passes, tests = agrees(left, suspects, now.p_value, alpha)
        passes = passes and (now.degrees > 0 or not now.released)
        if passes and now.converged:
            return Elimination(steps=tuple(steps), passes=True, said="")
        free = [at for at in tests.order() if _told(left, suspects[at]) and suspects[at] not in now.released]
        if not free or len(now.released) == at_most:
            said = f"{at_most} released, and they do not agree" if free else "nothing further can be released"
            return Elimination(steps=tuple(steps), passes=False, said=said)
        more = (*now.released, suspects[free[0]])
        steps.append(reconcile(balances, readings, released=more, point=now.point))


def _told(left: Parity, mark: Mark) -> bool:
    """Whether the balances would still tell the size of an error if it were released too."""
    scaled = mark.column(left.readings) / left.readings.scale
    return bool(np.linalg.norm(left.marks @ scaled) > NOT_CHECKED * np.linalg.norm(scaled))
