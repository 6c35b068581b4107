"""Which state an engine was in, from its log: service, standing, starts, attempts; and what its hours counter did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.channels import SECOND, Times
from asfound.history.events_trips import Trip
from asfound.quantities.typing import Array

SERVICE, RESERVE, FORCED, PLANNED, MAINTENANCE, STARTFAIL = (
    "service", "reserve", "forced", "planned", "maintenance", "startfail",
)  # fmt: skip
STANDING, UNSEEN = "standing", "unseen"
"""Stopped for a reason that the log does not tell; and no rows at all."""
STATES = (SERVICE, RESERVE, FORCED, PLANNED, MAINTENANCE, STARTFAIL, STANDING, UNSEEN)
HOUR = 3600 * SECOND
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateTable:
    """Rows of one state behind each other (m,); ``startfail`` is an attempt without success and lasts no time."""

    start: Times
    """[µs]"""
    end: Times
    """[µs]"""
    state: tuple[str, ...]

    def __post_init__(self) -> None:
        unknown = [word for word in self.state if word not in STATES]
        if unknown:
            raise InputError("state", unknown[0], "is not known", allowed=", ".join(STATES))
        if bool(np.any(self.end < self.start)):
            raise InputError(
                "state table", str(int(np.argmax(self.end < self.start)) + 1), "has a row that ends before it begins"
            )
        if bool(np.any(self.start[1:] < self.end[:-1])):
            row = int(np.argmax(self.start[1:] < self.end[:-1])) + 2
            raise InputError("state table", f"row {row}", "begins before the row above it ends",
                             try_next="Sort the rows by time and let each begin where the last ended.")  # fmt: skip

    def __len__(self) -> int:
        return len(self.state)

    @classmethod
    def of_hours(cls, rows: Sequence[tuple[float, float, str]], begins: int = 0) -> StateTable:
        """Return the table of (from [h], to [h], state), counted from ``begins``."""
        start = np.array([begins + round(row[0] * HOUR) for row in rows], dtype=np.int64)
        end = np.array([begins + round(row[1] * HOUR) for row in rows], dtype=np.int64)
        return cls(start=start, end=end, state=tuple(row[2] for row in rows))

    def joined(self) -> StateTable:
        """Return the table with rows of one state made one where they were only cut, as at the end of a month.

        Two rows of service with nothing between them count as two starts (a stop too short for the table); join only
        a table that is known to cut.
        """
        keep = [0] if len(self) else []
        ends = list(self.end)
        for row in range(1, len(self)):
            last = keep[-1]
            if self.state[row] == self.state[last] and self.start[row] == ends[last] and self.state[row] != STARTFAIL:
                ends[last] = self.end[row]
            else:
                keep.append(row)
        return StateTable(
            start=self.start[keep],
            end=np.array([ends[row] for row in keep], dtype=np.int64),
            state=tuple(self.state[row] for row in keep),
        )

    def hours(self, state: str) -> float:
        """Return the hours in a state. [h]"""
        mine = np.array([word == state for word in self.state], dtype=bool)
        return float((self.end - self.start)[mine].sum() / HOUR)


def states_from_log(
    time: Times, running: Array, *, trips: Sequence[Trip] = (), told: StateTable | None = None,
    longest_step: float = 7200.0, near: float = 900.0,
) -> StateTable:  # fmt: skip
    """Return the state table of a log.

    An engine is in a state from the sample that shows it to the next. A stop is ``forced`` when a trip lies within
    ``near`` seconds of its beginning, else what ``told`` (a person's table, work orders) has at its middle, else
    ``standing``. A hole longer than ``longest_step`` is ``unseen``.

    Parameters
    ----------
    time : array (n,)
        In order. [µs]
    running : array (n,)
        Above 0 while running; nan keeps the state before it.
    trips : sequence of Trip
        From the alarm list; the log's step is added to ``near``.
    told : StateTable, optional
        Reasons that are known otherwise.
    """
    if len(time) < 2:
        raise InputError("log", f"{len(time)} rows", "is too short for states", allowed="2 rows or more")
    known = np.isfinite(running)
    held = np.maximum.accumulate(np.where(known, np.arange(len(time)), 0))
    on = np.nan_to_num(running[held]) > 0
    step = np.diff(time)
    hole = step > round(longest_step * SECOND)
    usual = int(np.median(step))
    code = on[:-1].astype(int)
    # each sample's state lasts to the next one; before a hole for one usual step, then nobody saw
    starts = np.concatenate([time[:-1], time[:-1][hole] + usual])
    ends = np.concatenate([np.where(hole, time[:-1] + usual, time[1:]), time[1:][hole]])
    codes = np.concatenate([code, np.full(int(hole.sum()), 2)])
    order = np.argsort(starts, kind="stable")
    starts, ends, codes = starts[order], ends[order], codes[order]
    first = np.flatnonzero(np.concatenate([[True], codes[1:] != codes[:-1]]))
    last = np.concatenate([first[1:] - 1, [len(codes) - 1]])
    moments: Times = np.array(sorted(one.time for one in trips), dtype=np.int64)
    words = []
    for begin, end, what in zip(starts[first], ends[last], codes[first], strict=True):
        words.append(
            SERVICE if what == 1 else UNSEEN if what == 2 else _reason(int(begin), int(end), moments, told, near, usual)
        )
    return StateTable(start=starts[first], end=ends[last], state=tuple(words))


def _reason(begin: int, end: int, trips: Times, told: StateTable | None, near: float, usual: int) -> str:
    low = int(np.searchsorted(trips, begin - usual - round(near * SECOND)))
    high = int(np.searchsorted(trips, begin + round(near * SECOND), side="right"))
    if high > low:
        return FORCED
    if told is not None:
        middle = (begin + end) // 2
        row = int(np.searchsorted(told.start, middle, side="right")) - 1
        if row >= 0 and told.end[row] >= middle and told.state[row] not in (SERVICE, STARTFAIL):
            return told.state[row]
    return STANDING


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One try to start."""

    time: int
    """When the shaft began to turn. [µs]"""
    cranking: float
    """Until running speed, or until it gave up. [s]"""
    started: bool


def start_attempts(
    time: Times, speed: Array, rated: float, *, turning: float = 0.05, runs: float = 0.85, holds: float = 30.0
) -> tuple[Attempt, ...]:
    """Return each try to start from a log fine enough to see the shaft turn (seconds, not minutes).

    A try begins when the speed passes ``turning`` x rated from below, and is a start when it reaches ``runs`` x rated
    and is still there ``holds`` seconds later. Shares and time are settings; common practice, no source.

    Parameters
    ----------
    time : array (n,)
        [µs]
    speed : array (n,)
        In the unit of ``rated``; nan counts as not turning.
    rated : float
        Speed at which it runs.
    """
    value = np.nan_to_num(speed)
    turns = value >= turning * rated
    begins = np.flatnonzero(turns[1:] & ~turns[:-1]) + 1
    stops = np.flatnonzero(~turns[1:] & turns[:-1]) + 1
    fast = np.flatnonzero(value >= runs * rated)
    found: list[Attempt] = []
    for begin in begins:
        after = stops[np.searchsorted(stops, begin, side="right") :]
        end = int(after[0]) if len(after) else len(value) - 1
        reached = fast[np.searchsorted(fast, begin) :]
        up = int(reached[0]) if len(reached) and reached[0] <= end else -1
        started = up >= 0 and (time[end] - time[up] >= round(holds * SECOND) or not len(after))
        until = int(time[up] if started else time[end])
        found.append(Attempt(time=int(time[begin]), cranking=(until - int(time[begin])) / SECOND, started=started))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterChange:
    """The hours counter was set back, exchanged, or ran otherwise than the engine."""

    time: int
    """[µs]"""
    before: float
    """What it read last. [s]"""
    after: float
    """What it reads from then on. [s]"""


def counter_changes(time: Times, counter: Array, *, least: float = 3600.0) -> tuple[CounterChange, ...]:
    """Return where an hours counter falls, or jumps further than the time that passed, by more than ``least`` seconds.

    A single false number between two that agree is no change.
    """
    good = np.flatnonzero(np.isfinite(counter))
    if len(good) < 3:
        return ()
    value, when = counter[good], time[good]
    grown = np.diff(value)
    passed = np.diff(when) / SECOND
    odd = np.flatnonzero((grown < -least) | (grown > passed + least))
    found: list[CounterChange] = []
    last = len(value) - 1
    for row in odd.tolist():

        def fits(low: int, high: int) -> bool:
            """Return whether the counter between two rows grew as time allows."""
            return bool(-least <= value[high] - value[low] <= (when[high] - when[low]) / SECOND + least)

        lone = (row + 2 <= last and fits(row, row + 2)) or (row > 0 and fits(row - 1, row + 1))
        if not lone:
            found.append(CounterChange(time=int(when[row + 1]), before=float(value[row]), after=float(value[row + 1])))
    return tuple(found)


def hours_by_counter(time: Times, counter: Array) -> Array:
    """Return the hours that the counter has counted since the first row, its exchanges taken out. (n,) [s]"""
    if not np.isfinite(counter).any():
        return np.asarray(counter, dtype=float)
    total = counter - counter[int(np.argmax(np.isfinite(counter)))]
    for change in counter_changes(time, counter):
        total = np.where(time >= change.time, total + change.before - change.after, total)
    return np.asarray(total, dtype=float)
