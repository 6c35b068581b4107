"""Each cylinder against its own habit: rings and discs with their bars, a short dash where it usually stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from asfound.report.axis import SIGNS, Band, Mark, State
from asfound.report.ink import Picture
from asfound.report.ticks import Axis, choose

HIGH, PAPER_HIGH = 280.0, 170.0
LANE, PAPER_LANE = 30.0, 22.0
BETWEEN = 0.8
"""Room between two banks, in columns."""
NARROW = 560.0
"""Below this width cylinders stand below each other. [px]"""
ACROSS, DASH = 10.0, 30.0
CROWDED = 18.0
"""Two marks nearer than this above each other leave no room for a text between them. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One cylinder, in the unit that is shown."""

    name: str
    other: str = ""
    """The site's number, where that is another one."""
    marks: tuple[tuple[State, Mark], ...] = ()
    usual: float | None = None
    odd: bool = False
    text: str = ""
    """Stands beside the mark of an odd one."""
    missing: str = ""
    """Why it has no mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The cylinders of one bank."""

    title: str
    cylinders: tuple[Kept, ...]


def habit(
    rows: Sequence[Row],
    *,
    label: str,
    unit_words: str,
    band: Band | None = None,
    band_text: str = "",
    width: float = 890,
    paper: bool = False,
) -> str:
    """Draw deviations of all cylinders on one axis.

    Parameters
    ----------
    rows : sequence of Row
        Bank by bank, each in the order in which it is counted.
    label : str
        The sentence that says what it shows.
    unit_words : str
        At the head of the axis.
    band : Band or None
        What is not looked into.
    band_text : str
    width : float
        Below 560 cylinders stand below each other, else beside each other. [px]
    """
    picture = Picture(width, 10, label=label, paper=paper)
    found = [end for row in rows for one in row.cylinders for _, mark in one.marks for end in mark.ends]
    found += [one.usual for row in rows for one in row.cylinders if one.usual is not None]
    found += [band.low, band.high] if band else []
    low, high = min([*found, 0.0]), max([*found, 0.0])
    pad = 0.04 * (high - low)
    (_lying if width < NARROW else _standing)(picture, rows, (low - pad, high + pad), unit_words, band, band_text)
    return picture.svg()


def _standing(
    picture: Picture, rows: Sequence[Row], ends: tuple[float, float], unit_words: str, band: Band | None, said: str
) -> None:
    line = picture.size_of("tx-s") + 4
    high = PAPER_HIGH if picture.paper else HIGH
    axis = choose(*ends, room=high, measure=lambda _: line, to_tick_low=False, to_tick_high=False)
    left = 8 + max(picture.width_of("tx-s", axis.words(one)) for one in axis.ticks)
    two = any(one.other for row in rows for one in row.cylinders)
    left = max(left, picture.width_of("tx-s", "builder") + 6) if two else left
    top, right = line + 4.0, picture.width - 6
    foot = top + high

    def at(value: float) -> float:
        return foot - (value - axis.low) / (axis.high - axis.low) * high

    picture.text("tx-s e", left - 6, line - 6, unit_words)
    if band:
        picture.rect("p-track", left, at(band.high), right - left, at(band.low) - at(band.high))
    for tick in axis.ticks:
        picture.line("axisline" if abs(tick) < 1e-9 else "rule", left, at(tick), right, at(tick))
        picture.text("tx-s e", left - 6, at(tick) + 5, axis.words(tick))
    if band and said:
        picture.text("tx-s e", right - 4, at(band.high) - 5, said)
    columns = sum(len(row.cylinders) for row in rows) + BETWEEN * (len(rows) - 1)
    step = (right - left) / columns
    x = left
    base = foot + line + 4
    for row in rows:
        start = x
        for one in row.cylinders:
            _column(picture, one, x + step / 2, at, last=x + step > right - 1)
            picture.text("tx-b m clashtext" if one.odd else "tx-b m", x + step / 2, base, one.name)
            if two:
                picture.text("tx-s m", x + step / 2, base + line, one.other)
            x += step
        if len(rows) > 1:
            picture.text("tx-s m", (start + x) / 2, base + line * (1 + two), row.title)
        x += BETWEEN * step
    if two:
        picture.text("tx-s", 0, base, "builder")
        picture.text("tx-s", 0, base + line, "site")
    picture.height = base + line * (two + (len(rows) > 1)) + 7


def _column(picture: Picture, one: Kept, x: float, at: Callable[[float], float], *, last: bool) -> None:
    if one.usual is not None:
        picture.line("ghostmark", x - DASH / 2, at(one.usual), x + DASH / 2, at(one.usual))
    if one.odd and one.marks:
        frm = at(one.usual if one.usual is not None else 0.0)
        shift = next(_shifted(one))[2]
        picture.line("clashline dash", x + shift, frm, x + shift, at(one.marks[0][1].value))
    if not one.marks:
        picture.circle("openpart", x, at(0.0), 7)
    for state, mark, shift in _shifted(one):
        bar, sign, radius = SIGNS[state]
        low, high = (at(end) for end in mark.ends)
        if low > high:
            picture.rect(bar, x + shift - ACROSS / 2, high, ACROSS, max(low - high, 1))
        picture.circle(sign, x + shift, at(mark.value), radius - 1)
    if one.odd and one.text and one.marks:
        y = at(one.marks[0][1].value) + 5
        many = len(one.marks) > 1
        beside = many and abs(at(one.marks[0][1].value) - at(one.marks[1][1].value)) < CROWDED
        if last:
            picture.text("tx-b e clashtext", x - (22 if many else 13), y, one.text)
        else:
            picture.text("tx-b clashtext", x + (23 if beside else 4 if many else 13), y, one.text)


def _shifted(one: Kept) -> Iterator[tuple[State, Mark, float]]:
    """Yield the marks beside each other where there are several."""
    many = len(one.marks) > 1
    for i, (state, mark) in enumerate(one.marks):
        yield state, mark, (-9.0 + 18.0 * i) if many else 0.0


def _lying(
    picture: Picture, rows: Sequence[Row], ends: tuple[float, float], unit_words: str, band: Band | None, said: str
) -> None:
    line = picture.size_of("tx-s") + 4
    names = [f"{one.name} ({one.other})" if one.other else one.name for row in rows for one in row.cylinders]
    left = 12 + max(picture.width_of("tx-b", one) for one in names)
    right = picture.width - 10
    axis: Axis = choose(
        *ends,
        room=right - left,
        measure=lambda text: picture.width_of("tx-s", text),
        to_tick_low=False,
        to_tick_high=False,
    )

    def at(value: float) -> float:
        return left + (value - axis.low) / (axis.high - axis.low) * (right - left)

    lane = PAPER_LANE if picture.paper else LANE
    titles = len(rows) > 1
    heights = [len(row.cylinders) * lane + (line if titles else 0) for row in rows]
    top = 2 * line + (line if band and said else 0)
    foot = top + sum(heights) + 8 * (len(rows) - 1)
    picture.text("tx-s", 0, line - 4, unit_words)
    if band:
        picture.rect("p-track", at(band.low), top - 6, at(band.high) - at(band.low), foot - top + 6)
        if said:
            wide = picture.width_of("tx-s", said)
            middle = (at(band.low) + at(band.high)) / 2
            start = min(max(middle - wide / 2, 0), picture.width - wide)
            picture.text(
                "tx-s", start, line - 4 if start > picture.width_of("tx-s", unit_words) + 8 else 2 * line - 4, said
            )
    for tick in axis.ticks:
        picture.line("axisline" if abs(tick) < 1e-9 else "rule", at(tick), top - 6, at(tick), foot)
        picture.text("tx-s m", at(tick), top - 10, axis.words(tick))
    y, every = top, iter(names)
    for i, row in enumerate(rows):
        if titles:
            picture.text("tx-s", 0, y + line - 5, row.title)
            y += line
        for one in row.cylinders:
            middle = y + lane / 2
            picture.text("tx-b clashtext" if one.odd else "tx-b", 0, middle + 5, next(every))
            _lane(picture, one, middle, at, right)
            y += lane
        y += 8 if i + 1 < len(rows) else 0
    picture.height = foot + 4


def _lane(picture: Picture, one: Kept, y: float, at: Callable[[float], float], right: float) -> None:
    if one.usual is not None:
        picture.line("ghostmark", at(one.usual), y - 11, at(one.usual), y + 11)
    if not one.marks:
        picture.circle("openpart", at(0.0), y, 6)
        return
    if one.odd:
        picture.line("clashline dash", at(one.usual if one.usual is not None else 0.0), y, at(one.marks[0][1].value), y)
    many = len(one.marks) > 1
    for i, (state, mark) in enumerate(one.marks):
        bar, sign, radius = SIGNS[state]
        low, high = (at(end) for end in mark.ends)
        row = y + ((-5.5 + 11 * i) if many else 0.0)
        if high > low:
            picture.rect(bar, low, row - ACROSS / 2, high - low, ACROSS)
        picture.circle(sign, at(mark.value), row, radius - (2.4 if many else 1.2))
    if one.odd and one.text:
        value = one.marks[0][1].value
        wide = picture.width_of("tx-b", one.text) + 16
        ends = [end for _, mark in one.marks for end in mark.ends]
        outside = max(ends) if value >= 0 else min(ends)
        if value >= 0 and at(outside) + wide < right + 8:
            picture.text("tx-b clashtext", at(outside) + 12, y + 5, one.text)
        elif value < 0 and at(outside) - wide > 60:
            picture.text("tx-b e clashtext", at(outside) - 12, y + 5, one.text)
        else:
            inner = 14 if value < 0 else -14
            picture.text("tx-b clashtext" if value < 0 else "tx-b e clashtext", at(value) + inner, y - 6, one.text)
