"""Backups: a consistent copy of a home while programs work on it, checked after it was written, and fetched back.

A backup is a folder: ``record.sqlite``, ``files/``, ``logs/``, ``settings.json``, the files that people put into the
home themselves (rules, tasks, a catalogue), and ``backup.json`` with the SHA-256 of each. It opens like any home. The
key that signs seals is not in it. Of a locked home it is locked likewise, by the passphrase of that day.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from asfound.errors import InputError, RecordError
from asfound.history.disk import flush, put_in_place, sync_folder
from asfound.records.backup_beside import copy_beside
from asfound.records.database import Database
from asfound.records.entries import sha256
from asfound.records.files import FolderFiles, is_digest
from asfound.records.home import Home, advice, write_durably
from asfound.records.lock import FILE as LOCK
from asfound.records.lock import Keys, cipher_driver, is_locked, keys_of
from asfound.records.moved import copy_rows, digest_of_rows
from asfound.records.tables import ENTRIES

if TYPE_CHECKING:
    from asfound.records.store import Records

FORM = "asfound backup 1"
LIST = "backup.json"
RECORD = "record.sqlite"


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """What a backup holds."""

    folder: Path
    made: str
    entries: int
    newest: str
    """When the newest entry was written; empty where there is none."""
    files: int
    digest: str
    """Over all entries; see ``moved.digest_of_rows``."""


def back_up(records: Records, folder: Path) -> BackedUp:
    """Copy a record into a new folder and check the copy; other programs may go on writing.

    Raises
    ------
    InputError
        The folder holds something already.
    RecordError
        It cannot be written, or the record or a file of it is damaged.
    """
    if folder.exists() and any(folder.iterdir() if folder.is_dir() else (folder,)):
        raise InputError(
            "folder", str(folder), "is not empty", try_next="Name a new folder; backups stand side by side."
        )
    half = folder.with_name(f".{folder.name}.half")
    try:
        shutil.rmtree(half, ignore_errors=True)
        half.mkdir(parents=True)
        keys = _keys(records)
        if keys is not None:
            write_durably(half / LOCK, (records.home.folder / LOCK).read_bytes())
        _copy_database(records, half / RECORD, keys)
        listed = _copy_files(records, half, keys)
        settings = records.home.folder / "settings.json"
        if settings.exists():
            write_durably(half / settings.name, settings.read_bytes())
        beside = copy_beside(records.home, half)
        made = _describe(records, half, listed, beside, keys)
        write_durably(half / LIST, json.dumps(made, indent=1).encode())
        checked = check(half)
        if folder.exists():
            folder.rmdir()
        put_in_place(half, folder)
        sync_folder(folder.parent)
    except OSError as fault:
        raise RecordError(f"The backup cannot be written to {folder}: {fault.strerror}. {advice(fault)}") from fault
    finally:
        shutil.rmtree(half, ignore_errors=True)
    return BackedUp(**{**_fields(checked), "folder": folder})


def check(folder: Path) -> BackedUp:
    """Read a whole backup and compare it with its list.

    Raises
    ------
    RecordError
        It is none, or something in it is not as it was written.
    """
    listed, keys = _listed(folder), keys_of(folder)
    files = FolderFiles(folder / "files", keys)
    for one in listed["files"]:
        if not files.path(one).is_file():
            raise RecordError(f"The backup {folder} lacks the file {one[:12]}. Take another backup.")
        if not _sound(files, one):
            raise RecordError(
                f"The backup {folder} is damaged: the file {one[:12]} is not as it was written. Take another backup."
            )
    for name, digest in {RECORD: listed["record"], **listed.get("beside", {})}.items():
        try:
            now = _digest(folder / name)
        except OSError as fault:
            raise RecordError(f"The backup {folder} lacks {name} ({fault.strerror}). Take another backup.") from fault
        if now != digest:
            raise RecordError(f"The backup {folder} is damaged: {name} is not as it was written. Take another backup.")
    key = keys.database if keys else ""
    database = Database.in_file(folder / RECORD, key, only_read=True)
    try:
        faults, digest = database.faults(), digest_of_rows(database)
    finally:
        database.close()
    if faults or digest != listed["digest"]:
        raise RecordError(f"The backup {folder} is damaged: {faults[0] if faults else 'its entries do not agree'}.")
    return BackedUp(
        folder=folder, made=listed["made"], entries=listed["entries"], newest=listed["newest"],
        files=len(listed["files"]), digest=digest,
    )  # fmt: skip


def restore(backup: Path, home: Home) -> BackedUp:
    """Put a backup where no record is; checked before and after.

    Raises
    ------
    RecordError
        The backup is damaged; or there is a record: then nothing is changed, and it is said which of the two is newer.
    """
    checked = check(backup)
    if home.database.exists() and home.database.stat().st_size:
        raise RecordError(_both(checked, home))
    if is_locked(home.folder) and (home.folder / LOCK).read_bytes() != _bytes(backup / LOCK):
        raise RecordError(
            f"{home.folder} holds the lock of another record ({LOCK}). Move the folder away, keep it, and restore "
            "into its place."
        )
    try:
        if home.database.exists():  # an empty file is what a damaged disk left; it stays readable beside the record
            put_in_place(home.database, home.database.with_name(f"{RECORD}.empty"))
        keys = keys_of(backup)
        home.folder.mkdir(parents=True, exist_ok=True)
        if keys is not None:
            write_durably(home.folder / LOCK, (backup / LOCK).read_bytes())
        files, copied = FolderFiles(home.files, keys), FolderFiles(backup / "files", keys)
        for digest in sorted(_listed(backup)["files"]):
            files.put(copied.get(digest))
        for name in sorted(_listed(backup).get("beside", {})):
            target = home.folder / name
            if not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                write_durably(target, (backup / name).read_bytes())
        settings = backup / "settings.json"
        if settings.exists() and not (home.folder / settings.name).exists():
            write_durably(home.folder / settings.name, settings.read_bytes())
        write_durably(home.database, (backup / RECORD).read_bytes())  # last: until then there is no record
        if _digest(home.database) != _listed(backup)["record"]:
            raise RecordError(f"{home.database} is not what was written. Look at the disk; the backup is as it was.")
    except OSError as fault:
        raise RecordError(f"The backup cannot be put into {home.folder}: {fault.strerror}. {advice(fault)}") from fault
    return BackedUp(**{**_fields(checked), "folder": home.folder})


def _both(checked: BackedUp, home: Home) -> str:
    """Say what the record here and the backup hold that the other has not."""
    said = f"There is a record in {home.folder}; it is not overwritten."
    try:
        ours, ours_newest = _identifiers(home.folder)
        theirs, _ = _identifiers(checked.folder)
    except RecordError:
        return (
            f"{said} It cannot be read, so it cannot be said what it holds beside the backup of {checked.made}. Move "
            "the folder away, keep it, and restore into its place."
        )
    here, there = len(ours - theirs), len(theirs - ours)
    if not here and not there:
        return f"{said} It holds the same {len(ours)} entries as the backup."
    return (
        f"{said} It holds {here} entries that the backup has not (newest {ours_newest or 'none'}); the backup holds "
        f"{there} that it has not (newest {checked.newest or 'none'}). Restore into another folder with --home; to "
        "unite both, write a bundle there and take it in here."
    )


def _identifiers(folder: Path) -> tuple[set[str], str]:
    """Return the identifiers of all entries of a record, and when the newest was written."""
    keys, file = keys_of(folder), (folder / RECORD).absolute()
    database = Database.in_file(file, keys.database if keys else "", only_read=True)
    try:
        with database.reading() as connection:
            rows = connection.execute(select(ENTRIES.c.id, ENTRIES.c.at).order_by(ENTRIES.c.id)).all()
    finally:
        database.close()
    return {str(one[0]) for one in rows}, str(rows[-1][1]) if rows else ""


def _keys(records: Records) -> Keys | None:
    """Return what opens the record; None where it is plain, or lies in a shared database."""
    return keys_of(records.home.folder) if records.database.file is not None else None


def _connected(driver: Any, where: str, keys: Keys | None) -> Any:
    """Return a connection of SQLite's own, keyed where the record is locked."""
    made = driver.connect(where, uri=True, timeout=30)
    if keys is not None:
        made.execute(f'PRAGMA key = "{keys.database}"')
    return made


def _copy_database(records: Records, to: Path, keys: Keys | None) -> None:
    """Copy the database as it is at one moment."""
    if records.database.file is not None:
        driver = cipher_driver() if keys else sqlite3
        source = _connected(driver, f"{records.database.file.absolute().as_uri()}?mode=ro", keys)
        target = _connected(driver, to.absolute().as_uri(), keys)
        try:
            source.backup(target)
        except driver.Error as fault:
            room = " It has no more room: make room there, then take it again." if "full" in str(fault) else ""
            raise RecordError(f"{records.database.file} cannot be copied to {to.parent}: {fault}.{room}") from fault
        finally:
            source.close()
            target.close()
    else:
        copy = Database.in_file(to)
        try:
            copy.bring_up_to_date()
            copy_rows(records.database, copy)
        finally:
            copy.close()
    with open(to, "rb+") as written:
        flush(written.fileno())


def _copy_files(records: Records, to: Path, keys: Keys | None) -> list[str]:
    """Copy photos and files; they were kept before the entries that name them, so none that is named is missed."""
    files = FolderFiles(to / "files", keys)
    digests = sorted(records.files.digests())
    for digest in digests:
        files.put(records.attachment(digest))
    return digests


def _describe(
    records: Records, folder: Path, files: list[str], beside: dict[str, str], keys: Keys | None
) -> dict[str, Any]:
    """Return what goes into the list of a backup."""
    key = keys.database if keys else ""
    database = Database.in_file(folder / RECORD, key)
    try:
        digest = digest_of_rows(database)
    finally:
        database.close()
    identifiers, newest = _identifiers(folder)
    return {
        "form": FORM,
        "made": records.clock.now().isoformat(timespec="seconds"),
        "entries": len(identifiers),
        "newest": newest,
        "digest": digest,
        "record": _digest(folder / RECORD),
        "files": files,
        "beside": beside,
    }


def _listed(folder: Path) -> dict[str, Any]:
    """Return the list of a backup."""
    try:
        made = json.loads((folder / LIST).read_text(encoding="utf-8"))
        sound = (
            made["form"] == FORM
            and all(isinstance(made[name], str) for name in ("made", "newest", "digest", "record"))
            and isinstance(made["entries"], int)
            and all(isinstance(one, str) and is_digest(one) for one in made["files"])
            and all(_inside(name) and is_digest(digest) for name, digest in made.get("beside", {}).items())
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise RecordError(f"{folder} is no backup that can be read ({fault}). Name the folder of a backup.") from fault
    if not sound:
        raise RecordError(f"{folder} is no backup of this form. Name the folder of a backup.")
    return dict(made)


def _inside(name: str) -> bool:
    """Tell whether a name of the list leads to a file within the backup that may lie there."""
    parts = PurePosixPath(name).parts
    return bool(parts) and not name.startswith("/") and ".." not in parts and "\\" not in name and ":" not in parts[0]


def _sound(files: FolderFiles, digest: str) -> bool:
    try:
        return sha256(files.get(digest)) == digest
    except RecordError:
        return False


def _bytes(file: Path) -> bytes:
    return file.read_bytes() if file.exists() else b""


def _fields(one: BackedUp) -> dict[str, Any]:
    return {name: getattr(one, name) for name in BackedUp.__dataclass_fields__}


def _digest(file: Path) -> str:
    with open(file, "rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()
