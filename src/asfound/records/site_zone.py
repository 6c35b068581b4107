"""The clock of the place where an engine stands."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

if TYPE_CHECKING:
    from datetime import tzinfo

    from asfound.records.things import EngineRecord


def zone_of(engine: EngineRecord) -> tzinfo:
    """Return the clock of the place where an engine stands: its offset or zone by name, else UTC.

    Logs are kept in UTC; a page shows them at the clock that people there read.
    """
    said = str(engine.site.content.get("zone", "")) if engine.site else ""
    if not said:
        return UTC
    try:
        return datetime.fromisoformat(f"2000-01-01T00:00:00{said}").tzinfo or UTC
    except ValueError:
        pass
    try:
        return ZoneInfo(said)
    except (ZoneInfoNotFoundError, ValueError):
        return UTC
