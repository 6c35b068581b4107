"""The report of a visit, kept as it was set: asked again while nothing changed, it is there at once.

It is kept beside the record under what it was made for (units, length, the reader) and for the state of all that it
rests on; in a locked home nothing is kept.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.language import reader
from asfound.records.kept_store import kept_store
from asfound.records.stamps import digest_of, state_stamp

if TYPE_CHECKING:
    from asfound.records.store import Records
    from asfound.records.things import VisitRecord
    from asfound.report.wording import System


def report_of(
    records: Records,
    visit: VisitRecord,
    *,
    system: System | None = None,
    full: bool = False,
) -> bytes:
    """Return the report of a visit as PDF with its record inside: as it was kept, or set now.

    Parameters
    ----------
    system : {'si', 'us'}, optional
        Units of the reader; those of the site when None.
    full : bool
        The full record.
    """
    store = kept_store(records)
    name = digest_of((visit.id, str(system), str(full), repr(reader())))
    key = "" if store is None else _stands(records, visit)
    kept = store.paper(name, key) if store is not None else None
    if kept is not None:
        return kept
    made = _set(records, visit, system, full=full)
    if store is not None and key == _stands(records, visit):  # nothing was written meanwhile
        store.keep_paper(name, key, made)
    return made


def _stands(records: Records, visit: VisitRecord) -> str:
    """Return what the report of a visit rests on, as a digest."""
    return digest_of(state_stamp(records, records.engine(visit.engine), visit))


def _set(records: Records, visit: VisitRecord, system: System | None, *, full: bool) -> bytes:
    from asfound.records.export import visit_record
    from asfound.records.visit import view
    from asfound.report.typeset import visit_report

    return visit_report(view(records, visit.id), system=system, record=visit_record(records, visit.id), full=full)
