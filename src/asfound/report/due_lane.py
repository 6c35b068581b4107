"""Lanes of the due list on one ruler: when each task falls due, with its doubt, and the stops that serve it.

Places are per cent of the lane's width, so that one drawing fits every column and its text keeps its size; on paper the
width is given. A bar holds the due day 95 times in 100, the upright mark is the day expected, the hatched wall is the
end of the grace. A dashed line through all lanes is a stop; a disc on it says that the stop serves this task.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from asfound.language import told
from asfound.report.ink import number, text_width
from asfound.report.paper import paper_style
from asfound.report.ruler import month_starts

HIGH, PAPER_HIGH = 40.0, 22.0
HATCH = 13.0
EDGE, PAPER_EDGE = 0.02, 0.05
"""Share of the width kept free at either end, so that a mark on today is whole. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One task on the ruler; days that are None are not drawn."""

    day: date | None
    earliest: date | None = None
    latest: date | None = None
    wall: date | None = None
    """End of the grace, or of the interval where there is none."""
    limit: bool = False
    """A condition or a permit asks for it."""
    stop: int | None = None
    """Which of the stops serves it, from 0."""


@dataclass(frozen=True, slots=True)
class _Scale:
    start: date
    days: int
    width: float

    def share(self, day: date) -> float:
        part = min(max((day - self.start).days / self.days, 0.0), 1.0)
        edge = PAPER_EDGE if self.width else EDGE
        return edge + part * (1 - 2 * edge)

    def at(self, day: date) -> str:
        return self.said(self.share(day))

    def said(self, share: float) -> str:
        return number(share * self.width) if self.width else f"{100 * share:.2f}%"


def due_head(
    start: date, stops: Sequence[date], *, days: int = 90, label: str = "", width: float = 0.0, paper: bool = False
) -> str:
    """Draw the head of the ruler: today, the months, and the numbers of the stops."""
    scale = _Scale(start, days, width if paper else 0.0)
    high = 48.0 if stops else 26.0
    parts = [f'<line class="axisline" x1="0" x2="{scale.said(1.0)}" y1="{number(high - 1)}" y2="{number(high - 1)}"/>']
    taken: list[tuple[float, float]] = []
    room = width if paper else 300.0  # the narrowest column that it is shown in
    for day, word in [(start, "today"), *month_starts(start, days)]:
        text = told(word)
        share, wide = scale.share(day), text_width(text, 14.5) / room
        end = share + wide > 0.99
        left = share - wide if end else share
        if any(left < b and a < left + wide for a, b in taken):
            continue
        taken.append((left, left + wide + 0.02))
        anchor = ' text-anchor="end"' if end else ""
        parts.append(f'<text class="tx-s" x="{scale.said(share)}" y="14"{anchor}>{escape(text)}</text>')
        x = scale.at(day)
        parts.append(f'<line class="axisline" x1="{x}" x2="{x}" y1="18" y2="{number(high - 1)}"/>')
    last = -1.0
    for i, day in enumerate(stops):
        share = max(scale.share(day), last + 22 / room)
        last = share
        parts.append(
            f'<circle class="stopno" cx="{scale.said(min(share, 1 - 10 / room))}" cy="34" r="10.5"/>'
            f'<text class="tx-s m stopnot" x="{scale.said(min(share, 1 - 10 / room))}" y="39" text-anchor="middle">'
            f"{i + 1}</text>"
        )
    return _svg(parts, high, label, width, paper)


def due_lane(
    lane: Lane,
    start: date,
    stops: Sequence[date],
    *,
    days: int = 90,
    label: str = "",
    width: float = 0.0,
    paper: bool = False,
) -> str:
    """Draw one task.

    Parameters
    ----------
    lane : Lane
    start : date
        The left end: today.
    stops : sequence of date
        Days of the stops, in order.
    width : float
        On paper. [px]
    """
    scale = _Scale(start, days, width if paper else 0.0)
    high = PAPER_HIGH if paper else HIGH
    middle = high / 2
    parts = []
    for day, _ in month_starts(start, days):
        x = scale.at(day)
        parts.append(f'<line class="rule" x1="{x}" x2="{x}" y1="0" y2="{number(high)}"/>')
    for i, day in enumerate(stops):
        x, kind = scale.at(day), "stopline" if i == lane.stop else "guide dash"
        parts.append(f'<line class="{kind}" x1="{x}" x2="{x}" y1="0" y2="{number(high)}"/>')
    end = start + timedelta(days=days)
    if lane.day is not None and (lane.earliest or lane.day) <= end:
        parts += _due(lane, scale, middle, start, end)
    if lane.stop is not None:
        parts.append(f'<circle class="disc" cx="{scale.at(stops[lane.stop])}" cy="{number(middle)}" r="7.5"/>')
    return _svg(parts, high, label, width, paper)


def _due(lane: Lane, scale: _Scale, middle: float, start: date, end: date) -> list[str]:
    """Return bar, mark and wall of a task."""
    parts = []
    day = lane.day
    assert day is not None
    early, late = lane.earliest or day, lane.latest or lane.earliest or day
    wall = lane.wall
    if wall is not None and wall <= end:
        x = scale.at(max(wall, start))
        top, tall = number(middle - 13), "26"
        parts.append(f'<rect class="wallfill" x="{x}" y="{top}" width="{number(HATCH)}" height="{tall}"/>')
        parts.append(
            f'<line class="wallline" x1="{x}" x2="{x}" y1="{number(middle - 14)}" y2="{number(middle + 14)}"/>'
        )
        if wall > day:
            parts.append(
                f'<line class="guide" x1="{scale.at(max(day, start))}" x2="{x}" y1="{number(middle)}" '
                f'y2="{number(middle)}"/>'
            )
    if late > early:
        a, b = scale.share(early), scale.share(late)
        kind, wide = "bar-o" if lane.limit else "bar-g", scale.said(max(b - a, 0.004))
        parts.append(f'<rect class="{kind}" x="{scale.said(a)}" y="{number(middle - 6)}" width="{wide}" height="12"/>')
    if day <= end:
        x = scale.at(max(day, start))
        kind = "wallline" if lane.limit else "heavy"
        parts.append(f'<line class="{kind}" x1="{x}" x2="{x}" y1="{number(middle - 9)}" y2="{number(middle + 9)}"/>')
    return parts


def _svg(parts: Sequence[str], high: float, label: str, width: float, paper: bool) -> str:
    body = "".join(parts)
    said = f' role="img" aria-label="{escape(told(label))}"' if label else ' aria-hidden="true"'
    if paper:
        w, h = number(width), number(high)
        head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}"{said}>'
        return f"{head}{paper_style(body)}{body}</svg>"
    return f'<svg class="lanesvg" width="100%" height="{number(high)}"{said}>{body}</svg>'
