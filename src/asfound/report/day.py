"""The day of a visit as a line: what was done, in order, to the end of the permit to work."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from asfound.report.ink import Picture

HOURS = (1, 2, 3, 4, 6, 12, 24, 48, 96)


@dataclass(frozen=True, slots=True)
class DayEvent:
    """Something that happened at one moment."""

    at: datetime
    text: str


@dataclass(frozen=True, slots=True)
class DaySpan:
    """A stretch of time: on site, the as-found set, the as-left set, the engine standing."""

    start: datetime
    end: datetime
    kind: Literal["on_site", "found", "left", "stopped"]
    text: str = ""


@dataclass(frozen=True, slots=True)
class _Flag:
    at: float
    lines: tuple[str, ...]
    start: float
    end: float
    wall: bool
    row: int = 0


_SPANS = {"on_site": "p-track", "found": "bar-f", "left": "bar-l", "stopped": "bar-g"}
BAND = 44.0


def day_line(
    *,
    label: str,
    start: datetime,
    end: datetime,
    now: datetime | None = None,
    events: Sequence[DayEvent] = (),
    spans: Sequence[DaySpan] = (),
    wall: DayEvent | None = None,
    width: float = 740,
    paper: bool = False,
) -> str:
    """Draw the day: spans as bands, events as upright lines with their words, the permit's end as a wall.

    Parameters
    ----------
    start, end : datetime
        Ends of the axis; all times share one zone. What lies outside is held at the end.
    now : datetime or None
        A caret under the axis; None for a day that is over.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    if end <= start:
        end = start + timedelta(hours=1)
    x0, x1 = 14.0, width - 14.0
    whole = (end - start).total_seconds()

    def at(moment: datetime) -> float:
        return x0 + min(max((moment - start).total_seconds() / whole, 0.0), 1.0) * (x1 - x0)

    flags = _rows(
        [
            *(_flag(picture, e, at(e.at), False) for e in events),
            *([_flag(picture, wall, at(wall.at), True)] if wall else []),
        ]
    )
    line = picture.size_of("tx-s") + 4
    head = 4 + line * max((f.row + len(f.lines) for f in flags), default=0)
    top, floor_y = head + 6, head + 6 + BAND
    for span in sorted(spans, key=lambda s: (s.kind != "on_site", s.start)):
        _span(picture, span, at(span.start), at(span.end), top)
    if wall is not None:
        picture.rect("wallfill", at(wall.at), top, x1 + 6 - at(wall.at), BAND)
    picture.line("axisline", x0, floor_y, x1, floor_y)
    for flag in flags:
        picture.line(
            "wallline" if flag.wall else "heavy", flag.at, head - line * flag.row - line * 0.8, flag.at, floor_y
        )
    for flag in flags:
        _words(picture, flag, head, line)
    _hours(picture, start, end, at, floor_y)
    picture.height = floor_y + 11 + picture.size_of("tx-s")
    if now is not None and start <= now <= end:
        _now(picture, at(now), f"now {now:%H:%M}", top, floor_y)
    return picture.svg()


def _flag(picture: Picture, event: DayEvent, x: float, wall: bool) -> _Flag:
    """Put the words right of their line, or left of it where the picture ends."""
    kind = "tx-b" if wall else "tx-s"
    wide = picture.width_of(kind, event.text)
    if not wall and x + 6 + wide <= picture.width:
        return _Flag(x, (event.text,), x + 6, x + 6 + wide, wall)
    if x - 6 - wide >= 0:
        return _Flag(x, (event.text,), x - 6 - wide, x - 6, wall)
    right = x < picture.width / 2
    room = (picture.width - x - 6) if right else x - 6
    lines = tuple(picture.wrap(kind, event.text, room))
    wide = max(picture.width_of(kind, one) for one in lines)
    return _Flag(x, lines, x + 6 if right else x - 6 - wide, x + 6 + wide if right else x - 6, wall)


def _rows(flags: Sequence[_Flag]) -> list[_Flag]:
    """Lift words so that none lies on other words or on another line; the last event stands lowest.

    Several orders of placing are tried; the lowest picture in which all lines pass beside all words wins.
    """
    orders: tuple[Callable[[_Flag], tuple[float, ...]], ...] = (
        lambda f: (-f.at,),
        lambda f: (f.end <= f.at, -f.at),
        lambda f: (f.end <= f.at, -f.at if f.end > f.at else f.at),
        lambda f: (f.at,),
    )
    tries = [_stack(sorted(flags, key=order)) for order in orders]
    best = min(tries, key=lambda t: (t[1], max((f.row + len(f.lines) for f in t[0]), default=0)))
    return sorted(best[0], key=lambda f: f.at)


def _stack(flags: Sequence[_Flag]) -> tuple[list[_Flag], int]:
    """Return the flags with their rows, and how many lines had to pass behind words."""
    placed: list[_Flag] = []
    crossed = 0
    for flag in flags:
        row = next((r for r in range(40) if not any(_meet(flag, r, other) for other in placed)), None)
        if row is None:
            crossed += 1
            row = max(other.row + len(other.lines) for other in placed)
        placed.append(_Flag(flag.at, flag.lines, flag.start, flag.end, flag.wall, row))
    return placed, crossed


def _meet(flag: _Flag, row: int, other: _Flag) -> bool:
    above = row >= other.row + len(other.lines)
    below = row + len(flag.lines) <= other.row
    words = flag.start < other.end + 8 and other.start < flag.end + 8 and not (above or below)
    # a line stands from the band up to its own words: words over a line must be above that line's top
    over_line = flag.start - 3 < other.at < flag.end + 3 and row < other.row + 1
    under_line = other.start - 3 < flag.at < other.end + 3 and other.row < row + 1
    return words or over_line or (under_line and row > other.row)


def _words(picture: Picture, flag: _Flag, head: float, line: float) -> None:
    for i, one in enumerate(reversed(flag.lines)):
        y = head - line * (flag.row + i) - 3
        kind = "tx-s walltext" if flag.wall else "tx-s"
        if flag.end <= flag.at:
            picture.text(f"{kind} e", flag.end, y, one)
        else:
            picture.text(kind, flag.start, y, one)


def _span(picture: Picture, span: DaySpan, a: float, b: float, top: float) -> None:
    picture.rect(_SPANS[span.kind], a, top, max(b - a, 2), BAND)
    if span.text and picture.width_of("tx", span.text) + 2 <= b - a:
        picture.text("tx m", (a + b) / 2, top + BAND / 2 + 5, span.text)


def _hours(picture: Picture, start: datetime, end: datetime, at: Callable[[datetime], float], y: float) -> None:
    hours = (end - start).total_seconds() / 3600
    days = hours > 30
    wide = picture.width_of("tx-s", "28 Sept." if days else "00") + 12
    step = next((s for s in HOURS if hours / s * wide <= picture.width - 28 and (s >= 24 or not days)), None)
    step = step or max(HOURS[-1], int(hours * wide / max(picture.width - 28, 1)) // 24 * 24 + 24)
    moment = start.replace(minute=0, second=0, microsecond=0)
    if days:
        moment = moment.replace(hour=0)
    while moment <= end:
        on_step = (moment.hour % step == 0) if step < 24 else True
        if moment >= start and on_step:
            picture.line("axisline", at(moment), y, at(moment), y + 6)
            text = f"{moment.day} {moment:%b}" if days else f"{moment:%H}"
            half = picture.width_of("tx-s", text) / 2
            if half <= at(moment) <= picture.width - half:
                picture.text("tx-s m", at(moment), y + 8 + picture.size_of("tx-s"), text)
        moment += timedelta(hours=step if step >= 24 else 1)


def _now(picture: Picture, x: float, text: str, top: float, floor_y: float) -> None:
    y = floor_y + 32 + picture.size_of("tx-s")
    picture.path("heavy", f"M {x:.1f},{top:.1f} V {floor_y:.1f}")
    picture.path("heavy", f"M {x - 7:.1f},{y - 10:.1f} L {x:.1f},{y - 17:.1f} L {x + 7:.1f},{y - 10:.1f}")
    half = picture.width_of("tx-b", text) / 2
    picture.text("tx-b m", min(max(x, half + 1), picture.width - half - 1), y + 6, text)
    picture.height = y + 12
