"""Locking a home, opening it for good, and what of it stays plain."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError
from asfound.history import disk
from asfound.history.locked import LockedFolder
from asfound.history.store import Store
from asfound.records.begin import begin
from asfound.records.database import Database
from asfound.records.entries import sha256
from asfound.records.files import FolderFiles
from asfound.records.home import Home, advice, write_durably
from asfound.records.lock import FILE, Keys, cipher_driver, forget, is_locked, keys_of, make_lock
from asfound.records.lock_switch import LOCKING, RECORD, UNLOCKING, fresh, settle, switch
from asfound.records.moved import copy_rows, digest_of_rows
from asfound.records.store import Records

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.history.locked import Cipher

REFUSED = ".refused.jsonl"
SECRETS = ("seal.key", "sharing/authority.key")


@dataclass(frozen=True, slots=True, kw_only=True)
class Switched:
    """What was carried over; ``digest`` is over all entries, and the same before and after."""

    folder: Path
    entries: int
    files: int
    log_files: int
    digest: str
    plain: tuple[str, ...]
    """What can be read without the passphrase all the same."""


def lock_home(folder: Path, passphrase: str) -> Switched:
    """Lock a home: record, photos, logs and private keys cannot be read any more without the passphrase.

    Raises
    ------
    InputError
        The passphrase is too short.
    RecordError
        It is locked already, a file of it is damaged, or it cannot be written; then everything is as it was.
    """
    if is_locked(folder):
        raise RecordError(f"{folder} is locked already. Another passphrase: asfound home-passphrase.")
    data, keys = make_lock(passphrase)
    cipher_driver()
    return _switched(folder, LOCKING, data, None, keys)


def unlock_home(folder: Path, passphrase: str) -> Switched:
    """Make a locked home plain again.

    Raises
    ------
    RecordError
        The passphrase does not open it, or a file of it is damaged; then everything is as it was.
    """
    if not is_locked(folder):
        raise RecordError(f"{folder} is not locked.")
    keys = keys_of(folder, passphrase)
    return _switched(folder, UNLOCKING, b"", keys, None)


def plain_parts(folder: Path) -> tuple[str, ...]:
    """Return the files of a locked home that anybody can read: settings, and what people put there themselves."""
    kept = {RECORD, FILE, "seal.key"}
    found = [one for one in folder.glob("*") if one.is_file() and one.name not in kept and not one.name.startswith(".")]
    catalogue = Home(folder).settings().catalogue
    found += [folder / catalogue] if catalogue and not Path(catalogue).is_absolute() else []
    return tuple(sorted(one.name for one in found))


def _switched(folder: Path, name: str, lock: bytes, old: Keys | None, new: Keys | None) -> Switched:
    with Records.open(folder) as records:
        half = fresh(folder, name)
        try:
            with records.database.writing():  # nobody else writes until the switch is done
                made = _prepared(records, half, old, new)
                if lock:
                    write_durably(half / FILE, lock)
                switch(folder, half)
                if not disk.WINDOWS:
                    settle(folder, half)
        except OSError as fault:
            raise RecordError(
                f"The home cannot be written anew in {half}: {fault.strerror}. It is as it was. {advice(fault)} It "
                "takes as much room again while this is done."
            ) from fault
    if disk.WINDOWS:  # there an open file cannot be moved
        settle(folder, half)
    for copy in folder.glob(f"{RECORD}.before-*") if lock else ():  # plain copies made before a change of schema
        copy.unlink()
    forget()
    return Switched(folder=folder, **made, plain=plain_parts(folder) if lock else ())


def _prepared(records: Records, half: Path, old: Keys | None, new: Keys | None) -> dict[str, Any]:
    """Write everything of the home into the folder beside, of the other kind, and compare it."""
    home, beside = records.home, Home(half)
    begin(beside, new.database if new else "")
    copy = Database.in_file(beside.database, new.database if new else "")
    try:
        rows = copy_rows(records.database, copy)
        before, after = digest_of_rows(records.database), digest_of_rows(copy)
    finally:
        copy.close()
    if before != after:
        raise RecordError(
            f"The copy does not agree with the record ({before[:12]}, {after[:12]}). The home is as it was."
        )
    files, into = FolderFiles(home.files, old), FolderFiles(beside.files, new)
    digests = sorted(files.digests())
    for digest in digests:
        if into.put(records.attachment(digest)) != digest or sha256(into.get(digest)) != digest:
            raise RecordError(f"The file {digest[:12]} cannot be carried over. The home is as it was.")
    logs = _logs(home.folder / "logs", half / "logs", old.logs if old else None, new.logs if new else None)
    for name in SECRETS:
        if (home.folder / name).exists():
            data = (home.folder / name).read_bytes()
            plain = old.secrets.open(data, name) if old else data
            (half / name).parent.mkdir(exist_ok=True)
            write_durably(half / name, new.secrets.close(plain) if new else plain)
            (half / name).chmod(0o600)
    return {"entries": rows["entries"], "files": len(digests), "log_files": logs, "digest": before}


def _logs(source: Path, target: Path, old: Cipher | None, new: Cipher | None) -> int:
    """Carry the store of logs over, file by file; return how many. Every month is read again from where it now lies."""
    count = 0
    for name in _names(source):
        data = (source / name).read_bytes()
        if name.endswith(REFUSED):
            continue  # with its state, which says how far it is good
        plain = old.open(data, name) if old else data
        if name.startswith(".imports/"):
            plain = _ledger(source, target, name, plain, old, new)
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        write_durably(target / name, new.close(plain) if new else plain)
        count += 1
    store = Store(target) if new is None else _locked_store(target, new)
    damaged = store.verify() if target.exists() else ()
    if damaged:
        raise RecordError(
            f"Of the logs {len(damaged)} files are damaged ({damaged[0]}). The home is as it was. Set the month "
            "aside and import its sources again, then lock it."
        )
    return count


def _locked_store(folder: Path, cipher: Cipher) -> Store:
    store = Store.__new__(Store)
    store.folder = LockedFolder(folder, cipher)
    store.where = store.folder.where
    return store


def _names(source: Path) -> Iterator[str]:
    for path in sorted(source.rglob("*")) if source.is_dir() else ():
        if path.is_file() and path.name != ".turn" and not path.name.startswith(".writing-"):
            yield path.relative_to(source).as_posix()


def _ledger(source: Path, target: Path, name: str, state: bytes, old: Cipher | None, new: Cipher | None) -> bytes:
    """Carry the refusals of an import over, line by line as they are appended; return its state with their new size."""
    lines = source / f"{name.removesuffix('.json')}{REFUSED}"
    if not lines.exists():
        return state
    told = json.loads(state)
    kept = lines.read_bytes()[: int(told["ledger_size"])].splitlines()
    out = b""
    for line in kept:
        plain = old.open(b64decode(line), lines.name) if old else line
        out += (b64encode(new.close(plain)) if new else plain) + b"\n"
    (target / lines.relative_to(source)).parent.mkdir(parents=True, exist_ok=True)
    write_durably(target / lines.relative_to(source), out)
    told["ledger_size"] = len(out)
    return json.dumps(told, ensure_ascii=False, indent=1).encode()
