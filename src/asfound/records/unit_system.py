"""The unit system in which an engine's numbers are shown: of the settings, else of its site."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


def system_of(records: Records, engine: EngineRecord) -> Literal["si", "us"]:
    """Return the unit system to show."""
    chosen = records.settings.units
    if chosen == "site":
        chosen = "us" if engine.units == "us" else "si"
    return chosen
