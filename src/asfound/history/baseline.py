"""What a signal should read at this load, ambient and speed: fitted where it was seen, silent elsewhere.

y = level + sum of effects x (value - reference), squares where asked for or where the residual shows them; robust
regression with an interval that knows the memory of the log (`regression`). The baseline answers only inside the ranges
it was fitted in, and only near combinations that occurred (Mahalanobis distance within the 99.5 % that was seen).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.estimate import LEVEL, Estimate, student
from asfound.history.regression import RobustFit, robust_fit
from asfound.history.timeline import DAY, Mask, blocks
from asfound.quantities.typing import Array

SEEN = 0.995


@dataclass(frozen=True, slots=True)
class Expected:
    """What a sound engine would read, shape (n,) each; nan where the baseline cannot say."""

    value: Array
    low: Array
    high: Array
    """Interval of a single reading: of the mean and the noise of one sample."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """A fitted baseline."""

    fit: RobustFit
    names: tuple[str, ...]
    bent: tuple[str, ...]
    reference: dict[str, float]
    ranges: dict[str, tuple[float, float]]
    """Lowest and highest of each that was seen, 0.25 % left out at each end."""
    centre: Array
    inverse: Array
    """Of the covariance of what was seen."""
    farthest: float
    """Squared Mahalanobis distance within which 99.5 % lay."""
    left_out: tuple[str, ...]
    """Names that never moved, of whose effect nothing can be said."""

    def effect(self, name: str, level: float = LEVEL) -> Estimate:
        """Return the effect of one unit of load, ambient ... with its interval."""
        return self.fit.coefficient(name, level)

    def covers(self, values: Mapping[str, Array]) -> Mask:
        """Return where the baseline can say anything, shape (n,)."""
        given = np.stack([np.atleast_1d(np.asarray(values[name], dtype=float)) for name in self.names], axis=1)
        inside = np.isfinite(given).all(axis=1)
        for k, name in enumerate(self.names):
            low, high = self.ranges[name]
            slack = 0.02 * (high - low)
            inside &= (given[:, k] >= low - slack) & (given[:, k] <= high + slack)
        off = np.where(inside[:, None], given - self.centre, 0.0)
        found: Mask = inside & (np.einsum("ij,jk,ik->i", off, self.inverse, off) <= 1.5 * self.farthest)
        return found

    def expected(self, values: Mapping[str, Array], level: float = LEVEL) -> Expected:
        """Return what a reading should be at given load, ambient ..., with the interval of one reading."""
        design = _design(values, self.names, self.bent, self.reference)
        value = self.fit.predict(design)
        of_mean = np.einsum("ij,jk,ik->i", design, self.fit.covariance, design)
        half = student(level, self.fit.freedom) * np.sqrt(of_mean + self.fit.scale**2)
        value = np.where(self.covers(values), value, np.nan)
        return Expected(value, value - half, value + half)

    def residual(self, y: Array, values: Mapping[str, Array]) -> Array:
        """Return reading less expectation, shape (n,); nan where the baseline cannot say."""
        found: Array = np.asarray(y, dtype=float) - self.expected(values).value
        return found

    def normalised(self, y: Array, values: Mapping[str, Array]) -> Array:
        """Return readings brought to the reference state, shape (n,)."""
        found: Array = self.residual(y, values) + self.fit.coefficients[0]
        return found

    def why_not(self, values: Mapping[str, float]) -> str:
        """Return in words why the baseline cannot say at a point; empty where it can."""
        for name in self.names:
            low, high = self.ranges[name]
            if not low - 0.02 * (high - low) <= values[name] <= high + 0.02 * (high - low):
                return f"{name} {values[name]:g} lies outside {low:g} to {high:g}, where the baseline was fitted"
        if not self.covers({n: np.array([v]) for n, v in values.items()})[0]:
            return "this combination of " + ", ".join(self.names) + " did not occur while the baseline was fitted"
        return ""


def baseline(
    y: Array,
    values: Mapping[str, Array],
    *,
    counts: Mask | None = None,
    time: npt.ArrayLike | None = None,
    reference: Mapping[str, float] | None = None,
    bent: Sequence[str] | None = None,
) -> Baseline:
    """Return the baseline of a signal against load, ambient, speed.

    Parameters
    ----------
    y : array of shape (n,)
        In order of time.
    values : mapping of name to array of shape (n,)
        What moves the signal.
    counts : bool array, optional
        Steady samples (`steady`).
    time : array, optional
        With it the interval allows for memory from day to day; without it only from sample to sample.
    reference : mapping, optional
        State to which readings are brought; medians without it.
    bent : sequence of str, optional
        Names that get a square too; without it those whose square is clear (4 standard errors, and more than a tenth of
        the noise over the range).

    Raises
    ------
    InputError
        Too few samples, or nothing that moved.
    """
    y = np.asarray(y, dtype=float)
    use = np.isfinite(y) & (np.ones(y.size, dtype=bool) if counts is None else counts)
    for one in values.values():
        use &= np.isfinite(one)
    if int(use.sum()) < 20:
        raise InputError("readings", str(int(use.sum())), "are too few for a baseline", allowed="20 or more")
    used = {name: np.asarray(one, dtype=float)[use] for name, one in values.items()}
    moved = tuple(name for name, one in used.items() if np.ptp(one) > 1e-9 * max(float(np.abs(one).max()), 1e-9))
    refer = {name: float((reference or {}).get(name, np.median(used[name]))) for name in moved}
    block = blocks(np.asarray(time)[use])[0] if time is not None else None
    curved = tuple(bent) if bent is not None else _curved(y[use], used, moved, refer, block)
    design = _design(used, moved, curved, refer)
    fit = robust_fit(design, y[use], ("level", *moved, *(f"{name}^2" for name in curved)), block=block)
    seen = np.stack([used[name] for name in moved], axis=1) if moved else np.zeros((int(use.sum()), 0))
    centre = np.median(seen, axis=0)
    spread = np.atleast_2d(np.cov(seen, rowvar=False)) if moved else np.zeros((0, 0))
    inverse: Array = np.asarray(np.linalg.pinv(spread) if moved else spread, dtype=float)
    far = np.einsum("ij,jk,ik->i", seen - centre, inverse, seen - centre)
    tail = 0.5 * (1.0 - SEEN)
    ranges = {n: (float(np.quantile(used[n], tail)), float(np.quantile(used[n], 1.0 - tail))) for n in moved}
    return Baseline(
        fit, moved, curved, refer, ranges, centre, inverse, float(np.quantile(far, SEEN)) if moved else math.inf,
        tuple(n for n in values if n not in moved),
    )  # fmt: skip


def _curved(
    y: Array, used: Mapping[str, Array], moved: Sequence[str], refer: Mapping[str, float],
    block: npt.NDArray[np.int64] | None,
) -> tuple[str, ...]:  # fmt: skip
    if y.size < 20 * (2 * len(moved) + 1):
        return ()
    names = ("level", *moved, *(f"{name}^2" for name in moved))
    fit = robust_fit(_design(used, moved, moved, refer), y, names, block=block)
    found = []
    for name in moved:
        square = fit.coefficient(f"{name}^2")
        bow = abs(square.value) * float(np.quantile(np.abs(used[name] - refer[name]), 0.95)) ** 2
        if square.error > 0.0 and abs(square.value) > 4.0 * square.error and bow > 0.1 * fit.scale:
            found.append(name)
    return tuple(found)


def _design(
    values: Mapping[str, Array], names: Sequence[str], bent: Sequence[str], reference: Mapping[str, float]
) -> Array:
    off = {name: np.atleast_1d(np.asarray(values[name], dtype=float)) - reference[name] for name in names}
    size = next(iter(off.values())).size if off else len(next(iter(values.values())))
    return np.stack([np.ones(size), *off.values(), *(off[name] ** 2 for name in bent)], axis=1)


def days(time: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Return the day of each sample, 0, 1, 2 ... without holes: the blocks of a baseline's memory."""
    return blocks(time, DAY)[0]
