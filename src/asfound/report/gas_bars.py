"""What a gas is made of: one strip from 0 to 100 per cent, and each component on an axis of decades with its doubt.

Traces of a few parts in a million and a main component of ninety per cent stand on one axis only if each mark is ten
times the one before; so the strip shows the parts of the whole and the axis what each reading is worth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from asfound.report.axis import BAR, SIGNS, Mark, State
from asfound.report.ink import Picture

At = Callable[[float], float]
ROW, PAPER_ROW, STRIP = 27.0, 22.0, 26.0
LEAST = 1e-4
"""Lowest end of the axis. [%]"""
KINDS = {"burns": "p-lead", "heavier": "p-second", "inert": "p-rest", "other": "p-none"}


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the strip."""

    title: str
    percent: float
    kind: str
    """``burns``, ``heavier``, ``inert``, ``other``."""


@dataclass(frozen=True, slots=True)
class Component:
    """A component with its marks in per cent and its text."""

    title: str
    text: str
    marks: tuple[tuple[State, Mark], ...]


def gas_bars(
    parts: Sequence[Part],
    components: Sequence[Component],
    *,
    label: str,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw the parts of a gas and its components.

    Parameters
    ----------
    parts : sequence of Part
        From the left; their sum is the length of the strip on an axis from 0 to 100 per cent.
    components : sequence of Component
        In the order of the list.
    label : str
        The sentence that says what it shows.
    width : float
        Of the picture, 300 at least. [px]
    """
    picture = Picture(max(width, 300.0), 10, label=label, paper=paper)
    y = _strip(picture, parts)
    y = _decades(picture, components, y + 14)
    picture.height = y
    return picture.svg()


def _strip(picture: Picture, parts: Sequence[Part]) -> float:
    """Draw the strip with its names above, and return where it ends."""
    whole = max(100.0, sum(one.percent for one in parts))
    x0, x1 = 1.0, picture.width - 1.0
    size = picture.size_of("tx-s")
    spots, x = [], x0
    for one in parts:
        wide = one.percent / whole * (x1 - x0)
        spots.append((one, x, wide))
        x += wide
    names = _names(picture, spots)
    top = (1 + max((row for row, _ in names), default=-1)) * (size + 4) + 4
    for (one, x, wide), (row, start) in zip(spots, names, strict=True):
        picture.rect(KINDS[one.kind], x, top, max(wide, 1.2), STRIP)
        y = top - 6 - row * (size + 4)
        picture.text("tx-s", start, y, _name(one))
        if row:
            middle = x + wide / 2
            picture.line("thin", middle, y + 3, middle, top)
    y = top + STRIP
    for percent in (0, 25, 50, 75, 100):
        at = x0 + percent / whole * (x1 - x0)
        picture.line("axisline", at, y, at, y + 6)
        kind = "tx-s" if percent == 0 else "tx-s e" if percent == 100 else "tx-s m"
        picture.text(
            kind, min(at, picture.width), y + 7 + size, f"{percent} %" if percent in (0, 100) else f"{percent}"
        )
    return y + 11 + size


def _name(part: Part) -> str:
    return f"{part.title} {part.percent:.1f} %" if part.percent >= 0.1 else f"{part.title} under 0.1 %"


def _names(picture: Picture, spots: Sequence[tuple[Part, float, float]]) -> list[tuple[int, float]]:
    """Return row (counted from the strip) and beginning of each name.

    A name begins with its part; where the picture ends before it does, it ends with its part. None touches another, and
    no leader from a higher row down to its part runs through a name below it.
    """
    found: list[tuple[int, float]] = []
    taken: list[tuple[int, float, float]] = []
    for one, x, wide in spots:
        length = picture.width_of("tx-s", _name(one))
        start = x if x + length <= picture.width - 1 else max(x + wide - length, 0.0)
        row = 0
        while any(r == row and a < start + length + 10 and start < b + 10 for r, a, b in taken):
            row += 1
        middle = x + wide / 2
        if row and any(r < row and a - 2 < middle < b + 2 for r, a, b in taken):
            start = max(middle - 2, 0.0) if middle + length <= picture.width - 1 else max(middle + 2 - length, 0.0)
        taken.append((row, start, start + length))
        found.append((row, start))
    return found


def _decades(picture: Picture, components: Sequence[Component], top: float) -> float:
    size = picture.size_of("tx-s")
    names = max((picture.width_of("tx", one.title) for one in components), default=0) + 14
    numbers = max((picture.width_of("tx-s", one.text) for one in components), default=0) + 6
    inside = picture.width - names - numbers >= 170
    x0, x1 = (names, picture.width - numbers) if inside else (8.0, picture.width - 10)
    step = (PAPER_ROW if picture.paper else ROW) + (0 if inside else size + 3)
    values = [end for one in components for _, mark in one.marks for end in (mark.value, *mark.ends) if end > 0]
    low = max(floor(log10(max(min(values, default=1.0), LEAST)) + 1e-9), floor(log10(LEAST)))
    high = max(2, ceil(log10(max(values, default=100.0)) - 1e-9))

    def at(percent: float) -> float:
        return x0 + (min(max(log10(max(percent, 10.0**low)), low), high) - low) / (high - low) * (x1 - x0)

    end = top + step * len(components) + 4
    for decade in range(low, high + 1 if inside else low):
        picture.line("rule", at(10.0**decade), top, at(10.0**decade), end)
    for i, one in enumerate(components):
        y = top + step * (i + 0.5) + (0 if inside else (size + 3) / 2)
        if inside:
            picture.text("tx", 0, y + 5, one.title)
            picture.text("tx-s e", picture.width, y + 5, one.text)
        else:
            picture.text("tx", 0, y - step / 2 + 2, one.title)
            picture.text("tx-s e", picture.width, y - step / 2 + 2, one.text)
            for decade in range(low, high + 1):  # words stand above each lane: the grid stays inside the lanes
                picture.line("rule", at(10.0**decade), y - 9, at(10.0**decade), y + 9)
        for state, mark in one.marks:
            _mark(picture, state, mark, at, y)
    picture.line("axisline", x0, end, x1, end)
    _ticks(picture, low, high, at, end)
    return end + 11 + size


def _ticks(picture: Picture, low: int, high: int, at: At, end: float) -> None:
    size = picture.size_of("tx-s")
    right = -100.0
    for decade in range(high, low - 1, -1):
        text = f"{10.0**decade:g} %" if decade == high else f"{10.0**decade:.{max(-decade, 0)}f}"
        x = at(10.0**decade)
        picture.line("axisline", x, end, x, end + 6)
        wide = picture.width_of("tx-s", text)
        start = max(min(x - wide / 2, picture.width - wide), 0)
        if right == -100.0 or start + wide + 8 < right:
            picture.text("tx-s", start, end + 7 + size, text)
            right = start


def _mark(picture: Picture, state: State, mark: Mark, at: At, y: float) -> None:
    bar, sign, radius = SIGNS[state]
    low, high = (at(end) for end in mark.ends)
    if high > low:
        picture.rect(bar, low, y - BAR / 2, max(high - low, 1), BAR)
    picture.circle(sign, at(mark.value), y, radius - 1)
