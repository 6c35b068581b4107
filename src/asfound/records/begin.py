"""Beginning the record of a home, and telling a home that was never begun from one that lost its record."""

from __future__ import annotations

import os
import secrets
from typing import TYPE_CHECKING

from asfound.errors import RecordError
from asfound.history.disk import put_in_place, sync_folder
from asfound.records.database import Database
from asfound.records.home import advice

if TYPE_CHECKING:
    from pathlib import Path

    from asfound.records.home import Home

FETCH = "Nothing was changed. Fetch a backup (asfound restore), or name another home."


def begun(home: Home) -> None:
    """Refuse a home that had a record and has none now.

    Raises
    ------
    RecordError
        The file of the record is empty, or it is gone while its photos and files are still there.
    """
    try:
        size = home.database.stat().st_size
    except FileNotFoundError:
        if next(home.files.glob("??/*"), None) is not None:
            raise RecordError(
                f"{home.database} is missing, while the photos and files of a record lie beside it. {FETCH}"
            ) from None
        return
    except OSError as fault:
        raise RecordError(f"{home.database} cannot be looked at: {fault.strerror}. {advice(fault)}") from fault
    if size == 0:
        raise RecordError(f"{home.database} is empty: what was in it is gone. {FETCH}")


def begin(home: Home, key: str = "") -> None:
    """Make an empty record under another name and give it its name when it is whole.

    So a record that is there is never half made, however two programs begin it or one is killed.
    """
    made = home.folder / f".record.{secrets.token_hex(4)}"
    try:
        database = Database.in_file(made, key)
        try:
            database.bring_up_to_date()
        finally:
            database.close()
        _name(made, home)
    except OSError as fault:
        raise RecordError(f"The record cannot be begun in {home.folder}: {fault.strerror}. {advice(fault)}") from fault
    finally:
        made.unlink(missing_ok=True)
    sync_folder(home.folder)


def _name(made: Path, home: Home) -> None:
    """Give a made record its name, unless another program was quicker."""
    try:
        os.link(made, home.database)
    except FileExistsError:
        return
    except OSError:  # a stick without hard links
        if not home.database.exists():
            put_in_place(made, home.database)
