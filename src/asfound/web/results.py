"""Results of a step as cards, and how one number came to be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.display import show
from asfound.quantities.register import quantity
from asfound.quantities.words import STATES, Reading, Result
from asfound.quantities.worksheets import load
from asfound.records.still_open import lacking_as_left
from asfound.records.view_parts import concerns
from asfound.report.content_lanes import number_at
from asfound.web.readings import place_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from asfound.quantities.display import Shown
    from asfound.quantities.words import Limit, State
    from asfound.quantities.worked import Worked
    from asfound.records.view_parts import LimitState
    from asfound.records.visit import VisitView
    from asfound.report.svg import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One state of a result."""

    state: State
    number: Result | Reading | None
    shown: Shown | None
    waits: tuple[str, ...] = ()
    """Titles of what is still to be read."""
    refused: str = ""
    holds: bool = False
    """As left: it rests only on what holds for both states, so the number as found stands."""

    @property
    def trail(self) -> str:
        """What the address of its trail names: key and worksheet; empty for a reading, which has a page of its own."""
        return f"{self.number.key}@{self.number.worksheet}" if isinstance(self.number, Result) else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """A limit beside a result."""

    limit: Limit
    shown: Shown
    chances: tuple[tuple[State, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A result as found and as left."""

    quantity: str
    place: str
    title: str
    where: str
    sides: tuple[Side, ...]
    against: tuple[Against, ...]
    outside: tuple[str, ...]
    assumed: tuple[Reading, ...]
    scale: dict[str, Any] | None
    """What `report.svg.scale` is given, without width."""

    @property
    def key(self) -> str:
        """``place/quantity``."""
        return f"{self.place}/{self.quantity}"

    @property
    def best(self) -> Side:
        """The side to speak of in one line: as left where there is one."""
        return next((one for one in reversed(self.sides) if one.number), self.sides[0])


def shown(number: Result | Reading, system: str) -> Shown:
    """Return a number as text with its interval."""
    low_high = number.interval if isinstance(number, Result) else reading_interval(number)
    if low_high and low_high[0] == low_high[1]:  # no doubt was stated: no interval, and no more figures than usual
        low_high = None
    return show(number.value, number.quantity, system=system, interval=low_high, **_gauge(number))  # type: ignore[arg-type]


def _gauge(number: Result | Reading) -> dict[str, Any]:
    return {"gauge": True} if isinstance(number, Reading) and number.gauge else {}


def reading_interval(reading: Reading) -> tuple[float, float] | None:
    """Return the 95 % interval of a reading from its standard uncertainty; None where none is known."""
    u = reading.standard_uncertainty
    if not u:
        return None
    half = {"normal": 1.959964, "rectangular": 0.95 * 3**0.5, "triangular": 1.9017, "arcsine": 1.4098}[
        reading.distribution
    ] * u
    return reading.value - half, reading.value + half


def cards_of(view: VisitView, step: str, system: str) -> tuple[list[Card], list[Card]]:
    """Return the results of a step: those to show large, and the rest.

    Large is what stands beside a limit, and what no other result of the visit is made from.
    """
    used = {one.key for result in view.worked.results for one in result.inputs if isinstance(one, Result)}
    cards = all_cards(view, step, system)
    judged = {quantity(one.quantity).species for one in cards if one.against} - {""}
    large = [
        one
        for one in cards
        if one.against
        or (
            not any(f"{side.state}/{one.key}" in used for side in one.sides)
            and quantity(one.quantity).species not in judged
        )  # the same thing in other words
    ]
    large.sort(key=lambda one: not one.against)
    return large, [one for one in cards if one not in large]


def shared_assumptions(cards: Sequence[Card]) -> tuple[Reading, ...]:
    """Return what more than one of these results assumes, to be said once below them all."""
    found = [one for card in cards for one in card.assumed]
    counts = Counter(one.said_by for one in found)
    return tuple({one.said_by: one for one in found if counts[one.said_by] > 1}.values())


def all_cards(view: VisitView, step: str, system: str) -> list[Card]:
    """Return what was worked out of a step, one card for each quantity and place, by the way that is taken."""
    keys = dict.fromkeys(
        (one.place, one.quantity) for one in view.worked.results if quantity(one.quantity).step == step
    )
    return [_card(view, place, name, system) for place, name in keys]


def waiting(view: VisitView, step: str) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (title, state, titles of what is missing) of the worksheets of a step that cannot run yet."""
    sheets = load()
    done = {(result.worksheet, result.state, result.place) for result in view.worked.results}
    found: dict[tuple[str, str], tuple[str, str, tuple[str, ...]]] = {}
    for one in view.worked.missing:
        sheet = sheets.get(one.worksheet)
        if sheet is None or (one.worksheet, one.state, one.place) in done:
            continue
        if any(quantity(name).step == step for name in sheet.gives) and one.found:
            found.setdefault(
                (one.worksheet, one.state), (sheet.title, one.state, tuple(quantity(q).title for q in one.quantities))
            )
    return list(found.values())


def reading_card(view: VisitView, place: str, name: str, system: str) -> Card | None:
    """Return a reading, or a result where it was not read, as a card; None where there is neither."""
    results = [one for one in view.worked.results if (one.place, one.quantity) == (place, name)]
    if results:
        return _card(view, place, name, system)
    sides = []
    for state in STATES:
        kept = view.readings.get(f"{state}/{place}/{name}")
        reading = kept.reading if kept else None
        sides.append(Side(state=state, number=reading, shown=shown(reading, system) if reading else None))
    return _made(view, place, name, tuple(sides), system) if any(side.number for side in sides) else None


def _card(view: VisitView, place: str, name: str, system: str) -> Card:
    sheet = next(
        (one.worksheet for state in STATES if (one := view.worked.result(f"{state}/{place}/{name}")) is not None), ""
    )
    sides = tuple(_side(view.worked, state, place, name, sheet, system) for state in STATES)
    return _made(view, place, name, sides, system)


def _made(view: VisitView, place: str, name: str, sides: tuple[Side, ...], system: str) -> Card:
    results = [side.number for side in sides if isinstance(side.number, Result)]
    states = [one for one in view.limit_states if one.limit.quantity == name and concerns(one.limit, place)]
    against = tuple(_against(view.worked, one, sides, system) for one in states)
    assumed = {reading.said_by: reading for result in results for reading in result.assumed}
    title = quantity(name).title
    return Card(
        quantity=name,
        place=place,
        title=title,
        where=place_words(place),
        sides=sides,
        against=against,
        outside=tuple(dict.fromkeys(words for result in results for words in result.outside)),
        assumed=tuple(assumed.values()),
        scale=scale_of(title, name, sides, against, system),
    )


def _side(worked: Worked, state: State, place: str, name: str, sheet: str, system: str) -> Side:
    number = number_at(worked, f"{state}/{place}/{name}")
    if number is not None:
        return Side(state=state, number=number, shown=shown(number, system))
    if state == "as_left" and (found := worked.result(f"as_found/{place}/{name}", sheet)):
        read_left = {(one.place, one.quantity) for one in worked.readings if one.state == "as_left"}
        if not lacking_as_left(found, set()):
            return Side(state=state, number=None, shown=None, holds=True)
        lacking = lacking_as_left(found, read_left) if read_left else []
        if lacking:
            return Side(
                state=state,
                number=None,
                shown=None,
                waits=tuple(dict.fromkeys(quantity(one.quantity).title for one in lacking)),
            )
    refused = next(
        (one.says for one in worked.refused if one.worksheet == sheet and one.state == state and one.place == place), ""
    )
    missing = next(
        (one for one in worked.missing if one.worksheet == sheet and one.state == state and one.place == place), None
    )
    waits = tuple(quantity(one).title for one in missing.quantities) if missing else ()
    return Side(state=state, number=None, shown=None, waits=waits, refused=refused)


def _against(worked: Worked, state: LimitState, sides: Sequence[Side], system: str) -> Against:
    limit = state.limit
    numbers = [(side.state, side.number) for side in sides if side.number and side.number.value == side.number.value]
    chances = tuple((state, worked.beyond(number, limit).says) for state, number in numbers)
    return Against(limit=limit, shown=show(limit.value, limit.quantity, system=system), chances=chances)  # type: ignore[arg-type]


def number_of(text: str) -> float:
    """Return the number that a shown text stands for.

    >>> number_of("1,437"), number_of("\u22124.8")
    (1437.0, -4.8)
    """
    return float(text.replace(",", "").replace("\u2212", "-").replace("\u00a0", "").replace(" ", ""))


def scale_of(
    title: str, name: str, sides: Sequence[Side], against: Iterable[Against], system: str
) -> dict[str, Any] | None:
    """Return what the common scale of both states is drawn from; None where no number is there."""
    from asfound.report.svg import Wall

    marks = {side.state: _mark(side.number, system) for side in sides if side.number}
    if not marks:
        return None
    unit = next(side.shown.unit for side in sides if side.shown)
    walls = tuple(
        Wall(in_display(one.limit.value, name, system), f"{one.limit.name} {one.shown.value}", side=one.limit.side)
        for one in against
    )
    said = "; ".join(
        f"{_STATE[side.state]} {side.shown.value} ({side.shown.low} to {side.shown.high})"
        for side in sides
        if side.shown
    )
    label = f"{title}, {unit}: {said}" + "".join(f"; {one.limit.name} {one.shown.value}" for one in against)
    return {"label": label, "found": marks.get("as_found"), "left": marks.get("as_left"), "limit": walls}


_STATE = {"as_found": "as found", "as_left": "as left"}


def _mark(number: Result | Reading, system: str) -> Mark:
    from asfound.report.svg import Mark

    ends = number.interval if isinstance(number, Result) else reading_interval(number)
    value, *shown_ends = (in_display(one, number.quantity, system) for one in (number.value, *(ends or ())))
    return Mark(value, *sorted(shown_ends))


def in_display(value: float, name: str, system: str) -> float:
    """Return an SI value in the unit that the system shows."""
    about = quantity(name)
    return float(about.to_unit(value, about.display(system)))
