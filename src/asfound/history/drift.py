"""Whether a signal drifts or stepped, how fast, since when: beside load, ambient and speed, with honest intervals.

Model: y = level + effects of load, ambient, speed + slope x hours run + steps + noise, in samples that count only.
What belongs in the model is chosen on daily means (`drift_model`); the numbers then come from one robust regression of
all samples, its covariance from daily sums of the scores with their memory (`regression`). A line through a series that
stepped is the classic error: both are always tried, and the odds of each are told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.drift_fit import Onset, fitted, onset_error_of, onset_of, slope_of, visit_of
from asfound.history.drift_model import Model, choose
from asfound.history.estimate import LEVEL, Estimate
from asfound.history.regression import RobustFit, robust_fit
from asfound.history.timeline import DAY, HOUR, Mask, block_means, blocks, run_hours, seconds
from asfound.quantities.typing import Array

FEWEST_DAYS = 20
THOUSAND = 1000.0


@dataclass(frozen=True, slots=True)
class Step:
    """A step of the level at equal load and ambient."""

    time: float
    """First sample after it, s."""
    earliest: float
    latest: float
    """Ends of the 95 % set of its time, s."""
    size: Estimate
    """After less before, unit of the signal."""
    visit: int | None
    """Which of the given visits it came with."""


@dataclass(frozen=True, slots=True)
class Drift:
    """What a signal did over the hours run."""

    kind: str
    """``none``, ``drift``, ``step`` or ``both``: the shortest description."""
    odds: dict[str, float]
    """Probability of each kind, from the description lengths."""
    slope: Estimate
    """Per 1,000 hours run, at the end of the data; fitted in any case, so look at ``kind`` first."""
    bend: Estimate | None
    """Change of the slope per 1,000 hours, per 1,000 hours run; None where the line is straight."""
    steps: tuple[Step, ...]
    began: Onset | None
    """None where the drift was there from the start, or there is none."""
    effects: dict[str, Estimate]
    """Of load, ambient ... per unit of each."""
    level: Estimate
    """Value now at the reference, unit of the signal."""
    reference: dict[str, float]
    ranges: dict[str, tuple[float, float]]
    """What each of load, ambient ... was while fitted (1 and 99 %)."""
    scale: float
    """Noise of one sample, unit of the signal."""
    number: int
    effective: float
    hours: float
    """Hours run in the samples' time."""
    now: float
    """Time of the last sample that counts, s: `level` and `slope` hold there."""
    now_hours: float
    """Hours run at that time."""
    trend: int
    fit: RobustFit
    normalised: Array
    """Each sample brought to the reference, shape (n,); nan where it does not count."""
    left_out: tuple[str, ...]
    """Effects that nothing can be said of, as what drives them never moved."""
    onset_error: tuple[float, float]
    """What not knowing exactly when the drift began adds to the standard errors of slope and level; 0 without onset."""

    def path(self, time: Array, hours: Array) -> tuple[Array, Array]:
        """Return the value at the reference at given times (s) and hours run, and the columns that give it.

        Shapes (n,) and (n, k); the columns go with `path_names`.
        """
        x = (hours - self.now_hours) / THOUSAND
        if self.began is None:
            parts = [x**power for power in range(1, self.trend + 1)]
        else:
            parts = [np.maximum(x, float(np.interp(self.began.time, time, x)))]
        parts += [-(time < step.time).astype(float) for step in self.steps]
        columns = np.stack([np.ones(x.size), *parts], axis=1)
        at = [self.fit.names.index(name) for name in self.path_names]
        return columns @ self.fit.coefficients[at], columns

    @property
    def path_names(self) -> tuple[str, ...]:
        """Coefficients of the value at the reference over time."""
        steps = (f"step {k + 1}" for k in range(len(self.steps)))
        return ("level", *("hours", "hours^2")[: self.trend], *steps)

    @property
    def joint(self) -> tuple[Array, Array]:
        """Return level now and slope (and half the bend) with their covariance; hours in thousands."""
        names = ["level", "hours", "hours^2"][: 1 + self.trend] if self.trend else ["level"]
        at = [self.fit.names.index(name) for name in names]
        covariance = self.fit.covariance[np.ix_(at, at)].copy()
        if self.trend:
            covariance[1, 1] += self.onset_error[0] ** 2
            covariance[0, 0] += self.onset_error[1] ** 2
        return self.fit.coefficients[at], covariance


def drift(
    time: npt.ArrayLike,
    y: Array,
    effects: Mapping[str, Array],
    *,
    running: Mask | None = None,
    counts: Mask | None = None,
    visits: Sequence[float] | npt.ArrayLike = (),
    reference: Mapping[str, float] | None = None,
    bent: Sequence[str] = (),
    hours: Array | None = None,
    level: float = LEVEL,
) -> Drift:
    """Return drift and steps of a signal at equal load, ambient and speed.

    Parameters
    ----------
    time : array of shape (n,)
        In order; see `seconds`.
    y : array of shape (n,)
        The signal; nan left out.
    effects : mapping of name to array of shape (n,)
        What moves the signal: load, ambient, speed.
    running : bool array, optional
        For the hours run; without it the clock's hours.
    counts : bool array, optional
        Samples to use: steady and warm (`steady`); those running without it.
    visits : array, optional
        Times of visits, like ``time``: places where a step is no surprise.
    reference : mapping, optional
        Values to which the signal is brought; the medians without it.
    bent : sequence of str
        Effects that also get a square.
    hours : array of shape (n,), optional
        Hours run, where a counter gives them.

    Raises
    ------
    InputError
        Fewer than 20 days with samples that count.
    """
    at = seconds(time)
    y = np.asarray(y, dtype=float)
    if hours is None:
        hours = run_hours(at, running) if running is not None else (at - at[0]) / HOUR
    use = np.isfinite(y) & (np.ones(y.size, dtype=bool) if counts is None else counts)
    if counts is None and running is not None:
        use &= running
    for values in effects.values():
        use &= np.isfinite(values)
    which, on_clock = blocks(at[use], DAY)
    if on_clock.size < FEWEST_DAYS:
        raise InputError(
            "days", str(on_clock.size), "are too few to tell drift from load and weather",
            allowed=f"{FEWEST_DAYS} days or more with steady samples",
        )  # fmt: skip
    driven, refer, left_out = _driven(effects, use, reference or {}, bent)
    names = ["level", *driven]
    base = np.stack([np.ones(int(use.sum())), *driven.values()], axis=1)
    x = (hours[use] - hours[use][-1]) / THOUSAND
    visit_times = seconds(visits) if len(np.atleast_1d(np.asarray(visits))) else np.zeros(0)
    model, odds = _chosen(y[use], base, x, which, at[use], visit_times)
    begun, steps_at = _to_samples(model, which)
    trend = model.trend
    fit, steps_at, sets = fitted(
        y[use], base, x, names, steps_at, trend, begun, which, _at_visits(steps_at, at[use], visit_times)
    )
    began = onset_of(model, y[use], base, x, which, at[use], fit) if model.onset is not None else None
    unsure = (
        onset_error_of(began, y[use], base, x, names, steps_at, which, at[use]) if began is not None else (0.0, 0.0)
    )
    slope, bend = slope_of(fit, trend, x, base, y[use], steps_at, names, which, level)
    now = fit.coefficient("level", level)
    if began is not None:
        slope = Estimate.of(slope.value, math.hypot(slope.error, unsure[0]), fit.freedom, level)
        now = Estimate.of(now.value, math.hypot(now.error, unsure[1]), fit.freedom, level)
    in_time = at[use]
    steps = tuple(
        Step(
            float(in_time[one]), float(in_time[low]), float(in_time[high]),
            fit.coefficient(f"step {k + 1}", level), visit_of(in_time[[low, one, high]], visit_times),
        )
        for k, (one, (low, high)) in enumerate(zip(steps_at, sets, strict=True))
    )  # fmt: skip
    normalised = np.full(y.size, np.nan)
    normalised[use] = y[use] - base[:, 1:] @ fit.coefficients[1 : base.shape[1]]
    return Drift(
        kind=("both" if steps else "drift") if trend else ("step" if steps else "none"),
        odds=odds, slope=slope, bend=bend, steps=steps,
        began=began,
        effects={name: fit.coefficient(name, level) for name in driven},
        level=now, reference=refer,
        ranges={
            n: (float(np.quantile(v[use], 0.01)), float(np.quantile(v[use], 0.99))) for n, v in effects.items()
        },
        scale=fit.scale, number=fit.number, effective=fit.effective, hours=float(hours[-1] - hours[0]), trend=trend,
        now=float(in_time[-1]), now_hours=float(hours[use][-1]),
        fit=fit, normalised=normalised, left_out=left_out,
        onset_error=unsure,
    )  # fmt: skip


def _driven(
    effects: Mapping[str, Array], use: Mask, reference: Mapping[str, float], bent: Sequence[str]
) -> tuple[dict[str, Array], dict[str, float], tuple[str, ...]]:
    found: dict[str, Array] = {}
    refer: dict[str, float] = {}
    left_out = []
    for name, values in effects.items():
        used = np.asarray(values, dtype=float)[use]
        middle = float(reference.get(name, np.median(used)))
        refer[name] = middle
        if np.ptp(used) <= 1e-9 * max(abs(middle), 1e-9):
            left_out.append(name)
            continue
        found[name] = used - middle
        if name in bent:
            found[f"{name}^2"] = (used - middle) ** 2
    return found, refer, tuple(left_out)


def _chosen(
    y: Array, base: Array, x: Array, which: npt.NDArray[np.int64], at: Array, visits: Array
) -> tuple[Model, dict[str, float]]:
    """Choose the model on daily means, wild samples left out of them."""
    ends = np.flatnonzero(np.diff(which, append=which[-1] + 1))
    starts = np.concatenate([[0], ends[:-1] + 1])
    off_load = y - base @ robust_fit(np.hstack([base, x[:, None]]), y, correlated=False).coefficients[: base.shape[1]]
    daily_median = np.array([np.median(part) for part in np.split(off_load, starts[1:])])
    off = off_load - daily_median[which]
    wild = np.abs(off) > 4.0 * 1.4826 * max(float(np.median(np.abs(off))), 1e-300)
    tame = np.where(wild, np.nan, y)
    means = block_means(which, np.column_stack([tame, np.where(wild[:, None], np.nan, base), x]))
    there = np.isfinite(means).all(axis=1)
    days = np.flatnonzero(there)
    first_after = np.searchsorted(at, visits)
    of_visits = [
        int(np.searchsorted(days, which[min(one, which.size - 1)])) for one in first_after if 0 < one < y.size
    ]  # fmt: skip
    model, odds = choose(means[there, 0], means[there, 1:-1], means[there, -1], of_visits)
    moved = Model(
        model.length, model.trend, tuple(int(days[s]) for s in model.steps),
        int(days[model.onset]) if model.onset is not None else None,
    )  # fmt: skip
    return moved, odds


def _to_samples(model: Model, which: npt.NDArray[np.int64]) -> tuple[int | None, list[int]]:
    begun = int(np.searchsorted(which, model.onset)) if model.onset is not None else None
    return begun, [int(np.searchsorted(which, one)) for one in model.steps]


def _at_visits(steps: Sequence[int], at: Array, visits: Array) -> list[int | None]:
    """Return the sample at which a known visit ended, for steps within two days of one."""
    found: list[int | None] = []
    for one in steps:
        near = np.flatnonzero(np.abs(visits - at[one]) < 2.0 * DAY)
        found.append(int(np.searchsorted(at, visits[near[0]])) if near.size else None)
    return found
