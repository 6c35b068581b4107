"""Channels that no longer belong together: one number for all, and which channel it is.

Each channel is told by the others in a sound time (robust regression of each on the rest, all at once: the inverse of a
robust covariance holds them all). What is left is smoothed as a vector and its squared Mahalanobis distance taken
(Hotelling 1947; multivariate EWMA; Lowry, Woodall, Champ and Rigdon 1992, Technometrics 34, 46), so that small lasting
shifts count; beside it the distance of single samples is taken and then smoothed (Reynolds and Cho 2006, J. Qual.
Technol. 38, 230), so that more noise, a swing, or a channel that goes its own way about the same mean counts. A slow
reference follows what only wanders (a housing that warms up; slow drift is for `drift`), as slowly as the sound time
bears, and stands still during an alarm, so that a fault is not followed. What is learned: `anomaly_joint_tests`.

An alarm that stands as long as the sound time was is no news any more: what is now becomes the reference, as those who
watch alarms would do by hand, and the event says that it stood; to come back to what was before is no alarm either.
`drift` and `changes` go on telling of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.anomaly_joint_tests import Tests, learned, slowest, smoothed
from asfound.history.timeline import Mask, seconds
from asfound.quantities.typing import Array

FEWEST = 60
QUIET = 3.0
"""Memories of the EWMA that an alarm must be over before it ends: until then the average still falls."""
BOUND = 20.0
"""Standard deviations at which a reading is bounded, so that the average forgets a large fault soon."""
OVER = 0.05
"""Share of an alarm's largest squared distance that may be left when it is over, beside what the channels wander: the
limit grows by itself for each memory of the slow reference that this stands still."""
CHUNK = 4096
STILL = 2.0
"""Memories of the slow reference that it may stand still until what wanders may have gone as far as the limit."""
OLD = 2.0
"""Sound times for which the limit about a former state goes on growing."""
HOMES = 3
"""States before alarms that stood that are still taken as sound."""
MARGIN = 3.0
"""Robust standard deviations of the sound time's logarithmic distance beyond its median, at the limit."""


@dataclass(frozen=True, slots=True)
class JointEvent:
    """One stretch in alarm, with the channels that take the largest share of the distance."""

    start: float
    end: float
    largest: float
    channels: tuple[str, ...]
    stood: bool = False
    """Whether it ended only because it had lasted as long as the time learned from."""


@dataclass(frozen=True, slots=True)
class Together:
    """How far the channels are from belonging together."""

    score: Array
    """Distance over its limit; above 1 is an alarm. Shape (n,); nan where a channel is missing."""
    alarm: Mask
    shares: Array
    """Share of each channel in the squared distance, shape (n, channels)."""
    names: tuple[str, ...]
    events: tuple[JointEvent, ...]
    left_out: tuple[str, ...]
    """Channels that did not move in the sound time."""


def watch_together(
    time: npt.ArrayLike, channels: Mapping[str, Array], sound: Mask | int, *, weight: float = 0.2,
    margin: float = MARGIN, apart: float | None = None,
) -> Together:  # fmt: skip
    """Return when several channels stop to belong together.

    Parameters
    ----------
    time : array of shape (n,)
        See `seconds`.
    channels : mapping of name to array of shape (n,)
        Readings, better residuals of baselines.
    sound : bool array or int
        Samples of a sound time, or how many at the beginning.
    weight : float
        Of the newest sample in the EWMA; 1 judges each sample alone.
    margin : float
        See `MARGIN`.
    apart : float, optional
        Alarms closer than this, s, are one event; ten samples without it.

    Raises
    ------
    InputError
        Fewer than 60 samples of a sound time, or a single channel that moves.
    """
    at = seconds(time)
    values = np.column_stack([np.asarray(one, dtype=float) for one in channels.values()])
    there = np.isfinite(values).all(axis=1)
    is_sound = (np.arange(at.size) < sound) if isinstance(sound, int | np.integer) else np.asarray(sound, dtype=bool)
    learn = values[is_sound & there]
    if len(learn) < FEWEST:
        raise InputError("sound", str(len(learn)), "are too few samples to learn from", allowed=f"{FEWEST} or more")
    centre = np.median(learn, axis=0)
    spread = np.maximum(1.4826 * np.median(np.abs(learn - centre), axis=0), 0.3 * learn.std(axis=0))
    moves = spread > 0.0
    if moves.sum() < 2:
        raise InputError("channels", str(int(moves.sum())), "moves alone", allowed="two channels or more that move")
    names = tuple(name for name, used in zip(channels, moves, strict=True) if used)
    z = np.clip((values[:, moves] - centre[moves]) / spread[moves], -BOUND, BOUND)
    good = z[there]
    sound_there = is_sound[there]
    smooth = smoothed(good, weight)
    settled = np.flatnonzero(sound_there)[len(learn) // 4 :]  # until then the reference follows its start
    memory = slowest(smooth, good, settled, weight, margin)
    reference = smoothed(good, memory)
    tests = learned(smooth[settled] - reference[settled], good[settled] - reference[settled], weight, margin)
    own, distance, ends = _followed(good, smooth, memory, tests, math.ceil(QUIET / weight), len(learn))
    score = np.full(at.size, np.nan)
    score[there] = np.sqrt(np.maximum(distance, 0.0))
    shares = np.full((at.size, len(names)), np.nan)
    shares[there] = own / np.maximum(own.sum(axis=1, keepdims=True), 1e-300)
    alarm = np.nan_to_num(score) > 1.0
    step = float(np.median(np.diff(at))) if at.size > 1 else 1.0
    stood = at[np.flatnonzero(there)[ends]] if ends else np.zeros(0)
    events = _events(at, score, shares, alarm, names, 10.0 * step if apart is None else apart, stood)
    return Together(score, alarm, shares, names, events, tuple(n for n in channels if n not in names))


def _followed(
    z: Array, smooth: Array, memory: float, tests: Tests, quiet: int, longest: int
) -> tuple[Array, Array, list[int]]:
    """Return each channel's part of what lies beyond a slow reference, its squared distance over the limit, and where
    alarms ended that had stood too long.

    The reference stands still in an alarm.
    """
    n, reach = len(z), STILL * 2.0 / memory
    off, single, distance = np.empty_like(z), np.empty_like(z), np.empty(n)
    reference, low, held, peak, since, before = np.zeros(z.shape[1]), 0, False, 0.0, 0, 0.0
    stood: list[int] = []
    homes: list[tuple[Array, int, float]] = []
    while low < n:
        most = min(CHUNK, since + longest - low) if held else CHUNK
        part = np.arange(low, min(low + most, n))
        path = np.broadcast_to(reference, z[part].shape) if held else smoothed(z[part], memory, reference)
        away, alone = smooth[part] - path, z[part] - path
        far, two = tests.far(away, alone, before)
        if held:  # where the channels would be by now is less and less known, and they need not come back wholly
            peaks = np.maximum(np.maximum.accumulate(far), peak)
            peak = float(peaks[-1])
            far = far / (1.0 + (part - since) / reach + OVER * peaks)
        for home, left, gap in homes:
            far_home, _ = tests.far(smooth[part] - home, z[part] - home, 0.0)
            far_home /= 1.0 + np.minimum(part - left, OLD * longest) / reach + OVER * gap
            nearer = (far_home < far)[:, None]
            away, alone = np.where(nearer, smooth[part] - home, away), np.where(nearer, z[part] - home, alone)
            far = np.minimum(far, far_home)
        out = far > 1.0
        end = _first_quiet(out, quiet) if held else int(out.argmax()) if out.any() else far.size
        rows = slice(low, low + end)
        off[rows], single[rows], distance[rows] = away[:end], alone[:end], far[:end]
        before = float(two[end - 1]) if end else before
        over = held and end == far.size and low + end >= since + longest and low + end < n
        if over:
            stood.append(low + end - 1)
            homes = [*homes, (reference.copy(), since, peak)][-HOMES:]
        if end < far.size or over:  # an alarm begins, or is over: what is now is the new reference
            now = min(low + end, n - 1)
            if held:
                reference, peak, before = smooth[now].copy(), 0.0, 0.0
            else:
                reference, peak, since = path[max(end - 1, 0)].copy(), 0.0, now
            held = not held
        elif end:
            reference = path[end - 1].copy()
        low += end
    return tests.own(off, single), distance, stood


def _first_quiet(out: Mask, quiet: int) -> int:
    """Return where ``quiet`` samples in a row within the limit end; the length where they do not come."""
    still_out = np.flatnonzero(out)
    edges = np.concatenate([[-1], still_out, [out.size]])
    long_enough = np.flatnonzero(np.diff(edges) > quiet)
    return int(edges[long_enough[0]] + quiet) if long_enough.size else int(out.size)


def _events(
    at: Array, score: Array, shares: Array, alarm: Mask, names: Sequence[str], apart: float, stood: Array
) -> tuple[JointEvent, ...]:  # fmt: skip
    over = np.flatnonzero(alarm)
    if not over.size:
        return ()
    found = []
    for part in np.split(over, np.flatnonzero(np.diff(at[over]) > apart) + 1):
        share = shares[part].mean(axis=0)
        largest = tuple(names[k] for k in np.argsort(-share) if share[k] > 0.2) or (names[int(share.argmax())],)
        start, end = float(at[part[0]]), float(at[part[-1]])
        found.append(
            JointEvent(start, end, float(score[part].max()), largest, bool(((stood >= start) & (stood <= end)).any()))
        )
    return tuple(found)
