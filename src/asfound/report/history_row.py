"""One channel of a log over time: lowest to highest by column, mean, level, forecast, limits as walls, gaps as ground.

All values are in the unit that is shown; times are microseconds UTC. What moves with the time axis stands in a group
of its own, so that a page can shift it before the answer with new columns has come.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, tzinfo

import numpy as np
from numpy.typing import NDArray

from asfound.quantities.typing import Array
from asfound.report.axis import Wall
from asfound.report.history_frame import LEFT, RIGHT, TimeFrame, draw_time_axis
from asfound.report.ink import Picture, number, points
from asfound.report.ticks import Axis, choose
from asfound.report.time_axis import day_said, span_said

HIGH, PAPER_HIGH, NARROW_HIGH = 178.0, 108.0, 168.0
WALL_SHARE = 0.2
"""Of the height, for the hatch beyond a wall."""
QUIET = 12 * 3_600_000_000
"""Beside points at like load the mean of columns this wide is left out. [us]"""
FAR = 2.5
"""A wall further from the values than this many times their own span is named and not drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """What each column of pixels stands for; arrays of one length, nan where nothing was logged."""

    time: NDArray[np.int64]
    step: int
    """Width of a column, microseconds; 0: each value has a time of its own."""
    low: Array
    high: Array
    mean: Array
    broken: NDArray[np.bool_]
    """No line is drawn from the filled column before to this one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Where a value goes if nothing is done, from the end of the log to its limit."""

    start: int
    value: float
    low: float
    high: float
    limit: float
    above: bool
    at: int
    earliest: int
    latest: int | None
    """None: it may never get there."""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A moment from which on something is different, with the interval that holds it 95 times in 100."""

    time: int
    earliest: int
    latest: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryRow:
    """One channel."""

    title: str
    unit: str = ""
    columns: Columns | None = None
    gaps: tuple[tuple[int, int], ...] = ()
    usual: tuple[float, float] | None = None
    points: tuple[NDArray[np.int64], Array] | None = None
    """At like load, day by day."""
    now: str = ""
    """Level at the end of the log, as it is written beside the line."""
    level: tuple[tuple[int, float, float, float], ...] = ()
    """Corners of the line that stands for the level: time, value, and its interval; nan time breaks it."""
    walls: tuple[Wall, ...] = ()
    fan: Fan | None = None
    changes: tuple[Change, ...] = ()
    label: str = ""


@dataclass(slots=True)
class _Frame:
    time: TimeFrame
    axis: Axis
    top: float
    foot: float
    clipped: list[str] = field(default_factory=list)

    def x(self, time: float) -> float:
        return self.time.at(time)

    def y(self, value: float) -> float:
        low, high = self.axis.low, self.axis.high
        return self.foot - (min(max(value, low), high) - low) / (high - low) * (self.foot - self.top)

    def ys(self, values: Array) -> Array:
        low, high = self.axis.low, self.axis.high
        return self.foot - (np.clip(values, low, high) - low) / (high - low) * (self.foot - self.top)


def history_row(
    row: HistoryRow,
    *,
    start: int,
    end: int,
    width: float = 900,
    zone: tzinfo = UTC,
    visits: Sequence[int] = (),
    left: float = LEFT,
    paper: bool = False,
) -> str:
    """Draw one channel between two times.

    Parameters
    ----------
    start, end : int
        Microseconds UTC.
    visits : sequence of int
        Times of visits, drawn as upright lines.
    left : float
        Where the axis begins; the same for all rows of a page. [px]
    """
    picture = Picture(width, 10, label=row.label or row.title, paper=paper, classes="" if paper else "tl-svg")
    text = picture.size_of("tx-s")
    top = text + 6
    foot = top + (PAPER_HIGH if paper else NARROW_HIGH if width < 500 else HIGH)
    axis, walls, far = value_axis(row, start, end, foot - top, text)
    frame = _Frame(TimeFrame(start, end, left, width - RIGHT), axis, top, foot)
    picture.text("tx-s", 0, text, row.unit or "as logged")
    _moving(picture, frame, paper, lambda: _ground(picture, row, frame))
    for tick in axis.ticks:
        picture.line("rule", left, frame.y(tick), width - RIGHT, frame.y(tick))
        picture.text("tx-s e", left - 6, frame.y(tick) + text * 0.35, axis.words(tick))
    _moving(picture, frame, paper, lambda: _curves(picture, row, frame, visits))
    for wall in walls:
        _wall(picture, wall, frame)
    _moving(picture, frame, paper, lambda: _beyond(picture, row, frame))
    if far:
        picture.text("tx-s walltext e", width - RIGHT, text, far)
    picture.line("axisline", left, foot, width - RIGHT, foot)
    _changes(picture, row, frame, zone)
    picture.height = draw_time_axis(picture, frame.time, foot, zone)
    return picture.svg()


def _moving(picture: Picture, frame: _Frame, paper: bool, draw: Callable[[], None]) -> None:
    """Draw what moves with the time axis, cut at the ends of the plot."""
    if paper:
        draw()
        return
    x0, x1 = frame.time.x0, frame.time.x1
    box = (x0, frame.top, x1 - x0, frame.foot - frame.top)
    picture.open(
        "svg", x=number(box[0]), y=number(box[1]), width=number(box[2]), height=number(box[3]),
        viewBox=" ".join(number(one) for one in box), kind="tl-clip",
    )  # fmt: skip
    picture.open("g", kind="mv")
    draw()
    picture.close("g")
    picture.close("svg")


def value_axis(row: HistoryRow, start: int, end: int, high: float, text: float) -> tuple[Axis, list[Wall], str]:
    """Return the window of values, the walls that stand inside it, and what to say of one that does not.

    The window holds where the values usually are: stops and spikes run out of it.
    """
    low_value, high_value = _inside(row, start, end)
    span = (high_value - low_value) or abs(high_value) * 0.05 or 1.0
    walls, far = [], ""
    upper = lower = False
    for wall in row.walls:
        away = wall.value - high_value if wall.side == "upper" else low_value - wall.value
        if away > FAR * span and row.fan is None:
            far = f"{wall.text}, {'above' if wall.side == 'upper' else 'below'} this picture"
            continue
        walls.append(wall)
        low_value, high_value = min(low_value, wall.value), max(high_value, wall.value)
        upper, lower = upper or wall.side == "upper", lower or wall.side == "lower"
    span = (high_value - low_value) or span
    beyond = WALL_SHARE / (1 - WALL_SHARE) * span
    low_value -= beyond if lower else 0.06 * span
    high_value += beyond if upper else 0.06 * span
    axis = choose(low_value, high_value, room=high, measure=lambda _: text * 1.3, to_tick_low=False, to_tick_high=False)
    return axis, walls, far


def _inside(row: HistoryRow, start: int, end: int) -> tuple[float, float]:
    found: list[float] = []
    if row.points is not None:
        at, values = row.points
        shown = values[(at >= start) & (at <= end) & np.isfinite(values)]
        found += [float(np.percentile(shown, one)) for one in (1, 99)] if len(shown) else []
    if row.columns is not None and found:
        means = row.columns.mean[np.isfinite(row.columns.mean)]
        found += [float(one) for one in np.percentile(means, (10, 90))] if len(means) else []
    elif row.columns is not None:
        means = row.columns.mean[np.isfinite(row.columns.mean)]
        if len(means):
            first, third = np.percentile(means, (25, 75))
            reach = 3.0 * (third - first)
            usual = means[(means >= first - reach) & (means <= third + reach)]
            wide = np.isfinite(row.columns.mean)
            wide &= (row.columns.mean >= first - reach) & (row.columns.mean <= third + reach)
            found += [float(usual.min()), float(usual.max())]
            if reach > 0:
                found += [float(np.percentile(row.columns.low[wide], 10))]
                found += [float(np.percentile(row.columns.high[wide], 90))]
    found += [value for at, *values in row.level if start <= at <= end for value in values if np.isfinite(value)]
    found += list(row.usual or ())
    if row.fan is not None and start <= row.fan.start <= end:
        found += [row.fan.low, row.fan.high, row.fan.limit]
    return (min(found), max(found)) if found else (0.0, 1.0)


def _ground(picture: Picture, row: HistoryRow, frame: _Frame) -> None:
    if row.usual is not None:
        low, high = sorted((frame.y(row.usual[0]), frame.y(row.usual[1])))
        picture.rect("p-track", frame.time.x0, low, frame.time.x1 - frame.time.x0, high - low)
    for first, last in row.gaps:
        a, b = frame.x(first), frame.x(last)
        if b - a >= 1.0:
            picture.rect("tl-gap", a, frame.top, b - a, frame.foot - frame.top)


def _curves(picture: Picture, row: HistoryRow, frame: _Frame, visits: Sequence[int]) -> None:
    if row.columns is not None:
        _columns(picture, row.columns, frame, quiet=row.points is not None or bool(row.level))
    for time in visits:
        if frame.time.start <= time <= frame.time.end:
            picture.line("tl-visit", frame.x(time), frame.top, frame.x(time), frame.foot)
    if row.points is not None:
        at, values = row.points
        shown = np.isfinite(values) & (at >= frame.time.start) & (at <= frame.time.end)
        if shown.any():
            xs, ys = frame.time.ats(at[shown]), frame.ys(values[shown])
            dots = "".join(f"M {x:.1f},{y:.1f} h 0" for x, y in zip(xs.tolist(), ys.tolist(), strict=True))
            picture.path("tl-dots small" if frame.time.x1 < 500 else "tl-dots", dots)
    _level(picture, row, frame)


def _columns(picture: Picture, columns: Columns, frame: _Frame, *, quiet: bool) -> None:
    """Draw lowest to highest as a band and the mean as a line, broken where nothing was logged."""
    filled = np.flatnonzero(np.isfinite(columns.mean))
    if not len(filled):
        return
    parts = np.split(filled, np.flatnonzero(columns.broken[filled][1:]) + 1)
    band, line = [], []
    for part in parts:
        at = columns.time[part]
        if columns.step:  # a column stands for its whole width
            x = np.append(frame.time.ats(at), frame.x(int(at[-1]) + columns.step))
            low, high = (np.append(one[part], one[part][-1]) for one in (columns.low, columns.high))
            middle = frame.time.ats(at + columns.step // 2)
        else:
            x = middle = frame.time.ats(at)
            low, high = columns.low[part], columns.high[part]
        top, foot = frame.ys(high), frame.ys(low)
        if columns.step or len(part) > 1:
            pairs = [
                *zip(x.tolist(), top.tolist(), strict=True),
                *zip(x[::-1].tolist(), foot[::-1].tolist(), strict=True),
            ]
            band.append("M " + " L ".join(f"{a:.1f},{b:.1f}" for a, b in pairs) + " Z")
        mean = frame.ys(columns.mean[part])
        if len(part) == 1:
            line.append(f"M {middle[0]:.1f},{mean[0]:.1f} h 1.2")
        else:
            line.append(
                "M " + " L ".join(f"{a:.1f},{b:.1f}" for a, b in zip(middle.tolist(), mean.tolist(), strict=True))
            )
    _outside(picture, columns, frame, filled)
    if columns.step:
        picture.path("tl-band", "".join(band))
    if not quiet:
        picture.path("tl-mean", "".join(line))
    elif columns.step < QUIET:  # wider columns: the points of like load say it better
        picture.path("tl-mean quiet", "".join(line))


def _outside(picture: Picture, columns: Columns, frame: _Frame, filled: NDArray[np.int64]) -> None:
    """Mark the edge of the window where values lie beyond it."""
    means = columns.mean[filled]
    wide = max((frame.x(columns.time[0] + columns.step) - frame.x(columns.time[0])) if columns.step else 1.5, 1.5)
    for y, beyond in ((frame.top + 1.5, means > frame.axis.high), (frame.foot - 1.5, means < frame.axis.low)):
        xs = frame.time.ats(columns.time[filled[beyond]]).tolist()
        if xs:
            picture.path("tl-out", "".join(f"M {x:.1f},{y:.1f} h {wide:.1f}" for x in xs))


def _level(picture: Picture, row: HistoryRow, frame: _Frame) -> None:
    if len(row.level) < 2:
        return
    x = [frame.x(at) for at, *_ in row.level]
    high = [(a, frame.y(one[3])) for a, one in zip(x, row.level, strict=True)]
    low = [(a, frame.y(one[2])) for a, one in zip(x, row.level, strict=True)]
    picture.path("tl-doubt", points([*high, *reversed(low)], close=True))
    picture.path("tl-level", points([(a, frame.y(one[1])) for a, one in zip(x, row.level, strict=True)]))
    wide = picture.width_of("tx-b", row.now)
    if row.now and row.level[-1][0] <= frame.time.end and x[-1] + 8 + wide < frame.time.x1:
        size = picture.size_of("tx-b")
        under = row.fan is not None and row.fan.above  # the forecast goes up: the number stands below it
        y = frame.y(row.level[-1][1]) + (size * 1.2 if under else size * 0.35)
        picture.text("tx-b", x[-1] + 8, min(y, frame.foot - 6), row.now)


def _beyond(picture: Picture, row: HistoryRow, frame: _Frame) -> None:
    """Draw the forecast: a lighter fan with a dashed middle, and the bar lying on the wall."""
    fan = row.fan
    if fan is None or fan.start >= frame.time.end:
        return
    end = frame.time.end
    fast, slow = (fan.high, fan.low) if fan.above else (fan.low, fan.high)
    fast_end = _towards(fan.start, fast, fan.earliest, fan.limit, end)
    slow_end = _towards(fan.start, slow, fan.latest, fan.limit, end) if fan.latest else (end, slow)
    middle = _towards(fan.start, fan.value, fan.at, fan.limit, end)
    corners = [
        (fan.start, fast),
        fast_end,
        *([(end, frame_end)] if (frame_end := fast_end[1]) else []),
        (end, slow_end[1]),
    ]
    corners += [slow_end, (fan.start, slow)]
    picture.path("tl-fan", points([(frame.x(at), frame.y(value)) for at, value in corners], close=True))
    picture.path("tl-level dash", points([(frame.x(at), frame.y(v)) for at, v in ((fan.start, fan.value), middle)]))
    wall = frame.y(fan.limit)
    a, b = frame.x(fan.earliest), frame.x(fan.latest if fan.latest else end)
    if fan.earliest < end:
        picture.rect("bar-f", a, wall - 6, max(b - a, 3), 12)
    if fan.at < end:
        picture.line("heavy", frame.x(fan.at), wall - 10, frame.x(fan.at), wall + 10)


def _towards(start: int, value: float, at: int, limit: float, end: int) -> tuple[int, float]:
    """Return where a line towards the limit stops: at the limit, or at the end of the picture."""
    if at <= end or at <= start:
        return max(at, start), limit
    return end, value + (limit - value) * (end - start) / (at - start)


def _wall(picture: Picture, wall: Wall, frame: _Frame) -> None:
    x0, x1, y = frame.time.x0, frame.time.x1, frame.y(wall.value)
    size = picture.size_of("tx-s")
    upper = wall.side == "upper"
    picture.rect("wallfill", x0, frame.top if upper else y, x1 - x0, (y - frame.top) if upper else frame.foot - y)
    picture.line("wallline", x0, y, x1, y)
    said = picture.wrap("tx-s", wall.text, x1 - x0 - 24)[0]
    wide = picture.width_of("tx-s", said) * 1.06
    at = max(y - 8, frame.top + size) if upper else min(y + size + 5, frame.foot - 5)
    picture.rect("sheetfill", x0 + 6, at - size, wide + 10, size + 5)
    picture.text("tx-s walltext", x0 + 11, at, said)


def _places(row: HistoryRow, frame: _Frame, size: float) -> list[float]:
    """Return where a note of two lines may stand, best first: at the foot, above it, at the top below a wall."""
    upper = [frame.y(one.value) for one in row.walls if one.side == "upper"]
    top = max([frame.top, *upper]) + 2 * size + 4
    foot = frame.foot - 14
    return [foot, *(y for y in (foot - 2 * size, top) if frame.top + 2 * size < y < foot - size)]


def _hides(row: HistoryRow, frame: _Frame, across: tuple[float, float], down: tuple[float, float]) -> int:
    """Return how many points at like load a note would stand on."""
    if row.points is None:
        return 0
    at, values = row.points
    shown = np.isfinite(values) & (at >= frame.time.start) & (at <= frame.time.end)
    xs, ys = frame.time.ats(at[shown]), frame.ys(values[shown])
    return int(((xs >= across[0]) & (xs <= across[1]) & (ys >= down[0]) & (ys <= down[1])).sum())


def _changes(picture: Picture, row: HistoryRow, frame: _Frame, zone: tzinfo) -> None:
    """Draw each change as a bar with its middle on the axis, and say it above where there is room."""
    taken: list[tuple[float, float, float]] = []
    size = picture.size_of("tx-s") + 2
    for one in row.changes:
        if not frame.time.start <= one.time <= frame.time.end:
            continue
        x = frame.x(one.time)
        a = frame.x(max(one.earliest, frame.time.start))
        b = frame.x(min(one.latest, frame.time.end))
        picture.rect("bar-l", a, frame.foot - 5, max(b - a, 3), 10)
        picture.line("heavy", x, frame.foot - 9, x, frame.foot + 9)
        lines = (one.text, day_said(one.time, zone))
        span = f"({span_said(one.earliest, one.latest, zone)})"
        if frame.time.x1 - frame.time.x0 > 500 and one.latest > one.earliest:
            lines = (one.text, f"{day_said(one.time, zone)} {span}")
        wide = max(picture.width_of("tx-b", lines[0]), picture.width_of("tx-s", lines[1]))
        begins = x + 6 if x + 6 + wide <= frame.time.x1 else x - 6 - wide
        if begins < frame.time.x0:
            continue
        free = [
            y
            for y in _places(row, frame, size)
            if not any(a < begins + wide + 8 and begins < b + 8 and abs(y - at) < 2 * size for a, b, at in taken)
        ]
        if not free:
            continue
        y = min(free, key=lambda at: _hides(row, frame, (begins - 2, begins + wide + 4), (at - 2 * size + 3, at + 4)))
        taken.append((begins, begins + wide, y))
        picture.line("dim dash", x, frame.foot - 9, x, y - 2 * size)
        picture.rect("sheetfill veil", begins - 2, y - 2 * size + 3, wide + 6, 2 * size + 1)
        picture.text("tx-b", begins, y - size, lines[0])
        picture.text("tx-s", begins, y, lines[1])
