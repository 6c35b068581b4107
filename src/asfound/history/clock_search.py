"""What is wrong with a logger's clock: an offset, a drift, jumps - found against something that had the right time.

Against what: another logger that saw the same thing (the lag at which the two agree best), readings of a visit with
their times, or pairs of one event in two lists (a trip's first-out). Rule of this program, no standard's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from asfound.errors import InputError
from asfound.history.channels import SECOND, Times
from asfound.history.clocks import DAY, ClockCorrection, ClockPiece, duration
from asfound.quantities.typing import Array

_LEAST = 30
_ZONES = tuple(900.0 * quarter for quarter in range(-56, 57) if quarter)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """How far a clock is off at a time of its own: ``add`` seconds make it right."""

    at: int
    """Microseconds as the clock showed them."""
    add: float
    doubt: float
    """Standard uncertainty of ``add``, in seconds."""
    agreement: float = 1.0
    """Correlation of the two signals at this lag, where it was found by one; 1 for events and readings."""
    margin: float = 1.0
    """By how much it is better than any other lag away from it."""
    points: int = 1_000_000
    """Points behind the correlation."""

    @property
    def sure(self) -> bool:
        """Whether the offset may be taken: the signals agree, and at no other lag as well."""
        chance = 6.0 / np.sqrt(max(1, self.points))  # far beyond what any of thousands of lags gives by chance
        return bool(self.agreement >= max(0.2, chance) and self.margin >= 0.4 * self.agreement)


def offset_between(
    time: Times, values: Array, right_time: Times, right_values: Array, *, widest: float = 86400.0, step: float = 0.0
) -> Offset | None:
    """Return the offset of a log against another that saw the same thing; None where nothing moves or they never meet.

    Parameters
    ----------
    time, values : array, shape (n,)
        The log whose clock is asked about: microseconds, and a signal in any unit.
    right_time, right_values : array, shape (m,)
        A log with the right time, of the same signal or one that moves with it.
    widest : float
        Largest offset looked for, in seconds.
    step : float
        Seconds of the common grid; the usual step of the coarser log where 0.
    """
    known, right = np.isfinite(values), np.isfinite(right_values)
    time, values, right_time, right_values = time[known], values[known], right_time[right], right_values[right]
    if min(len(time), len(right_time)) < _LEAST:
        return None
    grid = step or max(_usual(time), _usual(right_time))
    start = min(int(time[0]), int(right_time[0]))
    count = int((max(int(time[-1]), int(right_time[-1])) - start) / (grid * SECOND)) + 1
    if count > 4_000_000:
        raise InputError("step", f"{grid:g} s", "makes too many points of the span of the two logs",
                         try_next="Compare a month at a time.")  # fmt: skip
    mine, theirs = (_steps(*one, start, grid, count) for one in ((time, values), (right_time, right_values)))
    lags, score, number = _correlations(*mine, *theirs, int(widest / grid))
    if not np.isfinite(score).any():
        return None
    best = int(np.nanargmax(score))
    near = np.abs(lags - lags[best]) <= _width(score, best)
    away = score[~near & np.isfinite(score)]
    add, peak = _refined(time, values, right_time, right_values, float(lags[best]) * grid, grid)
    return Offset(
        at=int(time[0] + time[-1]) // 2, add=add, doubt=grid / np.sqrt(12) * max(0.2, np.sqrt(max(0.0, 1 - peak**2))),
        agreement=float(score[best]), margin=float(score[best] - away.max()) if len(away) else 1.0,
        points=int(number[best]),
    )  # fmt: skip


def _usual(time: Times) -> float:
    steps = np.diff(time)
    steps = steps[steps > 0]
    return float(np.median(steps)) / SECOND if len(steps) else 60.0


def _steps(time: Times, values: Array, start: int, grid: float, count: int) -> tuple[Array, Array]:
    """Return how a signal moves from point to point of a common grid, and where that is known.

    Steps, not levels: two loads that both rise by day agree at many lags, the steps of one load at one lag alone.
    """
    at = start + np.arange(count, dtype=np.float64) * grid * SECOND
    level = np.interp(at, time.astype(np.float64), values)
    after = np.searchsorted(time, at)
    before = np.clip(after - 1, 0, len(time) - 1)
    width = time[np.clip(after, 0, len(time) - 1)] - time[before]
    known = (at >= time[0]) & (at <= time[-1]) & (width <= 3 * grid * SECOND)
    both = known[1:] & known[:-1]
    return np.where(both, np.diff(level), 0.0), both.astype(np.float64)


def _refined(
    time: Times, values: Array, right_time: Times, right_values: Array, add: float, grid: float
) -> tuple[float, float]:
    """Return the offset found to a twentieth of the grid, and the correlation of the steps there."""
    if len(time) > 50_000:
        time, values = time[:50_000], values[:50_000]
    moves = np.diff(values)
    lags = add + np.arange(-20, 21) / 20 * grid
    scores = []
    for lag in lags:
        seen = np.interp(time + lag * SECOND, right_time.astype(np.float64), right_values)
        inside = (time + lag * SECOND >= right_time[0]) & (time + lag * SECOND <= right_time[-1])
        both = inside[1:] & inside[:-1]
        other = np.diff(seen)[both]
        usable = both.sum() >= _LEAST and np.ptp(other) > 0 and np.ptp(moves[both]) > 0
        scores.append(float(np.corrcoef(moves[both], other)[0, 1]) if usable else -1.0)
    best = int(np.argmax(scores))
    fine = _vertex(np.array(scores), best) * grid / 20
    return float(lags[best] + fine), scores[best]


def _correlations(a: Array, ka: Array, b: Array, kb: Array, widest: int) -> tuple[Array, Array, Array]:
    """Return lags of ``a`` (added to its time), correlation with ``b`` over the points that both have, and how many."""
    size = 1 << int(len(a) + widest).bit_length()
    a, b = (a - a[ka > 0].mean()) * ka, (b - b[kb > 0].mean()) * kb
    spectra = {name: np.fft.rfft(one, size) for name, one in
               {"a": a, "ka": ka, "aa": a * a, "b": b, "kb": kb, "bb": b * b}.items()}  # fmt: skip

    def crossed(one: str, other: str) -> Array:
        found = np.fft.irfft(np.conj(spectra[one]) * spectra[other], size)
        widest_here = min(widest, size // 2 - 1)
        return np.concatenate((found[-widest_here:], found[: widest_here + 1]))

    n = crossed("ka", "kb")
    n = np.where(n < _LEAST, np.nan, n)
    sa, sb = crossed("a", "kb"), crossed("ka", "b")
    va = crossed("aa", "kb") - sa * sa / n
    vb = crossed("ka", "bb") - sb * sb / n
    with np.errstate(invalid="ignore", divide="ignore"):
        score = (crossed("a", "b") - sa * sb / n) / np.sqrt(va * vb)
    still = (va <= 1e-9 * np.nanmax(va)) | (vb <= 1e-9 * np.nanmax(vb)) | (n < 0.25 * np.nanmax(n))
    score[still] = np.nan
    return np.arange(len(score), dtype=np.float64) - (len(score) - 1) // 2, score, n


def _vertex(score: Array, best: int) -> float:
    """Return where between the points the peak lies, by a parabola through three of them."""
    if best in (0, len(score) - 1):
        return 0.0
    left, middle, right = score[best - 1 : best + 2]
    bend = left - 2 * middle + right
    if not np.isfinite(bend) or bend >= 0:
        return 0.0
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5))


def _width(score: Array, best: int) -> int:
    """Return how far from the peak its own slope reaches: until the score rises again, or has lost half."""
    away = 1
    while best - away >= 0 or best + away < len(score):
        sides = [score[at] for at in (best - away, best + away) if 0 <= at < len(score) and np.isfinite(score[at])]
        if not sides or max(sides) < 0.5 * score[best]:
            break
        away += 1
    return away


def offsets_over(
    time: Times, values: Array, right_time: Times, right_values: Array, *, span: float = 7 * 86400.0,
    widest: float = 86400.0,
) -> tuple[Offset, ...]:  # fmt: skip
    """Return the offset of each span of time (seconds) of a log against another: what drift and jumps are read from."""
    found = []
    for start in range(int(time[0]), int(time[-1]) + 1, int(span * SECOND)):
        mine = (time >= start) & (time < start + span * SECOND)
        room = (span / 2 + widest) * SECOND
        theirs = (right_time >= start - room) & (right_time < start + span * SECOND + room)
        one = offset_between(time[mine], values[mine], right_time[theirs], right_values[theirs], widest=widest)
        if one is not None and one.sure:
            found.append(one)
    return tuple(found)


def offsets_of_events(shown: Sequence[int], right: Sequence[int], *, doubt: float = 1.0) -> tuple[Offset, ...]:
    """Return offsets from pairs of one event: what the clock showed, and the right time (microseconds)."""
    if len(shown) != len(right):
        raise InputError("events", f"{len(shown)} and {len(right)}", "are no pairs", allowed="as many of each")
    return tuple(
        Offset(at=int(a), add=(int(b) - int(a)) / SECOND, doubt=doubt) for a, b in zip(shown, right, strict=True)
    )


def offset_of_readings(
    time: Times, values: Array, read_at: Sequence[int], read: Sequence[float], *, scatter: float,
    widest: float = 86400.0,
) -> Offset | None:  # fmt: skip
    """Return the offset at which a log shows what was read at an engine; None where many offsets would do.

    Parameters
    ----------
    time, values : array, shape (n,)
        The log.
    read_at, read : sequences
        Right times (microseconds) and values that a person read, in the log's unit.
    scatter : float
        Standard uncertainty of a reading against the log.
    """
    order = np.argsort(time, kind="stable")
    time, values = time[order], values[order]
    known = np.isfinite(values)
    if known.sum() < _LEAST or len(read) < 3:
        return None
    grid = _usual(time)
    lags = np.arange(-int(widest / grid), int(widest / grid) + 1) * grid
    moments = np.asarray(read_at, np.float64)[None, :] - lags[:, None] * SECOND
    seen = np.interp(moments, time[known].astype(np.float64), values[known])
    inside = (moments >= time[0]) & (moments <= time[-1])
    squares = np.where(inside, ((seen - np.asarray(read)[None, :]) / scatter) ** 2, np.nan)
    enough = inside.sum(axis=1) == len(read)
    if not enough.any():
        return None
    misfit = np.where(enough, np.nansum(squares, axis=1), np.inf)
    best = int(np.argmin(misfit))
    weight = np.exp(-0.5 * np.minimum(misfit - misfit[best], 700.0))
    weight /= weight.sum()
    mean = float(weight @ lags)
    doubt = float(np.sqrt(weight @ (lags - mean) ** 2 + grid**2 / 12))
    sound = misfit[best] < 3.0 * len(read) + 6
    return Offset(at=int(np.mean(read_at)) - round(mean * SECOND), add=mean, doubt=doubt,
                  agreement=1.0 if sound else 0.0, margin=1.0 if doubt < 5 * grid else 0.0)  # fmt: skip


def correction(offsets: Sequence[Offset], *, least: float = 2.0, against: str = "") -> ClockCorrection:
    """Return the pieces that make a clock right: split at jumps, a straight line between them where it drifts.

    An offset within its own doubt of nothing is left; a jump is a step that stands out of the doubt, and where it
    lies between two offsets is not known better than between them: the middle is taken and said.
    """
    rows = sorted(offsets, key=lambda one: one.at)
    if not rows:
        return ClockCorrection()
    edges = [0, *_jumps(rows, least), len(rows)]
    groups = [rows[low:high] for low, high in pairwise(edges)]
    pieces = []
    for number, group in enumerate(groups):
        piece = _line(group, least, against)
        start = -(1 << 62) if number == 0 else (groups[number - 1][-1].at + group[0].at) // 2
        end = (1 << 62) if number == len(groups) - 1 else (group[-1].at + groups[number + 1][0].at) // 2
        if abs(piece.add) > least * piece.doubt or piece.drift:
            pieces.append(ClockPiece(start=start, end=end, add=piece.add, drift=piece.drift, about=piece.about,
                                     doubt=piece.doubt, why=piece.why))  # fmt: skip
    return ClockCorrection(tuple(pieces))


def _jumps(rows: Sequence[Offset], least: float) -> list[int]:
    """Return where offsets step by more than drift and doubt explain."""
    if len(rows) < 2:
        return []
    at = np.array([one.at for one in rows], np.float64) / DAY
    add = np.array([one.add for one in rows])
    doubt = np.array([one.doubt for one in rows])
    slopes = np.diff(add) / np.maximum(np.diff(at), 1e-9)
    usual = float(np.median(slopes)) if len(rows) > 3 else 0.0
    rest = np.diff(add) - usual * np.diff(at)
    limit = np.maximum(30.0, 3 * least * np.hypot(doubt[1:], doubt[:-1]))
    return [int(row) + 1 for row in np.flatnonzero(np.abs(rest) > limit)]


def _line(group: Sequence[Offset], least: float, against: str) -> ClockPiece:
    """Return offset and drift of offsets without a jump between them, by weighted least squares."""
    at = np.array([one.at for one in group], np.float64)
    add = np.array([one.add for one in group])
    weight = 1.0 / np.maximum(np.array([one.doubt for one in group]), 1e-3) ** 2
    about = float(np.average(at, weights=weight))
    mean = float(np.average(add, weights=weight))
    doubt = float(1.0 / np.sqrt(weight.sum()))
    drift = 0.0
    days = (at - about) / DAY
    spread = float((weight * days**2).sum())
    if len(group) >= 3 and spread > 0:
        slope = float((weight * days * (add - mean)).sum()) / spread
        rest = add - mean - slope * days
        scatter = max(1.0, float((weight * rest**2).sum()) / max(1, len(group) - 2))
        if abs(slope) > 1.5 * least * np.sqrt(scatter / spread):
            drift = slope
    say = _said(mean, drift, doubt, against)
    return ClockPiece(add=mean, drift=drift, about=round(about), doubt=doubt, why=say)


def _said(add: float, drift: float, doubt: float, against: str) -> str:
    side = "fast" if add < 0 else "slow"
    text = f"the clock is {duration(abs(add), doubt)} {side}"
    if drift:
        text += f" and {'loses' if drift > 0 else 'gains'} {abs(drift):.2g} s a day"
    nearest = min(_ZONES, key=lambda zone: abs(zone - add))
    if abs(nearest - add) < 30 and not drift:
        text += f" (to half a minute a difference of time zones: {abs(nearest) / 3600:g} h)"
    return text + (f", found against {against}" if against else "")
