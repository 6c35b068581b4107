"""A property of the oil over the hours on it: what was found, its line, the wall, and the bar where it gets there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from asfound.report.ink import Picture
from asfound.report.ticks import choose

HIGH, PAPER_HIGH = 190.0, 130.0
WALL = 16.0
"""Height of the hatch beyond the wall. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Hours on oil at which the line meets the wall, with the ends of its bar."""

    at: float
    low: float | None = None
    high: float | None = None


def oil_trend(
    points: Sequence[tuple[float, float]],
    *,
    wall: float,
    wall_text: str,
    falling: bool,
    label: str,
    unit_words: str,
    line: tuple[float, float] | None = None,
    begins: float = 0.0,
    reached: Reached | None = None,
    width: float = 420,
    paper: bool = False,
) -> str:
    """Draw one property.

    Parameters
    ----------
    points : sequence of (float, float)
        Hours on the oil and what the laboratory found, oldest first.
    wall : float
        The limit.
    falling : bool
        It is a lowest value: what lies below is hatched.
    line : (float, float) or None
        Intercept and slope over hours.
    begins : float
        Hours on oil of the first sample that the line rests on.
    reached : Reached or None
        Drawn as a bar lying on the wall; cut where it leaves the picture.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    high = PAPER_HIGH if paper else HIGH
    last = max(hours for hours, _ in points)
    far = last * 1.12
    if reached is not None:
        far = min(max(far, (reached.high or reached.at) * 1.04), last * 2.2)
    values = [value for _, value in points]
    low, top_value = min([*values, wall]), max([*values, wall])
    if not falling and low < 0.4 * top_value:  # a ratio to nought is read
        low = min(0.0, low)
    span = (top_value - low) or 1.0
    room = (WALL + row + 4) / high  # the hatch and the words of the wall lie inside the picture
    beyond = room / (1.0 - room) * span * 1.1
    low -= beyond if falling else 0.0 if low == 0.0 else 0.1 * span
    top_value += 0.06 * span if falling else beyond
    y_axis = choose(low, top_value, room=high, measure=lambda _: row, to_tick_low=False, to_tick_high=False)
    left = 8 + max(picture.width_of("tx-s", y_axis.words(one)) for one in y_axis.ticks)
    head, right = 2 * row, picture.width - 6
    foot = head + high
    x_axis = choose(
        0.0, far, room=right - left, measure=lambda text: picture.width_of("tx-s", text), to_tick_low=False,
        to_tick_high=False,
    )  # fmt: skip

    def x(hours: float) -> float:
        return left + min(max(hours, 0.0), far) / far * (right - left)

    def y(value: float) -> float:
        return foot - (min(max(value, low), top_value) - low) / (top_value - low) * high

    picture.text("tx-s", 0, row - 4, unit_words)
    for tick in y_axis.ticks:
        picture.line("rule", left, y(tick), right, y(tick))
        picture.text("tx-s e", left - 6, y(tick) + 5, y_axis.words(tick))
    edge = y(wall)
    picture.rect("wallfill", left, edge if falling else max(head, edge - WALL), right - left, WALL)
    picture.line("wallline", left, edge, right, edge)
    said = picture.wrap("tx-s", wall_text, right - left)[0]
    picture.text("tx-s walltext", left + 4, (edge + WALL + row - 4) if falling else (edge - WALL - 5), said)
    if line is not None:
        _trend(picture, line, (begins, last, far), x, y, (low, top_value))
    if reached is not None and reached.at <= far:
        _bar(picture, reached, x, edge)
    picture.line("axisline", left, foot, right, foot)
    for tick in x_axis.ticks:
        picture.line("axisline", x(tick), foot, x(tick), foot + 6)
        picture.text("tx-s m", min(x(tick), right - 8), foot + 7 + picture.size_of("tx-s"), x_axis.words(tick))
    for hours, value in points:
        picture.circle("ring", x(hours), y(value), 6)
    picture.text("tx-s", left, foot + 2 * row + 4, "hours on the oil")
    picture.height = foot + 2 * row + 10
    return picture.svg()


def _trend(
    picture: Picture,
    line: tuple[float, float],
    hours: tuple[float, float, float],
    x: Callable[[float], float],
    y: Callable[[float], float],
    window: tuple[float, float],
) -> None:
    """Draw the line: whole through the samples, dashed beyond them, cut where it leaves the picture."""
    at, slope = line
    (begins, last, far), (low, top) = hours, window

    def value(at_hours: float) -> float:
        return at + slope * at_hours

    end = far
    if slope and not low <= value(far) <= top:
        end = max(last, ((top if slope > 0 else low) - at) / slope)
    picture.line("heavy", x(begins), y(value(begins)), x(last), y(value(last)))
    if end > last:
        picture.line("heavy dash", x(last), y(value(last)), x(end), y(value(end)))


def _bar(picture: Picture, reached: Reached, x: Callable[[float], float], edge: float) -> None:
    """Draw the bar that lies on the wall, its middle marked."""
    if reached.low is not None and reached.high is not None:
        picture.rect("bar-o", x(reached.low), edge - 6, max(x(reached.high) - x(reached.low), 3), 12)
    picture.line("wallline", x(reached.at), edge - 10, x(reached.at), edge + 10)
