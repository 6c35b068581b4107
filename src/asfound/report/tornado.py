"""Which assumption moves a sum most: one bar each, widest first, the wall at nought where the sum turns into a loss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asfound.report.ink import Picture
from asfound.report.ticks import choose

LANE, PAPER_LANE = 34.0, 21.0
BAR = 14.0
NARROW = 560.0
"""Below this width the name stands above its bar. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """One assumption: the sum at its low and at its high end, and the ends in words."""

    title: str
    at_low: float
    at_high: float
    low: str
    high: str


def tornado(
    rows: Sequence[Swing],
    *,
    best: float,
    label: str,
    unit_words: str,
    width: float = 820,
    paper: bool = False,
) -> str:
    """Draw the bars on one axis.

    Parameters
    ----------
    rows : sequence of Swing
        Widest first.
    best : float
        The sum at the best values: an upright line.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    narrow = width < NARROW
    lane = (PAPER_LANE if paper else LANE) + (row if narrow else 0.0)
    left = 4.0 if narrow else 14 + max(picture.width_of("tx", one.title) for one in rows)
    right = picture.width - 8
    ends = [end for one in rows for end in (one.at_low, one.at_high)] + [best, 0.0]
    span = (max(ends) - min(ends)) or 1.0
    low, high = min(ends) - 0.12 * span, max(ends) + 0.12 * span
    axis = choose(
        low, high, room=right - left, measure=lambda text: picture.width_of("tx-s", text), to_tick_low=False,
        to_tick_high=False,
    )  # fmt: skip

    def x(value: float) -> float:
        return left + (value - low) / (high - low) * (right - left)

    head = 2 * row + 4
    foot = head + lane * len(rows) + 4
    picture.text("tx-s", left, row - 4, unit_words)
    for tick in axis.ticks:
        picture.line("rule", x(tick), head, x(tick), foot)
        at = min(max(x(tick), left + 12), right - 12)
        picture.text("tx-s m", at, head - 6, axis.words(tick))
    picture.rect("wallfill", left, head, x(0.0) - left, foot - head)
    picture.line("wallline", x(0.0), head - 2, x(0.0), foot)
    if narrow:
        picture.line("heavy", x(best), head - 2, x(best), foot)
    for i, one in enumerate(rows):
        y = head + lane * i + lane / 2 + (row / 2 if narrow else 0.0) + 2
        a, b = sorted((x(one.at_low), x(one.at_high)))
        if narrow:
            picture.rect("filmfill", left - 2, y - row / 2 - 4 - BAR, picture.width_of("tx", one.title) + 4, BAR + 3)
            picture.text("tx", left, y - row / 2 - 4, one.title)
        else:
            picture.text("tx e", left - 10, y + 5, one.title)
        picture.rect("bar-g", a, y - BAR / 2, max(b - a, 2.0), BAR)
        if not narrow:
            _ends(picture, one, a, b, y, (left, right))
    if not narrow:
        picture.line("heavy", x(best), head - 2, x(best), foot)
    picture.height = foot + 4
    return picture.svg()


def _ends(picture: Picture, one: Swing, a: float, b: float, y: float, room: tuple[float, float]) -> None:
    """Write the ends of the assumption beside the ends of its bar, where there is room."""
    first, second = (one.low, one.high) if one.at_low <= one.at_high else (one.high, one.low)
    if a - picture.width_of("tx-s", first) - 6 > room[0]:
        wide = picture.width_of("tx-s", first)
        picture.rect("filmfill", a - 7 - wide, y - 8, wide + 4, 17)
        picture.text("tx-s e", a - 5, y + 5, first)
    if b + picture.width_of("tx-s", second) + 6 < room[1]:
        picture.text("tx-s", b + 5, y + 5, second)
