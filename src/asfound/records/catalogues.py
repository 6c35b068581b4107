"""Which catalogue speaks for an engine: its own, else that of the home, else the one that ships with the program."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import RecordError
from asfound.fitout.catalogue import load_catalogue

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord


def book_of(records: Records, engine: EngineRecord) -> Catalogue:
    """Return what an engine is described with: its catalogue, or the generic slots where that does not know it.

    Raises
    ------
    RecordError, KnowledgeError
        As `catalogue_of`.
    """
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.generic import book_for

    layout = engine.content.get("layout") or {}
    facts = EngineFacts(
        tag=engine.tag,
        family=str(engine.content.get("family", "")),
        layout=layout.get("form", ""),
        cylinders=int(layout.get("cylinders", 0)),
    )
    return book_for(catalogue_of(records, engine), facts)


def catalogue_of(records: Records, engine: EngineRecord) -> Catalogue:
    """Return the catalogue for an engine, read again only when one of its files has changed.

    Raises
    ------
    RecordError
        The folder that engine or settings name is not on this computer.
    KnowledgeError
        A file of it is wrong.
    """
    named = str(engine.content.get("catalogue", "")) or records.settings.catalogue
    if not named:
        return load_catalogue()
    path = records.home.folder / named  # an absolute path stays as it is
    try:
        files = [path] if path.is_file() else sorted(path.rglob("*.y*ml"))
        state = tuple((str(one), one.stat().st_mtime_ns, one.stat().st_size) for one in files)
    except OSError as fault:
        raise RecordError(f"The catalogue {path} cannot be read: {fault.strerror}.") from fault
    if not state:
        raise RecordError(
            f"The catalogue {path} of engine {engine.tag} is not on this computer. Copy it there, or name another in "
            "the engine's entry or in the settings."
        )
    return _read(str(path), state)


@lru_cache(maxsize=8)
def _read(path: str, _state: tuple[tuple[str, int, int], ...]) -> Catalogue:
    """Read a catalogue; once for each state of its files."""
    return load_catalogue(Path(path))
