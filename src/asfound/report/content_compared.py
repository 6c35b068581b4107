"""The last visit's as left beside this one's as found: plain values for page and report.

The two sheets are taken as independent of each other. What one instrument does to both readings is then counted twice,
so the interval of a change is rather too wide than too narrow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.quantities.intervals import summary
from asfound.records.view_parts import concerns
from asfound.report.axis import Wall
from asfound.report.changes import Change, change
from asfound.report.content_lanes import mark_of
from asfound.report.wording import day_words, in_units, natural, place_words, say, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.quantities.typing import Array
    from asfound.quantities.words import State
    from asfound.quantities.worked import Worked
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import Said, System


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One number then and now."""

    quantity: str
    place: str
    title: str
    where: str
    then: Said
    then_state: State
    now: Said
    now_state: State
    change: Change
    same_road: bool
    """Both came by the same method; else a change of method may be taken for a change of the engine."""
    picture: dict[str, Any]
    """What `report.svg.scale` is given, without width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LastVisit:
    """The visit before this one, and what can be compared with it."""

    name: str
    day: str
    rows: tuple[Compared, ...]

    @property
    def as_left(self) -> bool:
        """Whether anything of it was read as left; else it is as it was found then."""
        return any(one.then_state == "as_left" for one in self.rows)


def compared_of(view: VisitView, names: Iterable[str], system: System) -> LastVisit | None:
    """Return numbers then and now in the order of ``names``; None where there is no visit before.

    The last visit's as left is taken where there is one, else its as found; this visit's as found, else its as left.
    """
    if view.previous is None:
        return None
    rows = []
    for name in dict.fromkeys(names):
        for place in _places(view, name):
            then = _first(view.previous.worked, place, name, ("as_left", "as_found"))
            now = _first(view.worked, place, name, ("as_found", "as_left"))
            if then is not None and now is not None:
                rows.append(_compared(view, then, now, system))
    visit = view.previous.visit
    return LastVisit(name=visit.name, day=day_words(visit.date), rows=tuple(rows))


def _places(view: VisitView, name: str) -> list[str]:
    numbers: tuple[Number, ...] = (*view.worked.results, *view.worked.readings)
    return sorted({one.place for one in numbers if one.quantity == name}, key=natural)


def _first(worked: Worked, place: str, name: str, states: tuple[State, ...]) -> Number | None:
    """Return the number of the first of these states that has one: the reading before the result."""
    for state in states:
        key = f"{state}/{place}/{name}"
        number: Number | None = worked.reading(key) or worked.result(key)
        if number is not None and number.value == number.value:
            return number
    return None


def _compared(view: VisitView, then: Number, now: Number, system: System) -> Compared:
    assert view.previous is not None
    name, place = now.quantity, now.place
    moved = _moved(view.previous.worked, then, view.worked, now, system)
    walls = [
        Wall(in_units(one.value, name, system), f"{one.name} {one.as_typed}", one.side)
        for one in view.limits
        if one.quantity == name and concerns(one, place)
    ]
    was, is_ = say(then, system), say(now, system)
    day = day_words(view.previous.visit.date)
    label = f"{title_of(name)}: {_spoken(was)} on {day}, now {_spoken(is_)}" + "".join(f"; {one.text}" for one in walls)
    return Compared(
        quantity=name,
        place=place,
        title=title_of(name),
        where=place_words(place),
        then=was,
        then_state=then.state,
        now=is_,
        now_state=now.state,
        change=moved,
        same_road=getattr(then, "worksheet", "") == getattr(now, "worksheet", ""),
        picture={
            "before": mark_of(then, system),
            "found" if now.state == "as_found" else "left": mark_of(now, system),
            "limit": walls,
            "margin": False,
            "label": label,
        },
    )


def _spoken(said: Said) -> str:
    return said.whole + (f" ({said.interval})" if said.interval else "")


def _moved(before: Worked, then: Number, worked: Worked, now: Number, system: System) -> Change:
    away = _difference(worked.draws(now), before.draws(then))
    value = now.value - then.value
    found = summary(away, value)
    finite = away[np.isfinite(away)]
    lower = float(np.count_nonzero(finite < 0.0)) / finite.size if finite.size else float("nan")
    return change(value, (found.low, found.high), lower, now.quantity, system)


def _difference(now: Array, then: Array) -> Array:
    """Return differences draw by draw of two sheets that have nothing to do with each other.

    Both sheets draw the same stream for readings of one key; half a turn of one of them parts what only shares a name.
    """
    count = min(now.size, then.size)
    away: Array = now[:count] - np.roll(then[:count], count // 2)
    return away
