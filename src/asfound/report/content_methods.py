"""What stands beside each other where one quantity was come by in several ways: plain values for page and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.register import quantity
from asfound.quantities.words import STATES, Reading, Result
from asfound.quantities.worksheets import load
from asfound.report.agreement import Lane
from asfound.report.changes import Change, change
from asfound.report.content_lanes import MARKS, STATE_WORDS, mark_of
from asfound.report.wording import place_words, say, sentence, title_of, unit_words
from asfound.sources.register import cite

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Mapping, Sequence

    from asfound.quantities.agreement import Agreement, Beside
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import Said, System

MOST_READINGS = 4
"""Readings that are named as what could be behind a disagreement; more tell nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to a quantity, in both states."""

    worksheet: str
    """Empty: it was read."""
    title: str
    source: str
    used: bool
    clashes: bool
    """In one of the states it does not agree with the one used."""
    numbers: Mapping[State, Number]
    said: Mapping[State, Said]
    away: Mapping[State, Change]
    """This one minus the one used."""
    verdicts: Mapping[State, str]
    """``agree``, ``small``, ``apart``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """A quantity at a place with all ways to it."""

    key: str
    """``place/quantity``."""
    quantity: str
    place: str
    title: str
    where: str
    unit: str
    ways: tuple[Way, ...]
    says: tuple[str, ...]
    """Whether they agree, a sentence per state."""
    clashes: bool
    chosen: bool
    """A person chose the one used; else the program prefers it."""
    picture: dict[str, Any]
    """What `report.svg.lanes` is given, without width."""


def ways_of(view: VisitView, names: Iterable[str], system: System, *, leading: Container[str] = ()) -> tuple[Ways, ...]:
    """Return every quantity among ``names`` that has two ways or more.

    In their order: the ``leading`` first, and among them and the others those that do not agree.
    """
    order = {name: i for i, name in enumerate(names)}
    met: dict[tuple[str, str], dict[State, Agreement]] = {}
    for one in view.worked.agreements:
        state = one.taken.state
        if one.taken.quantity in order and one.taken.value == one.taken.value:
            met.setdefault((one.taken.place, one.taken.quantity), {})[state] = one
    found = [_ways(view, place, name, both, system) for (place, name), both in met.items()]
    found.sort(key=lambda one: (one.quantity not in leading, not one.clashes, order[one.quantity], one.place))
    return tuple(found)


def _ways(view: VisitView, place: str, name: str, both: Mapping[State, Agreement], system: System) -> Ways:
    rows: dict[str, dict[State, Number]] = {}
    for state in STATES:
        for number in both[state].numbers if state in both else ():
            if number.value == number.value:
                rows.setdefault(_worksheet(number), {})[state] = number
    used = {_worksheet(one.taken) for one in both.values()}
    ways = tuple(
        sorted((_way(sheet, numbers, both, used, system) for sheet, numbers in rows.items()), key=lambda w: not w.used)
    )
    says = tuple(_verdict(both[state], state, system) for state in STATES if state in both)
    unit = next(iter(ways[0].said.values())).unit
    title = title_of(name) + (f", {place_words(place)}" if place_words(place) else "")
    head = f"{title}, {unit}" if unit else title
    return Ways(
        key=f"{place}/{name}",
        quantity=name,
        place=place,
        title=title_of(name),
        where=place_words(place),
        unit=unit,
        ways=ways,
        says=says,
        clashes=any(one.verdict == "apart" for one in both.values()),
        chosen=bool(view.worked.chosen.get(name)),
        picture={
            "rows": [_lane(way, system) for way in ways],
            "label": f"{head}: " + "; ".join(_spoken(way) for way in ways) + ". " + " ".join(says),
            "unit_words": unit_words(name, system) if unit else "",
        },
    )


def _worksheet(number: Number) -> str:
    return number.worksheet if isinstance(number, Result) else ""


def _way(
    sheet: str, numbers: Mapping[State, Number], both: Mapping[State, Agreement], used: set[str], system: System
) -> Way:
    one = next(iter(numbers.values()))
    beside = {state: found for state in numbers if (found := _beside(both[state], sheet)) is not None}
    source = cite(one.method.source, one.method.clause) if isinstance(one, Result) else one.said_by or "as read"
    method = f"{one.method.name}; {source}" if isinstance(one, Result) else source
    return Way(
        worksheet=sheet,
        title=load()[sheet].title if sheet in load() else "As read",
        source=method,
        used=sheet in used,
        clashes=any(found.verdict == "apart" for found in beside.values()),
        numbers=numbers,
        said={state: say(number, system) for state, number in numbers.items()},
        away={state: _away(found, system) for state, found in beside.items()},
        verdicts={state: found.verdict for state, found in beside.items()},
    )


def _beside(agreement: Agreement, sheet: str) -> Beside | None:
    return next((one for one in agreement.others if _worksheet(one.number) == sheet), None)


def _away(beside: Beside, system: System) -> Change:
    found = beside.difference
    return change(found.value, found.interval, found.probability_lower, beside.number.quantity, system)


def _lane(way: Way, system: System) -> Lane:
    values = " and ".join(said.value for said in way.said.values())
    marks = tuple((MARKS[state], mark_of(number, system)) for state, number in way.numbers.items())
    return Lane(title=f"{way.title}: {values}", marks=marks, used=way.used, clashes=way.clashes)


def _spoken(way: Way) -> str:
    said = ", ".join(
        f"{STATE_WORDS[state]} {one.value}" + (f" ({one.interval})" if one.interval else "")
        for state, one in way.said.items()
    )
    return f"{way.title}{' (used)' if way.used else ''} {said}"


# ---------------------------------------------------------------------- the sentence


def _verdict(agreement: Agreement, state: State, system: System) -> str:
    head = sentence(STATE_WORDS[state])
    apart = [one for one in agreement.others if one.verdict == "apart"]
    if apart:
        return " ".join(f"{head}: {_apart(one, agreement, system)}" for one in apart)
    count = len(agreement.numbers)
    small = [one for one in agreement.others if one.verdict == "small"]
    if small:
        who = " and ".join(_name(one.number) for one in small)
        return f"{head}: a difference shows to {who}; it lies inside the doubt of the number used."
    all_ = {2: "both ways", 3: "all three ways", 4: "all four ways"}.get(count, f"all {count} ways")
    return f"{head}: {all_} agree within their doubt."


def _apart(one: Beside, agreement: Agreement, system: System) -> str:
    moved = _away(one, system)
    way = "higher" if moved.direction == "up" else "lower" if moved.direction == "down" else "beside"
    amount, low, high = (text.lstrip("+\N{MINUS SIGN}") for text in (moved.value, moved.low, moved.high))
    ends = f"{low} to {high}" if moved.direction != "down" else f"{high} to {low}"
    said = (
        f"{_name(one.number)} does not agree with {_name(agreement.taken)}: {way} by {amount} {moved.unit}".rstrip()
        + f" ({ends})."
    )
    behind = _readings((*one.only_here, *one.only_taken))
    if behind:
        return f"{said} Behind it is a reading that they do not share: {behind}."
    return f"{said} Both rest on the same readings: the formulas differ."


def _name(number: Number) -> str:
    if isinstance(number, Reading):
        return "the value as read"
    sheet = load().get(number.worksheet)
    return f"'{sheet.title}'" if sheet else title_of(number.quantity)


def _readings(keys: Sequence[str]) -> str:
    names = list(dict.fromkeys(_reading(key) for key in keys))
    if not names:
        return ""
    shown = ", ".join(names[:MOST_READINGS])
    return f"{shown} or one of {len(names) - MOST_READINGS} more" if len(names) > MOST_READINGS else shown


def _reading(key: str) -> str:
    _, place, name = key.split("/")
    where = place_words(place)
    title = quantity(name).title
    title = title[:1].lower() + title[1:] if title[1:2].islower() else title
    return f"{title} ({where})" if where and where != "fuel" else title
