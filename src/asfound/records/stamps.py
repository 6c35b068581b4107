"""What tells whether something that was worked out still holds, without loading what it was worked out from."""

from __future__ import annotations

import hashlib
import os
from bisect import bisect_right
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

OWN_FILE, OWN_CODES, LOGS, TASKS = "troubleshooting.yaml", "fault_codes.csv", "logs", "tasks.yaml"
"""Names in a home that other modules own; those load what need not be loaded here, and a test compares the names."""


def closed_stamp(records: Records, visit: VisitRecord | None = None) -> tuple[object, ...]:
    """Return what a view of a visit rests on beside its own engine's entries: closed cases, files, the switch.

    Cases that were closed after a seal move nothing of the visit that it closed.
    """
    standing = records.standing("trouble_closed")
    times, digests = records.remembered(standing, lambda: _digests(standing), slot=("digests of closed cases",))
    seal = visit.sealed if visit is not None else None
    closed = digests[len(times) if seal is None else bisect_right(times, seal.at)]
    own = file_stamp(records.home.folder, (OWN_FILE, OWN_CODES))
    return closed, records.settings.count_closed, own


def _digests(entries: Iterable[Entry]) -> tuple[list[str], list[str]]:
    """Return times, and after none, one, two ... entries a digest over which they are."""
    ordered = sorted(entries, key=lambda one: (one.at, one.id))
    made = hashlib.sha256()
    digests = [""]
    for one in ordered:
        made.update(one.id.encode())
        digests.append(made.hexdigest())
    return [one.at for one in ordered], digests


def file_stamp(folder: Path, names: Iterable[str]) -> tuple[tuple[int, int], ...]:
    """Return time of change and size of files of a home; noughts where there is none."""
    found = []
    for name in names:
        try:
            stat = (folder / name).stat()
            found.append((stat.st_mtime_ns, stat.st_size))
        except OSError:
            found.append((0, 0))
    return tuple(found)


def log_stamp(records: Records, engine: str) -> tuple[str, ...]:
    """Return what tells whether another look at the log of an engine is kept."""
    if not (records.home.folder / LOGS).is_dir():
        return ()
    from asfound.records.logs_of_engine import look_stamp

    return look_stamp(records, engine)


def catalogue_stamp(records: Records, engine: EngineRecord) -> str:
    """Return what tells whether the catalogue of an engine changed; the packaged one changes with the program."""
    named = str(engine.content.get("catalogue", "")) or records.settings.catalogue
    if not named:
        return ""
    from asfound.errors import AsFoundError
    from asfound.records.catalogues import catalogue_of

    try:
        return catalogue_of(records, engine).digest
    except AsFoundError as fault:
        return str(fault)


def state_stamp(records: Records, engine: EngineRecord, visit: VisitRecord, *, minutes: bool = True) -> tuple[str, ...]:
    """Return what changes whenever pages and papers of a visit may say something else, whoever reads them.

    Its own entries go in byte by byte. Of an open visit the clock goes in by the day, for what is due; a closed one is
    seen from its own day.

    Parameters
    ----------
    minutes : bool
        Whether the line of the day is shown, which goes on by itself while a visit is open.
    """
    from asfound.records.kept_store import program_stamp

    now = records.clock.now()
    return (
        program_stamp(), repr(records.settings),
        "" if visit.sealed else now.isoformat()[: 16 if minutes else 10],
        repr(records.newest_of(engine.id)), repr(records.newest_of(None)), repr(closed_stamp(records, visit)),
        repr(log_stamp(records, engine.id)), catalogue_stamp(records, engine),
        repr(files_stamp(str(records.home.folder))),
        records.rows.digest_of_visit(visit.id),
    )  # fmt: skip


def digest_of(parts: Iterable[str]) -> str:
    """Return a digest over texts in their order."""
    return hashlib.blake2b("\x00".join(parts).encode("utf-8", "replace"), digest_size=20).hexdigest()


def files_stamp(folder: str) -> tuple[tuple[str, int, int], ...]:
    """Return what tells whether somebody changed a file of the home that a page may rest on."""
    found = []
    with os.scandir(folder) as entries:
        for one in entries:
            if one.name.endswith((".yaml", ".yml", ".csv", ".json", ".key", ".ics")) and one.is_file():
                stat = one.stat()
                found.append((one.name, stat.st_mtime_ns, stat.st_size))
    return tuple(sorted(found))


def log_folders(records: Records, engine: EngineRecord | None = None) -> tuple[str, ...]:
    """Return the folders in which something comes or goes whenever logs, or looks at them, are others.

    Files there are never changed in place. Of an engine: those of its rows, looks and alarms. Of all engines: of which
    there are rows at all, and those of the looks.
    """
    folder = records.home.folder / LOGS
    if not folder.is_dir():
        return (str(folder),)
    from asfound.history.alarm_lists import FOLDER as ALARMS
    from asfound.history.look_disk import FOLDER as LOOKS

    looks = folder / LOOKS
    if engine is None:
        return (str(folder), str(looks), *_folders_in(looks))
    from asfound.history.manifest import engine_path
    from asfound.records.logs_of_engine import stored_as

    path = engine_path(stored_as(records, engine) or engine.tag)
    rows = folder / path
    return (str(folder), str(rows), *_folders_in(rows), str(looks / path), str(folder / ALARMS / path))


def _folders_in(folder: Path) -> list[str]:
    return [one for one, _, _ in os.walk(folder)][1:]


def times_of(paths: Iterable[str]) -> tuple[int, ...]:
    """Return when files were last changed, or something last came to folders or went; nought where there is none."""
    found = []
    for one in paths:
        try:
            found.append(os.stat(one).st_mtime_ns)
        except OSError:
            found.append(0)
    return tuple(found)
