"""The ruler of the home page: the next 90 days for all engines, due dates as bars because hours are uncertain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from asfound.quantities.days import MONTHS
from asfound.report.ink import Picture

LANE = 27.0
LARGEST = 1.14
"""In sunlight words are larger by so much; room is kept for them in every light."""
ABOVE = 19.0
"""Height of a line of words above its bar. [px]"""
EDGE = 4.0


@dataclass(frozen=True, slots=True)
class Due:
    """Something that falls due: a day, or a bar about its middle; ``limit`` where a limit would be reached."""

    text: str
    middle: date
    low: date | None = None
    high: date | None = None
    limit: bool = False


def home_ruler(start: date, *, days: int = 90, width: float = 520, label: str = "", paper: bool = False) -> str:
    """Draw the head of the ruler: today and the months that begin in it."""
    picture = Picture(width, 34, label=label or f"the next {days} days", paper=paper)
    picture.line("axisline", EDGE, 30, width - EDGE, 30)
    clear = 0.0
    for moment, text in [(start, "today"), *month_starts(start, days)]:
        x = _at(moment, start, days, width)
        picture.line("axisline", x, 22, x, 30)
        at = x if moment == start else x + 4
        for shown in (text, text[:3]):  # a month near the end of the ruler is shortened, or stays a mark
            wide = picture.width_of("tx-s", shown)
            if at >= clear and at + wide <= width:
                picture.text("tx-s", at, 18, shown)
                clear = at + wide + 8
                break
    return picture.svg()


def due_row(
    items: Sequence[Due], start: date, *, days: int = 90, width: float = 520, label: str, paper: bool = False
) -> str:
    """Draw the due dates of one engine, each in its own lane; words beside the bar, above it where there is no room.

    Parameters
    ----------
    items : sequence of Due
        Those wholly outside the ruler are left out here; a list beside it has them all.
    """
    end = start + timedelta(days=days)
    shown = [d for d in items if (d.low or d.middle) <= end and (d.high or d.middle) >= start]
    picture = Picture(width, 10, label=label, paper=paper)
    tops, y = [], 6.0
    for due in shown:
        _, lines, above = _place(picture, due, start, days)
        lift = ABOVE * len(lines) if above else 0
        tops.append(y + lift)
        y += LANE + lift
    picture.height = max(y + 4, 44.0)
    for moment in (start, *(m for m, _ in month_starts(start, days))):
        x = _at(moment, start, days, width)
        picture.line("rule", x, 0, x, picture.height)
    for due, top in zip(shown, tops, strict=True):
        _due(picture, due, start, days, top)
    return picture.svg()


def month_starts(start: date, days: int) -> list[tuple[date, str]]:
    """Return the first days of months after ``start`` within the ruler, with the month's name."""
    found = []
    moment = date(start.year + start.month // 12, start.month % 12 + 1, 1)
    while (moment - start).days <= days:
        found.append((moment, MONTHS[moment.month - 1]))
        moment = date(moment.year + moment.month // 12, moment.month % 12 + 1, 1)
    return found


def _at(moment: date, start: date, days: int, width: float) -> float:
    share = min(max((moment - start).days / days, 0.0), 1.0)
    return EDGE + share * (width - 2 * EDGE)


def _place(picture: Picture, due: Due, start: date, days: int) -> tuple[float, tuple[str, ...], bool]:
    """Return where the words begin, in which lines, and whether they stand above the bar."""
    a, b = (_at(end or due.middle, start, days, picture.width) for end in (due.low, due.high))
    wide = LARGEST * picture.width_of("tx", due.text)
    if b + 9 + wide <= picture.width:
        return b + 9, (due.text,), False
    if a - 9 - wide >= 0:
        return a - 9 - wide, (due.text,), False
    lines = tuple(picture.wrap("tx", due.text, picture.width / LARGEST))
    return max(0.0, min(a, picture.width - LARGEST * max(picture.width_of("tx", one) for one in lines))), lines, True


def _due(picture: Picture, due: Due, start: date, days: int, top: float) -> None:
    middle = _at(due.middle, start, days, picture.width)
    x, lines, above = _place(picture, due, start, days)
    for i, one in enumerate(reversed(lines)):
        y = top - 3 - ABOVE * i if above else top + 15
        picture.rect("filmfill", x - 2, y - 13, picture.width_of("tx", one) + 4, 17)
        picture.text("tx", x, y, one)
    if due.low is not None and due.high is not None:
        a, b = _at(due.low, start, days, picture.width), _at(due.high, start, days, picture.width)
        picture.rect("bar-o" if due.limit else "bar-g", a, top + 4, max(b - a, 2), 12)
    picture.line("wallline" if due.limit else "heavy", middle, top + 1, middle, top + 19)
