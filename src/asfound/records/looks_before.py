"""What earlier visits saw of an engine: it counts on, less with each year, until somebody looks at the place again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from asfound.fitout.looks import SeenLook
from asfound.records.entries import Entry
from asfound.records.store import Records
from asfound.records.things import EngineRecord, VisitRecord

DAYS_A_YEAR = 365.25
LOOKS = ('"slot":',)
"""Text that every look holds; see `Known.standing_with`."""


def look_of(entry: Entry, age: float = 0.0) -> SeenLook:
    """Return an entry as the look that identification takes; ``age`` in years where an earlier visit made it."""
    content = entry.content
    return SeenLook(
        slot=str(content["slot"]),
        character=str(content.get("character", "")),
        answer=content.get("answer", "seen"),
        states=tuple(content.get("states", ())),
        how=content.get("how", "at_part"),
        label=str(content.get("label", "")),
        by=str(content.get("by") or entry.who),
        source=str(content.get("source", "")),
        time=str(content["time"]),
        note=str(content.get("note", "")),
        entry=entry.id,
        age=age,
    )


def looks_before(
    records: Records, engine: EngineRecord, visit: VisitRecord, now: Sequence[Entry]
) -> tuple[SeenLook, ...]:
    """Return what earlier visits saw that this visit has not looked at again, the newest look at each character.

    Parameters
    ----------
    now : sequence of Entry
        Looks of this visit. One at a character takes the place of what was seen of it before; one at a place as a whole
        takes the place of all that was seen there. Who could not judge takes the place of nothing.
    """
    seen = {(str(one.content["slot"]), str(one.content.get("character", ""))) for one in now if _told(one)}
    found: list[SeenLook] = []
    seen_by = records.standing_with(engine.id, "look", LOOKS)
    for before in reversed(records.visits(engine.id)):
        if (before.began, before.id) >= (visit.began, visit.id):
            continue
        age = max((date.fromisoformat(visit.date) - date.fromisoformat(before.date)).days, 1) / DAYS_A_YEAR
        here = _as_left([one for one in seen_by.get(before.id, ()) if _told(one)])
        fresh = [one for one in here if not {_key(one), (one.content["slot"], "")} & seen]
        found += [look_of(one, age) for one in fresh]
        seen |= {_key(one) for one in here}
    return tuple(found)


def _told(look: Entry) -> bool:
    """Tell whether a look ended with an answer."""
    return bool(look.content.get("answer", "seen") != "not_judged")


def _key(look: Entry) -> tuple[str, str]:
    """Return what a look speaks of."""
    return str(look.content["slot"]), str(look.content.get("character", ""))


def _as_left(looks: Sequence[Entry]) -> list[Entry]:
    """Return the looks that say how a visit left the engine: where a place was seen as left, that alone."""
    changed = {one.content["slot"] for one in looks if one.content.get("state") == "as_left"}
    return [one for one in looks if one.content.get("state") == "as_left" or one.content["slot"] not in changed]
