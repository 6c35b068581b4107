"""What a logger's columns were taken for at its import before: kept per source, and taken again without being asked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asfound.records.logs_of_engine import imports

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.history.log_form import LogForm
    from asfound.history.mapping import ColumnIs, Mapping
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


def mapping_before(records: Records, engine: EngineRecord, source: str) -> Mapping | None:
    """Return the mapping of the latest import of a source that stands, without its clock; None where there is none.

    ``source``: its name, without the number that each import gets.
    """
    import yaml

    from asfound.errors import AsFoundError
    from asfound.history.clocks import ClockCorrection
    from asfound.history.mapping import Mapping

    for entry in reversed(imports(records, engine)):
        said = str(entry.content["source"])
        if source in (said, said.rpartition(" #")[0]) and entry.content.get("mapping"):
            try:
                plain = yaml.safe_load(records.attachment(str(entry.content["mapping"])))
                return replace(Mapping.from_dict(plain), source=said, clock=ClockCorrection())
            except AsFoundError:  # its file did not come along, or is of a later program
                return None
    return None


def as_before(proposed: Iterable[ColumnIs], form: LogForm, before: Mapping | None) -> dict[str, ColumnIs]:
    """Return by head the columns that are what they were; one with another unit over it now is asked anew."""
    if before is None:
        return {}
    written = {column.head: column.unit for column in form.columns}
    known = {one.head: one for one in before.columns if one.quantity}
    return {
        one.head: replace(known[one.head], score=1.0, why=(f"as at the import '{before.source}'",))
        for one in proposed
        if one.head in known and written.get(one.head, "") in ("", known[one.head].unit)
    }
