"""What the home page says of each engine, from what is kept of it; only what changed is worked out."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.records.kept_store import kept_store, program_stamp
from asfound.records.stamps import TASKS, file_stamp
from asfound.records.summary import known_summaries, work_out_summary
from asfound.report.content_home import with_points
from asfound.report.engine_plan import EngineDrawing
from asfound.report.ruler import Due

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.records.summary import Summary
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.upkeep.engine_due import EngineDue
    from asfound.web.house import House

WHAT = "engine on the home page 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What is worked out of an engine for the home page."""

    bars: tuple[Due, ...]
    """What falls due within the ruler."""
    hours: str
    """True running hours, in words."""
    drawing: EngineDrawing | None


def summaries(house: House, visits: Sequence[VisitRecord]) -> dict[str, Summary]:
    """Return the summaries of visits; what is not known is worked out now, or by who does it ahead of being asked."""
    known = known_summaries(house.records, visits)
    new = [one for one in visits if one.id not in known]
    if house.ahead is not None:
        house.ahead.want([one.id for one in new])
        return known
    return known | {one.id: work_out_summary(house.records, one) for one in new}


def due_rows(
    house: House,
    engines: Sequence[EngineRecord],
    newest: Mapping[str, VisitRecord],
    known: Mapping[str, Summary],
    today: date,
    days: int,
) -> dict[str, Row]:
    """Return by engine what falls due within the ruler, and its hours.

    Parameters
    ----------
    newest, known : mapping
        Newest visit by engine, summary by visit.
    """
    store = kept_store(house.records)
    keys = {one.id: _key(house, one, today, days) for one in engines}
    kept = store.get(WHAT, keys) if store is not None else {}
    found = {name: _read(row) for name, row in kept.items()}
    new = [one for one in engines if one.id not in found]
    if new:
        from asfound.records.upkeep_of_engine import READ_BY_UPKEEP

        house.records.ready_for(new, READ_BY_UPKEEP)
    for one in new:
        row = found[one.id] = _row(house, one, today, days)
        if store is not None:
            bars = [{**asdict(bar), **_dates(bar)} for bar in row.bars]
            drawing = asdict(row.drawing) if row.drawing else None
            store.put(WHAT, one.id, keys[one.id], {"bars": bars, "hours": row.hours, "drawing": drawing})
    for one in engines:
        visit = newest.get(one.id)
        summary = known.get(visit.id) if visit else None
        if summary and summary.points:
            row = found[one.id]
            found[one.id] = replace(row, bars=with_points(row.bars, summary.points, today, days=days))
    return found


def _row(house: House, engine: EngineRecord, today: date, days: int) -> Row:
    from asfound.records.upkeep_of_engine import upkeep_of
    from asfound.report.content_home import on_ruler
    from asfound.report.of_visit import drawing_of_engine

    due = upkeep_of(house.records, engine)
    drawing = drawing_of_engine(engine.content)
    return Row(bars=on_ruler(due, (), today, days=days), hours=_hours(due), drawing=drawing)


def _hours(due: EngineDue) -> str:
    """Return the true running hours of today."""
    from asfound.report.content_due_words import hours_text

    if due.hours is None:
        return ""
    said = hours_text(due.hours.value).replace(" h", "\N{NO-BREAK SPACE}h")
    return said if round(due.hours.low) == round(due.hours.high) else f"about {said}"


def _key(house: House, engine: EngineRecord, today: date, days: int) -> str:
    """Return what changes whenever the bars of an engine may."""
    records = house.records
    own = (program_stamp(), records.newest_of(engine.id), records.newest_of(None), today.isoformat(), days)
    return hashlib.sha256(repr((*own, file_stamp(records.home.folder, (TASKS,)))).encode()).hexdigest()


def _dates(bar: Due) -> dict[str, str | None]:
    return {
        name: None if (day := getattr(bar, name)) is None else day.isoformat() for name in ("middle", "low", "high")
    }


def _read(row: Mapping[str, Any]) -> Row:
    bars = [
        Due(**{**one, **{name: one[name] and date.fromisoformat(one[name]) for name in ("middle", "low", "high")}})
        for one in row["bars"]
    ]
    drawing = row["drawing"]
    drawn = EngineDrawing(**{**drawing, "slots": ()}) if drawing else None
    return Row(bars=tuple(bars), hours=str(row["hours"]), drawing=drawn)
