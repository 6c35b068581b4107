"""One quantity by several methods: a lane for each on one axis, the one that is used marked, the others against it.

All values are in the unit that is shown; the texts come from the caller, so that no number is rounded twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from asfound.report.axis import (
    BAR,
    Band,
    Frame,
    Mark,
    State,
    Wall,
    draw_axis,
    draw_mark,
    draw_wall,
    draw_wanted,
    head_rows,
    lay,
)
from asfound.report.ink import Picture

INDENT = 24.0
"""Of the names, behind the tag of the method. [px]"""
LANE, PAPER_LANE, GAP = 25.0, 20.0, 9.0
TAG, CUT = 13.0, 4.5


@dataclass(frozen=True, slots=True)
class Lane:
    """One method, or one road to a quantity, with its marks."""

    title: str
    marks: tuple[tuple[State, Mark], ...]
    used: bool = False
    """The program goes on with this one: its tag is filled and its values stand as guides through all lanes."""
    clashes: bool = False
    """It does not agree with the one used."""
    text: str = ""
    """Behind the title, in small."""


@dataclass(slots=True)
class _Drawn:
    """A lane while it is laid out."""

    lane: Lane
    lines: list[tuple[str, str]] = field(default_factory=list)
    top: float = 0.0
    first: float = 0.0
    end: float = 0.0


def lanes(
    rows: Sequence[Lane],
    *,
    label: str,
    limit: Sequence[Wall] = (),
    wanted: Band | None = None,
    unit_words: str = "",
    zero: bool = False,
    whole: Band | None = None,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw a lane for each method on one axis.

    Parameters
    ----------
    rows : sequence of Lane
        In the order to be shown.
    label : str
        The sentence that says what it shows.
    limit : sequence of Wall
    wanted : Band or None
        Drawn as a bracket on the axis.
    unit_words : str
        Unit in words at the head of the axis.
    zero : bool
        The axis begins at nought.
    whole : Band or None
        The window, where the thing itself gives it: 0 to 100 per cent.
    width : float
        Of the picture, 200 at least. [px]
    """
    picture = Picture(max(width, 200.0), 10, label=label, paper=paper)
    frame = lay(
        picture, [mark for row in rows for _, mark in row.marks], walls=limit, wanted=wanted, zero=zero, whole=whole
    )
    head_of = head_rows(picture, limit, unit_words, frame)
    head = head_of * (picture.size_of("tx-s") + 3.5) + (4 if head_of else 0)
    placed, floor_y = _placed(picture, rows, head, limit)
    for wall in limit:
        draw_wall(picture, wall, frame, head, floor_y)
    if wanted is not None:
        draw_wanted(picture, wanted, frame, floor_y)
    _guides(picture, placed, frame)
    picture.height = draw_axis(picture, frame, floor_y)
    tagged = any(row.used for row in rows)
    for one in placed:
        _draw(picture, one, frame, tagged=tagged)
    return picture.svg()


def _placed(picture: Picture, rows: Sequence[Lane], head: float, walls: Sequence[Wall]) -> tuple[list[_Drawn], float]:
    """Return each lane with its place, and where the axis lies. Names stand left of a wall's hatch."""
    step = PAPER_LANE if picture.paper else LANE
    line = picture.size_of("tx-b") + 4
    room = picture.width - INDENT - (26 if any(row.clashes for row in rows) else 0)
    room -= 0.2 * picture.width if walls else 0
    y, placed = head, []
    for row in rows:
        one = _Drawn(row, _lines(picture, row, room), top=y)
        one.first = y + line * len(one.lines) + 3 + step / 2
        one.end = one.first + step * (len(row.marks) - 1) + step / 2
        y = one.end + GAP
        placed.append(one)
    return placed, y - GAP + 5


def _lines(picture: Picture, row: Lane, room: float) -> list[tuple[str, str]]:
    """Return the lines of a lane's head: title, and the small text behind it where both fit on one line."""
    bold = "tx-b" if row.used else "tx"
    title = picture.wrap("tx-b", row.title, room) if row.title else []
    lines = [(bold, one) for one in title]
    if row.text:
        lines += [("tx-s", one) for one in picture.wrap("tx-s", row.text, room)]
    return lines


def _guides(picture: Picture, placed: Sequence[_Drawn], frame: Frame) -> None:
    """Lead the values of the method used through all lanes, so that the eye sees who lies beside it."""
    if len(placed) < 2:
        return
    values = {mark.value for one in placed if one.lane.used for _, mark in one.lane.marks}
    for value in sorted(values):
        x = frame.at(value)
        for one in placed:
            picture.line("guide dash", x, one.first - BAR, x, one.end)


def _draw(picture: Picture, one: _Drawn, frame: Frame, *, tagged: bool) -> None:
    step = PAPER_LANE if picture.paper else LANE
    line = picture.size_of("tx-b") + 4
    if one.lines:
        indent = INDENT if tagged else 0.0
        if tagged:
            _tag(picture, 1, one.top + 2, used=one.lane.used)
        for i, (kind, text) in enumerate(one.lines):
            picture.text(kind, indent, one.top + line * (i + 1) - 5, text)
        if one.lane.clashes:
            first = one.lines[0]
            x = indent + picture.width_of("tx-b", first[1]) + 8
            _struck(picture, x, one.top + line / 2 - 1)
    for i, (state, mark) in enumerate(one.lane.marks):
        draw_mark(picture, state, mark, frame, one.first + i * step)


def _tag(picture: Picture, x: float, y: float, *, used: bool) -> None:
    """Draw a method as the thing it is: a square with one corner cut, filled when it is the one used."""
    path = f"M {x + CUT:.1f},{y:.1f} H {x + TAG:.1f} V {y + TAG:.1f} H {x:.1f} V {y + CUT:.1f} Z"
    picture.path("chosenfill" if used else "inkf", path)


def _struck(picture: Picture, x: float, y: float) -> None:
    """Draw the sign of what does not agree: equals, struck."""
    picture.path(
        "s-clash",
        f"M {x:.1f},{y - 3:.1f} h 15 M {x:.1f},{y + 2.5:.1f} h 15 M {x + 11:.1f},{y - 8:.1f} l -7,16",
    )
