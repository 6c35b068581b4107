"""What differs between systems when a file is brought to the disk: flushing, putting in place, waiting for a turn."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

WINDOWS = os.name == "nt"
PATIENCE = 3.0
"""How long a file that another program holds open is waited for. [s]"""
LOOK_AGAIN = 0.01
"""How often is looked whether it let go. [s]"""


def flush(handle: int) -> None:
    """Bring a file to the disk; on macOS also out of the drive's own memory, where ``fsync`` leaves it."""
    try:
        import fcntl

        fcntl.fcntl(handle, fcntl.F_FULLFSYNC)  # type: ignore[attr-defined,unused-ignore]
    except (ImportError, AttributeError, OSError):  # another system; a network drive that cannot
        os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can (Windows cannot open a folder)."""
    if WINDOWS:
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def put_in_place(new: Path, target: Path) -> None:
    """Give a file or folder its name, over what bears it.

    Windows refuses that while another program reads the old file (a look at the logs, a copy being made, what searches
    for viruses); that is waited for.
    """
    until = time.monotonic() + PATIENCE
    while True:
        try:
            os.replace(new, target)
        except PermissionError:
            if not WINDOWS or time.monotonic() > until:
                raise
            time.sleep(LOOK_AGAIN)
        else:
            return


@contextlib.contextmanager
def alone(mark: IO[bytes]) -> Iterator[None]:
    """Wait until no other process is in this block with the same file; the system frees it when a process ends.

    A file system that knows no locks lets everybody in.
    """
    try:
        import fcntl
    except ImportError:
        with _alone_on_windows(mark):
            yield
        return
    with contextlib.suppress(OSError):
        fcntl.flock(mark, fcntl.LOCK_EX)
    yield


@contextlib.contextmanager
def _alone_on_windows(mark: IO[bytes]) -> Iterator[None]:
    """Hold the first byte of a file: what Windows gives in place of ``flock``, which itself waits 10 s at most."""
    import errno
    import msvcrt

    held = False
    while not held:
        mark.seek(0)
        try:
            msvcrt.locking(mark.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
            held = True
        except OSError as fault:
            if fault.errno not in (errno.EACCES, errno.EDEADLK):  # a drive that knows no locks
                break
            time.sleep(LOOK_AGAIN)
    try:
        yield
    finally:
        if held:
            mark.seek(0)
            msvcrt.locking(mark.fileno(), msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined,unused-ignore]
