"""The cycle over the crank angle: pressure, temperature of the burned gas, nitric oxide, as it runs and as proposed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite

from asfound.report.ink import Picture, points
from asfound.report.ticks import Axis, choose

HIGH, PAPER_HIGH = 150.0, 104.0
FIRST = 1.35
"""Height of the first panel over that of the others. [1]"""
GAP = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A line with the band of its draws; not a number where there is none."""

    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One number over the crank angle."""

    unit_words: str
    now: Band
    then: Band | None = None
    other: Band | None = None
    """Of the other state of the visit."""


def whatif_cycle(
    angle: Sequence[float],
    panels: Sequence[Panel],
    *,
    label: str,
    sparks: tuple[float, float | None],
    now_words: str = "as found",
    other_words: str = "",
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw panels under each other that share the crank angle.

    Parameters
    ----------
    angle : sequence of float
        After firing top dead centre. [deg]
    panels : sequence of Panel
        Each with as many numbers as ``angle``.
    sparks : (float, float or None)
        Crank angle of the spark now and as proposed. [deg]
    now_words : str
        What the first line is called.
    other_words : str
        What the line of the other state is called; empty where there is none.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    high = PAPER_HIGH if paper else HIGH
    left, right = _margin(picture, panels, high), width - 8
    first, last = angle[0], angle[-1]

    def x(at: float) -> float:
        return left + (min(max(at, first), last) - first) / (last - first) * (right - left)

    top = 0.0
    for number, panel in enumerate(panels):
        tall = high * (FIRST if number == 0 else 1.0)
        foot = top + row + tall
        _panel(picture, panel, [x(one) for one in angle], (left, right), (top, foot), row)
        picture.line("dashdot", x(0.0), top + row, x(0.0), foot)
        picture.line("axisline", left, foot, right, foot)
        if number == 0:
            _names(picture, panel, [x(one) for one in angle], (top + row, foot), (now_words, other_words), right)
            _sparks(picture, sparks, x, foot)
        top = foot + GAP
    foot = top - GAP
    axis = choose(first, last, room=right - left, measure=lambda text: picture.width_of("tx-s", text),
                  to_tick_low=False, to_tick_high=False)  # fmt: skip
    for tick in axis.ticks:
        picture.line("axisline", x(tick), foot, x(tick), foot + 6)
        wide = picture.width_of("tx-s", axis.words(tick)) / 2
        picture.text("tx-s m", min(x(tick), width - wide - 1), foot + 6 + row, axis.words(tick))
    under = picture.wrap("tx-s", "degrees of crank after firing top dead centre", right - left)
    for number, line in enumerate(under):
        picture.text("tx-s", left, foot + 8 + row * (2 + number), line)
    picture.height = foot + 14 + row * (1 + len(under))
    return picture.svg()


def _window(panel: Panel) -> tuple[float, float]:
    known = [
        value
        for one in (panel.now, panel.then, panel.other)
        if one is not None
        for value in one.high
        if isfinite(value)
    ]
    most = max(known, default=1.0)
    return 0.0, most * 1.1 if most > 0.0 else 1.0


def _axis(picture: Picture, panel: Panel, tall: float) -> Axis:
    low, high = _window(panel)
    row = picture.size_of("tx-s") + 14
    return choose(low, high, room=tall, measure=lambda _: row, to_tick_low=False, to_tick_high=False)


def _margin(picture: Picture, panels: Sequence[Panel], tall: float) -> float:
    """Return the room that the numbers of all panels take on the left. [px]"""
    wide = [picture.width_of("tx-s", axis.words(one)) for axis in (_axis(picture, p, tall) for p in panels)
            for one in axis.ticks]  # fmt: skip
    return 10 + max(wide)


def _panel(
    picture: Picture,
    panel: Panel,
    xs: Sequence[float],
    sides: tuple[float, float],
    ends: tuple[float, float],
    row: float,
) -> None:
    (left, right), (top, foot) = sides, ends
    axis = _axis(picture, panel, foot - top - row)
    low, most = _window(panel)

    def y(value: float) -> float:
        return foot - (min(max(value, low), most) - low) / (most - low) * (foot - top - row)

    picture.text("tx-s", 0, top + row - 5, panel.unit_words)
    for tick in axis.ticks:
        picture.line("rule", left, y(tick), right, y(tick))
        picture.text("tx-s e", left - 6, y(tick) + 5, axis.words(tick))
    for band, fill, line in (
        (panel.other, "level", "ink dash"), (panel.now, "agree", "ink"), (panel.then, "level", "bl-second"),
    ):  # fmt: skip
        if band is None:
            continue
        known = [at for at, value in enumerate(band.middle) if isfinite(value)]
        if len(known) < 2:
            continue
        upper = [(xs[at], y(band.high[at])) for at in known]
        lower = [(xs[at], y(band.low[at])) for at in known]
        picture.path(fill, points([*upper, *reversed(lower)], close=True))
        picture.path(line, points((xs[at], y(band.middle[at])) for at in known))


def _names(
    picture: Picture, panel: Panel, xs: Sequence[float], ends: tuple[float, float], words: tuple[str, str], right: float
) -> None:
    """Name the lines where there is room: over the compression, left of the peak, with a stroke of each line."""
    del xs
    top, _ = ends
    size = picture.size_of("tx-s")
    names = [("ink", words[0])]
    names += [("ink dash", words[1])] if panel.other is not None and words[1] else []
    names += [("bl-second", "proposed")] if panel.then is not None else []
    wide = max(picture.width_of("tx-s", name) for _, name in names) + 42
    x = right - wide
    for number, (line, name) in enumerate(names):
        y = top + 10 + number * (size + 7)
        picture.line(line, x, y, x + 32, y)
        picture.text("tx-s", x + 38, y + size * 0.35, name)


def _sparks(picture: Picture, sparks: tuple[float, float | None], x: Callable[[float], float], foot: float) -> None:
    """Mark the sparks on the axis: up to it for now, the proposed one dashed."""
    for at, line in zip(sparks, ("heavy", "bl-second"), strict=True):
        if at is not None:
            picture.line(line, x(at), foot - 22, x(at), foot)
    said = "spark"
    first = min(one for one in sparks if one is not None)
    picture.text("tx-s e", x(first) - 6, foot - 8, said)
