"""Open points of an engine: what its visits left, and what was said done of them after a visit was closed.

A closed visit stays as it was sealed: that a point of it is done is an entry of the engine, kind ``point_done``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

POINT_TEXTS = ('"says":',)
"""By which the store finds every open point without reading the rest of its visit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointLeft:
    """An open point that a visit left, and what was said of it since."""

    point: Entry
    visit: VisitRecord
    done: Entry | None
    """Kind ``point_done``; None while it is open."""


def points_done(
    records: Records, engine: str, points: Iterable[Entry], replaced: Mapping[str, tuple[str, ...]]
) -> dict[str, Entry]:
    """Return by open point the entry of the engine that says it done; the first said holds.

    Parameters
    ----------
    replaced : mapping
        Corrected entries of the visit and what stands for each: what was said done before a correction came in from
        another laptop stays done.
    """
    said: dict[str, Entry] = {}
    for one in records.fold(engine).current:
        if one.kind == "point_done":
            said.setdefault(str(one.content["point"]), one)
    if not said:
        return {}
    stands = dict(said)
    for before, now in replaced.items():
        for name in now if before in said else ():
            stands.setdefault(name, said[before])
    return {one.id: stands[one.id] for one in points if one.id in stands}


def left_by_visits(
    records: Records, engine: EngineRecord, *, before: VisitRecord | None = None
) -> tuple[PointLeft, ...]:
    """Return the open points of the engine's visits, open ones first; those closed within their visit left out.

    Parameters
    ----------
    before : VisitRecord, optional
        Only what visits before this one left.
    """
    found: list[PointLeft] = []
    by_visit = records.standing_with(engine.id, "open_point", POINT_TEXTS)
    for visit in records.visits(engine.id):
        points = [one for one in by_visit.get(visit.id, ()) if not one.content.get("done")]
        if not points or (before is not None and (visit.began, visit.id) >= (before.began, before.id)):
            continue
        done = points_done(records, engine.id, points, records.fold(engine.id, visit.id).replaced)
        found += [PointLeft(point=one, visit=visit, done=done.get(one.id)) for one in points]
    return tuple(sorted(found, key=lambda one: one.done is not None))


def say_done(
    records: Records, point: Entry, *, who: str | None = None, note: str = "", day: str = "", visit: str | None = None
) -> Entry:
    """Keep that an open point is done: in its visit while that is open, else as an entry of its engine.

    Parameters
    ----------
    day : str, optional
        ISO 8601, on which it was done; today by the clock of the home.
    visit : str, optional
        Visit on which it was done, where that is a later one.

    Raises
    ------
    InputError
        It is no open point, or is done already.
    """
    if point.kind != "open_point":
        raise InputError(
            "entry",
            point.id,
            f"is a {point.kind}, not an open point",
            try_next="`asfound point list VISIT` shows them.",
        )
    assert point.visit is not None
    assert point.engine is not None
    known = records.visit(point.visit)
    if known.sealed is None:
        content = {**point.content, "done": True, "note": note or point.content.get("note", "")}
        return records.append("open_point", content, visit=point.visit, corrects=point.id, who=who)
    before = points_done(records, point.engine, [point], records.fold(point.engine, point.visit).replaced)
    if point.content.get("done") or point.id in before:
        raise InputError("entry", point.id, "is done already", try_next="It may be taken back first.")
    today = records.clock.now().date().isoformat()
    when = day or today
    if not known.date <= when <= today:
        raise InputError(
            "day", when, "cannot be when it was done", allowed=f"{known.date} to {today}", try_next="Write the day."
        )
    content = {"point": point.id, "date": when, "note": note, "visit": visit}
    return records.append("point_done", content, engine=point.engine, who=who)
