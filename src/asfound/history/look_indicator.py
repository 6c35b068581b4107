"""One watched signal: its drift in the parts between visits, steps, when it reaches its limit, in one sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from asfound.errors import AsFoundError
from asfound.history.changes import change_points
from asfound.history.channels import SECOND, split_channel
from asfound.history.drift_parts import Part, drift_by_parts
from asfound.history.estimate import Estimate
from asfound.history.look_facts import LimitFact, VisitFact, WorkFact
from asfound.history.look_parts import Indicator, Interval, Moment, Reach, StepSeen
from asfound.history.look_words import says_of
from asfound.history.sensor_fault import Mask
from asfound.history.time_to_limit import of_drift
from asfound.history.watched import Made
from asfound.quantities.typing import Array

SOON = 183 * 86_400.0
"""A limit reached within half a year is near. [s]"""
RECENT = 90 * 86_400.0
"""A step of the last 90 days still wants a look. [s]"""
STAYS, STAYS_FOR = 2.0, 183 * 86_400.0
"""A step of so many times what matters [1] wants a look for half a year [s], unless it is brought back."""
DAY = 86_400.0
FEWEST_ODD_DAYS = 5
CORNERS = 40
"""Of the line that a picture draws."""
MONTH_HOURS = 730.0
CENTURY = 100 * 365.25 * 86_400.0
NEAR_VISIT = 2 * 86_400 * SECOND
DAY_US = 86_400 * SECOND


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """What one indicator is worked out from; small, so that it can go to another process."""

    made: Made
    time: Array
    """Seconds. (m,)"""
    y: Array
    """Signal as it is logged, not in logarithms. (m,)"""
    hours: Array
    counts: Mask
    effects: Mapping[str, Array]
    running_share: float
    visits: tuple[VisitFact, ...]
    limit: LimitFact | None
    works: tuple[WorkFact, ...] = ()
    running_scatter: float = 0.0


def indicator_of(series: Series) -> Indicator:
    """Return the indicator; kind ``unknown`` with the reason in words where too little was logged."""
    made, row = series.made, series.made.watched
    quantity, place = split_channel(made.channel)
    plain = Indicator(
        key=made.key, title=made.title, channel=made.channel, quantity=quantity, place=place, group=row.group,
        wanted=row.wanted, share=row.share, matters=row.matters, sees=row.sees, scale=made.scale, over=made.over,
        covariates=tuple(series.effects), above=row.above,
    )  # fmt: skip
    y = np.log(np.where(series.y > 0, series.y, np.nan)) if row.share else series.y
    ends = [one.end * 1e-6 for one in series.visits]
    use = series.counts & np.isfinite(y)
    cuts: dict[float, StepSeen] = {}
    try:
        parts = drift_by_parts(series.time, y, series.effects, ends, counts=use, hours=series.hours)
        if not parts:
            raise_few(int(use.sum()))
        moved = _that_moved(parts, ends, row.matters)
        if len(moved) < len(ends):  # a visit that only measured is no reason to begin anew
            parts = drift_by_parts(series.time, y, series.effects, moved, counts=use, hours=series.hours) or parts
        cuts = _set_back(parts, series, row.matters) | _missed(parts, series, row.matters)
        if cuts:
            apart = sorted({*moved, *cuts})
            parts = drift_by_parts(series.time, y, series.effects, apart, counts=use, hours=series.hours) or parts
    except (AsFoundError, np.linalg.LinAlgError, ValueError) as few:
        return replace(plain, says=f"{made.title}: nothing can be said yet ({few}).")
    return _seen(plain, series, parts, cuts)


def _that_moved(parts: Sequence[Part], ends: Sequence[float], matters: float) -> list[float]:
    """Return the visits at which the level moved by what matters."""
    found = []
    for end in ends:
        after = [part for part in parts if 0.0 <= part.start - end <= 20.0 * DAY and part.onto is not None]
        if any(abs(part.onto.value) >= matters and part.onto.differs_from_zero for part in after if part.onto):
            found.append(end)
    return found


def _set_back(parts: Sequence[Part], series: Series, matters: float) -> dict[float, StepSeen]:
    """Return steps against a drift: somebody took its cause away, so what drifted before need not go on after."""
    return {
        step.time: _step(step.time, step.earliest, step.latest, step.size, series)
        for part in parts
        if part.drift.trend
        for step in part.drift.steps
        if (part.drift.began is None or step.time > part.drift.began.time)  # nothing is set back before it drifts
        and abs(step.size.value) >= 2.0 * matters
        and step.size.value * _moved(part, series).value < 0.0
    }


def _missed(parts: Sequence[Part], series: Series, matters: float) -> dict[float, StepSeen]:
    """Return steps that a robust fit took for outliers: a fault of weeks in a log of years."""
    found: dict[float, StepSeen] = {}
    for part in parts:
        inside = (series.time >= part.start) & (series.time <= part.end)
        time, level = series.time[inside], part.drift.normalised
        left = level - part.drift.path(time, series.hours[inside])[0]
        day = np.floor(time / DAY).astype(np.int64)
        even = np.full((2, int(day[-1] - day[0]) + 1), np.nan)
        good = np.isfinite(left)
        first = (
            np.flatnonzero(np.concatenate([[True], np.diff(day[good]) > 0])) if good.any() else np.zeros(0, np.int64)
        )
        for row, column in enumerate((left[good], level[good])):
            pieces = np.split(column, first[1:]) if len(first) else []
            even[row, day[good][first] - day[0]] = [float(np.median(piece)) for piece in pieces]
        if (np.abs(even[0]) >= 2.0 * matters).sum() < FEWEST_ODD_DAYS:
            continue
        for one in change_points(even[1], kinds=("level",)).changes:
            if abs(one.size.value) >= 2.0 * matters:
                at, low, high = ((day[0] + place) * DAY for place in (one.at, one.earliest, one.latest))
                found[float(at)] = _step(float(at), float(low), float(high), one.size, series)
    return found


def raise_few(number: int) -> None:
    """Say that too little was logged."""
    from asfound.errors import InputError

    raise InputError("days", str(number), "steady blocks are too few", allowed="20 days or more with steady samples")


def _seen(plain: Indicator, series: Series, parts: Sequence[Part], cuts: Mapping[float, StepSeen]) -> Indicator:
    last = parts[-1].drift
    x = last.level
    now = _value(x, plain.share)
    trend = bool(last.trend)
    begins = last.began.time if last.began is not None else parts[-1].start
    moved = _moved(parts[-1], series) if trend else Interval()
    limit, source, above = _limit(series)
    day, level = _daily(parts, series)
    found = replace(
        plain, kind=last.kind, odds=dict(last.odds), now=now, reference=dict(last.reference),
        slope=_interval(last.slope),
        moved=moved, moved_from=_us(begins) if trend else 0,
        began=Moment(time=_us(last.began.time), earliest=_us(last.began.earliest), latest=_us(last.began.latest))
        if last.began is not None else None,
        steps=_steps(parts, series, plain.matters, cuts),
        limit=limit, limit_from=source, above=above,
        reach=_reach(last, limit, above, plain.share, series, trend),
        daily_time=day, daily=tuple(_signif(math.exp(one) if plain.share else one) for one in level),
        number=sum(one.drift.number for one in parts),
        path=_path(parts[-1], series, plain.share) if trend else (),
    )  # fmt: skip
    found = replace(found, judged=_judged(found, float(last.now)))
    return replace(found, says=says_of(found))


def _path(part: Part, series: Series, share: bool) -> tuple[tuple[int, float], ...]:
    """Return corners of the way that the level went over the last part."""
    inside = (series.time >= part.start) & (series.time <= part.end)
    time = series.time[inside]
    if time.size < 2:
        return ()
    values = part.drift.path(time, series.hours[inside])[0]
    at = np.unique(np.linspace(0, time.size - 1, CORNERS).astype(int))
    return tuple((_us(float(time[row])), _signif(math.exp(values[row]) if share else float(values[row]))) for row in at)


def _interval(one: Estimate) -> Interval:
    return Interval(one.value, one.low, one.high)


def _value(one: Estimate, share: bool) -> Interval:
    if share:
        return Interval(math.exp(one.value), math.exp(one.low), math.exp(one.high))
    return _interval(one)


def _us(seconds: float) -> int:
    return round(seconds * 1e6) if math.isfinite(seconds) else 0


def _moved(part: Part, series: Series) -> Interval:
    """Return how far the signal went on its own since the drift began, steps left out."""
    last = part.drift
    inside = (series.time >= part.start) & (series.time <= part.end)
    time, hours = series.time[inside], series.hours[inside]
    _, columns = last.path(time, hours)
    smooth = 1 + (last.trend if last.course is None else 1)
    at = [last.fit.names.index(name) for name in last.path_names]
    coefficients, covariance = last.fit.coefficients[at], last.fit.covariance[np.ix_(at, at)]
    first = int(np.searchsorted(time, last.began.time)) if last.began is not None else 0
    change = columns[-1] - columns[min(first, len(columns) - 1)]
    change[smooth:] = 0.0
    size = float(change @ coefficients)
    error = math.sqrt(max(float(change @ covariance @ change), 0.0))
    return _interval(Estimate.of(size, error, last.fit.freedom))


def _steps(
    parts: Sequence[Part], series: Series, matters: float, cuts: Mapping[float, StepSeen]
) -> tuple[StepSeen, ...]:
    """Return the steps at visits, at cuts, and those that the drift of each part holds, by time."""
    found = list(cuts.values())
    for part in parts:
        onto = part.onto
        at_cut = any(abs(cut - part.start) <= 3 * DAY for cut in cuts)
        if onto is not None and not at_cut and abs(onto.value) >= matters and onto.differs_from_zero:
            found.append(_step(part.start, part.start, part.start, onto, series))
        found += [
            _step(one.time, one.earliest, one.latest, one.size, series)
            for one in part.drift.steps
            if abs(one.size.value) >= matters
        ]
    return tuple(sorted(found, key=lambda one: one.time))


def _step(time: float, earliest: float, latest: float, size: Estimate, series: Series) -> StepSeen:
    at = _us(time)
    visit = _visit(at, series.visits)
    why = visit.did if visit is not None else _work(_us(earliest), _us(latest), at, series.works)
    return StepSeen(
        time=at, earliest=_us(earliest), latest=_us(latest), size=_interval(size),
        visit=visit.name if visit is not None else "", why=why,
    )  # fmt: skip


def _visit(at: int, visits: Sequence[VisitFact]) -> VisitFact | None:
    near = [one for one in visits if one.start - NEAR_VISIT <= at <= one.end + NEAR_VISIT]
    return near[0] if near else None


def _work(earliest: int, latest: int, at: int, works: Sequence[WorkFact]) -> str:
    """Return the work nearest to a step among what was done within its interval, days counted whole."""
    near = [one for one in works if one.start - DAY_US <= latest and earliest <= one.end + DAY_US]
    return min(near, key=lambda one: abs(one.start - at)).says if near else ""


def _limit(series: Series) -> tuple[float | None, str, bool]:
    """Return the limit on the signal's own scale: of the record, tied by a measurement where it is of another kind."""
    row, given = series.made.watched, series.limit
    if given is None:
        return row.limit, row.limit_why, row.above
    if not math.isfinite(given.measured):
        return given.value, given.source, given.above
    apart = np.where(np.isfinite(series.y), np.abs(series.time - given.at * 1e-6), np.inf)
    near = apart <= max(DAY, float(apart.min()) + DAY) if float(apart.min()) <= 14.0 * DAY else apart < 0.0
    shown = float(np.nanmedian(series.y[near])) if np.isfinite(series.y[near]).any() else math.nan
    if not (math.isfinite(shown) and given.measured > 0):
        return row.limit, row.limit_why, row.above
    return given.value / given.measured * shown, given.source, given.above


def _reach(last: object, limit: float | None, above: bool, share: bool, series: Series, trend: bool) -> Reach | None:
    if limit is None or (share and limit <= 0):
        return None
    found = of_drift(last, math.log(limit) if share else limit, above=above)  # type: ignore[arg-type]
    if not trend and found.never < 0.5 and found.reached < 0.5 and found.reach > 1.0:
        return None  # a slope that is not told from none says nothing of a date
    pace = max(series.running_share, 0.01)
    now = float(last.now)  # type: ignore[attr-defined]

    def when(hours: float, side: float = 0.0) -> int:
        """Return the date by run hours; how much it will run is doubted as it scattered from month to month."""
        months = max(hours / (pace * MONTH_HOURS), 1.0)
        at = min(max(pace + side * 1.96 * series.running_scatter / math.sqrt(months), 0.01), 1.0)
        ahead = hours / at * 3600.0
        return _us(now + ahead) if ahead < CENTURY else 0

    return Reach(
        time=when(found.hours), earliest=when(found.low, 1.0), latest=when(found.high, -1.0), never=found.never,
        reached=found.reached, hours=found.hours, low=found.low, high=found.high,
        far=bool(math.isfinite(found.reach) and found.reach > 2.0), says=found.words,
    )  # fmt: skip


def _judged(one: Indicator, now: float) -> str:
    if one.limit is not None and one.now.known:
        past = one.now.low > one.limit if one.above else one.now.high < one.limit
        if past:
            return "beyond"
    if (
        one.reach is not None
        and one.kind in ("drift", "both")
        and one.reach.never < 0.5
        and one.moved.differs_from_zero
        and 0 < one.reach.time * 1e-6 <= now + SOON
    ):
        return "near"
    drifts = one.kind in ("drift", "both") and one.moved.differs_from_zero and abs(one.moved.value) >= one.matters
    stepped = any(
        not step.visit and now - step.time * 1e-6 <= RECENT and abs(step.size.value) >= one.matters
        for step in one.steps
    )
    return "moves" if drifts or stepped or _stays_away(one, now) else "still"


def _stays_away(one: Indicator, now: float) -> bool:
    """Return whether a step of the last half year that nobody made is still there: nothing brought it back since."""
    last = max((row for row, step in enumerate(one.steps) if not step.visit and not step.why), default=-1)
    if last < 0 or now - one.steps[last].time * 1e-6 > STAYS_FOR:
        return False
    own, since = one.steps[last].size.value, sum(step.size.value for step in one.steps[last:])
    before = sum(step.size.value for step in one.steps[:last])
    outwards = abs(before + own) >= abs(before) + one.matters  # one that brings it back is not away
    return outwards and abs(since) >= STAYS * one.matters and since * own > 0.0


def _daily(parts: Sequence[Part], series: Series) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """Return daily medians at the reference: middle of each day, and value."""
    times: list[int] = []
    values: list[float] = []
    for part in parts:
        inside = (series.time >= part.start) & (series.time <= part.end)
        level, at = part.drift.normalised, series.time[inside]
        good = np.isfinite(level)
        day = np.floor(at[good] / 86_400.0).astype(np.int64)
        first = np.flatnonzero(np.concatenate([[True], day[1:] != day[:-1]])) if day.size else np.zeros(0, np.int64)
        for which, piece in zip(first, np.split(level[good], first[1:]), strict=True) if day.size else ():
            times.append(int(day[which] * 86_400 + 43_200) * SECOND)
            values.append(float(np.median(piece)))
    return tuple(times), tuple(values)


def _signif(value: float) -> float:
    return float(f"{value:.6g}")
