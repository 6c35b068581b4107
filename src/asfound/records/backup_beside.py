"""What a backup takes along beside the record: the store of logs, and the files that people put into the home."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import RecordError
from asfound.records.home import write_durably

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.home import Home

LOGS = "logs"
NOT_OURS = ("record.sqlite", "settings.json", "backup.json", "lock.json", "seal.key")
TRIES = 5


def copy_beside(home: Home, to: Path) -> dict[str, str]:
    """Copy logs and files beside the record as they lie, and return the SHA-256 of each by its name.

    Files of a month never change; its manifest, copied after them, says which of them count. Where another program
    changed a month meanwhile it is copied again.
    """
    copied: dict[str, str] = {}
    for name in own_files(home):
        copied[name] = _copy(home.folder / name, to / name)
    store = home.folder / LOGS
    for folder in sorted({path.parent for path in store.rglob("*") if path.is_file()}) if store.is_dir() else ():
        copied |= _steadily(home.folder, folder, to)
    return copied


def own_files(home: Home) -> Iterator[str]:
    """Yield the names of files that people put into a home: rules, tasks, fault codes, a catalogue."""
    for path in sorted(home.folder.glob("*")) if home.folder.is_dir() else ():
        if path.is_file() and not path.name.startswith((".", "record.sqlite")) and path.name not in NOT_OURS:
            yield path.name
    catalogue = home.settings().catalogue
    if catalogue and not Path(catalogue).is_absolute() and ".." not in Path(catalogue).parts:
        for path in sorted((home.folder / catalogue).rglob("*")):
            if path.is_file():
                yield path.relative_to(home.folder).as_posix()


def _steadily(home: Path, folder: Path, to: Path) -> dict[str, str]:
    """Copy the files of one folder of the store, its manifests last; once more where one went away meanwhile."""
    for _ in range(TRIES):
        try:
            return {
                path.relative_to(home).as_posix(): _copy(path, to / path.relative_to(home))
                for path in sorted(folder.glob("*"), key=lambda one: (one.name.startswith("manifest-"), one.name))
                if path.is_file() and path.name != ".turn" and not path.name.startswith(".writing-")
            }
        except FileNotFoundError:
            shutil.rmtree(to / folder.relative_to(home), ignore_errors=True)
    raise RecordError(f"{folder} changes faster than it can be copied. Stop the import, then take the backup.")


def _copy(path: Path, to: Path) -> str:
    data = path.read_bytes()
    to.parent.mkdir(parents=True, exist_ok=True)
    write_durably(to, data)
    return hashlib.sha256(data).hexdigest()
