"""What a page of an engine's log draws: rows on one time axis, events under them, and the sentences that say it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.history.events_words import tags_said
from asfound.history.look_words import says_of
from asfound.quantities.display import number_text
from asfound.report.axis import Wall
from asfound.report.content_history_channels import OWN, Channel, channel_of, chosen, own_scale, watched_row
from asfound.report.history_frame import LEFT, Event
from asfound.report.history_row import Change, Columns, Fan, HistoryRow, value_axis
from asfound.report.ink import text_width
from asfound.report.time_axis import day_said
from asfound.report.wording import System

if TYPE_CHECKING:
    from datetime import tzinfo

    from asfound.history.look_parts import EngineLook, Indicator
    from asfound.history.trend import Trend
    from asfound.report.history_logs import LogsOf
    from asfound.report.history_window import Window

WIDTHS = (900, 680, 350)
PLOT = 830
"""Columns that are asked for: the plot of the widest picture. [px]"""
STEP_WORDS = {0: "every row", 60: "1 min", 600: "10 min", 3600: "1 h", 86_400: "1 day"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """One channel with its picture's makings and its numbers."""

    channel: Channel
    row: HistoryRow
    numbers: str
    """Mean, lowest and highest of what is shown, in words."""
    indicator: Indicator | None = None

    says: str = ""
    """What the look says of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryView:
    """What is drawn between two times."""

    window: Window
    rows: tuple[ShownRow, ...]
    events: tuple[Event, ...]
    gaps: tuple[tuple[int, int], ...]
    trend: Trend
    read_from: str
    left: float = LEFT

    def drawn(self, row: ShownRow, width: int) -> dict[str, Any]:
        """Return what `history_row` is called with."""
        return {
            "row": narrowed(row.row, width),
            "start": self.window.start,
            "end": self.window.end,
            "zone": self.window.zone,
            "visits": [one.time for one in self.events if one.kind == "visit"],
            "left": self.left,
            "width": width,
        }

    def lane(self, width: int) -> dict[str, Any]:
        """Return what `history_events` is called with."""
        return {
            "events": self.events,
            "gaps": self.gaps,
            "start": self.window.start,
            "end": self.window.end,
            "left": self.left,
            "width": width,
            "label": events_said(self.events, self.window),
        }


def history_view(logs: LogsOf, asked: Sequence[str], window: Window, system: System) -> HistoryView:
    """Return what is drawn of a log, read from its buckets.

    Parameters
    ----------
    logs : LogsOf
    asked : sequence of str
        Names of channels; those that do not exist are left out, none: the ones that say most.
    window : Window
    system : {'si', 'us'}
    """
    from asfound.history.trend import trend

    there = logs.store.channels(logs.stored)
    names = chosen(asked, there, logs.look)
    until = min(window.end, max(logs.span[1] + 1, window.start + 60_000_000))
    columns = max(int(PLOT * (until - window.start) / (window.end - window.start)), 2)
    read = [name for name in names if not name.startswith(OWN)] or there[:1]
    found = trend(logs.store, logs.stored, read, window.start, until, width=columns)
    rows = tuple(
        _own(name, logs, window, system)
        if name.startswith(OWN)
        else _shown(name, read.index(name), found, logs, window, system)
        for name in names
    )
    gaps = found.gaps(read[0]) if read else []
    return HistoryView(
        window=window,
        rows=rows,
        events=events_of(logs, window.zone),
        gaps=tuple(gaps),
        trend=found,
        read_from=_read_from(found),
        left=_left(rows, window),
    )


def _left(rows: Sequence[ShownRow], window: Window) -> float:
    """Return the room that the widest number of all value axes needs."""
    wide = LEFT - 10
    for one in rows:
        axis, _, _ = value_axis(one.row, window.start, window.end, 170.0, 14.5)
        wide = max([wide, *(text_width(axis.words(tick), 14.5) for tick in axis.ticks)])
    return wide + 10


def _read_from(found: Trend) -> str:
    seconds = found.step // 1_000_000
    if found.read_from == "rows" and not seconds:
        return "every row that was kept"
    long = f"{seconds / 86_400:.3g} days" if seconds >= 86_400 * 2 else f"{seconds / 3600:.3g} h"
    long = f"{seconds / 60:.3g} min" if seconds < 7200 else long
    return f"columns of {long}, {found.rows_behind:,} values behind them"


def _shown(name: str, i: int, found: Trend, logs: LogsOf, window: Window, system: System) -> ShownRow:
    channel = channel_of(name, system)
    low, high, mean = (channel.shown(one[i], system) for one in (found.low, found.high, found.mean))
    if channel.quantity and np.nansum(low > high):  # a unit that runs the other way
        low, high = high, low
    columns = Columns(time=found.time, step=found.step, low=low, high=high, mean=mean, broken=found.broken[i])
    of_it = logs.look.of_channel(name) if logs.look else ()
    indicator = next((one for one in of_it if logs.look and not own_scale(one, logs.look)), None)
    row = HistoryRow(
        title=channel.title, unit=channel.unit, columns=columns, gaps=tuple(found.gaps(name)),
        **(_watched(indicator, channel, system, logs.look.end) if indicator and logs.look else {}),
    )  # fmt: skip
    numbers = _numbers(channel, found, i, system)
    said = f"{channel.title}, {window.said}: {numbers}"
    says = says_of(indicator, system) if indicator is not None else ""
    row = _relabelled(row, f"{said}. {says}" if says else said)
    return ShownRow(channel=channel, row=row, numbers=numbers, indicator=indicator, says=says)


def _own(name: str, logs: LogsOf, window: Window, system: System) -> ShownRow:
    """Return a reading watched on a scale of its own: points at like load, its level and its limit."""
    assert logs.look is not None
    one = logs.look.indicator(name.removeprefix(OWN))
    assert one is not None
    channel = watched_row(one, system)
    at, values = np.asarray(one.daily_time, np.int64), np.asarray(one.daily, float)
    inside = channel.shown(values[(at >= window.start) & (at <= window.end) & np.isfinite(values)], system)
    numbers = "nothing was logged in this time"
    if len(inside):
        said = [number_text(float(v), 3) for v in (np.mean(inside), np.min(inside), np.max(inside))]
        numbers = f"by day at like load: mean {said[0]} {channel.unit}, lowest {said[1]}, highest {said[2]}"
    says = says_of(one, system)
    row = HistoryRow(
        title=channel.title, unit=channel.unit, label=f"{channel.title}, {window.said}: {numbers}. {says}",
        **_watched(one, channel, system, logs.look.end),
    )  # fmt: skip
    return ShownRow(channel=channel, row=row, numbers=numbers, indicator=one, says=says)


def looked_row(one: Indicator, look: EngineLook, system: System) -> HistoryRow:
    """Return a watched reading as the look alone tells it, for paper: no rows of the log are read."""
    channel = watched_row(one, system) if own_scale(one, look) else channel_of(one.channel, system)
    return HistoryRow(
        title=f"{one.title}, {channel.unit}" if channel.unit else one.title, unit=channel.unit,
        label=f"{one.title}, day by day at like load. {says_of(one, system)}",
        **_watched(one, channel, system, look.end),
    )  # fmt: skip


def worst_first(look: EngineLook) -> list[Indicator]:
    """Return what moves, the most urgent first."""
    order = {"beyond": 0, "near": 1, "moves": 2}
    moving = [one for one in look.indicators if one.judged in order and one.daily]
    return sorted(moving, key=lambda one: (one is not look.worst, order[one.judged]))


def _relabelled(row: HistoryRow, label: str) -> HistoryRow:
    from dataclasses import replace

    return replace(row, label=label)


def _numbers(channel: Channel, found: Trend, i: int, system: System) -> str:
    n = found.n[i]
    total = int(n.sum())
    if not total:
        return "nothing was logged in this time"
    mean = float(np.nansum(found.mean[i] * n) / total)
    low, high = float(np.nanmin(found.low[i])), float(np.nanmax(found.high[i]))
    said = [channel.value(one, system) for one in (mean, low, high)]
    unit = f" {channel.unit}" if channel.unit else ""
    return f"mean {said[0]}{unit}, lowest {said[1]}, highest {said[2]}"


def narrowed(row: HistoryRow, width: int) -> HistoryRow:
    """Return a row with as many columns as a narrower picture can show: pairs and threes are merged, none is lost."""
    from dataclasses import replace

    columns = row.columns
    fold = max(WIDTHS[0] // width, 1)
    if columns is None or fold == 1 or len(columns.time) < 2 * fold or not columns.step:
        return row
    size = -(-len(columns.time) // fold) * fold

    def folded(values: Any, fill: float) -> Any:
        return np.append(values, np.full(size - len(values), fill)).reshape(-1, fold)

    filled = np.isfinite(columns.mean)
    n = folded(filled, 0).sum(1)
    mean = folded(np.where(filled, columns.mean, 0.0), 0.0).sum(1) / np.where(n, n, np.nan)
    low = folded(np.where(filled, columns.low, np.inf), np.inf).min(1)
    high = folded(np.where(filled, columns.high, -np.inf), -np.inf).max(1)
    empty = n == 0
    low[empty] = high[empty] = np.nan
    broken = folded(columns.broken, 0).any(1)
    time = columns.time[::fold]
    return replace(
        row, columns=Columns(time=time, step=columns.step * fold, low=low, high=high, mean=mean, broken=broken)
    )


# ---------------------------------------------------------------------- what the look adds to a row


def _watched(one: Indicator, channel: Channel, system: System, end: int) -> dict[str, Any]:
    """Return points, level, wall, forecast and changes of a channel that is watched."""

    def shown(values: Any) -> Any:
        return channel.shown(np.asarray(values, float), system)

    found: dict[str, Any] = {}
    if one.daily:
        found["points"] = (np.asarray(one.daily_time, np.int64), shown(one.daily))
    level = level_of(one, end)
    if level:
        found["now"] = channel.value(one.now.value, system)
        found["level"] = tuple((at, *(float(v) for v in shown(values))) for at, *values in level)
    if one.limit is not None:
        value = float(shown([one.limit])[0])
        unit = f" {channel.unit}" if channel.unit else ""
        text = f"{one.limit_from.partition(', as ')[0] or 'limit'}: {channel.value(one.limit, system)}{unit}"
        found["walls"] = (Wall(value, text, "upper" if one.above else "lower"),)
        fan = fan_of(one, end)
        if fan is not None:
            now, low, high, limit = (float(v) for v in shown([fan.value, fan.low, fan.high, fan.limit]))
            found["fan"] = Fan(
                start=fan.start, value=now, low=low, high=high, limit=limit, above=fan.above, at=fan.at,
                earliest=fan.earliest, latest=fan.latest, text=fan.text,
            )  # fmt: skip
    changes = []
    if one.began is not None and one.kind in ("drift", "both"):
        began = one.began
        changes.append(Change(time=began.time, earliest=began.earliest, latest=began.latest, text="drift begins"))
    changes += [
        Change(
            time=step.time,
            earliest=step.earliest,
            latest=step.latest,
            text="step at the visit" if step.visit else "step",
        )
        for step in one.steps
    ]
    found["changes"] = tuple(changes)
    return found


def level_of(one: Indicator, end: int) -> list[tuple[int, float, float, float]]:
    """Return corners of the level over the last part of the log, SI: time, value, low, high."""
    if not one.now.known or (one.kind in ("step", "both") and not one.steps and not one.moved_from):
        return []
    begins = max([one.moved_from, *(step.time for step in one.steps)])
    if begins <= 0 and one.daily_time:
        begins = one.daily_time[0]
    if begins <= 0 or begins >= end:
        return []

    def back(value: float) -> float:
        moved = one.moved.value if one.moved.known else 0.0
        return value * math.exp(-moved) if one.share else value - moved

    now = one.now
    inside = [(at, value) for at, value in one.path if at >= (one.steps[-1].time if one.steps else 0)]
    if len(inside) > 1 and one.kind in ("drift", "both") and one.moved.known:
        below, over = now.value - now.low, now.high - now.value
        return [(at, value, value - below, value + over) for at, value in inside]
    drifts = one.kind in ("drift", "both") and one.moved.known
    if not drifts:
        return [(begins, now.value, now.low, now.high), (end, now.value, now.low, now.high)]
    then = back(now.value)
    low, high = then - (now.value - now.low), then + (now.high - now.value)
    began = one.began.time if one.began is not None else begins
    corners = [(begins, then, low, high)] if began > begins else []
    return [*corners, (max(began, begins), then, low, high), (end, now.value, now.low, now.high)]


def fan_of(one: Indicator, end: int) -> Fan | None:
    """Return the forecast of an indicator, SI; None where it goes nowhere within the reach of its data."""
    reach = one.reach
    if reach is None or one.limit is None or not one.now.known or not reach.time or reach.time <= end or reach.far:
        return None
    return Fan(
        start=end, value=one.now.value, low=one.now.low, high=one.now.high, limit=one.limit, above=one.above,
        at=reach.time, earliest=max(reach.earliest, end) if reach.earliest else reach.time, latest=reach.latest or None,
        text=reach.says,
    )  # fmt: skip


# ---------------------------------------------------------------------- events


def events_of(logs: LogsOf, zone: tzinfo) -> tuple[Event, ...]:
    """Return visits of the record, and trips, floods and starts that the log and its alarm list tell."""
    found = [Event(kind="visit", time=time, text=day_said(time, zone, year=False)) for time, _ in logs.visits]
    found += [Event(kind="work", time=time, text=text) for time, text in logs.works]
    look = logs.look
    if look is not None:
        found += [
            Event(kind="trip", time=one.time, text=tags_said(one.first_out[:2], " or ")) for one in look.events.trips
        ]
        found += [Event(kind="flood", time=one.start, end=one.end, text="flood") for one in look.events.floods]
        before = ""
        for state in look.events.states:
            if state.state == "service" and before not in ("", "service", "unseen"):
                found.append(Event(kind="start", time=state.start))
            before = state.state
    return tuple(sorted(found, key=lambda one: one.time))


def events_said(events: Sequence[Event], window: Window) -> str:
    """Say what the lane of events shows."""
    words = {
        "visit": "visit",
        "work": "work order or task",
        "trip": "trip",
        "flood": "flood of alarms",
        "start": "start",
    }
    counts = {kind: sum(e.kind == kind and window.start <= e.time <= window.end for e in events) for kind in words}
    said = ", ".join(f"{n} {words[kind]}{'s' if n != 1 else ''}" for kind, n in counts.items() if n)
    return f"Visits and events, {window.said}: {said or 'none'}"
