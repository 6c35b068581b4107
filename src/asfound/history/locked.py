"""Logs in a locked home: files that only who has the key can read, opened in memory and never as plain files.

The key itself is no business of this room: a *cipher* is handed to it for a folder (``records/lock.py`` does that once
the passphrase was given) and holds for everything beneath. A file is enciphered whole, since none is ever changed.
DuckDB reads and writes such a file through a file system in memory (``fsspec``), so that nothing of it lies plain on
the disk; nor does DuckDB put aside on disk what it sorts.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Protocol, cast

from asfound.errors import RecordError
from asfound.history.folders import LocalFolder, Writer
from asfound.history.rows_file import DamagedError
from asfound.history.whole_files import write_whole

if TYPE_CHECKING:
    from collections.abc import Mapping

MARK = "lock.json"
"""A home that holds a file of this name is locked."""
RECORD = "record.sqlite"
MEMORY = "memory://asfound-"


class Cipher(Protocol):
    """What enciphers and deciphers bytes; the same in every process that it is handed to."""

    def close(self, plain: bytes) -> bytes:
        """Return bytes that only the key opens."""

    def open(self, closed: bytes, what: str = "") -> bytes:
        """Return what was closed.

        Raises
        ------
        RecordError
            It was changed, or closed with another key.
        """


_ciphers: dict[Path, Cipher] = {}


def lock_folder(root: Path, cipher: Cipher | None) -> None:
    """Let a cipher hold for a folder and all beneath it, in this process; None ends that."""
    place = _place(root)
    if cipher is None:
        _ciphers.pop(place, None)
    else:
        _ciphers[place] = cipher


def given() -> dict[Path, Cipher]:
    """Return all ciphers of this process, to hand to another through a pipe (``take_over``)."""
    return dict(_ciphers)


def take_over(ciphers: Mapping[Path, Cipher]) -> None:
    """Let the ciphers of another process hold in this one."""
    _ciphers.update(ciphers)


def cipher_of(path: str | os.PathLike[str]) -> Cipher | None:
    """Return the cipher that holds for a path; None where files are plain.

    Raises
    ------
    RecordError
        The path lies in a locked home whose passphrase was not given in this process.
    """
    place = _place(Path(path))
    for above in (place, *place.parents):
        if above in _ciphers:
            return _ciphers[above]
        if (above / MARK).is_file():
            raise RecordError(
                f"{above} is locked, and its passphrase was not given to this program. Open the home first "
                "(Records.open), or set ASFOUND_PASSPHRASE_FILE."
            )
        if (above / RECORD).is_file():  # the home; what lies above it is another's
            return None
    return None


def read_file(path: Path) -> bytes:
    """Return the bytes of a file, deciphered where its folder is locked."""
    cipher, data = cipher_of(path.parent), path.read_bytes()
    return data if cipher is None else cipher.open(data, str(path))


def write_file(path: Path, data: bytes) -> None:
    """Write a file whole, enciphered where its folder is locked."""
    cipher = cipher_of(path.parent)
    write_whole(path, data if cipher is None else cipher.close(data))


@cache
def _place(path: Path) -> Path:
    return Path(os.path.abspath(path))


class MemoryFile:
    """A file in memory, with as much of a path's manners as writers and readers of the store need."""

    def __init__(self, ending: str = "") -> None:
        self.name = f"{MEMORY}{secrets.token_hex(8)}/file{ending}"

    def __str__(self) -> str:
        return self.name

    def open(self, mode: str = "rb") -> IO[bytes]:
        """Open it like a path."""
        return cast("IO[bytes]", memory().open(self.name, mode))

    def read_bytes(self) -> bytes:
        """Return what it holds."""
        return bytes(memory().cat_file(self.name))

    def write_bytes(self, data: bytes) -> int:
        """Let it hold these bytes."""
        memory().pipe_file(self.name, data)
        return len(data)

    def forget(self) -> None:
        """Let go of it."""
        with contextlib.suppress(FileNotFoundError):
            memory().rm_file(self.name)
            memory().rmdir(self.name.rpartition("/")[0])


@cache
def memory() -> Any:
    """Return the file system in memory.

    Raises
    ------
    RecordError
        The library is missing.
    """
    try:
        from fsspec.implementations.memory import MemoryFileSystem
    except ImportError as missing:
        raise RecordError("Logs of a locked home need the extra 'lock': pip install 'asfound[lock]'.") from missing
    return MemoryFileSystem()


class LockedFolder(LocalFolder):
    """A folder of this machine whose files are enciphered; names of folders and files, and sizes, can be seen."""

    def __init__(self, root: Path, cipher: Cipher) -> None:
        super().__init__(root)
        self.cipher = cipher

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        closed = super().read(path)
        try:
            return self.cipher.open(closed)
        except RecordError as changed:
            raise DamagedError(f"{self.where}/{path}", "it was changed, or closed with another key") from changed

    def write(self, path: str, writer: Writer) -> int:
        """Let the writer fill a file in memory, and write that enciphered, in one step."""
        held = MemoryFile(Path(path).suffix)
        try:
            writer(cast("Path", held))
            plain = held.read_bytes()
        finally:
            held.forget()

        def closed(passing: Path) -> None:
            passing.write_bytes(self.cipher.close(plain))

        super().write(path, closed)
        return len(plain)

    def create(self, path: str, data: bytes) -> bool:
        """Write a file enciphered, in one step, unless it is there already."""
        return super().create(path, self.cipher.close(data))

    @contextlib.contextmanager
    def local(self, path: str) -> Iterator[Path]:
        """Give the file deciphered, in memory."""
        held = MemoryFile(Path(path).suffix)
        try:
            held.write_bytes(self.read(path))
            yield cast("Path", held)
        finally:
            held.forget()
