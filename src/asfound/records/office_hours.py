"""Hours for the office, as a person types them: length in words, kept with the visit they belong to."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.records.kinds_office import TimeSpent

if TYPE_CHECKING:
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

DAY = 1440.0
"""Longest stretch on one day. [min]"""
_CLOCK = re.compile(r"(\d{1,2})(?::|\s*h\s*)([0-5]\d)", re.IGNORECASE)
_PARTS = re.compile(r"(\d+(?:[.,]\d+)?)\s*(h|hours?|min|minutes?|m)\.?", re.IGNORECASE)
WHAT = tuple(TimeSpent.model_fields["what"].annotation.__args__)  # type: ignore[union-attr]
WARRANTY = tuple(one for one in TimeSpent.model_fields["warranty"].annotation.__args__ if one)  # type: ignore[union-attr]


def minutes_typed(text: str) -> float:
    """Return minutes from what a person types.

    >>> minutes_typed("2 h 30 min"), minutes_typed("2:30"), minutes_typed("2,5 h"), minutes_typed("45 min")
    (150.0, 150.0, 150.0, 45.0)

    Raises
    ------
    InputError
        It is no length of time, or none that one day holds.
    """
    said = text.strip()
    whole = _CLOCK.fullmatch(said)
    if whole:
        found = 60.0 * int(whole[1]) + int(whole[2])
    elif said and not _PARTS.sub("", said).replace("and", "").strip(" ,"):
        parts = [(float(one[1].replace(",", ".")), one[2].casefold()) for one in _PARTS.finditer(said)]
        found = sum(60.0 * value if unit.startswith("h") else value for value, unit in parts)
    else:
        raise InputError("length", text, "is no length of time", allowed="2 h 30 min, 2:30, 2.5 h, 45 min")
    if not 0.0 < found <= DAY:
        raise InputError("length", text, "does not fit into one day", allowed="more than nothing, 24 h at most")
    return found


def keep_time(
    records: Records,
    view: VisitView,
    what: str,
    length: str,
    *,
    who: str,
    person: str = "",
    day: str = "",
    warranty: str = "",
    note: str = "",
) -> Entry:
    """Keep hours of one person for a visit; the visit may be closed already.

    Raises
    ------
    InputError
        Names the field, what was typed and what may be.
    """
    if what not in WHAT:
        raise InputError("what", what, "is no kind of time", allowed=", ".join(WHAT))
    if warranty and warranty not in WARRANTY:
        raise InputError("warranty", warranty, "cannot be said of a warranty", allowed=", ".join(WARRANTY))
    try:
        at = date.fromisoformat(day or view.visit.date).isoformat()
    except ValueError:
        raise InputError("day", day, "is no date", allowed="as 2032-08-01") from None
    content: dict[str, Any] = {
        "visit": view.id, "date": at, "who": person or who, "what": what, "minutes": minutes_typed(length),
        "warranty": warranty, "note": note,
    }  # fmt: skip
    return records.append("time_spent", content, engine=view.engine.id, who=who)
