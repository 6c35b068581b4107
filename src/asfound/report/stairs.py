"""Amounts that follow one another along one axis: rating steps from plate to site, and where the heat of the fuel goes.

A row's line begins where the line above it ended; ring or disc with its doubt stands at its end. All values are in the
unit that is shown; the texts come from the caller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asfound.report.axis import Band, Frame, Mark, State, draw_axis, draw_mark, lay
from asfound.report.ink import Picture

LANE, PAPER_LANE, GAP = 23.0, 19.0, 9.0
COLUMN, BESIDE = 270.0, 600.0
"""Widest column of names, and the width of a picture from which on they stand beside their lines. [px]"""
BRACKET = 11.0
"""Room for a published range below a row. [px]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One amount of one state: from where the one before ended to its own end."""

    state: State
    start: float
    end: Mark
    """Ends of its bar counted like its value, from the axis' nought."""


@dataclass(frozen=True, slots=True)
class Stair:
    """One row: what it is, and its amounts."""

    title: str
    stretches: tuple[Stretch, ...]
    text: str = ""
    """Amounts in words."""
    usual: Band | None = None
    """Where the end usually lies, by published figures: a bracket below the row."""
    strong: bool = False
    dashed: bool = False
    """Left over, not measured."""
    marked: bool = True
    """Ring or disc at the end; False for a step on the way whose doubt is not told apart."""
    wall: bool = False
    """Its value is a limit: a wall from here down, the side above it hatched."""


@dataclass(slots=True)
class _Placed:
    """A row while it is laid out."""

    row: Stair
    lines: list[tuple[str, str]]
    """Class and text."""
    top: float
    first: float
    """Height of its first lane."""
    end: float


def stairs(
    rows: Sequence[Stair],
    *,
    label: str,
    unit_words: str = "",
    whole: Band | None = None,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw amounts one after the other along one axis.

    Parameters
    ----------
    rows : sequence of Stair
        From above.
    label : str
        The sentence that says what it shows.
    unit_words : str
        Unit in words at the head of the axis.
    whole : Band or None
        The window, where the thing itself gives it: 0 to 100 per cent.
    width : float
        Of the picture, 240 at least. From `BESIDE` on the names stand left of their lines, else above them. [px]
    """
    picture = Picture(max(width, 240.0), 10, label=label, paper=paper)
    column = _column(picture, rows)
    frame = _frame(picture, rows, column, whole)
    size = picture.size_of("tx-s")
    head = size + 7 if unit_words else 0.0
    if unit_words:
        picture.text("tx-s", column, size, unit_words)
    placed = _placed(picture, rows, column, head)
    floor_y = placed[-1].end + 3 if placed else head
    _walls(picture, placed, frame, beside=column > 0)
    _falls(picture, placed, frame, beside=column > 0)
    picture.height = draw_axis(picture, frame, floor_y)
    for one in placed:
        _row(picture, one, frame)
    return picture.svg()


def _column(picture: Picture, rows: Sequence[Stair]) -> float:
    """Return how wide the column of names is; nought where they stand above their lines."""
    if picture.width < BESIDE:
        return 0.0
    words = [("tx-b", row.title) for row in rows] + [("tx-s", row.text) for row in rows]
    return min(max((picture.width_of(kind, text) for kind, text in words), default=0.0), COLUMN) + 20


def _frame(picture: Picture, rows: Sequence[Stair], column: float, whole: Band | None) -> Frame:
    marks = [one.end for row in rows for one in row.stretches]
    marks += [Mark(one.start) for row in rows for one in row.stretches]
    marks += [Mark(row.usual.low, row.usual.low, row.usual.high) for row in rows if row.usual is not None]
    room = Picture(picture.width - column, 10, label="", paper=picture.paper)
    inside = lay(room, marks, whole=whole)
    return Frame(inside.axis, inside.x0 + column, inside.x1 + column)


def _placed(picture: Picture, rows: Sequence[Stair], column: float, head: float) -> list[_Placed]:
    step, line = _step(picture), _line(picture)
    y, placed = head, []
    for row in rows:
        lanes = step * len(row.stretches) + (BRACKET if row.usual else 0)
        if column:
            lines = _lines(picture, row, column - 16)
            high = max(lanes, line * len(lines))
            first = y + (high - lanes) / 2 + step / 2
        else:
            lines = _lines(picture, row, picture.width - 2)
            high = lanes + line * len(lines) + 2
            first = y + line * len(lines) + 2 + step / 2
        placed.append(_Placed(row, lines, y, first, y + high))
        y += high + GAP
    return placed


def _step(picture: Picture) -> float:
    return PAPER_LANE if picture.paper else LANE


def _line(picture: Picture) -> float:
    return picture.size_of("tx-b") + 4


def _lines(picture: Picture, row: Stair, room: float) -> list[tuple[str, str]]:
    """Return class and text of the lines of a head."""
    title = [("tx-b" if row.strong else "tx", one) for one in picture.wrap("tx-b", row.title, room)]
    return [*title, *(("tx-s", one) for one in picture.wrap("tx-s", row.text, room) if one)]


def _walls(picture: Picture, placed: Sequence[_Placed], frame: Frame, *, beside: bool) -> None:
    """Draw the limit of a row from there down; only the lanes are hatched, so that words stay clear."""
    step = _step(picture)
    for i, one in enumerate(placed):
        if not one.row.wall:
            continue
        x = frame.at(one.row.stretches[0].end.value)
        y = one.first
        for below in placed[i + 1 :]:
            top = below.first - step / 2
            if not beside and _in_the_way(picture, below, x):
                picture.line("wallline", x, y, x, one.end if y == one.first else y)
                y = top
            picture.rect("wallfill", x, top, frame.x1 - x, below.end - top)
            picture.line("wallline", x, y, x, below.end)
            y = below.end


def _in_the_way(picture: Picture, one: _Placed, x: float) -> bool:
    """Whether a row's words above its lanes stand at ``x``."""
    return x < 4 + max((picture.width_of(kind, text) for kind, text in one.lines), default=0.0)


def _falls(picture: Picture, placed: Sequence[_Placed], frame: Frame, *, beside: bool) -> None:
    """Lead the end of each amount down to where the next of its state begins, past the words that stand between."""
    step = _step(picture)
    for i, one in enumerate(placed):
        for k, stretch in enumerate(one.row.stretches):
            following = [
                (n, m)
                for n, below in enumerate(placed[i + 1 :], i + 1)
                for m, other in enumerate(below.row.stretches)
                if other.state == stretch.state
            ]
            if one.row.wall or not following:
                continue
            last, lane = following[0]
            x, y = frame.at(stretch.end.value), one.first + k * step
            for passed in placed[i + 1 : last + 1]:
                if not beside and _in_the_way(picture, passed, x):
                    picture.line("guide dash", x, y, x, passed.top)
                    y = passed.first - step / 2
            picture.line("guide dash", x, y, x, placed[last].first + lane * step)


def _row(picture: Picture, one: _Placed, frame: Frame) -> None:
    line, step, row = _line(picture), _step(picture), one.row
    for i, (kind, text) in enumerate(one.lines):
        picture.text(kind, 0, one.top + line * (i + 1) - 5, text)
    for i, stretch in enumerate(row.stretches):
        y = one.first + i * step
        a, b = frame.at(stretch.start), frame.at(stretch.end.value)
        kind = "stretch-l" if stretch.state == "left" else "stretch-f"
        if abs(b - a) > 0.5:
            picture.line(f"{kind} dash" if row.dashed else kind, a, y, b, y)
        if row.marked:
            draw_mark(picture, stretch.state, stretch.end, frame, y)
        else:
            picture.line("heavy", b, y - 7, b, y + 7)
    if row.usual is not None:
        y = one.first + (len(row.stretches) - 0.5) * step + BRACKET - 4
        a, b = frame.at(row.usual.low), frame.at(row.usual.high)
        picture.path("heavy", f"M {a:.1f},{y - 6:.1f} V {y:.1f} H {b:.1f} V {y - 6:.1f}")
