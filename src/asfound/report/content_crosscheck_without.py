"""Results with all readings and without those that are judged false: both are shown, none vanishes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.crosscheck.without import worked_without
from asfound.quantities.kept_with import kept_with
from asfound.quantities.words import Result
from asfound.quantities.worksheets import load
from asfound.report.content_crosscheck import checked_of
from asfound.report.content_crosscheck_words import lower
from asfound.report.content_lanes import number_at
from asfound.report.rooms import EXHAUST, FUEL, LOAD
from asfound.report.wording import place_words, say, title_of

if TYPE_CHECKING:
    from asfound.quantities.words import Limit, State
    from asfound.quantities.worked import Worked
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import Said, System


@dataclass(frozen=True, slots=True, kw_only=True)
class Both:
    """One result with all readings and without the suspects."""

    title: str
    where: str
    with_all: Said
    without: Said | None
    """None where there is no other way to it."""
    way: str
    """Worksheet by which it is come by without them, where it is another."""
    limit: str
    chance_with: str
    chance_without: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WithAndWithout:
    """All results that rest on a reading judged false."""

    left_out: tuple[str, ...]
    """What was left out, in words."""
    rows: tuple[Both, ...]


@kept_with
def with_and_without(view: VisitView, state: State, system: System) -> WithAndWithout | None:
    """Return what rests on the suspects, permit numbers first; None where no reading is judged false."""
    found = checked_of(view, state)
    if found is None or not found.suspect_keys:
        return None
    other = worked_without(view.worked, found)
    if other is None:
        return None
    keys = set(found.suspect_keys)
    rows = [
        row
        for place, name in _asked(view)
        if (row := _both(view, other, f"{state}/{place}/{name}", keys, system)) is not None
    ]
    titles = tuple(dict.fromkeys(lower(one.title) for one in found.named if set(one.keys) & keys))
    return WithAndWithout(left_out=titles, rows=tuple(rows))


def _asked(view: VisitView) -> list[tuple[str, str]]:
    """Return place and quantity of what is shown: what a limit is about, then what the pages lead with."""
    limited = [one.limit.quantity for one in view.limit_states]
    names = tuple(dict.fromkeys((*limited, *EXHAUST.large, *LOAD.large, *FUEL.large)))
    there = {(one.place, one.quantity) for one in view.worked.results if not one.place.startswith("run_")}
    return [(place, name) for name in names for place, quantity in sorted(there) if quantity == name]


def _both(view: VisitView, other: Worked, key: str, keys: set[str], system: System) -> Both | None:
    """Return a result both ways; None where it does not rest on a suspect."""
    number = number_at(view.worked, key)
    if not isinstance(number, Result) or not keys & {one.key for one in number.readings()}:
        return None
    without = number_at(other, key)
    limit = _limit(view, number)
    changed = isinstance(without, Result) and without.worksheet != number.worksheet
    return Both(
        title=title_of(number.quantity),
        where=place_words(number.place),
        with_all=say(number, system),
        without=say(without, system) if without is not None else None,
        way=_title(without.worksheet) if changed and isinstance(without, Result) else "",
        limit=f"{limit.name} {limit.as_typed}" if limit else "",
        chance_with=_chance(view.worked, number, limit),
        chance_without=_chance(other, without, limit),
    )


def _limit(view: VisitView, number: Number) -> Limit | None:
    there = [one.limit for one in view.limit_states if number in (*one.found, *one.left)]
    return there[0] if there else None


def _title(worksheet: str) -> str:
    sheet = load().get(worksheet)
    return sheet.title if sheet else worksheet.replace("_", " ")


def _chance(worked: Worked, number: Number | None, limit: Limit | None) -> str:
    """Return how probable it is that a number is beyond its limit; empty where there is none."""
    if number is None or limit is None:
        return ""
    return f"{worked.beyond(number, limit).says} to be {'over' if limit.side == 'upper' else 'under'}"
