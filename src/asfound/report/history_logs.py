"""Where the logs of an engine lie, and what its look says: the one place that pages, report and API ask."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from asfound.records.site_zone import zone_of as zone_of
from asfound.report.time_axis import microseconds

if TYPE_CHECKING:
    from datetime import date, tzinfo

    from asfound.history.look_parts import EngineLook
    from asfound.history.store import Store
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class LogsOf:
    """The logs of one engine as a page sees them."""

    store: Store
    stored: str
    """What the store calls it."""
    span: tuple[int, int]
    """Times of the first and the last row, microseconds UTC; the last is cut at the day asked for."""
    look: EngineLook | None
    zone: tzinfo
    visits: tuple[tuple[int, str], ...]
    """Begin and name of each visit, oldest first."""
    sealed: bool = False
    """Seen from a visit that is closed."""
    after_seal: bool = False
    """The look was worked out after the visit was closed: it is no part of it."""
    newest: EngineLook | None = None
    """Seen from a visit: the newest look at all, which may tell what the visit did."""
    visit: str = ""
    """Name of the visit that it is seen from."""
    works: tuple[tuple[int, str], ...] = ()
    """What was done between the visits: time and short words."""


def logs_of(
    records: Records, engine: EngineRecord, day: date | None = None, visit: VisitRecord | None = None
) -> LogsOf | None:
    """Return the logs of an engine, seen as of the end of ``day``; None where it has none by then.

    With a visit: where it is sealed, what was known of the log when it was, else what is known now and says so.
    """
    try:
        from asfound.records.logs_of_engine import kept_look_of, logs, stored_as
        from asfound.records.works_of_log import short_works
    except ImportError:  # until the record knows logs
        return None
    stored = stored_as(records, engine)
    if stored is None:
        return None
    store = logs(records)
    span = store.span(stored)
    zone = zone_of(engine)
    if span is None:
        return None
    first, last = span
    if day is not None:
        last = min(last, microseconds(datetime(day.year, day.month, day.day, tzinfo=zone) + timedelta(days=1)))
    if last <= first:
        return None
    found = [(microseconds(datetime.fromisoformat(one.began)), one.name) for one in records.visits(engine.id)]
    look, newest = kept_look_of(records, engine, day.isoformat() if day else None), None
    known, sealed = None, visit is not None and visit.sealed is not None
    if visit is not None:
        from asfound.records.sealed_look import look_known_at_seal

        known = look_known_at_seal(records, visit)
        newest = kept_look_of(records, engine)
    return LogsOf(
        store=store,
        stored=stored,
        span=(first, last),
        look=known or look,
        after_seal=sealed and known is None and look is not None,
        sealed=sealed,
        newest=newest,
        visit=visit.name if visit is not None else "",
        works=tuple((time, text) for time, text in short_works(records, engine) if time <= last),
        zone=zone,
        visits=tuple(sorted(one for one in found if one[0] <= last + 2 * 86_400_000_000)),
    )
