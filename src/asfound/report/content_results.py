"""Results as the sheets list them: by room and group, each number once, with method, source and what was assumed."""

from __future__ import annotations

from string import ascii_lowercase
from typing import TYPE_CHECKING, Any

from asfound.quantities.register import quantities
from asfound.quantities.words import STATES, Reading, Result
from asfound.report.content_lanes import number_at
from asfound.report.content_numbers import difference_words
from asfound.report.content_readings import COLUMNS
from asfound.report.wording import named, natural, place_words, say, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.view_parts import Difference
    from asfound.records.visit import VisitView
    from asfound.report.numbering import Sources
    from asfound.report.rooms import Room
    from asfound.report.wording import Said, System

Pair = dict[str, Result]
SECTIONS = ("fuel", "load", "exhaust")
"""Rooms with sections of their own."""
ON_THE_WAY = "On the way"
SINGLE_RUNS = "run_"


class Assumed:
    """Letters for what nobody read, so that a row names it by one sign and the list stands once."""

    def __init__(self, system: System) -> None:
        self.system = system
        self._of: dict[str, tuple[str, str]] = {}

    def marks(self, pair: Pair) -> str:
        """Return the letters of what a number rests on."""
        found = {one.key.partition("/")[2]: one for result in pair.values() for one in result.assumed}
        return " ".join(sorted((self._letter(key, one) for key, one in found.items()), key=lambda x: (len(x), x)))

    def _letter(self, key: str, one: Reading) -> str:
        if key not in self._of:
            n = len(self._of)
            letter = ascii_lowercase[n] if n < 26 else f"{ascii_lowercase[n // 26 - 1]}{ascii_lowercase[n % 26]}"
            said = say(one, self.system)
            doubt = f" ({said.interval})" if said.interval else ""
            self._of[key] = (letter, f"{named(one.quantity, one.place)} {said.whole}{doubt}")
        return self._of[key][0]

    @property
    def rows(self) -> list[dict[str, str]]:
        """Letter and what was assumed, in the order of the letters."""
        return [{"mark": letter, "says": says} for letter, says in self._of.values()]


def used_results(view: VisitView) -> dict[tuple[str, str], Pair]:
    """Return the results that the sheet goes on with, by quantity and place; single runs of a test stand elsewhere."""
    found: dict[tuple[str, str], Pair] = {}
    for one in view.worked.results:
        if not one.place.startswith(SINGLE_RUNS) and number_at(view.worked, one.key) is one:
            found.setdefault((one.quantity, one.place), {})[one.state] = one
    return found


def of_room(
    view: VisitView,
    room: Room,
    system: System,
    sources: Sources,
    assumed: Assumed,
    *,
    first: Iterable[str] = (),
    full: bool = True,
) -> list[dict[str, Any]]:
    """Return the tables of a room: what stands large or beside a limit, then by its groups, the others last.

    Not in full: the first of them alone.
    """
    mine = {
        key: pair for key, pair in used_results(view).items()
        if key[0] in quantities() and quantities()[key[0]].step == room.step
    }  # fmt: skip
    leading = ("", tuple(dict.fromkeys((*first, *room.large, *room.elsewhere))))
    tables = []
    for title, names in (leading, *(room.groups if full else ())):
        taken = {key: mine.pop(key) for name in names for key in _places(mine, name)}
        tables.append(_table(view, title, taken, system, sources, assumed))
    rest = dict(sorted(mine.items(), key=lambda row: (room.in_order([row[0][0]]), natural(row[0][1]))))
    if full:
        tables.append(_table(view, ON_THE_WAY, rest, system, sources, assumed))
    return [one for one in tables if one["rows"]]


def others(view: VisitView, system: System, sources: Sources, assumed: Assumed) -> list[dict[str, Any]]:
    """Return the tables of the results that belong to none of the rooms with sections of their own."""
    by_step: dict[str, dict[tuple[str, str], Pair]] = {}
    for key, pair in used_results(view).items():
        step: str = quantities()[key[0]].step if key[0] in quantities() else "other"
        if step not in SECTIONS:
            by_step.setdefault(step, {})[key] = pair
    titles: dict[str, str] = {name: progress.title for name, progress in view.steps.items()}
    tables = []
    for step, pairs in sorted(by_step.items()):
        alike = _alike(pairs)
        single = {key: pair for key, pair in pairs.items() if (key[0], _kind(key[1])) not in alike}
        table = _table(view, "", single, system, sources, assumed)
        tables.append(
            table
            | {
                "title": titles.get(step, step),
                "alike": [_alike_table(row, system, sources, assumed) for row in alike.values()],
            }
        )
    return tables


MANY = 4
"""Numbered places from which on the same result stands in one table."""


def _kind(place: str) -> str:
    kind, _, number = place.rpartition("_")
    return kind if number and kind in ("cylinder", "bearing") else ""


def _alike(pairs: dict[tuple[str, str], Pair]) -> dict[tuple[str, str], dict[str, Pair]]:
    """Return what was worked out alike for many cylinders or bearings, by quantity and kind of place."""
    found: dict[tuple[str, str], dict[str, Pair]] = {}
    for (name, place), pair in pairs.items():
        if _kind(place):
            found.setdefault((name, _kind(place)), {})[place] = pair
    return {key: row for key, row in found.items() if len(row) >= MANY}


def _alike_table(row: dict[str, Pair], system: System, sources: Sources, assumed: Assumed) -> dict[str, Any]:
    order = sorted(row, key=natural)
    first = next(iter(row[order[0]].values()))
    states = [state for state in STATES if any(state in pair for pair in row.values())]
    said = {place: {state: say(one, system) for state, one in row[place].items()} for place in order}
    units = {one.unit for both in said.values() for one in both.values()}
    parts = []
    for start in range(0, len(order), COLUMNS):
        shown = order[start : start + COLUMNS]
        rows = []
        for state in states:
            rows.append([state.replace("_", " "), *(_value(said[place].get(state)) for place in shown)])
            for i, word in enumerate(("from", "to")):
                rows.append([word, *(_end(said[place].get(state), i) for place in shown)])
        parts.append({"head": [place.rpartition("_")[2] for place in shown], "rows": rows})
    return {
        "name": title_of(first.quantity),
        "kind": _kind(order[0]),
        "unit": " or ".join(sorted(units)),
        "parts": parts,
        "columns": COLUMNS,
        "instrument": f"{first.method.name} {sources.mark(first.method.source, first.method.clause)}".strip(),
        "doubt": "",
        "time": " ".join(dict.fromkeys(assumed.marks(pair) for pair in row.values())).strip(),
    }


def _value(said: Said | None) -> str:
    return said.value if said is not None else ""


def _end(said: Said | None, i: int) -> str:
    """Return one end of the interval, so that it fits under its number."""
    return said.interval.partition(" to ")[2 * i] if said is not None else ""


def _places(mine: dict[tuple[str, str], Pair], name: str) -> list[tuple[str, str]]:
    return sorted((key for key in mine if key[0] == name), key=lambda key: natural(key[1]))


def _table(
    view: VisitView, title: str, pairs: dict[tuple[str, str], Pair], system: System, sources: Sources, assumed: Assumed
) -> dict[str, Any]:
    differences = {one.key: one for one in view.differences if one.worksheet}
    rows = [_row(name, place, pair, differences, system, sources, assumed) for (name, place), pair in pairs.items()]
    return {"title": title, "rows": rows, "on_the_way": title == ON_THE_WAY}


def _row(
    name: str, place: str, pair: Pair, differences: dict[str, Difference], system: System, sources: Sources,
    assumed: Assumed,
) -> dict[str, Any]:  # fmt: skip
    one = pair.get("as_found") or pair["as_left"]
    moved = differences.get(f"{place}/{name}/{one.worksheet}")
    return {
        "name": named(name, ""),
        "where": place_words(place),
        "found": _cell(pair.get("as_found"), system),
        "left": _cell(pair.get("as_left"), system),
        "difference": _moved(moved, name, system),
        "method": one.method.name,
        "source": sources.mark(one.method.source, one.method.clause),
        "outside": "; ".join(dict.fromkeys(w for r in pair.values() for w in r.outside)),
        "assumed": assumed.marks(pair),
    }


def _moved(one: Difference | None, name: str, system: System) -> str:
    """Return how much it surely moved; where it did not surely, only that."""
    return "" if one is None else difference_words(one, name, system) if one.changed else "no sure change"


def _cell(one: Result | None, system: System) -> dict[str, str] | None:
    return None if one is None or one.value != one.value else say(one, system).as_dict()
