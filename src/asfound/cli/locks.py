"""`asfound home-lock`, `home-unlock`, `home-passphrase`: a home that only a passphrase opens. Also: who asks for it."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, working
from asfound.cli.options import Home
from asfound.errors import InputError, RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.lock_home import Switched


def home_lock(*, passphrase_file: str = "", where: Home = Home()) -> None:
    """Lock this home: record, photos, logs and keys cannot be read any more without the passphrase.

    There is no second key: who forgets the passphrase has lost what is in the home. Needs the extra 'lock', and room on
    the disk for everything once more while it is done. Close other programs on the home first.

    Parameters
    ----------
    passphrase_file
        File whose first line is the passphrase; without it, it is asked for twice.
    """
    from asfound.records.lock_home import lock_home

    folder = _folder(where)
    chosen = passphrase("Passphrase (10 signs or more)", passphrase_file, twice=True)
    with working("Locking and comparing"):
        made = lock_home(folder, chosen)

    def told() -> Iterator[str]:
        yield f"Locked: {folder}. {_carried(made)}"
        yield coloured(
            "Without the passphrase nobody can read it any more. Write it down where the laptop is not.", "visit"
        )
        yield "Old copies that lie elsewhere (backups, bundles, exports) stay as they are."
        if made.plain:
            yield f"What can still be read in the folder: {', '.join(made.plain)}"

    answer(where, _data(made), told)


def home_unlock(*, passphrase_file: str = "", where: Home = Home()) -> None:
    """Make a locked home plain again, so that it opens without a passphrase.

    Parameters
    ----------
    passphrase_file
        File whose first line is the passphrase; without it, it is asked for.
    """
    from asfound.records.lock_home import unlock_home

    folder = _folder(where)
    given = passphrase(f"Passphrase of {folder}", passphrase_file)
    with working("Opening and comparing"):
        made = unlock_home(folder, given)
    answer(where, _data(made), lambda: [f"Not locked any more: {folder}. {_carried(made)}"])


def home_passphrase(*, passphrase_file: str = "", new_file: str = "", where: Home = Home()) -> None:
    """Give a locked home another passphrase. Backups made before keep the old one.

    Parameters
    ----------
    passphrase_file
        File whose first line is the old passphrase; without it, it is asked for.
    new_file
        File whose first line is the new one; without it, it is asked for twice.
    """
    from asfound.records.home import Home as Folder
    from asfound.records.lock import change_passphrase, is_locked

    folder = _folder(where)
    if not is_locked(folder):
        raise RecordError(f"{folder} is not locked. Lock it: asfound home-lock.")
    old = passphrase("Old passphrase", passphrase_file)
    change_passphrase(Folder(folder), old, passphrase("New passphrase (10 signs or more)", new_file, twice=True))
    answer(where, {"home": str(folder), "changed": True}, lambda: [f"{folder} has another passphrase now."])


def passphrase(prompt: str, file: str = "", *, twice: bool = False) -> str:
    """Return a passphrase: from a file, typed at a terminal, else the first line of standard input."""
    from asfound.records.lock import passphrase_from_file

    if file:
        return passphrase_from_file(file)
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass(f"{prompt}: ")
    if twice and getpass.getpass("Once more: ") != first:
        raise InputError("passphrase", "(not shown)", "was typed in two ways", try_next="Try again.")
    return first


def ask(folder: Path) -> str:
    """Ask the person at the terminal for the passphrase of a home that is to be opened."""
    from asfound.records.lock import VARIABLE

    if not sys.stdin.isatty():
        raise RecordError(
            f"The home {folder} is locked. With nobody to ask, {VARIABLE} names a file with its passphrase."
        )
    return getpass.getpass(f"{folder} is locked. Passphrase: ")


def _folder(where: Home) -> Path:
    from asfound.records.home import Home as Folder

    if "://" in where.home:
        raise InputError("home", where.home, "is no folder", try_next="A shared database is locked by its own server.")
    folder = Folder(where.home or None)
    if not folder.exists:
        raise RecordError(f"There is no record in {folder.folder} yet; a home is locked once it is begun.")
    return folder.folder


def _carried(made: Switched) -> str:
    return f"{made.entries} entries, {made.files} files and {made.log_files} files of logs carried over and compared."


def _data(made: Switched) -> dict[str, Any]:
    return {
        "home": str(made.folder), "entries": made.entries, "files": made.files, "log_files": made.log_files,
        "digest": made.digest, "plain": list(made.plain),
    }  # fmt: skip
