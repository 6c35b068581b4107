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
from asfound.history.changes import LOCATION
from asfound.history.correlated import long_run_variance
from asfound.history.drift_model import Model, choose, onset_profile, time_columns
from asfound.history.estimate import LEVEL, Estimate
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
    """Ends of the 95 % set of its time, s."""
    size: Estimate
    """After less before, unit of the signal."""
    visit: int | None
    """Which of the given visits it came with."""


@dataclass(frozen=True, slots=True)
class Onset:
    """When a drift began."""

    time: float
    earliest: float
    latest: float


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
    trend: int
    fit: RobustFit
    normalised: Array
    """Each sample brought to the reference, shape (n,); nan where it does not count."""
    left_out: tuple[str, ...]
    """Effects that nothing can be said of, as what drives them never moved."""
    onset_error: float
    """What not knowing exactly when the drift began adds to the standard error of the slope; 0 without onset."""

    @property
    def joint(self) -> tuple[Array, Array]:
        """Return level now and slope (and half the bend) with their covariance; hours in thousands."""
        names = ["level", "hours", "hours^2"][: 1 + self.trend] if self.trend else ["level"]
        at = [self.fit.names.index(name) for name in names]
        covariance = self.fit.covariance[np.ix_(at, at)].copy()
        if self.trend:
            covariance[1, 1] += self.onset_error**2
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
    fit, steps_at, sets = _fitted(
        y[use], base, x, names, steps_at, trend, begun, which, _at_visits(steps_at, at[use], visit_times)
    )
    began = _began(model, y[use], base, x, which, at[use], fit) if model.onset is not None else None
    onset_error = _onset_error(began, y[use], base, x, names, steps_at, which, at[use]) if began is not None else 0.0
    slope, bend = _slope(fit, trend, x, base, y[use], steps_at, names, which, level)
    if onset_error > 0.0:
        slope = Estimate.of(slope.value, math.hypot(slope.error, onset_error), fit.freedom, level)
    in_time = at[use]
    steps = tuple(
        Step(
            float(in_time[one]), float(in_time[low]), float(in_time[high]),
            fit.coefficient(f"step {k + 1}", level), _visit_of(in_time[[low, one, high]], visit_times),
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
        level=fit.coefficient("level", level), reference=refer,
        ranges={
            n: (float(np.quantile(v[use], 0.01)), float(np.quantile(v[use], 0.99))) for n, v in effects.items()
        },
        scale=fit.scale, number=fit.number, effective=fit.effective, hours=float(hours[-1] - hours[0]), trend=trend,
        fit=fit, normalised=normalised, left_out=left_out,
        onset_error=onset_error,
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


def _fitted(
    y: Array, base: Array, x: Array, names: Sequence[str], steps: list[int], trend: int, begun: int | None,
    which: npt.NDArray[np.int64], known: Sequence[int | None],
) -> tuple[RobustFit, list[int], list[tuple[int, int]]]:  # fmt: skip
    """Fit all samples; move each step to the sample where the error is least, and fit again."""
    steps = [one if k is None else k for one, k in zip(steps, known, strict=True)]
    labels = [*names, *["hours", "hours^2"][:trend], *(f"step {k + 1}" for k in range(len(steps)))]
    fit = robust_fit(np.hstack([base, time_columns(x, trend, steps, begun)]), y, labels, block=which)
    if not steps:
        return fit, steps, []
    sets: list[tuple[int, int]] = []
    for again in (True, False):
        left = y - np.hstack([base, time_columns(x, trend, steps, begun)]) @ fit.coefficients
        left = np.clip(left, -3.0 * fit.scale, 3.0 * fit.scale)
        noise = max(long_run_variance(left), float(left.var()))
        edges = [0, *steps, y.size]
        placed = [
            _place(left, float(fit.coefficients[labels.index(f"step {k + 1}")]), edges[k : k + 3], noise)
            for k in range(len(steps))
        ]
        sets = [(low, high) for _, low, high in placed]
        moved = [
            old if k is not None and low <= old <= high else new
            for old, k, (new, low, high) in zip(steps, known, placed, strict=True)
        ]
        if not again or moved == steps or len(set(moved)) < len(moved):
            break
        steps = moved
        fit = robust_fit(np.hstack([base, time_columns(x, trend, steps, begun)]), y, labels, block=which)
    return fit, steps, sets


def _place(left: Array, size: float, edges: Sequence[int], noise: float) -> tuple[int, int, int]:
    """Return the place of least squared error of a step and the ends of the set of its places.

    Moving a step from m to an earlier k makes the residuals between them smaller by the size of the step.
    """
    before, one, after = edges
    back = np.cumsum(((left - size) ** 2 - left**2)[before:one][::-1])[: max(one - before - 1, 0)]
    ahead = np.cumsum(((left + size) ** 2 - left**2)[one:after])[: max(after - one - 1, 0)]
    whole = np.concatenate([back[::-1], [0.0], ahead])
    places = np.arange(one - back.size, one + ahead.size + 1)
    inside = places[whole - whole.min() <= LOCATION * noise]
    return int(places[whole.argmin()]), int(inside[0]), int(inside[-1])


def _slope(
    fit: RobustFit, trend: int, x: Array, base: Array, y: Array, steps: Sequence[int], names: Sequence[str],
    which: npt.NDArray[np.int64], level: float,
) -> tuple[Estimate, Estimate | None]:  # fmt: skip
    if trend:
        bend = fit.coefficient("hours^2", level).times(2.0) if trend > 1 else None
        return fit.coefficient("hours", level), bend
    # no trend in the shortest description: the slope beside the steps still bounds what may hide
    labels = [*names, "hours", *(f"step {k + 1}" for k in range(len(steps)))]
    beside = robust_fit(np.hstack([base, time_columns(x, 1, steps)]), y, labels, block=which)
    return beside.coefficient("hours", level), None


def _visit_of(times: Array, visits: Array) -> int | None:
    low, one, high = (float(t) for t in times)
    near = np.flatnonzero((visits >= low - DAY) & (visits <= high + DAY))
    return int(near[np.abs(visits[near] - one).argmin()]) if near.size else None


def _began(
    model: Model, y: Array, base: Array, x: Array, which: npt.NDArray[np.int64], at: Array, fit: RobustFit
) -> Onset:
    """Return when the drift began, with the places whose squared error is not clearly more (3.84 long-run
    variances).
    """
    assert model.onset is not None
    bounded = y - base[:, 1:] @ fit.coefficients[1 : base.shape[1]]
    daily = block_means(which, np.column_stack([bounded, x]))
    steps = time_columns(daily[:, 1], 0, model.steps)
    errors, places = onset_profile(
        daily[:, 0], np.hstack([np.ones((len(daily), 1)), steps]), daily[:, 1], max(5, len(daily) // 100)
    )
    ramp = np.maximum(daily[:, 1] - daily[model.onset, 1], 0.0)[:, None]
    columns = np.hstack([np.ones((len(daily), 1)), ramp, steps])
    left = rest(columns, daily[:, 0])
    noise = max(long_run_variance(left), float(left.var()))
    inside = places[errors - errors.min() <= 3.84 * noise]
    begins = at[np.searchsorted(which, [model.onset, inside[0], inside[-1]])]
    return Onset(float(begins[0]), float(begins[1]), float(begins[2]))


def _onset_error(
    began: Onset, y: Array, base: Array, x: Array, names: Sequence[str], steps: Sequence[int],
    which: npt.NDArray[np.int64], at: Array,
) -> float:  # fmt: skip
    """Return half the range of the slope over the onsets that may be, as a standard error."""
    labels = [*names, "hours", *(f"step {k + 1}" for k in range(len(steps)))]
    slopes = []
    for begin in (began.earliest, began.latest):
        columns = time_columns(x, 1, steps, int(np.searchsorted(at, begin)))
        slopes.append(robust_fit(np.hstack([base, columns]), y, labels, block=which).coefficient("hours").value)
    return abs(slopes[1] - slopes[0]) / (2.0 * 1.96)
