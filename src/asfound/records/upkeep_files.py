"""What the calendar of a home is made from: each engine, its upkeep, and how far its entries have come."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from asfound.records.upkeep_of_engine import upkeep_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.upkeep.engine_due import EngineDue


def calendar_of(records: Records, engines: Iterable[EngineRecord]) -> list[tuple[str, EngineDue, int, datetime]]:
    """Return engines as `report.due_files.due_calendar` takes them.

    The moment is that of the newest entry of the engine, so that the same record gives the same file.
    """
    found = []
    for one in engines:
        entries = records.entries(one.id)
        moment = datetime.fromisoformat(entries[-1].at).astimezone(UTC).replace(microsecond=0)
        found.append((one.id, upkeep_of(records, one), len(entries), moment))
    return found
