"""Timing against mixture: lines of equal NOx, the permit as a wall, efficiency in numbers, where the engine stands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from asfound.report.axis import BAR, RING
from asfound.report.ink import Picture, points
from asfound.report.ticks import choose

HIGH, PAPER_HIGH = 330.0, 260.0
CLEAR = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """A line of equal NOx: for each timing the mixture at which it stands, both in the unit that is shown."""

    points: tuple[tuple[float, float], ...]
    name: str
    kind: str = "nox"
    """``nox``; ``wall``: the permit by the middle of the draws, richer is hatched; ``sure``: by 95 of 100 draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A setting: lambda with the bar of its doubt, and timing."""

    x: float
    y: float
    name: str
    low: float | None = None
    high: float | None = None
    kind: str = "now"


def whatif_field(
    contours: Sequence[Contour],
    numbers: Sequence[tuple[float, float, str]],
    places: Sequence[Place],
    *,
    window: tuple[float, float, float, float],
    label: str,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw the map.

    Parameters
    ----------
    contours : sequence of Contour
    numbers : sequence of (float, float, str)
        Texts that stand at a setting: efficiency.
    places : sequence of Place
    window : (float, float, float, float)
        Leanest and richest lambda that is shown, latest and earliest timing: low and high of x, then of y.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    x0, x1, y0, y1 = window
    tall = PAPER_HIGH if paper else HIGH

    def wide_of(text: str) -> float:
        return picture.width_of("tx-s", text)

    y_axis = choose(y0, y1, room=tall, measure=lambda _: row, to_tick_low=False, to_tick_high=False)
    left = 10 + max(wide_of(y_axis.words(one)) for one in y_axis.ticks)
    right, top = width - 8, row + 2
    foot = top + tall
    x_axis = choose(x0, x1, room=right - left, measure=wide_of, to_tick_low=False, to_tick_high=False)

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            left + (min(max(x, x0), x1) - x0) / (x1 - x0) * (right - left),
            foot - (min(max(y, y0), y1) - y0) / (y1 - y0) * tall,
        )

    picture.text("tx-s", 0, row - 4, "spark, degrees before top dead centre")
    for tick in y_axis.ticks:
        y = at(x0, tick)[1]
        picture.line("rule", left, y, right, y)
        picture.text("tx-s e", left - 6, y + 5, y_axis.words(tick))
    taken: list[tuple[float, float, float]] = []
    for one in sorted(contours, key=lambda line: ("wall", "sure", "nox").index(line.kind)):
        _contour(picture, one, at, (left, right, top, foot), taken)
    for place in places:  # what is drawn last lies on top and was named last
        _place(picture, place, at, (left, right), taken, row)
    for x, y, text in numbers:
        across, up = at(x, y)
        half = wide_of(text) / 2
        across = min(max(across, left + half + 2), right - half)
        up = min(max(up, top + row), foot - 4)
        if _free(taken, across - half, across + half, up, row):
            picture.text("tx-s m", across, up, text)
    picture.line("axisline", left, foot, right, foot)
    for tick in x_axis.ticks:
        x = at(tick, y0)[0]
        picture.line("axisline", x, foot, x, foot + 6)
        picture.text("tx-s m", min(x, width - wide_of(x_axis.words(tick)) / 2), foot + 6 + row, x_axis.words(tick))
    picture.text("tx-s", left, foot + 8 + 2 * row, "lambda")
    picture.height = foot + 14 + 2 * row
    return picture.svg()


def _free(taken: list[tuple[float, float, float]], begin: float, end: float, y: float, row: float) -> bool:
    """Return whether a text has room, and take it."""
    if any(abs(y - other) < row - 2 and begin < b + CLEAR and a < end + CLEAR for a, b, other in taken):
        return False
    taken.append((begin, end, y))
    return True


def _contour(
    picture: Picture,
    one: Contour,
    at: Callable[[float, float], tuple[float, float]],
    box: tuple[float, float, float, float],
    taken: list[tuple[float, float, float]],
) -> None:
    left, right, top, foot = box
    drawn = [at(*pair) for pair in one.points]
    if one.kind == "wall":
        picture.path("wallfill", points([(left, drawn[0][1]), *drawn, (left, drawn[-1][1])], close=True))
    inside = [pair for pair in drawn if left + 0.5 < pair[0] < right - 0.5]
    if len(inside) < 2:
        return
    picture.path({"wall": "wallline", "sure": "wallline dash", "nox": "thin"}[one.kind], points(inside))
    row = picture.size_of("tx-s") + 4
    wide = picture.width_of("tx-b" if one.kind == "wall" else "tx-s", one.name)
    kind = "tx-s" if one.kind == "nox" else "tx-s walltext"
    # at the upper end, else at the lower: wherever it has room
    for x, y in (inside[-1], inside[0], inside[len(inside) // 2]):
        begin = min(max(x + 5, left + 2), right - wide)
        y = min(max(y + row * 0.9, top + row), foot - 5)
        if _free(taken, begin, begin + wide, y, row):
            picture.rect("sheetless", begin - 2, y - row + 5, wide + 4, row)
            picture.text(kind, begin, y, one.name)
            return


def _place(
    picture: Picture,
    place: Place,
    at: Callable[[float, float], tuple[float, float]],
    sides: tuple[float, float],
    taken: list[tuple[float, float, float]],
    row: float,
) -> None:
    x, y = at(place.x, place.y)
    if place.low is not None and place.high is not None:
        low, high = at(place.low, place.y)[0], at(place.high, place.y)[0]
        picture.rect("bar-f" if place.kind == "now" else "bar-l", low, y - BAR / 2, max(high - low, 1.0), BAR)
    if place.kind == "best":
        picture.path(
            "openpart",
            f"M {x - 9:.1f},{y - 9:.1f} H {x + 4:.1f} L {x + 9:.1f},{y - 4:.1f} V {y + 9:.1f} H {x - 9:.1f} Z",
        )
    else:
        picture.circle("ring" if place.kind == "now" else "ringp", x, y, RING)
    taken.append((x - 14, x + 14, y + 4))
    wide = picture.width_of("tx-b", place.name)
    for begin, up in ((x + 14, y - 12), (x - 14 - wide, y - 12), (x + 14, y + row + 8), (x - 14 - wide, y + row + 8)):
        if sides[0] <= begin and begin + wide <= sides[1] and _free(taken, begin, begin + wide, up, row):
            picture.rect("sheetless", begin - 2, up - row + 5, wide + 4, row)
            picture.text("tx-b", begin, up, place.name)
            return
