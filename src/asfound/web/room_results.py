"""Results of fuel, load and exhaust in the order of their room's layout: large, in folded groups, on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.quantities.register import quantity
from asfound.report.deciding import deciding
from asfound.web import words
from asfound.web.results import Card, all_cards, reading_card

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.report.rooms import Room
    from asfound.report.wording import System

ON_THE_WAY = "On the way"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomResults:
    """What the results panel shows."""

    large: list[Card]
    groups: list[tuple[str, list[Card]]]


def room_results(view: VisitView, room: Room, system: System) -> RoomResults:
    """Return the results of a room: beside a limit first, then by its layout."""
    cards = [one for one in all_cards(view, room.step, system) if not one.place.startswith("run_")]
    known = {one.key for one in cards}
    for key in view.readings:  # what was read and not worked out stands large all the same where the layout says so
        _, place, name = key.split("/")
        if f"{place}/{name}" not in known and (name in room.large or _limited(view, place, name, room)):
            card = reading_card(view, place, name, system)
            if card is not None:
                known.add(card.key)
                cards.append(card)
    order = {name: i for i, name in enumerate(room.large)}
    large = [one for one in cards if one.against or one.quantity in order]
    large.sort(key=lambda one: (not one.against, order.get(one.quantity, -1)))
    rest = [one for one in cards if one not in large and one.quantity not in room.elsewhere]
    groups = []
    for title, names in room.groups:
        found = [one for name in names for one in rest if one.quantity == name]
        if found:
            groups.append((title, found))
    named = {name for _, names in room.groups for name in names}
    others = [one for one in rest if one.quantity not in named]
    if others:
        groups.append((ON_THE_WAY, others))
    return RoomResults(large=large, groups=groups)


def _limited(view: VisitView, place: str, name: str, room: Room) -> bool:
    return any(
        one.quantity == name and one.place in ("", place) and quantity(name).step == room.step for one in view.limits
    )


def decisions(view: VisitView, card: Card, system: System) -> list[tuple[str, str]]:
    """Return (state in words, what it takes to be sure) of a card beside its limits."""
    found = []
    for against in card.against:
        for side in card.sides:
            if side.number is None or side.number.value != side.number.value:
                continue
            says = deciding(view.worked, side.number, against.limit, system)
            if says:
                found.append((words.STATES[side.state], says))
    return found
