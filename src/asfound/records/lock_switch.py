"""From a plain home to a locked one or back: prepared beside it, then switched in one step that nothing halves.

Everything of the other kind is written into ``.locking`` or ``.unlocking`` first. The one step is the rename of
``lock.json``: before it the home is as it was; after it the home is of the other kind, and what still lies in the
folder beside is put in its place, by this program or by the next that opens the home.
"""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

from asfound.errors import RecordError
from asfound.history.disk import put_in_place, sync_folder
from asfound.records.home import advice, write_durably
from asfound.records.kept_store import forget
from asfound.records.lock import FILE

if TYPE_CHECKING:
    from pathlib import Path

LOCKING, UNLOCKING = ".locking", ".unlocking"
RECORD, LATE = "record.sqlite", "record.sqlite.late"
PARTS = (RECORD, "files", "logs", "seal.key", "sharing/authority.key")
NOTE = "switch.json"


def fresh(folder: Path, name: str) -> Path:
    """Return an empty folder for the other kind; what a broken attempt left there goes."""
    half = folder / name
    shutil.rmtree(half, ignore_errors=True)
    half.mkdir(parents=True)
    half.chmod(0o700)
    return half


def switch(folder: Path, half: Path) -> None:
    """Make the home what was prepared; see ``settle`` for the rest."""
    write_durably(half / NOTE, json.dumps({"record": _stamp(folder / RECORD)}).encode())
    sync_folder(half)
    if half.name == LOCKING:
        put_in_place(half / FILE, folder / FILE)
    else:
        put_in_place(folder / FILE, half / FILE)
    sync_folder(folder)


def recover(folder: Path) -> None:
    """Finish a switch that was broken off after its one step; costs two looks where there is none.

    Raises
    ------
    RecordError
        A file cannot be moved.
    """
    locked = (folder / FILE).exists()
    for name, done in ((LOCKING, locked), (UNLOCKING, not locked)):
        half = folder / name
        if done and (half / NOTE).exists() and (name == LOCKING) != (half / FILE).exists():
            settle(folder, half)


def settle(folder: Path, half: Path) -> None:
    """Put every part in its place and remove what was there before."""
    try:
        for part in PARTS:
            _place(folder, half, part)
        forget(folder)  # pages kept beside the record would stay readable
        sync_folder(folder)
        shutil.rmtree(half)
    except OSError as fault:
        raise RecordError(
            f"The home {folder} is being switched, and a file of it cannot be moved: {fault.strerror}. Nothing is "
            f"lost. Close every other program on it and open it again. {advice(fault)}"
        ) from fault


def _place(folder: Path, half: Path, part: str) -> None:
    new, here = half / part, folder / part
    old = half / f"old-{part.replace('/', '-')}"
    if not new.exists():
        return
    before = json.loads((half / NOTE).read_text(encoding="utf-8"))["record"]
    if part == RECORD and here.exists() and _stamp(here) != before:
        put_in_place(here, folder / LATE)  # somebody wrote into it after it was copied: kept, and told (trust.notices)
    elif here.exists():
        put_in_place(here, old)
    here.parent.mkdir(parents=True, exist_ok=True)
    put_in_place(new, here)


def _stamp(file: Path) -> list[int]:
    """Return what changes when anybody writes into a file.

    The record is never opened for this: closing it again would take away the lock that this process holds on it
    (POSIX locks belong to the process, not to the handle), and another program would write into what is put aside.
    """
    seen = file.stat()
    return [seen.st_ino, seen.st_size, seen.st_mtime_ns]
