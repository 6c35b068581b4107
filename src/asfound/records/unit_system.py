"""The unit system in which an engine's numbers are shown: of who reads, else of the settings, else of its site."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from asfound.quantities.own_units import shown_system, shown_units

if TYPE_CHECKING:
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


def system_of(records: Records, engine: EngineRecord) -> Literal["si", "us"]:
    """Return the unit system to show; what a reader chose for one kind of quantity goes before it (`own_units`)."""
    chosen = shown_system() or records.settings.units
    if chosen == "site":
        chosen = engine.units
    return "us" if chosen == "us" else "si"


def units_stamp(records: Records) -> str:
    """Return what changes whenever a text with a number in it may be in other units."""
    return f"{shown_system() or records.settings.units} {shown_units()}"
