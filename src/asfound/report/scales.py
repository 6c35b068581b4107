"""One number on its scale: as found and as left in two lanes, doubt as bars, limits as hatched walls, the margin.

All values are in the unit that is shown; the texts come from the caller, so that no number is rounded twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from asfound.report.ink import Picture
from asfound.report.ticks import Axis, choose, tick_text

At = Callable[[float], float]
LANE, PAPER_LANE = 26.0, 21.0
RING, DISC, BAR = 7.5, 8.5, 12.0
CLOSE = 8.0
"""Room between two texts in the head. [px]"""


@dataclass(frozen=True, slots=True)
class Mark:
    """A value with the ends of its bar; without ends there is no bar."""

    value: float
    low: float | None = None
    high: float | None = None

    @property
    def ends(self) -> tuple[float, float]:
        """Both ends, the value itself where there is no bar."""
        return (self.value if self.low is None else self.low, self.value if self.high is None else self.high)


@dataclass(frozen=True, slots=True)
class Wall:
    """A limit with the text that stands on it; the side beyond it is hatched."""

    value: float
    text: str
    side: Literal["upper", "lower"] = "upper"


@dataclass(frozen=True, slots=True)
class Band:
    """A wanted range."""

    low: float
    high: float


def scale(
    *,
    label: str,
    found: Mark | None = None,
    left: Mark | None = None,
    limit: Wall | Sequence[Wall] | None = (),
    wanted: Band | None = None,
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
    found, left : Mark or None
        None: not taken, so there is no mark.
    limit : Wall, sequence of Wall or None
    wanted : Band or None
        Drawn as a bracket on the axis.
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
    axis, x0, x1 = _lay(picture, walls, found, left, wanted, zero)

    def at(value: float) -> float:
        return x0 + (min(max(value, axis.low), axis.high) - axis.low) / (axis.high - axis.low) * (x1 - x0)

    rows = _head_rows(picture, walls, unit_words, at)
    line = picture.size_of("tx-s") + 3.5
    head = rows * line + (4 if rows else 3)
    lanes = max(1, (found is not None) + (left is not None))
    lane = LANE if not paper else PAPER_LANE
    floor_y = head + 6 + lanes * lane
    for wall in walls:
        _wall(picture, wall, at(wall.value), head, floor_y, x0, x1)
    if wanted is not None:
        a, b = at(wanted.low), at(wanted.high)
        picture.path("heavy", f"M {a:.1f},{floor_y - 7:.1f} V {floor_y - 1.2:.1f} H {b:.1f} V {floor_y - 7:.1f}")
    _axis(picture, axis, at, floor_y, x0, x1)
    found_y = head + 2 + lane / 2
    left_y = found_y + (lane if found is not None else 0)
    last, last_y = (left, left_y) if left is not None else (found, found_y)
    if last is not None and margin is not False and walls:
        _margin(picture, last, last_y, walls, axis, at, margin)
    if found is not None and left is not None and not walls:
        _connect(picture, at(found.value), found_y, at(left.value), left_y)
    if found is not None:
        _mark(picture, "found", found, at, found_y)
    if left is not None:
        _mark(picture, "left", left, at, left_y)
    picture.height = floor_y + 6 + picture.size_of("tx-s") + 4
    return picture.svg()


def _window(
    walls: Sequence[Wall], found: Mark | None, left: Mark | None, wanted: Band | None, zero: bool
) -> tuple[float, float, bool, bool]:
    inside = [end for mark in (found, left) if mark is not None for end in mark.ends]
    inside += [w.value for w in walls]
    inside += [wanted.low, wanted.high] if wanted is not None else []
    low, high = (min(inside), max(inside)) if inside else (0.0, 1.0)
    if zero or (found is None and left is None and wanted is None):
        low, high = min(low, 0.0), max(high, 0.0)
    span = (high - low) or abs(high) * 0.2 or 1.0
    upper = any(w.side == "upper" for w in walls)
    lower = any(w.side == "lower" for w in walls)
    pad = 0.07 * span
    low_end = low if zero and low == 0 else low - (0.22 * span if lower else pad)
    return low_end, high + (0.22 * span if upper else pad), not lower, not upper


def _lay(
    picture: Picture,
    walls: Sequence[Wall],
    found: Mark | None,
    left: Mark | None,
    wanted: Band | None,
    zero: bool,
) -> tuple[Axis, float, float]:
    low, high, tick_low, tick_high = _window(walls, found, left, wanted, zero)

    def measure(text: str) -> float:
        return picture.width_of("tx-s", text)

    x0, x1 = 8.0, picture.width - 8.0
    axis = Axis(low, high, (), 0)
    for _ in range(2):  # the room at the ends depends on the numbers there, and these on the room
        axis = choose(low, high, room=x1 - x0, measure=measure, to_tick_low=tick_low, to_tick_high=tick_high)
        first, last = axis.words(axis.ticks[0]), axis.words(axis.ticks[-1])
        x0 = max(DISC + 1, measure(first) / 2 + 1) if tick_low else 2.0
        x1 = picture.width - (max(DISC + 1, measure(last) / 2 + 1) if tick_high else 2.0)
    inside = [
        t
        for t in axis.ticks
        if x0 + (t - axis.low) / (axis.high - axis.low) * (x1 - x0) - measure(axis.words(t)) / 2 >= -0.5
        and x0 + (t - axis.low) / (axis.high - axis.low) * (x1 - x0) + measure(axis.words(t)) / 2 <= picture.width + 0.5
    ]
    return Axis(axis.low, axis.high, tuple(inside), axis.decimals), x0, x1


def _axis(picture: Picture, axis: Axis, at: At, y: float, x0: float, x1: float) -> None:
    picture.line("axisline", x0, y, x1, y)
    for tick in axis.ticks:
        x = at(tick)
        picture.line("axisline", x, y, x, y + 6)
        picture.text("tx-s m", x, y + 7 + picture.size_of("tx-s"), axis.words(tick))


def _wall(picture: Picture, wall: Wall, x: float, head: float, floor_y: float, x0: float, x1: float) -> None:
    if wall.side == "upper":
        picture.rect("wallfill", x, head + 1, x1 - x, floor_y - head - 1)
    else:
        picture.rect("wallfill", x0, head + 1, x - x0, floor_y - head - 1)
    picture.line("wallline", x, head, x, floor_y)


def _head_rows(picture: Picture, walls: Sequence[Wall], unit_words: str, at: At) -> int:
    """Write the names of the walls, and the unit, above the picture; return the rows they took."""
    placed: list[tuple[int, float, float, str, str]] = []  # row from below, x, end, class, text
    for wall in sorted(walls, key=lambda w: (w.side == "lower", -w.value if w.side == "upper" else w.value)):
        lines = picture.wrap("tx-b", wall.text, picture.width - 2)  # bold is wider: room to spare
        wide = max(picture.width_of("tx-b", one) for one in lines)
        x = _beside(at(wall.value), wide, picture.width, upper=wall.side == "upper")
        row = _free_row(placed, x, x + wide, len(lines))
        placed += [(row + i, x, x + wide, "tx-s walltext", one) for i, one in enumerate(reversed(lines))]
    if unit_words:
        lines = picture.wrap("tx-s", unit_words, picture.width - 2)
        wide = max(picture.width_of("tx-s", one) for one in lines)
        x = 0.0
        if any(r == 0 and a < wide + CLOSE for r, a, _, _, _ in placed):
            x = picture.width - wide
        row = _free_row(placed, x, x + wide, len(lines))
        placed += [(row + i, x, x + wide, "tx-s", one) for i, one in enumerate(reversed(lines))]
    rows = 1 + max((row for row, *_ in placed), default=-1)
    line = picture.size_of("tx-s") + 3.5
    for row, x, end, kind, text in placed:
        y = (rows - row) * line - 3
        if x > 1 and abs(end - picture.width) < 1.5:
            picture.text(f"{kind} e", picture.width, y, text)
        else:
            picture.text(kind, x, y, text)
    return rows


def _beside(x: float, wide: float, width: float, *, upper: bool) -> float:
    """Return where a wall's name begins: over the hatch where it fits, and always touching its wall."""
    start = width - wide if upper else 0.0
    if upper and start > x:
        start = x
    if not upper and wide < x:
        start = x - wide
    return min(max(start, 0.0), max(width - wide, 0.0))


def _free_row(placed: Sequence[tuple[int, float, float, str, str]], start: float, end: float, rows: int) -> int:
    row = 0
    while any(row <= r < row + rows and a < end + CLOSE and start < b + CLOSE for r, a, b, _, _ in placed):
        row += 1
    return row


def _mark(picture: Picture, state: str, mark: Mark, at: At, y: float) -> None:
    low, high = mark.ends
    if high > low:
        picture.rect("bar-f" if state == "found" else "bar-l", at(low), y - BAR / 2, max(at(high) - at(low), 1), BAR)
    if state == "found":
        picture.circle("ring", at(mark.value), y, RING)
    else:
        picture.circle("disc", at(mark.value), y, DISC)


def _connect(picture: Picture, xf: float, yf: float, xl: float, yl: float) -> None:
    """Lead from the ring down and across to the disc; where they stand above each other nothing needs to be said."""
    if abs(xl - xf) < DISC + 6:
        return
    tip = xl - DISC - 1 if xl > xf else xl + DISC + 1
    back = -6 if xl > xf else 6
    picture.path("thin", f"M {xf:.1f},{yf + RING + 1.6:.1f} V {yl:.1f} H {tip:.1f}")
    picture.path("thin", f"M {tip + back:.1f},{yl - 4:.1f} L {tip:.1f},{yl:.1f} L {tip + back:.1f},{yl + 4:.1f}")


def _margin(
    picture: Picture, mark: Mark, y: float, walls: Sequence[Wall], axis: Axis, at: At, said: str | bool
) -> None:
    """Draw the dimension between the value's bar and the nearest wall it has not reached, where there is room."""
    low, high = mark.ends
    room = [(w.value - mark.value if w.side == "upper" else mark.value - w.value, w) for w in walls]
    room = [(gap, w) for gap, w in room if gap > 0 and (w.value > high if w.side == "upper" else w.value < low)]
    if not room:
        return
    gap, wall = min(room, key=lambda pair: pair[0])
    text = said if isinstance(said, str) else tick_text(gap, max(axis.decimals, _two_figures(gap)))
    if wall.side == "upper":
        a, b = max(at(high), at(mark.value) + DISC) + 4, at(wall.value) - 3
    else:
        a, b = at(wall.value) + 3, min(at(low), at(mark.value) - DISC) - 4
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
    axis, x0, x1 = _lay(picture, (), Mark(min(everything)), Mark(max(everything)), None, False)

    def at(value: float) -> float:
        return x0 + (value - axis.low) / (axis.high - axis.low) * (x1 - x0)

    levels = _stack([at(m.value) for m in marks], 2 * RING * 0.78)
    rise = 9.0
    head = picture.size_of("tx-s") + 5 if unit_words else 4.0
    if unit_words:
        picture.text("tx-s", 0, head - 6, unit_words)
    middle = head + 14 + rise * max(levels, default=0) / 2
    floor_y = middle + 20 + rise * max(levels, default=0) / 2
    if band is not None:
        picture.rect("agree", at(band.low), head + 2, at(band.high) - at(band.low), floor_y - head - 8)
    _axis(picture, axis, at, floor_y, x0, x1)
    for i in sorted(range(len(marks)), key=lambda i: (i in odd, i)):
        y = middle + rise * (max(levels) / 2 - levels[i])
        picture.circle("clashring" if i in odd else "ring", at(marks[i].value), y, 6.2)
    picture.height = floor_y + 6 + picture.size_of("tx-s") + 4
    return picture.svg()


def _stack(xs: Sequence[float], clear: float) -> list[int]:
    levels = [0] * len(xs)
    for i in sorted(range(len(xs)), key=lambda i: xs[i]):
        taken = {levels[j] for j in range(len(xs)) if xs[j] < xs[i] and xs[i] - xs[j] < clear}
        taken |= {levels[j] for j in range(i) if xs[j] == xs[i]}
        levels[i] = next(level for level in range(len(xs) + 1) if level not in taken)
    return levels
