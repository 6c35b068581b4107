"""Rows on one time axis: the frame that they share, its ticks, and the lane of visits and events."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from asfound.quantities.typing import Array
from asfound.report.ink import Picture
from asfound.report.time_axis import time_ticks

LEFT, RIGHT = 58.0, 12.0
"""Room for the numbers of the value axis, and at the end. [px]"""
LANE = 34.0
EventKind = Literal["visit", "work", "trip", "flood", "start", "planned"]


@dataclass(frozen=True, slots=True)
class TimeFrame:
    """A time axis laid on a picture. [us UTC, px]"""

    start: int
    end: int
    x0: float
    x1: float

    def at(self, time: float) -> float:
        """Return where a time stands; what lies outside stands at the end."""
        share = (time - self.start) / (self.end - self.start)
        return self.x0 + min(max(share, 0.0), 1.0) * (self.x1 - self.x0)

    def ats(self, times: NDArray[np.int64]) -> Array:
        """Return where times stand."""
        share = (times - self.start) / (self.end - self.start)
        found: Array = self.x0 + np.clip(share, 0.0, 1.0) * (self.x1 - self.x0)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened: a mark on the lane under the rows."""

    kind: EventKind
    time: int
    end: int | None = None
    text: str = ""


def draw_time_axis(picture: Picture, frame: TimeFrame, foot: float, zone: tzinfo = UTC) -> float:
    """Draw the ticks under a plot, and return where the picture ends below them. [px]"""
    size = picture.size_of("tx-s")
    ticks = time_ticks(
        frame.start, frame.end, room=frame.x1 - frame.x0, measure=lambda text: picture.width_of("tx-s", text), zone=zone
    )
    if not picture.paper:
        picture.open("g", kind="mw")
    for tick in ticks:
        x = frame.at(tick.time)
        picture.line("axisline", x, foot, x, foot + 6)
        wide = picture.width_of("tx-s", tick.text)
        end = x + 3 + wide > picture.width
        picture.text("tx-s e" if end else "tx-s", picture.width - 1 if end else x + 3, foot + 7 + size, tick.text)
    if not picture.paper:
        picture.close("g")
    return foot + size + 13


def history_events(
    events: Sequence[Event],
    *,
    start: int,
    end: int,
    label: str,
    gaps: Sequence[tuple[int, int]] = (),
    width: float = 900,
    left: float = LEFT,
    paper: bool = False,
) -> str:
    """Draw visits as ring and disc, work as tags, trips as octagons, floods as bars, starts as ticks, on one line."""
    picture = Picture(width, 10, label=label, paper=paper, classes="" if paper else "tl-svg")
    frame = TimeFrame(start, end, left, width - RIGHT)
    y, size = 17.0, picture.size_of("tx-s")
    if not paper:
        wide, high = f"{frame.x1 - left + 18:.0f}", f"{LANE + 2 * size:.0f}"
        box: dict[str, Any] = {"x": f"{left - 9:.0f}", "y": "0", "width": wide, "height": high}
        picture.open("svg", viewBox=" ".join(box.values()), kind="tl-clip", **box)
        picture.open("g", kind="mv")
    for first, last in gaps:
        if last > start and first < end and frame.at(last) - frame.at(first) >= 1:
            picture.rect("tl-gap", frame.at(first), 4, frame.at(last) - frame.at(first), 26)
    picture.line("ink", frame.x0, y, frame.x1, y)
    order = {"start": 0, "work": 1, "flood": 2, "trip": 3, "visit": 4, "planned": 5}
    inside = [one for one in events if start <= one.time <= end or (one.end and one.time < start < one.end)]
    for one in sorted(inside, key=lambda each: order[each.kind]):
        _mark(picture, one, frame, y)
    _names(picture, inside, frame, y)
    if not paper:
        picture.close("g")
        picture.close("svg")
    picture.height = LANE + size + 4
    return picture.svg()


def _mark(picture: Picture, one: Event, frame: TimeFrame, y: float) -> None:
    x = frame.at(one.time)
    if one.kind == "visit":
        picture.circle("ring", x, y, 7.5)
        picture.circle("tl-disc", x, y, 3.2)
    elif one.kind == "trip":
        h, c = 7.0, 2.9
        corners = [(-c, -h), (c, -h), (h, -c), (h, c), (c, h), (-c, h), (-h, c), (-h, -c)]
        picture.path("s-stop", "M " + " L ".join(f"{x + a:.1f},{y + b:.1f}" for a, b in corners) + " Z")
        picture.path("s-on tl-thin", f"M {x - 3.6:.1f},{y:.1f} h 7.2")
    elif one.kind == "flood":
        wide = max(frame.at(one.end or one.time) - x, 3.0)
        picture.rect("bar-o", x, y - 6, wide, 12)
    elif one.kind == "work":  # a thing: the tag with its cut corner
        picture.path("tl-work", f"M {x - 5:.1f},{y - 5:.1f} h 7 l 3,3 v 7 h -10 Z")
    elif one.kind == "start":
        picture.line("tl-start", x, y - 7, x, y)
    else:
        picture.path("inkf", f"M {x:.1f},{y - 8:.1f} l 8,8 -8,8 -8,-8 Z")


def _names(picture: Picture, events: Sequence[Event], frame: TimeFrame, y: float) -> None:
    """Write names under the marks, visits first, as many as stand clear of each other."""
    size = picture.size_of("tx-s")
    taken: list[tuple[float, float]] = []
    first = {"visit": 0, "planned": 1, "trip": 2, "work": 3, "flood": 4, "start": 5}
    for one in sorted(events, key=lambda each: (first[each.kind], -each.time)):
        if not one.text:
            continue
        wide = picture.width_of("tx-s", one.text)
        x = min(max(frame.at(one.time), frame.x0 + wide / 2 - 8), frame.x1 - wide / 2 + 8)
        if all(x + wide / 2 + 8 < a or x - wide / 2 - 8 > b for a, b in taken):
            taken.append((x - wide / 2, x + wide / 2))
            picture.text("tx-s m", x, y + 10 + size, one.text)
