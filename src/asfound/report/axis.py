"""What every picture with one value axis is made of: marks, walls and bands, window and ticks, and how each is drawn.

All values are in the unit that is shown; the texts come from the caller, so that no number is rounded twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from asfound.report.ink import Picture
from asfound.report.ticks import Axis, choose

State = Literal["found", "left", "before"]
RING, DISC, BAR = 7.5, 8.5, 12.0
SIGNS: dict[State, tuple[str, str, float]] = {
    "found": ("bar-f", "ring", RING),
    "left": ("bar-l", "disc", DISC),
    "before": ("bar-g", "ghostdisc", DISC),
}
"""Classes of bar and mark, and the radius of the mark."""
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


@dataclass(frozen=True, slots=True)
class Frame:
    """An axis laid on a picture: from ``x0`` to ``x1``. [px]"""

    axis: Axis
    x0: float
    x1: float

    def at(self, value: float) -> float:
        """Return where a value stands; what lies outside the window stands at its end. [px]"""
        low, high = self.axis.low, self.axis.high
        return self.x0 + (min(max(value, low), high) - low) / (high - low) * (self.x1 - self.x0)


def lay(
    picture: Picture,
    marks: Sequence[Mark],
    *,
    walls: Sequence[Wall] = (),
    wanted: Band | None = None,
    zero: bool = False,
    whole: Band | None = None,
) -> Frame:
    """Choose window and ticks so that all marks, walls and bands are inside, and lay the axis on the picture.

    Parameters
    ----------
    picture : Picture
    marks : sequence of Mark
    walls : sequence of Wall
        A wall's hatch ends the picture on its side.
    wanted : Band or None
    zero : bool
        The axis begins at nought.
    whole : Band or None
        The window itself where it is given by the thing, 0 to 100 per cent; wider only if a mark lies outside.
    """
    low, high, tick_low, tick_high = _window(walls, marks, wanted, zero)
    if whole is not None:
        found = [end for mark in marks for end in mark.ends]
        low, high, tick_low, tick_high = min(whole.low, *found), max(whole.high, *found), False, False

    def measure(text: str) -> float:
        return picture.width_of("tx-s", text)

    x0, x1 = 8.0, picture.width - 8.0
    axis = Axis(low, high, (), 0)
    for _ in range(2):  # the room at the ends depends on the numbers there, and these on the room
        axis = choose(low, high, room=x1 - x0, measure=measure, to_tick_low=tick_low, to_tick_high=tick_high)
        first, last = axis.words(axis.ticks[0]), axis.words(axis.ticks[-1])
        x0 = max(DISC + 1, measure(first) / 2 + 1) if tick_low or whole else 2.0
        x1 = picture.width - (max(DISC + 1, measure(last) / 2 + 1) if tick_high or whole else 2.0)
    frame = Frame(axis, x0, x1)
    inside = [
        t
        for t in axis.ticks
        if frame.at(t) - measure(axis.words(t)) / 2 >= -0.5
        and frame.at(t) + measure(axis.words(t)) / 2 <= picture.width + 0.5
    ]
    return Frame(Axis(axis.low, axis.high, tuple(inside), axis.decimals), x0, x1)


def _window(
    walls: Sequence[Wall], marks: Sequence[Mark], wanted: Band | None, zero: bool
) -> tuple[float, float, bool, bool]:
    inside = [end for mark in marks for end in mark.ends]
    inside += [w.value for w in walls]
    inside += [wanted.low, wanted.high] if wanted is not None else []
    low, high = (min(inside), max(inside)) if inside else (0.0, 1.0)
    if zero or (not marks and wanted is None):
        low, high = min(low, 0.0), max(high, 0.0)
    span = (high - low) or abs(high) * 0.2 or 1.0
    upper = any(w.side == "upper" for w in walls)
    lower = any(w.side == "lower" for w in walls)
    pad = 0.07 * span
    low_end = low if zero and low == 0 else low - (0.22 * span if lower else pad)
    return low_end, high + (0.22 * span if upper else pad), not lower, not upper


def draw_axis(picture: Picture, frame: Frame, y: float) -> float:
    """Draw the axis with its ticks, and return where the picture ends below it. [px]"""
    picture.line("axisline", frame.x0, y, frame.x1, y)
    size = picture.size_of("tx-s")
    for tick in frame.axis.ticks:
        x = frame.at(tick)
        picture.line("axisline", x, y, x, y + 6)
        picture.text("tx-s m", x, y + 7 + size, frame.axis.words(tick))
    return y + 6 + size + 4


def draw_wall(picture: Picture, wall: Wall, frame: Frame, head: float, floor_y: float) -> None:
    """Draw a limit from ``head`` down to the axis, the forbidden side hatched."""
    x = frame.at(wall.value)
    if wall.side == "upper":
        picture.rect("wallfill", x, head + 1, frame.x1 - x, floor_y - head - 1)
    else:
        picture.rect("wallfill", frame.x0, head + 1, x - frame.x0, floor_y - head - 1)
    picture.line("wallline", x, head, x, floor_y)


def draw_wanted(picture: Picture, band: Band, frame: Frame, floor_y: float) -> None:
    """Draw a wanted range as a bracket on the axis."""
    a, b = frame.at(band.low), frame.at(band.high)
    picture.path("heavy", f"M {a:.1f},{floor_y - 7:.1f} V {floor_y - 1.2:.1f} H {b:.1f} V {floor_y - 7:.1f}")


def head_rows(picture: Picture, walls: Sequence[Wall], unit_words: str, frame: Frame) -> int:
    """Write the names of the walls, and the unit, above the picture; return the rows they took."""
    placed: list[tuple[int, float, float, str, str]] = []  # row from below, x, end, class, text
    for wall in sorted(walls, key=lambda w: (w.side == "lower", -w.value if w.side == "upper" else w.value)):
        lines = picture.wrap("tx-b", wall.text, picture.width - 2)  # bold is wider: room to spare
        wide = max(picture.width_of("tx-b", one) for one in lines)
        x = _beside(frame.at(wall.value), wide, picture.width, upper=wall.side == "upper")
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


def draw_mark(picture: Picture, state: State, mark: Mark, frame: Frame, y: float) -> None:
    """Draw a value with its bar: ring as found, disc as left, grey disc of an earlier visit."""
    low, high = (frame.at(end) for end in mark.ends)
    bar, sign, radius = SIGNS[state]
    if high > low:
        picture.rect(bar, low, y - BAR / 2, max(high - low, 1), BAR)
    picture.circle(sign, frame.at(mark.value), y, radius)
