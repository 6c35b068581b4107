"""Stops, alarms, hours and starts of an engine up to a day, and how its logger's clock stands beside the alarm list."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from asfound.history.channels import SECOND, Times
from asfound.history.clocks import duration
from asfound.history.events import AlarmLog
from asfound.history.events_alarms import chattering, floods, rates, without_repeats
from asfound.history.events_hours import bounds
from asfound.history.events_states import SERVICE, STANDING, UNSEEN, StateTable, counter_changes, states_from_log
from asfound.history.events_trips import Trip, trips
from asfound.history.look_facts import StopFact
from asfound.history.look_parts import (
    BoutSeen,
    ClockSeen,
    CounterSeen,
    EventsSeen,
    FloodSeen,
    Interval,
    StateSeen,
    TripSeen,
)
from asfound.history.look_rows import Rows
from asfound.history.sensor_fault import Mask

WIDEST = 26 * 3600.0
"""A clock further off than this is not found by stops. [s]"""
FEWEST_STOPS = 3


def events_of(rows: Rows, alarms: AlarmLog | None, stops: Sequence[StopFact], end: int) -> EventsSeen:
    """Return what happened."""
    log = alarms.take(alarms.time < end) if alarms is not None else None
    found = trips(log) if log is not None else ()
    if len(rows.slow) < 2:
        return EventsSeen(has_alarms=log is not None)
    table = states_from_log(rows.slow.time, rows.running.astype(float), trips=found, told=_told(stops))
    low, high = bounds(table)
    counter = rows.slow.values.get("engine_hours@engine")
    changes = counter_changes(rows.slow.time, counter) if counter is not None else ()
    rate = rates(log) if log is not None and len(log) else None
    bouts = chattering(log) if log is not None else ()
    return EventsSeen(
        trips=tuple(_trip(one, table) for one in found),
        bouts=tuple(BoutSeen(tag=one.tag, start=one.start, end=one.end, raised=one.raised) for one in bouts),
        floods=tuple(
            FloodSeen(start=one.start, end=one.end, alarms=one.alarms, peak=one.peak)
            for one in (floods(without_repeats(log, bouts)) if log is not None else ())
        ),
        alarms_per_day=rate.per_day if rate else math.nan,
        over_ten=rate.over_ten if rate else math.nan,
        most_frequent=tuple((tag, int(count)) for tag, count in rate.most_frequent) if rate else (),
        states=tuple(
            StateSeen(start=int(a), end=int(b), state=word, why=_why(int(a), int(b), word, stops))
            for a, b, word in zip(table.start, table.end, table.state, strict=True)
        ),
        availability=Interval(low.availability_factor, high.availability_factor, low.availability_factor),
        forced_outage_rate=Interval(low.forced_outage_rate, low.forced_outage_rate, high.forced_outage_rate),
        service_hours=low.service, period_hours=low.period, unseen_hours=low.unseen,
        standing_hours=table.hours(STANDING), starts=low.starts_successful,
        counters=tuple(CounterSeen(time=one.time, before=one.before, after=one.after) for one in changes),
        has_alarms=log is not None,
    )  # fmt: skip


def _told(stops: Sequence[StopFact]) -> StateTable | None:
    if not stops:
        return None
    ordered: list[tuple[int, int, str]] = []
    for one in sorted(stops, key=lambda stop: (stop.start, -stop.end)):
        begins = max(one.start, ordered[-1][1]) if ordered else one.start  # two that tell of one time: the first counts
        if one.end > begins:
            ordered.append((begins, one.end, one.state))
    return StateTable(
        start=np.array([begins for begins, _, _ in ordered], np.int64),
        end=np.array([ends for _, ends, _ in ordered], np.int64), state=tuple(state for _, _, state in ordered),
    )  # fmt: skip


def _why(start: int, end: int, state: str, stops: Sequence[StopFact]) -> str:
    """Return who tells of a stop; empty while it ran, and where nobody saw."""
    if state in (SERVICE, UNSEEN):
        return ""
    middle = (start + end) // 2
    meant = [one for one in stops if one.start <= middle <= one.end or start <= one.start < end]
    return next((one.says for one in meant if one.says), "")


def _trip(one: Trip, table: StateTable) -> TripSeen:
    after = [
        (int(a), int(b)) for a, b, word in zip(table.start, table.end, table.state, strict=True)
        if word == "forced" and int(a) >= one.time - 7200 * SECOND and int(a) <= one.time + 7200 * SECOND
    ]  # fmt: skip
    down = (after[0][1] - after[0][0]) / 3600 / SECOND if after else math.nan
    return TripSeen(
        time=one.time, first_out=one.first_out, consequences=one.consequences, actions=one.actions, hours_down=down
    )


def clock_beside(time: Times, running: Mask, stops: Sequence[int], beside: str = "the alarm list") -> ClockSeen | None:
    """Return how far a logger's clock is ahead of the clock by which trips were written; None where it cannot be told.

    Each trip stops the engine, and the log shows it at its next row: the lag at which most trips meet a stop, less half
    a step, is what the clock is ahead. A lag within one step is none.

    Parameters
    ----------
    time, running : array (n,)
        Rows of the log, in order.
    stops : sequence of int
        Trips by the other clock. [µs]
    """
    step = np.diff(time)
    if len(stops) < FEWEST_STOPS or len(time) < 100:
        return None
    usual = float(np.median(step)) / SECOND
    fell = np.flatnonzero(running[:-1] & ~running[1:] & (step <= 3 * usual * SECOND)) + 1
    if len(fell) < FEWEST_STOPS:
        return None
    apart = (time[fell][None, :] - np.asarray(stops, np.int64)[:, None]).ravel() / SECOND
    near = np.sort(apart[np.abs(apart) <= WIDEST])
    if len(near) < FEWEST_STOPS:
        return None
    first = np.arange(len(near))
    count = np.searchsorted(near, near + usual + 1.0, side="right") - first
    best = int(count.argmax())
    members = near[best : best + int(count[best])]
    others = count[np.abs(near - near[best]) > 2.0 * usual]
    rival = int(others.max()) if len(others) else 0
    if count[best] < max(FEWEST_STOPS, 0.6 * len(stops)) or rival > 0.6 * count[best]:
        return None
    low, high = float(members[-1]) - usual, float(members[0])  # each stop lies up to one step before its row
    fast, doubt = (low + high) / 2.0, max((high - low) / 2.0, 1.0)
    if abs(fast) <= usual:
        return None
    side = "ahead of" if fast > 0 else "behind"
    amount = duration(abs(round(fast / 60) * 60 if doubt > 30 else fast), doubt)
    return ClockSeen(
        fast=fast, doubt=doubt, events=int(count[best]),
        says=f"The logger's clock is about {amount} {side} {beside}: {int(count[best])} of {len(stops)} trips agree.",
    )  # fmt: skip
