"""Tests of the readings on a parity vector: all together, one at a time, patterns, single balances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.critical import (
    POWER,
    chi_squared_critical,
    chi_squared_p,
    normal_critical,
    noticed_at,
    sidak,
)
from asfound.crosscheck.marks import Mark, matrix
from asfound.crosscheck.parity import NOT_CHECKED, Parity
from asfound.crosscheck.readings import Readings
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class GlobalTest:
    """All readings together against the stated uncertainties."""

    chi_squared: float
    degrees: int
    critical: float
    p_value: float

    @property
    def passes(self) -> bool:
        """Whether the readings agree as a whole. One of them may still be plainly out: test them singly too."""
        return self.chi_squared <= self.critical or self.degrees == 0


def global_test(parity: Parity, alpha: float = 0.05) -> GlobalTest:
    """Return chi-squared of all balances, r' H^-1 r, against its critical value; VDI 2048 takes alpha = 5 %."""
    return GlobalTest(
        chi_squared=parity.chi_squared,
        degrees=parity.degrees,
        critical=chi_squared_critical(alpha, parity.degrees),
        p_value=float(chi_squared_p(parity.chi_squared, parity.degrees)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ErrorTests:
    """Tests of assumed errors, one at a time; arrays of shape (k,), nan where the balances do not see the error."""

    names: tuple[str, ...]
    ratio: Array
    """Generalised likelihood ratio T: by how much chi-squared falls when this error is released. [1]"""
    size: Array
    """Best size of the error, in its own unit: what is to be taken off the reading."""
    u_size: Array
    """Standard uncertainty of the size."""

    @property
    def test(self) -> Array:
        """Root of T with the sign of the size: standard normal when there is no error."""
        return np.sqrt(self.ratio) * np.sign(self.size)

    def critical(self, alpha: float = 0.05) -> float:
        """Return the critical value of ``test`` for all that are tested together (Sidak)."""
        return normal_critical(sidak(alpha, int(np.isfinite(self.ratio).sum())))

    def order(self) -> list[int]:
        """Return the indices from the largest T down; what is not seen is left out."""
        return [int(at) for at in np.argsort(-self.ratio) if np.isfinite(self.ratio[at])]

    @property
    def largest(self) -> float:
        """Largest |test|; 0 where nothing is seen."""
        return float(np.sqrt(np.nanmax(self.ratio))) if np.isfinite(self.ratio).any() else 0.0


def likelihood_ratios(parity: Parity, marks: Sequence[Mark]) -> ErrorTests:
    """Return the generalised likelihood ratio of each mark: Narasimhan and Mah, AIChE J. 33 (1987) 1514."""
    return tests_of(parity, tuple(mark.name for mark in marks), matrix(marks, parity.readings))


def measurement_tests(parity: Parity) -> ErrorTests:
    """Return the test of each single reading; for independent readings |adjustment| / u of the adjustment.

    The form of most power: Mah and Tamhane, AIChE J. 28 (1982) 828; for readings with correlated errors the
    likelihood ratio, which is the same for independent ones.
    """
    return tests_of(parity, parity.readings.names, np.eye(len(parity.readings.names)))


def tests_of(parity: Parity, names: tuple[str, ...], effects: Array) -> ErrorTests:
    """Return the tests of errors with these effects on the readings (n, k), in the readings' units."""
    scaled = effects / parity.readings.scale[:, None]
    marks = parity.marks @ scaled
    along = marks.T @ parity.vector
    squared = np.einsum("ij,ij->j", marks, marks)
    seen = squared > (NOT_CHECKED**2) * np.einsum("ij,ij->j", scaled, scaled)
    squared = np.where(seen, squared, np.nan)
    return ErrorTests(names=names, ratio=along**2 / squared, size=along / squared, u_size=1 / np.sqrt(squared))


def adjustment_tests(parity: Parity) -> Array:
    """Return |adjustment| / u of the adjustment, shape (n,); 0 where nothing is adjusted.

    The local test of VDI 2048. For correlated readings it is not the likelihood ratio: a good reading of a correlated
    pair is adjusted as surely as the bad one.
    """
    moved = parity.readings.correlation @ parity.marks.T
    u = np.linalg.norm(moved, axis=1)
    return np.where(u > NOT_CHECKED, np.abs(moved @ parity.vector) / np.where(u > NOT_CHECKED, u, 1.0), 0.0)


def nodal_tests(balances: Balances, readings: Readings) -> Array:
    """Return |residual| / u of each balance at the readings as they are, shape (m,).

    No reconciliation is needed, but each balance blurs the readings in it, and two errors may cancel: Reilly and
    Carpani 1963; Mah, Stanley, Downing 1976. nan where something unmeasured stands in the balance.
    """
    readings = readings.in_order(balances.readings)
    f, by_x, by_u = balances.linearised(readings.values, np.ones(len(balances.unmeasured)))
    u = np.sqrt(np.einsum("ij,jk,ik->i", by_x, readings.covariance, by_x))
    found = np.abs(f) / np.where(u > 0, u, np.nan)
    found[(by_u != 0).any(axis=1)] = np.nan
    return np.asarray(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Others:
    """What all the other readings make of each; arrays of shape (n,), nan where they say nothing."""

    values: Array
    u: Array
    distance: Array
    """Reading less that, over the uncertainty of the difference: the signed test of the reading. [1]"""


def what_others_say(parity: Parity) -> Others:
    """Return each reading's value as it follows from all others, as if it had not been read.

    A reading that shares its error with another lends that one's news of the common error; its own value is not used.
    """
    readings, tests = parity.readings, measurement_tests(parity)
    size, squared = tests.size / readings.scale, 1 / np.square(tests.u_size / readings.scale)
    moved = parity.marks @ readings.correlation  # (degrees, n)
    across = np.einsum("ij,ij->j", moved, parity.marks)
    pulled = moved.T @ parity.vector - across * size
    variance = np.diag(readings.correlation) - np.einsum("ij,ij->j", moved, moved) + (1 - across) ** 2 / squared
    return Others(
        values=readings.values - readings.scale * (size + pulled),
        u=readings.scale * np.sqrt(np.clip(variance, 0.0, None)),
        distance=tests.test,
    )


def smallest_errors(parity: Parity, alpha: float = 0.01, power: float = POWER, *, tests: int = 1) -> Array:
    """Return the smallest error of each reading that would be noticed with this probability, in its unit, shape (n,).

    (z(1 - alpha/2) + z(power)) u_size; infinite where nothing checks the reading. With ``tests`` above 1, ``alpha`` is
    that of so many tests together.
    """
    u = measurement_tests(parity).u_size
    return np.where(np.isfinite(u), noticed_at(alpha, power, tests) * np.where(np.isfinite(u), u, 0.0), np.inf)
