"""What the pages of fuel, load and exhaust share: results in their layout, agreement of methods, the last visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_compared import compared_of
from asfound.report.content_methods import ways_of
from asfound.web.room_results import decisions, room_results

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.report.rooms import Room
    from asfound.web.frame import AtVisit


def shared(here: AtVisit, room: Room, *, leading: Iterable[str] = ()) -> dict[str, Any]:
    """Return the parts of a page that every room has; ``leading`` numbers show their ways first and unfolded."""
    view, system = here.view, here.system
    results = room_results(view, room, system)
    taken = {one.taken.quantity for one in view.worked.agreements}
    judged = [one.quantity for one in results.large if one.against]
    first = {*judged, *room.large, *leading}
    return {
        "large": results.large,
        "groups": results.groups,
        "decisions": {one.key: said for one in results.large if (said := decisions(view, one, system))},
        "card_says": {},
        "ways": ways_of(view, room.in_order(taken), system, leading=first),
        "open_ways": first,
        "last": compared_of(view, (*judged, *room.compared), system),
    }
