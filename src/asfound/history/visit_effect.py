"""Before and after a visit: the difference at equal load and ambient, and whether the repair worked.

One robust regression over both sides of the visit with the effects of load, ambient ... in common and a step at the
visit (analysis of covariance; with a slope in common too: an interrupted time series, Wagner et al. 2002, J. Clin.
Pharm. Ther. 27, 299). The interval holds for every memory of the log that may be (`unknown_memory`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.estimate import LEVEL, Estimate
from asfound.history.regression import RobustFit, robust_fit
from asfound.history.timeline import DAY, HOUR, Mask, block_means, blocks, seconds
from asfound.history.unknown_memory import Mixture, mixed_over_memory
from asfound.quantities.typing import Array

Wanted = Literal["lower", "higher"]
FEWEST = 20
SURE, LIKELY = 0.95, 0.80
BLOCKS = (DAY, DAY / 4.0, HOUR, 60.0, 1.0)
"""Lengths of blocks, s, the longest of which each side has enough."""
FEWEST_BLOCKS = 12
BOUND = 4.0
"""Standard deviations at which a reading is bounded."""


@dataclass(frozen=True, slots=True)
class VisitEffect:
    """What a visit did to a signal."""

    difference: Estimate
    """After less before, at equal load and ambient, unit of the signal."""
    before: Estimate
    """At the reference, just before the visit."""
    after: Estimate
    slope: Estimate | None
    """Per day, common to both sides; None where it was not fitted."""
    probability: float
    """That it moved the wanted way by at least what matters; nan without a wish."""
    verdict: str
    """``worked``, ``likely``, ``cannot be told``, ``not enough``, ``worse`` or, without a wish, ``moved``, ``no
    change``."""
    words: str
    plain: float
    """Difference of the plain medians, for comparison: it mixes in load and weather."""
    shared: float
    """Share of the samples after the visit at load and ambient that occurred before it."""
    number: tuple[int, int]
    effective: float


def before_after(
    time: npt.ArrayLike,
    y: Array,
    visit: float | np.datetime64 | int,
    effects: Mapping[str, Array],
    *,
    counts: Mask | None = None,
    wanted: Wanted | None = None,
    matters: float = 0.0,
    window: float = 60.0 * DAY,
    gap: float = 0.0,
    slope: bool | None = None,
    level: float = LEVEL,
) -> VisitEffect:
    """Return the effect of a visit.

    Parameters
    ----------
    time : array of shape (n,)
        See `seconds`.
    y : array of shape (n,)
    visit : like one of ``time``
        End of the visit.
    effects : mapping of name to array of shape (n,)
        Load, ambient, speed.
    counts : bool array, optional
        Steady samples.
    wanted : {"lower", "higher"}, optional
        Which way the repair should move the signal.
    matters : float
        Smallest move that counts as a repair that worked, 0 or more.
    window : float
        Time on each side, s.
    gap : float
        Left out on each side of the visit, s.
    slope : bool, optional
        Whether a slope common to both sides is in the model; without it where it is clear (and each side has 20 days).

    Raises
    ------
    InputError
        Fewer than 20 samples on a side.
    """
    at, y = seconds(time), np.asarray(y, dtype=float)
    ended = float(seconds(np.atleast_1d(np.asarray(visit)))[0])
    use = np.isfinite(y) & (np.ones(y.size, dtype=bool) if counts is None else counts)
    for values in effects.values():
        use &= np.isfinite(values)
    away = at - ended
    use &= (np.abs(away) <= window) & ((away >= gap) | (away < -gap))
    after = away[use] >= 0.0
    sides = int((~after).sum()), int(after.sum())
    if min(sides) < FEWEST:
        raise InputError(
            "readings",
            f"{sides[0]} before and {sides[1]} after the visit",
            "are too few",
            allowed=f"{FEWEST} on each side",
        )
    driven = {n: np.asarray(v, dtype=float)[use] for n, v in effects.items()}
    driven = {n: v - np.median(v) for n, v in driven.items() if np.ptp(v) > 1e-9 * max(float(np.abs(v).max()), 1e-9)}
    block, on_clock = blocks(at[use])
    base = np.column_stack([np.ones(after.size), *driven.values(), after.astype(float)])
    names = ("level", *driven, "visit")
    days = away[use] / DAY
    fit = robust_fit(base, y[use], names, block=block)
    of_slope: Estimate | None = None
    asked = (
        slope if slope is not None else bool((on_clock < ended // DAY).sum() >= 20 <= (on_clock > ended // DAY).sum())
    )
    if asked:
        sloped = robust_fit(np.column_stack([base, days]), y[use], (*names, "days"), block=block)
        of_slope = sloped.coefficient("days", level)
        if slope or abs(of_slope.value) > 3.0 * of_slope.error:
            fit, names = sloped, (*names, "days")
        else:
            of_slope = None
    row = np.zeros(len(names))
    row[0] = 1.0
    before = fit.at(row, level)
    row[names.index("visit")] = 1.0
    told = _over_memories(fit, at[use], y[use], after, driven, days if "days" in names else None)
    difference = told.estimate(level)
    further = difference.value - fit.coefficient("visit", level).value
    after_it = fit.at(row, level).shifted(further)
    probability = _probability(told, wanted, matters)
    against = _probability(told, {"lower": "higher", "higher": "lower"}.get(wanted or ""), 0.0)
    verdict = _verdict(difference, probability, against, wanted, matters)
    return VisitEffect(
        difference, before, after_it, of_slope, probability, verdict,
        _words(verdict, difference, probability, wanted), float(np.median(y[use][after]) - np.median(y[use][~after])),
        _shared(driven, after), sides, fit.effective,
    )  # fmt: skip


def _over_memories(
    fit: RobustFit, at: Array, y: Array, after: Mask, driven: Mapping[str, Array], days: Array | None
) -> Mixture:
    """Return the distribution of the difference from means of blocks, whatever the memory of the noise may be.

    The effects of load ... are those of all samples; wild readings are bounded.
    """
    length = next((one for one in BLOCKS if _blocks_aside(at, after, one) >= FEWEST_BLOCKS), BLOCKS[-1])
    sides = np.floor(at / length) + 0.5 * after  # a block at the visit is two
    which = np.unique(sides, return_inverse=True)[1].astype(np.int64)
    number = np.bincount(which).astype(float)
    slope_of = {name: float(fit.coefficients[fit.names.index(name)]) for name in fit.names}
    fitted = slope_of["level"] + sum(slope_of[n] * v for n, v in driven.items()) + slope_of["visit"] * after
    if days is not None:
        fitted = fitted + slope_of["days"] * days
    left = np.clip(y - fitted, -BOUND * fit.scale, BOUND * fit.scale)
    columns = [np.ones(number.size), block_means(which, after.astype(float))]
    kept = left + slope_of["visit"] * after
    if days is not None:
        columns.append(block_means(which, days))
        kept = kept + slope_of["days"] * days
    design = np.column_stack(columns)
    known = 0.0
    if driven:  # a wrong effect of load moves the difference by how far load moved at the visit
        moved = np.linalg.lstsq(design, block_means(which, np.column_stack(list(driven.values()))), rcond=None)[0][1]
        rows = [fit.names.index(name) for name in driven]
        known = math.sqrt(max(float(moved @ fit.covariance[np.ix_(rows, rows)] @ moved), 0.0))
    when = np.unique(sides)
    return mixed_over_memory(block_means(which, kept), design, 1, np.floor(when), number, known)


def _blocks_aside(at: Array, after: Mask, length: float) -> int:
    return min(np.unique(at[side] // length).size for side in (after, ~after))


def _probability(told: Mixture, wanted: str | None, matters: float) -> float:
    if wanted not in ("lower", "higher"):
        return math.nan
    return told.below(-matters) if wanted == "lower" else 1.0 - told.below(matters)


def _verdict(
    difference: Estimate, probability: float, against: float, wanted: Wanted | None, matters: float
) -> str:  # fmt: skip
    if wanted is None:
        return "moved" if difference.differs_from_zero else "no change"
    return verdict_of(probability, against, matters > 0.0)


def verdict_of(probability: float, against: float, bar: bool = True) -> str:
    """Return whether a repair worked.

    Parameters
    ----------
    probability : float
        That the signal moved the wanted way by at least what matters.
    against : float
        That it moved the other way.
    bar : bool
        Whether there is something that matters; without it nothing is ever too little.
    """
    if probability >= SURE:
        return "worked"
    if against >= SURE:
        return "worse"
    if probability >= LIKELY:
        return "likely"
    return "not enough" if bar and probability <= 1.0 - SURE else "cannot be told"


def _words(verdict: str, difference: Estimate, probability: float, wanted: Wanted | None) -> str:
    size = f"{difference.value:+.3g} ({difference.low:+.3g} to {difference.high:+.3g}) at equal load and ambient"
    if wanted is None:
        return f"Moved by {size}." if verdict == "moved" else f"No change that could be told: {size}."
    said = {
        "worked": "The repair worked", "likely": "The repair probably worked", "worse": "It went the wrong way",
        "not enough": "It did not move by as much as it should",
        "cannot be told": "Whether the repair worked cannot be told yet",
    }[verdict]  # fmt: skip
    return f"{said}: {size}; probability {min(max(probability, 0.001), 0.999):.1%}."


def _shared(driven: Mapping[str, Array], after: Mask) -> float:
    inside = np.ones(int(after.sum()), dtype=bool)
    for values in driven.values():
        low, high = np.quantile(values[~after], [0.01, 0.99])
        inside &= (values[after] >= low) & (values[after] <= high)
    return float(inside.mean())
