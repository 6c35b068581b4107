"""Who reads what a command writes: as the home says, or in the language that was asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.language import Reader

if TYPE_CHECKING:
    from asfound.records.store import Records


def reader_of_home(records: Records, language: str = "home", paper: str = "home") -> Reader:
    """Return the reader of a home; ``language`` and ``paper`` other than ``home`` go before what is set there."""
    chosen = records.settings
    spoken = chosen.language or "en" if language == "home" else language
    sheet = chosen.paper if paper == "home" else paper
    return Reader(spoken, chosen.numbers, chosen.dates, chosen.units, chosen.own_units, sheet)
