"""Whether the repair of a visit worked: what had moved before it, and where it stands after it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from asfound.errors import AsFoundError
from asfound.history.estimate import probability_above
from asfound.history.look_facts import UNIT_CHANGED, VisitFact
from asfound.history.look_indicator import Series
from asfound.history.look_parts import EffectSeen, Indicator, Interval, StepSeen, VisitSeen
from asfound.history.look_words import effect_says
from asfound.history.visit_effect import VisitEffect, Wanted, before_after, verdict_of

WINDOW = 45 * 86_400.0
"""Days on each side of a visit that are compared. [s]"""
CLOSE = 20 * 86_400.0
"""The same where the signal drifted before: near to the visit, or the drift itself would be compared. [s]"""
SURE = ("worked", "likely", "not enough", "cannot be told")
"""Told of what had moved before the visit, however small the difference; the last one says that nobody can tell."""
TOLD = (*SURE, "worse", "moved")
NO_REPAIR = ("not enough", "cannot be told")
"""Not said of a visit on which nobody noted that anything was changed: it was no repair."""


def visits_seen(
    series: Sequence[Series], seen: Sequence[Indicator], visits: Sequence[VisitFact], start: int, end: int
) -> tuple[VisitSeen, ...]:
    """Return the visits within the log, each with what moved there."""
    found = []
    for one in visits:
        if start <= one.start and one.end <= end:
            effects = [
                effect
                for line, indicator in zip(series, seen, strict=True)
                for effect in _effects(line, indicator, one, visits)
            ]
            found.append(VisitSeen(name=one.name, start=one.start, end=one.end, effects=tuple(effects)))
    return tuple(found)


def _effects(series: Series, seen: Indicator, visit: VisitFact, visits: Sequence[VisitFact]) -> Iterator[EffectSeen]:
    row = series.made.watched
    y = np.log(np.where(series.y > 0, series.y, np.nan)) if row.share else series.y
    ended = visit.end * 1e-6
    near = [abs(one.end * 1e-6 - ended) for one in visits if one is not visit]
    window = min([WINDOW, *near])  # another visit is no part of this comparison
    stepped = [one.latest * 1e-6 for one in seen.steps if not one.visit and one.time < visit.start]
    moved = {one.visit for one in seen.steps}  # a visit that only measured set nothing back
    anew = [one.latest * 1e-6 for one in seen.steps if one.why == UNIT_CHANGED and one.time < visit.start]
    gone = _gone(series, y, visit, [one for one in visits if one.name in moved], anew)
    wish: Wanted | None = ("lower" if gone > 0 else "higher") if abs(gone) >= 2.0 * row.matters else None
    window = min(window, CLOSE) if wish else window
    since = max([ended - window, *(one for one in stepped if one > ended - window)])
    use = series.counts & np.isfinite(y) & (series.time >= since) & (series.time <= ended + window)
    enough = max(0.5 * abs(gone), row.matters) if wish else 0.0
    step = next((one for one in seen.steps if one.visit == visit.name), None)
    by_step = _by_step(seen, step, wish, enough) if step is not None and wish else None
    if by_step is not None and by_step.verdict in NO_REPAIR and not visit.did:
        by_step = None
    try:
        told = before_after(
            series.time, y, ended, series.effects, counts=use, window=window, wanted=wish, matters=enough
        )
    except (AsFoundError, np.linalg.LinAlgError):
        told = None
    if by_step is not None and (
        told is None or _width(by_step.difference) <= told.difference.high - told.difference.low
    ):
        yield by_step  # the trends on both sides tell it closer than the days around it, which drift
        return
    if told is None:
        return
    if told.verdict in NO_REPAIR and not visit.did:
        return
    plain = abs(told.difference.value) >= row.matters and told.difference.differs_from_zero
    if told.verdict in TOLD and (plain or (wish and told.verdict in SURE)):
        yield _told(seen, told)


def _width(size: Interval) -> float:
    return size.high - size.low


def _gone(
    series: Series, y: np.ndarray, visit: VisitFact, visits: Sequence[VisitFact], anew: Sequence[float] = ()
) -> float:
    """Return how far the signal had gone at equal load since the visit before; 0 where that cannot be told.

    ``anew``: times from which on the log shows it otherwise.
    """
    before = [*anew, *(one.end * 1e-6 for one in visits if one.end < visit.start)]
    since = max(before, default=float(series.time[0]))
    inside = (series.time >= since) & (series.time < visit.start * 1e-6) & series.counts & np.isfinite(y)
    time, level = series.time[inside], y[inside]
    if time.size < 100 or visit.end * 1e-6 - since < 60 * 86_400.0:
        return 0.0
    first, last = time <= time[0] + 30 * 86_400.0, time >= time[-1] - 10 * 86_400.0
    return _at_equal_load(series, inside, level, first, last)


def _at_equal_load(series: Series, inside: np.ndarray, y: np.ndarray, first: np.ndarray, last: np.ndarray) -> float:
    columns = [np.ones(y.size)] + [np.nan_to_num(v[inside] - np.nanmedian(v[inside])) for v in series.effects.values()]
    columns.append(series.time[inside] - series.time[inside][0])
    design = np.column_stack(columns)
    solved, *_ = np.linalg.lstsq(design, y, rcond=None)
    left = y - design[:, 1:-1] @ solved[1:-1]
    return float(np.median(left[last]) - np.median(left[first]))


def _by_step(seen: Indicator, step: StepSeen, wish: Wanted, enough: float) -> EffectSeen:
    sign = 1.0 if wish == "higher" else -1.0
    error = max((step.size.high - step.size.low) / 3.92, 1e-300)
    probability = probability_above(sign * step.size.value, error, threshold=enough)
    against = probability_above(-sign * step.size.value, error)
    return _effect(seen, step.size, probability, verdict_of(probability, against))


def _told(seen: Indicator, told: VisitEffect) -> EffectSeen:
    size = Interval(told.difference.value, told.difference.low, told.difference.high)
    return _effect(seen, size, told.probability, told.verdict)


def _effect(seen: Indicator, size: Interval, probability: float, verdict: str) -> EffectSeen:
    found = EffectSeen(
        key=seen.key, title=seen.title, channel=seen.channel, difference=size, share=seen.share,
        probability=probability, verdict=verdict, says="",
    )  # fmt: skip
    return replace(found, says=effect_says(found, seen))
