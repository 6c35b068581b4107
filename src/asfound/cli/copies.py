"""`asfound backup`, `restore`, `move-home`: copies that are checked after they were written."""

from __future__ import annotations

from pathlib import Path

from asfound.cli.answer import answer, working
from asfound.cli.find import opened
from asfound.cli.options import Home


def backup(folder: Path, /, *, check: bool = False, where: Home = Home()) -> None:
    """Copy the record into a new folder, consistent while other programs write, and check the copy.

    Parameters
    ----------
    folder
        Folder to make. It opens like a home; the key that signs seals is not in it.
    check
        Write nothing; read this backup and compare every digest.
    """
    from asfound.records import backup as copies

    with working("Checking the backup" if check else "Copying and checking"):
        made = copies.check(folder) if check else copies.back_up(opened(where), folder)
    data = {
        "folder": str(made.folder), "made": made.made, "entries": made.entries, "newest": made.newest,
        "files": made.files, "digest": made.digest,
    }  # fmt: skip
    says = "Sound" if check else "Written and checked"
    answer(
        where,
        data,
        lambda: [f"{says}: {folder}, {made.entries} entries up to {made.newest or '-'}, {made.files} files"],
    )


def restore(folder: Path, /, *, where: Home = Home()) -> None:
    """Put a backup into a home that has no record. A record that is there is never overwritten.

    Parameters
    ----------
    folder
        The backup.
    """
    from asfound.records.backup import restore as fetch
    from asfound.records.home import Home as Folder

    with working("Checking and copying"):
        made = fetch(folder, Folder(where.home or None))
    data = {"home": str(made.folder), "made": made.made, "entries": made.entries, "files": made.files}
    answer(where, data, lambda: [f"In {made.folder}: {made.entries} entries, {made.files} files, as of {made.made}"])


def move_home(to: str, /, *, where: Home = Home()) -> None:
    """Copy everything into an empty record: from a folder to a database, or back. The source stays as it is.

    Entries, files, people and what was done at the door come along; both records are compared afterwards.

    Parameters
    ----------
    to
        Folder to make, or address of an empty database: postgresql+psycopg://NAME@HOST/DATABASE
    """
    from asfound.records.moved import move
    from asfound.records.store import Records

    with opened(where) as source, Records.open(to) as target, working("Copying and comparing"):
        made = move(source, target)
        if "://" not in to and "://" not in where.home:
            old = source.settings
            target.home.change(person=old.person, zone=old.zone, units=old.units, decimal=old.decimal)
    data = {"entries": made.entries, "files": made.files, "people": made.people, "digest": made.digest}
    answer(
        where, data, lambda: [f"Copied and compared: {made.entries} entries, {made.files} files, {made.people} people"]
    )
