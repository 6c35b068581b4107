"""How belief moved: a line for each cause over the steps, each step one thing that was said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from asfound.report.bars import Rank
from asfound.report.belief_fork import in_100
from asfound.report.ink import Picture, points
from asfound.report.spread import spread
from asfound.report.ticks import choose

PLOT, PAPER_PLOT = 236.0, 150.0
DOT = 4.2
LEFT = 40.0
MOST_LINES = 3
"""A name below the axis takes so many lines at most; where one takes more, all steps are numbered."""
LEAST_PITCH = 74.0
"""Names stand below the axis only where the steps are so far apart. [px]"""


@dataclass(frozen=True, slots=True)
class Line:
    """A cause with its chance after each step, the start first."""

    title: str
    values: tuple[float, ...]
    rank: Rank


def belief_steps(
    lines: Sequence[Line], steps: Sequence[str], *, label: str, width: float = 820, paper: bool = False
) -> str:
    """Draw how belief moved, with the names of the causes at the ends of their lines.

    Parameters
    ----------
    lines : sequence of Line
        Four at most can be told apart; the first is drawn last, over the others.
    steps : sequence of str
        What was said at each step, the start first: as many as there are values.
    label : str
        The sentence that says what it shows.
    width : float
        Of the picture, 280 at least. [px]
    """
    picture = Picture(max(width, 280.0), 10, label=label, paper=paper)
    column = _column(picture, lines)
    x0, x1 = LEFT, picture.width - column
    named = sum(len(_wrapped(picture, one, x1)) * _line(picture) + 5 for one in lines)
    plot = max(PAPER_PLOT if paper else PLOT, named)
    size = picture.size_of("tx-s")
    top = size + 12
    bottom = top + plot
    highest = max((max(one.values) for one in lines), default=0.0)
    axis = choose(0.0, min(max(110 * highest, 20.0), 100.0), room=plot, measure=lambda _: size)

    def at(value: float) -> float:
        return bottom - 100 * value / (axis.high or 1.0) * plot

    picture.text("tx-s", 0, size, "in 100")
    for tick in axis.ticks:
        y = bottom - tick / (axis.high or 1.0) * plot
        picture.line("rule", x0, y, x1, y)
        picture.text("tx-s e", x0 - 8, y + size * 0.35, axis.words(tick))
    where = [x0 + 8 + i * (x1 - x0 - 16) / max(len(steps) - 1, 1) for i in range(len(steps))]
    picture.height = _steps(picture, steps, where, bottom, x1)
    for one in reversed(lines):
        pairs = [(x, at(value)) for x, value in zip(where, one.values, strict=True)]
        picture.path(f"bl-{one.rank}", points(pairs))
        for x, y in pairs:
            picture.circle(f"bd-{one.rank}", x, y, DOT if len(pairs) < 30 else DOT * 0.7)
    _names(picture, lines, [at(one.values[-1]) for one in lines], where[-1], x1, top, bottom)
    return picture.svg()


def _said(one: Line) -> str:
    return f"{one.title}  {in_100(one.values[-1])}"


def _wrapped(picture: Picture, one: Line, x: float) -> list[str]:
    return picture.wrap("tx-b", _said(one), picture.width - x - 14)


def _line(picture: Picture) -> float:
    return picture.size_of("tx-b") + 3


def _column(picture: Picture, lines: Sequence[Line]) -> float:
    """Return the room for the names at the ends of the lines."""
    widest = max((picture.width_of("tx-b", _said(one)) for one in lines), default=0.0) + 2
    return min(widest, picture.width * (0.36 if picture.width >= 560 else 0.44)) + 16


def _steps(picture: Picture, steps: Sequence[str], where: Sequence[float], bottom: float, end: float) -> float:
    """Write the steps below the axis, by name where all names find room, else by number; return the lowest edge."""
    size = picture.size_of("tx-s")
    line = size + 3
    pitch = where[1] - where[0] if len(where) > 1 else end - where[0]
    rooms = [pitch / 2 + 3, *[pitch - 10] * (len(steps) - 1)]  # the first begins at its mark, the others lie about it
    wrapped = [picture.wrap("tx-s", one, room) for one, room in zip(steps, rooms, strict=True)]
    named = pitch >= LEAST_PITCH and all(len(one) <= MOST_LINES for one in wrapped)
    whole = (
        word
        for one, room in zip(steps, rooms, strict=True)
        for word in one.split()
        if picture.width_of("tx-s", word) > room
    )
    named = named and not any(whole)
    every = max(1, -(-24 // max(int(pitch), 1)))
    for i, x in enumerate(where):
        picture.line("axisline", x, bottom, x, bottom + 6)
        if named:
            for k, text in enumerate(wrapped[i]):
                kind, at = ("tx-s", where[0] - 8) if i == 0 else ("tx-s m", x)
                picture.text(kind, at, bottom + 8 + size + k * line, text)
        elif i % every == 0:
            picture.text("tx-s m", x, bottom + 8 + size, str(i))
    picture.line("axisline", where[0] - 8, bottom, end, bottom)
    rows = max((len(one) for one in wrapped), default=1) if named else 1
    return bottom + 8 + size + (rows - 1) * line + 6


def _names(
    picture: Picture, lines: Sequence[Line], ends: Sequence[float], last: float, x: float, top: float, bottom: float
) -> None:
    """Write each name beside the end of its line, spread so that none touch; a moved one is led to its line."""
    line = _line(picture)
    order = sorted(range(len(lines)), key=lambda i: (ends[i], i))
    wrapped = {i: _wrapped(picture, lines[i], x) for i in order}
    high = [line * len(wrapped[i]) for i in order]
    gaps = [(a + b) / 2 + 5 for a, b in pairwise(high)]
    low = top - 6 + (high[0] / 2 if high else 0.0)
    placed = spread([ends[i] for i in order], gaps, low, max(bottom + 4 - (high[-1] / 2 if high else 0.0), low))
    for i, y, tall in zip(order, placed, high, strict=True):
        picture.line("guide", last + DOT + 3, ends[i], x + 8, y)
        for k, text in enumerate(wrapped[i]):
            kind = "tx-b" if lines[i].rank == "lead" else "tx"
            picture.text(kind, x + 12, y - tall / 2 + line * (k + 1) - 4, text)
