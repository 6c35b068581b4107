"""Whether a signal drifts or stepped, how fast, since when: beside load, ambient and speed, with honest intervals.

Model: y = level + effects of load, ambient, speed + slope x hours run + steps + noise, in samples that count only.
What belongs in the model is chosen on daily means (`drift_model`); the numbers then come from one robust regression of
all samples, its covariance from daily sums of the scores with their memory (`regression`). A line through a series that
stepped is the classic error: both are always tried, and the odds of each are told. A drift that begins within the data
need not be a straight line: its onset and course are weighed over many (`drift_onset`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.change_segments import bound
from asfound.history.drift_fit import Onset, fitted, slope_of, time_part, visit_of
from asfound.history.drift_model import ENDS, Model, choose, time_columns
from asfound.history.drift_onset import Course, course_of, grid_of, onsets
from asfound.history.estimate import LEVEL, Estimate
from asfound.history.noise_length import noise_length
from asfound.history.normal_equations import rest
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
    """Ends of the set of its time, s; 95 % unless told otherwise. It may have come at any time since the last sample
    before, and a passage from one level to the other is within them.
    """
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
    course: Course | None
    """How a drift that began within the data went, with the doubt about its shape and onset."""
    apart: Array
    """Covariance of level and slope now from not knowing onset and course, shape (2, 2)."""

    def path(self, time: Array, hours: Array) -> tuple[Array, Array]:
        """Return the value at the reference at given times (s) and hours run, and the columns that give it.

        Shapes (n,) and (n, k); the columns go with `path_names`.
        """
        x = (hours - self.now_hours) / THOUSAND
        parts = [time_part(x, self.trend, self.course)] if self.trend else []
        parts += [-(time < step.time).astype(float) for step in self.steps]
        columns = np.column_stack([np.ones(x.size), *parts])
        at = [self.fit.names.index(name) for name in self.path_names]
        return columns @ self.fit.coefficients[at], columns

    @property
    def path_names(self) -> tuple[str, ...]:
        """Coefficients of the value at the reference over time."""
        steps = (f"step {k + 1}" for k in range(len(self.steps)))
        return ("level", *trend_names(self.trend, self.course), *steps)

    @property
    def joint(self) -> tuple[Array, Array]:
        """Return level now and slope (and half the bend) with their covariance; hours in thousands."""
        names = ["level", *trend_names(self.trend, self.course)]
        at = [self.fit.names.index(name) for name in names]
        value, covariance = self.fit.coefficients[at], self.fit.covariance[np.ix_(at, at)].copy()
        if self.course is not None:
            turn = np.diag([1.0, self.course.pace])
            value, covariance = turn @ value, turn @ covariance @ turn
        covariance[:2, :2] += self.apart[: len(value), : len(value)]
        return value, covariance


def trend_names(trend: int, course: Course | None) -> tuple[str, ...]:
    """Return the names of the coefficients of a trend; ``gone`` is the whole of a drift that began in the data."""
    return ("gone",) if course is not None else ("hours", "hours^2")[:trend]


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
    model, odds, course, rival = _chosen(y[use], base, x, which, at[use], visit_times)
    steps_at = [int(np.searchsorted(which, one)) for one in model.steps]
    trend = model.trend
    ramp = time_part(x, trend, course)
    fit, steps_at, sets = fitted(
        y[use], base, ramp, [*names, *trend_names(trend, course)], steps_at, which,
        _at_visits(steps_at, at[use], visit_times), level,
    )  # fmt: skip
    began = _began(course, which, at[use], level)
    slope, bend = slope_of(fit, trend, course, x, base, y[use], steps_at, names, which, level)
    now = fit.coefficient("level", level)
    apart = course.apart if course is not None else np.zeros((2, 2))
    if rival is not None:
        off = rival[0].middle - np.array([now.value, slope.value])
        apart = rival[1] * (rival[0].apart + np.outer(off, off))
    now, slope = (
        Estimate.of(one.value, math.hypot(one.error, math.sqrt(apart[k, k])), fit.freedom, level)
        for k, one in enumerate((now, slope))
    )
    in_time = at[use]
    steps = tuple(
        Step(
            float(in_time[one]), float(in_time[max(low - 1, 0)]), float(in_time[high]),
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
        course=course, apart=apart,
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
) -> tuple[Model, dict[str, float], Course | None, tuple[Course, float] | None]:
    """Choose the model on daily means, wild samples and wild days left out of them.

    The indices of model and course are those of the blocks.
    """
    ends = np.flatnonzero(np.diff(which, append=which[-1] + 1))
    starts = np.concatenate([[0], ends[:-1] + 1])
    effects = robust_fit(np.hstack([base, x[:, None]]), y, correlated=False).coefficients[: base.shape[1]]
    off_load = y - base @ effects
    daily_median = np.array([np.median(part) for part in np.split(off_load, starts[1:])])
    off = off_load - daily_median[which]
    wild = np.abs(off) > 4.0 * 1.4826 * max(float(np.median(np.abs(off))), 1e-300)
    tame = np.where(wild, np.nan, y)
    means = block_means(which, np.column_stack([tame, np.where(wild[:, None], np.nan, base), x]))
    there = np.isfinite(means).all(axis=1)
    days = np.flatnonzero(there)
    daily, columns, ran = means[there, 0], means[there, 1:-1], means[there, -1]
    expected = columns @ effects
    # what lasts no longer is an outlier, what lasts longer may be a step
    daily = expected + bound(daily - expected, max(ENDS, daily.size // 100))
    first_after = np.searchsorted(at, visits)
    of_visits = [
        int(np.searchsorted(days, which[min(one, which.size - 1)])) for one in first_after if 0 < one < y.size
    ]  # fmt: skip
    choice = choose(daily, columns, ran, of_visits)
    model = choice.model
    course = _course(model, daily, columns, ran) if model.onset is not None else None
    other = _course(choice.rival, daily, columns, ran) if choice.rival is not None else None
    moved = Model(
        model.length, model.trend, tuple(int(days[s]) for s in model.steps),
        int(days[model.onset]) if course is not None and model.onset is not None else None, model.shape,
        model.memory,
    )  # fmt: skip
    course = replace(course, place=days[course.place]) if course is not None else None
    return moved, choice.odds, course, (other, choice.chance) if other is not None else None


def _course(model: Model, daily: Array, columns: Array, ran: Array) -> Course | None:
    """Return the course of a drift; the memory of the noise is that about the course, not about a straight line."""
    beside = np.hstack([columns, time_columns(ran, 0, model.steps)])
    ahead = ran - ran[-1]
    coarse = grid_of(ahead, onsets(daily.size, max(ENDS, daily.size // 100)))
    first = course_of(daily, beside, ahead, model.memory, coarse)
    if first is None:
        return None
    left = rest(np.column_stack([beside, first.gone]), daily)
    again = course_of(daily, beside, ahead, noise_length(left).memory, coarse)
    return replace(again, hours=ran) if again is not None else None


def _began(course: Course | None, which: npt.NDArray[np.int64], at: Array, level: float) -> Onset | None:
    if course is None:
        return None
    days = [course.quantile(share) for share in (0.5, 0.5 - level / 2.0, 0.5 + level / 2.0)]
    middle, low, high = (float(one) for one in at[np.searchsorted(which, days)])
    return Onset(middle, low, high)


def _at_visits(steps: Sequence[int], at: Array, visits: Array) -> list[int | None]:
    """Return the sample at which a known visit ended, for steps within two days of one."""
    found: list[int | None] = []
    for one in steps:
        near = np.flatnonzero(np.abs(visits - at[one]) < 2.0 * DAY)
        found.append(int(np.searchsorted(at, visits[near[0]])) if near.size else None)
    return found
