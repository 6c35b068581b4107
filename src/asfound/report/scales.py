"""One number on its scale: as found and as left in two lanes, doubt as bars, limits as hatched walls, the margin.

All values are in the unit that is shown; the texts come from the caller, so that no number is rounded twice.
"""

from __future__ import annotations

from collections.abc import Sequence

from asfound.report.axis import (
    DISC,
    RING,
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
from asfound.report.ticks import tick_text

LANE, PAPER_LANE = 26.0, 21.0


def scale(
    *,
    label: str,
    before: Mark | None = None,
    found: Mark | None = None,
    left: Mark | None = None,
    limit: Wall | Sequence[Wall] | None = (),
    wanted: Band | None = None,
    undecided: Band | None = None,
    unit_words: str = "",
    zero: bool = False,
    margin: str | bool = True,
    width: float = 340,
    paper: bool = False,
) -> str:
    """Draw a number as found and as left on one scale.

    Parameters
    ----------
    label : str
        The sentence that says what it shows.
    before, found, left : Mark or None
        Of the visit before, as found, as left. None: not taken, so there is no mark.
    limit : Wall, sequence of Wall or None
    wanted : Band or None
        Drawn as a bracket on the axis.
    undecided : Band or None
        About a limit: where the method itself does not decide; dotted ground.
    unit_words : str
        Unit in words at the head of the axis; empty where it stands beside the picture.
    zero : bool
        The axis begins at nought: where a ratio is read.
    margin : str or bool
        Text of the dimension between bar and nearest wall; True: worked out to the ticks' decimals; False: none.
    width : float
        Of the picture, 120 at least. [px]
    """
    walls = [limit] if isinstance(limit, Wall) else list(limit or ())
    picture = Picture(max(width, 120.0), 10, label=label, paper=paper)
    lanes = tuple((state, one) for state, one in _order(before, found, left) if one is not None)
    inside = [Mark(undecided.low, undecided.low, undecided.high)] if undecided is not None else []
    frame = lay(picture, [*(one for _, one in lanes), *inside], walls=walls, wanted=wanted, zero=zero)
    rows = head_rows(picture, walls, unit_words, frame)
    head = rows * (picture.size_of("tx-s") + 3.5) + (4 if rows else 3)
    lane = LANE if not paper else PAPER_LANE
    floor_y = head + 6 + max(1, len(lanes)) * lane
    for wall in walls:
        draw_wall(picture, wall, frame, head, floor_y)
    if undecided is not None:
        a, b = frame.at(undecided.low), frame.at(undecided.high)
        picture.rect("unsure", a, head + 1, b - a, floor_y - head - 1)
    if wanted is not None:
        draw_wanted(picture, wanted, frame, floor_y)
    picture.height = draw_axis(picture, frame, floor_y)
    ys = [head + 2 + lane / 2 + lane * i for i in range(len(lanes))]
    if lanes and margin is not False and walls:
        _margin(picture, lanes[-1][1], ys[-1], walls, frame, margin)
    if not walls:
        for (_, one), (_, two), y1, y2 in zip(lanes, lanes[1:], ys, ys[1:], strict=False):
            _connect(picture, frame.at(one.value), y1, frame.at(two.value), y2)
    for (state, one), y in zip(lanes, ys, strict=True):
        draw_mark(picture, state, one, frame, y)
    return picture.svg()


def _order(before: Mark | None, found: Mark | None, left: Mark | None) -> tuple[tuple[State, Mark | None], ...]:
    return (("before", before), ("found", found), ("left", left))


def _connect(picture: Picture, xf: float, yf: float, xl: float, yl: float) -> None:
    """Lead from one mark down and across to the next; where they stand above each other nothing needs to be said."""
    if abs(xl - xf) < DISC + 6:
        return
    tip = xl - DISC - 1 if xl > xf else xl + DISC + 1
    back = -6 if xl > xf else 6
    picture.path("thin", f"M {xf:.1f},{yf + RING + 1.6:.1f} V {yl:.1f} H {tip:.1f}")
    picture.path("thin", f"M {tip + back:.1f},{yl - 4:.1f} L {tip:.1f},{yl:.1f} L {tip + back:.1f},{yl + 4:.1f}")


def _margin(picture: Picture, mark: Mark, y: float, walls: Sequence[Wall], frame: Frame, said: str | bool) -> None:
    """Draw the dimension between the value's bar and the nearest wall it has not reached, where there is room."""
    low, high = mark.ends
    room = [(w.value - mark.value if w.side == "upper" else mark.value - w.value, w) for w in walls]
    room = [(gap, w) for gap, w in room if gap > 0 and (w.value > high if w.side == "upper" else w.value < low)]
    if not room:
        return
    gap, wall = min(room, key=lambda pair: pair[0])
    text = said if isinstance(said, str) else tick_text(gap, max(frame.axis.decimals, _two_figures(gap)))
    if wall.side == "upper":
        a, b = max(frame.at(high), frame.at(mark.value) + DISC) + 4, frame.at(wall.value) - 3
    else:
        a, b = frame.at(wall.value) + 3, min(frame.at(low), frame.at(mark.value) - DISC) - 4
    wide = picture.width_of("tx-s", text)
    if b - a < wide + 34:
        return
    middle = (a + b) / 2
    picture.path(
        "dim", f"M {a:.1f},{y:.1f} H {middle - wide / 2 - 5:.1f} M {middle + wide / 2 + 5:.1f},{y:.1f} H {b:.1f}"
    )
    picture.path(
        "dim",
        f"M {a + 6:.1f},{y - 4:.1f} L {a:.1f},{y:.1f} L {a + 6:.1f},{y + 4:.1f} "
        f"M {b - 6:.1f},{y - 4:.1f} L {b:.1f},{y:.1f} L {b - 6:.1f},{y + 4:.1f}",
    )
    picture.text("tx-s m dimtext", middle, y + picture.size_of("tx-s") * 0.35, text)


def _two_figures(value: float) -> int:
    from math import floor, log10

    return max(0, min(6, 1 - floor(log10(value)))) if value > 0 else 0


def scatter_scale(
    values: Sequence[float],
    *,
    label: str,
    band: Band | None = None,
    odd: Sequence[int] = (),
    unit_words: str = "",
    width: float = 340,
    paper: bool = False,
) -> str:
    """Draw many values against their usual band, as found; rings that would touch are stacked.

    Parameters
    ----------
    values : sequence of float
    band : Band or None
        Where they usually lie.
    odd : sequence of int
        Indices of values that do not agree: drawn as rings in the colour of contradiction.
    """
    picture = Picture(max(width, 120.0), 10, label=label, paper=paper)
    marks = [Mark(v) for v in values]
    everything = [*values, *((band.low, band.high) if band else ())] or [0.0, 1.0]
    frame = lay(picture, [Mark(one) for one in everything])
    levels = _stack([frame.at(m.value) for m in marks], 2 * RING * 0.78)
    rise = 9.0
    head = picture.size_of("tx-s") + 5 if unit_words else 4.0
    if unit_words:
        picture.text("tx-s", 0, head - 6, unit_words)
    middle = head + 14 + rise * max(levels, default=0) / 2
    floor_y = middle + 20 + rise * max(levels, default=0) / 2
    if band is not None:
        picture.rect(
            "agree", frame.at(band.low), head + 2, frame.at(band.high) - frame.at(band.low), floor_y - head - 8
        )
    end = draw_axis(picture, frame, floor_y)
    for i in sorted(range(len(marks)), key=lambda i: (i in odd, i)):
        y = middle + rise * (max(levels) / 2 - levels[i])
        picture.circle("clashring" if i in odd else "ring", frame.at(marks[i].value), y, 6.2)
    picture.height = end
    return picture.svg()


def _stack(xs: Sequence[float], clear: float) -> list[int]:
    levels = [0] * len(xs)
    for i in sorted(range(len(xs)), key=lambda i: xs[i]):
        taken = {levels[j] for j in range(len(xs)) if xs[j] < xs[i] and xs[i] - xs[j] < clear}
        taken |= {levels[j] for j in range(i) if xs[j] == xs[i]}
        levels[i] = next(level for level in range(len(xs) + 1) if level not in taken)
    return levels
