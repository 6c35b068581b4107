"""Probability distributions for what is known of an input (JCGM 101:2008 6.4), each with mean, u and draws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from asfound.errors import InputError

if TYPE_CHECKING:
    from asfound.quantities.typing import Array


class Distribution(Protocol):
    """What Monte Carlo needs of an input."""

    @property
    def mean(self) -> float:
        """Expectation, in the unit of the input."""

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation, in the unit of the input."""

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""


@dataclass(frozen=True, slots=True)
class Normal:
    """Best estimate and standard uncertainty (6.4.7)."""

    mean: float
    standard_uncertainty: float

    def __post_init__(self) -> None:
        _not_negative("standard_uncertainty", self.standard_uncertainty)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        return self.mean + self.standard_uncertainty * random.standard_normal(number)


@dataclass(frozen=True, slots=True)
class StudentT:
    """Scaled and shifted t (6.4.9): a few repeated readings; ``scale`` is s / sqrt(n), ``nu`` n - 1.

    Its standard deviation is scale sqrt(nu / (nu - 2)), infinite up to 2 degrees of freedom.
    """

    mean: float
    scale: float
    nu: float

    def __post_init__(self) -> None:
        _not_negative("scale", self.scale)
        _positive("nu", self.nu)

    @classmethod
    def of_standard_deviation(cls, mean: float, standard_uncertainty: float, nu: float) -> StudentT:
        """Return the t distribution that has this standard deviation; needs more than 2 degrees of freedom."""
        if nu <= 2.0:
            raise InputError("nu", f"{nu:g}", "leaves a t without standard deviation", allowed="more than 2")
        return cls(mean, standard_uncertainty * math.sqrt((nu - 2.0) / nu), nu)

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation; infinite up to 2 degrees of freedom."""
        return self.scale * math.sqrt(self.nu / (self.nu - 2.0)) if self.nu > 2.0 else math.inf

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        return self.mean + self.scale * random.standard_t(self.nu, number)


@dataclass(frozen=True, slots=True)
class _BetweenLimits:
    """Something that lies evenly about the middle of two limits."""

    low: float
    high: float

    def __post_init__(self) -> None:
        _ordered(self.low, self.high)

    @property
    def mean(self) -> float:
        """Middle of the limits."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True, slots=True)
class Rectangular(_BetweenLimits):
    """Anything between two limits alike (6.4.2)."""

    @property
    def standard_uncertainty(self) -> float:
        """Half-width over the root of 3."""
        return 0.5 * (self.high - self.low) / math.sqrt(3.0)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        return self.low + (self.high - self.low) * random.random(number)


@dataclass(frozen=True, slots=True)
class Triangular(_BetweenLimits):
    """Sum of two rectangular ones of equal width (6.4.5)."""

    @property
    def standard_uncertainty(self) -> float:
        """Half-width over the root of 6."""
        return 0.5 * (self.high - self.low) / math.sqrt(6.0)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        half = 0.5 * (self.high - self.low)
        return self.low + half * (random.random(number) + random.random(number))


@dataclass(frozen=True, slots=True)
class Arcsine(_BetweenLimits):
    """Cycling like a sine between two limits, caught at an unknown phase (6.4.6)."""

    @property
    def standard_uncertainty(self) -> float:
        """Half-width over the root of 2."""
        return 0.5 * (self.high - self.low) / math.sqrt(2.0)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,)."""
        return self.mean + 0.5 * (self.high - self.low) * np.sin(2.0 * math.pi * random.random(number))


@dataclass(frozen=True, slots=True)
class CurvilinearTrapezoid:
    """Limits that are themselves only known to within plus or minus ``inexact`` (6.4.3)."""

    low: float
    high: float
    inexact: float

    def __post_init__(self) -> None:
        _ordered(self.low, self.high)
        _not_negative("inexact", self.inexact)
        if 2.0 * self.inexact > self.high - self.low:
            raise InputError(
                "inexact", f"{self.inexact:g}", "lets the limits cross", allowed="up to half the distance of the limits"
            )

    @property
    def mean(self) -> float:
        """Middle of the limits."""
        return 0.5 * (self.low + self.high)

    @property
    def standard_uncertainty(self) -> float:
        """Root of (b - a)^2 / 12 + d^2 / 9."""
        return math.sqrt((self.high - self.low) ** 2 / 12.0 + self.inexact**2 / 9.0)

    def draw(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (number,): the limits are drawn first, then a value between them."""
        low = self.low - self.inexact + 2.0 * self.inexact * random.random(number)
        high = self.low + self.high - low
        return low + (high - low) * random.random(number)


@dataclass(frozen=True, slots=True)
class MultivariateNormal:
    """Several normal inputs with their covariance (6.4.8); they stand side by side among the formula's arguments."""

    means: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        matrix = np.asarray(self.covariance, dtype=float)
        if matrix.shape != (len(self.means), len(self.means)) or not np.allclose(matrix, matrix.T):
            raise InputError(
                "covariance", f"shape {matrix.shape}", "is no covariance of these means", allowed="square, symmetric"
            )
        if np.linalg.eigvalsh(matrix).min() < -1e-12 * max(float(np.abs(matrix).max()), 1e-300):
            raise InputError("covariance", str(self.covariance), "gives a sum a negative variance", allowed="positive")

    def draw_all(self, random: np.random.Generator, number: int) -> Array:
        """Return draws, shape (inputs, number); a singular covariance is allowed."""
        values, vectors = np.linalg.eigh(np.asarray(self.covariance, dtype=float))
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        drawn: Array = root @ random.standard_normal((len(self.means), number))
        drawn += np.asarray(self.means)[:, None]
        return drawn


def draw_inputs(
    inputs: Sequence[Distribution | MultivariateNormal], random: np.random.Generator, number: int
) -> list[Array]:
    """Return the draws of all inputs in the order of the formula's arguments, each of shape (number,)."""
    drawn: list[Array] = []
    for one in inputs:
        if isinstance(one, MultivariateNormal):
            drawn.extend(one.draw_all(random, number))
        else:
            drawn.append(one.draw(random, number))
    return drawn


def _ordered(low: float, high: float) -> None:
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        raise InputError("high", f"{high:g}", "is not above the lower limit", allowed=f"{low:g} or more")


def _not_negative(field: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(field, f"{value:g}", "cannot be", allowed="0 or more")


def _positive(field: str, value: float) -> None:
    if not value > 0.0:
        raise InputError(field, f"{value:g}", "cannot be", allowed="more than 0")
