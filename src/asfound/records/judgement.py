"""A person judges a reading false, or sound again: nothing vanishes, numbers go with or without it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from asfound.errors import UnknownNameError

if TYPE_CHECKING:
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

ReadingVerdict = Literal["false", "sound"]


def judge_reading(
    records: Records, view: VisitView, key: str, verdict: ReadingVerdict, *, why: str = "", who: str, time: str = ""
) -> Entry:
    """Keep what a person made of the reading that holds at a key.

    Parameters
    ----------
    key : str
        ``state/place/quantity``.
    verdict : str
        ``false``: numbers are worked out without it, from now on; ``sound`` takes that back.
    time : str, optional
        ISO 8601; now when left out.

    Raises
    ------
    UnknownNameError
        Nothing was read there.
    """
    found = view.readings.get(key)
    if found is None:
        raise UnknownNameError("reading of this visit", key, view.readings)
    content = {
        "about": found.entry.id,
        "verdict": verdict,
        "why": why,
        "time": time or records.clock.now().isoformat(timespec="seconds"),
    }
    return records.append("reading_judged", content, visit=view.id, who=who)
