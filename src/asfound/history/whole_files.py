"""Small files that are there whole or not at all: written beside, brought to the disk, and put in place."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path

from asfound.errors import RecordError
from asfound.history.disk import flush, put_in_place

_ADVICE = {
    errno.ENOSPC: "The disk is full: make room, then do it again",
    errno.EDQUOT: "There is no more room for this user: make some, then do it again",
    errno.EROFS: "The disk may only be read: name another home, then do it again",
    errno.EACCES: "The folder may not be written: give yourself the right to, then do it again",
    errno.EPERM: "The folder may not be written: give yourself the right to, then do it again",
    errno.EIO: "The disk answers with errors: copy the home to another one, then do it again",
}


@contextlib.contextmanager
def plainly(where: object) -> Iterator[None]:
    """Turn what the system or DuckDB says of a disk that takes nothing into words and advice.

    Raises
    ------
    RecordError
    """
    try:
        yield
    except OSError as fault:
        if fault.errno not in _ADVICE:
            raise
        raise RecordError(_told(where, fault.strerror or str(fault), fault.errno)) from fault
    except Exception as fault:
        if type(fault).__name__ != "IOException" or not type(fault).__module__.startswith(("duckdb", "_duckdb")):
            raise
        number = next((one for one in _ADVICE if os.strerror(one) in str(fault)), 0)
        raise RecordError(_told(where, os.strerror(number) if number else str(fault)[:200], number)) from fault


def _told(where: object, said: str, number: int) -> str:
    advice = _ADVICE.get(number, "Look at the disk, then do it again")
    return f"{where} cannot be written: {said}. {advice}; what was kept before stays, and nothing is taken twice."


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that a break leaves either the old one or the new one."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    with plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with beside.open("wb") as file:
                file.write(data)
                file.flush()
                flush(file.fileno())
            put_in_place(beside, path)
        except OSError:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
            raise
