"""Which catalogue speaks for an engine: its own, else that of the home, else the one that ships with the program."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import RecordError
from asfound.fitout.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Iterable

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
    path = folder_of(records, engine)
    if path is None:
        return load_catalogue()
    try:
        state = tuple((str(one), one.stat().st_mtime_ns, one.stat().st_size) for one in _files(path))
    except OSError as fault:
        raise RecordError(f"The catalogue {path} cannot be read: {fault.strerror}.") from fault
    if not state:
        raise RecordError(
            f"The catalogue {path} of engine {engine.tag} is not on this computer. Copy it there, or name another in "
            "the engine's entry or in the settings."
        )
    return _read(str(path), state)


def folder_of(records: Records, engine: EngineRecord) -> Path | None:
    """Return where the catalogue of an engine lies; None: it ships with the program."""
    named = str(engine.content.get("catalogue", "")) or records.settings.catalogue
    return records.home.folder / named if named else None  # an absolute path stays as it is


def paths_of(records: Records, engines: Iterable[EngineRecord]) -> tuple[str, ...]:
    """Return the files and folders of the catalogues of some engines that do not ship with the program."""
    folders = {path for one in engines if (path := folder_of(records, one)) is not None}
    found: list[Path] = []
    for path in sorted(folders):
        found += [path, *(one for one in path.rglob("*") if one.is_dir()), *_files(path)]
    return tuple(str(one) for one in found)


def _files(path: Path) -> list[Path]:
    return [path] if path.is_file() else sorted(path.rglob("*.y*ml"))


@lru_cache(maxsize=8)
def _read(path: str, _state: tuple[tuple[str, int, int], ...]) -> Catalogue:
    """Read a catalogue; once for each state of its files."""
    return load_catalogue(Path(path))
