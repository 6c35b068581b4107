"""Where a store lies: a folder of this machine, S3 (extra ``s3``), or another URL that fsspec knows (extra ``fleet``).

Files are written once and never changed: a file is written under a passing name, flushed to the disk, and then given
its own name in one step. A half-written file therefore never bears a name that anybody reads.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Protocol

from asfound.errors import AsFoundError
from asfound.history.disk import alone, flush, put_in_place, sync_folder
from asfound.history.whole_files import plainly

PASSING = ".writing-"
TURN = ".turn"
ABANDONED_AFTER = 3600.0
"""Seconds after which a passing file belongs to a process that was killed."""
Writer = Callable[[Path], None]


class Folder(Protocol):
    """What a store needs of the place it lies in; a path is relative, with slashes."""

    where: str

    def names(self, path: str) -> list[str]:
        """Return names of files and folders in a folder, sorted; none where it is missing."""

    def read(self, path: str) -> bytes:
        """Return a file's bytes; FileNotFoundError."""

    def write(self, path: str, writer: Writer) -> int:
        """Write a file in one step: ``writer`` fills a local file. Return its bytes.

        Its name is durable once a file has been created in the same folder after it.
        """

    def create(self, path: str, data: bytes) -> bool:
        """Write a file in one step unless it is there already; say whether it was written."""

    def local(self, path: str) -> AbstractContextManager[Path]:
        """Give the file as a local one, to read; FileNotFoundError."""

    def rename(self, old: str, new: str) -> None:
        """Give a file another name in the same folder."""

    def remove(self, path: str) -> None:
        """Remove a file; nothing happens where it is gone or still held open by a reader."""

    def clear_abandoned(self, path: str) -> None:
        """Remove what killed processes left in a folder."""

    def turn(self, path: str) -> AbstractContextManager[None]:
        """Wait until no other writer is at this folder, where the system can tell. Nothing rests on it but patience."""


def folder(where: str | Path) -> Folder:
    """Return the place: a path (deciphered where its home is locked), or a URL with ``://``."""
    if isinstance(where, str) and "://" in where:
        if where.startswith("s3://") and find_spec("obstore") is not None:
            from asfound.history.folders_s3 import S3Folder

            return S3Folder(where)
        return UrlFolder(where)
    from asfound.history.locked import LockedFolder, cipher_of

    cipher = cipher_of(where)
    return LocalFolder(Path(where)) if cipher is None else LockedFolder(Path(where), cipher)


class LocalFolder:
    """A folder of this machine."""

    def __init__(self, root: Path) -> None:
        self.root, self.where = root, str(root)

    def names(self, path: str) -> list[str]:
        """Return names in a folder, sorted."""
        try:
            return sorted(os.listdir(self.root / path))
        except (FileNotFoundError, NotADirectoryError):
            return []

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        return (self.root / path).read_bytes()

    def write(self, path: str, writer: Writer) -> int:
        """Write a file in one step."""
        target = self.root / path
        with plainly(target.parent):
            passing = self._passing(target)
            try:
                writer(passing)
                size = _flush(passing)
                put_in_place(passing, target)
            finally:
                _remove(passing)
        return size

    def create(self, path: str, data: bytes) -> bool:
        """Write a file in one step unless it is there: by a second name for the passing file, which fails if taken."""
        with plainly((self.root / path).parent):
            return self._create(self.root / path, data)

    def _create(self, target: Path, data: bytes) -> bool:
        passing = self._passing(target)
        try:
            passing.write_bytes(data)
            _flush(passing)
            sync_folder(target.parent)  # the names of the files that it speaks of
            try:
                os.link(passing, target)
            except FileExistsError:
                return False
            except OSError:  # a file system without second names: rename does not overwrite on Windows, may elsewhere
                if target.exists():
                    return False
                os.rename(passing, target)
        finally:
            _remove(passing)
        sync_folder(target.parent)
        return True

    @contextlib.contextmanager
    def local(self, path: str) -> Iterator[Path]:
        """Give the file itself."""
        found = self.root / path
        if not found.exists():
            raise FileNotFoundError(path)
        yield found

    def rename(self, old: str, new: str) -> None:
        """Give a file another name."""
        put_in_place(self.root / old, self.root / new)

    def remove(self, path: str) -> None:
        """Remove a file."""
        with contextlib.suppress(FileNotFoundError, PermissionError):
            (self.root / path).unlink()

    def clear_abandoned(self, path: str) -> None:
        """Remove passing files that a killed process left."""
        for name in self.names(path):
            if name.startswith(PASSING):
                with contextlib.suppress(FileNotFoundError):
                    if time.time() - (self.root / path / name).stat().st_mtime > ABANDONED_AFTER:
                        self.remove(f"{path}/{name}")

    @contextlib.contextmanager
    def turn(self, path: str) -> Iterator[None]:
        """Wait until no other writer of this machine is at this folder; the system frees it when a process ends."""
        held = self.root / path / TURN
        with plainly(held.parent):
            held.parent.mkdir(parents=True, exist_ok=True)
            opened = held.open("wb")
        with opened as mark, alone(mark):
            yield

    def _passing(self, target: Path) -> Path:
        target.parent.mkdir(parents=True, exist_ok=True)
        return target.parent / f"{PASSING}{os.getpid()}-{secrets.token_hex(4)}"


class FarFolder:
    """A folder that is reached by copies: a file is filled here and put there whole, and fetched to be read."""

    def write(self, path: str, writer: Writer) -> int:
        """Fill a local file, then put it: an object appears whole or not at all."""
        with tempfile.TemporaryDirectory(prefix="asfound-") as passing:
            local = Path(passing) / "file"
            writer(local)
            self._put(local, path)
            return local.stat().st_size

    @contextlib.contextmanager
    def local(self, path: str) -> Iterator[Path]:
        """Give a copy, which goes at the end."""
        with tempfile.TemporaryDirectory(prefix="asfound-") as passing:
            local = Path(passing) / "file"
            self._fetch(path, local)
            yield local

    def _put(self, local: Path, path: str) -> None:
        """Put a file of this machine there."""
        raise NotImplementedError

    def _fetch(self, path: str, local: Path) -> None:
        """Copy a file from there to this machine, in parts."""
        raise NotImplementedError

    def clear_abandoned(self, path: str) -> None:
        """Nothing is left by a killed process: an object appears whole or not at all."""

    @contextlib.contextmanager
    def turn(self, path: str) -> Iterator[None]:  # noqa: ARG002
        """Nobody waits: of two writers one is told that the month changes."""
        yield


class UrlFolder(FarFolder):
    """Object storage or any file system by URL.

    Several may write a month where the place can create an object only if there is none (S3 and a file system can);
    where it cannot, one writer of a month at a time.
    """

    def __init__(self, url: str) -> None:
        try:
            from fsspec.core import url_to_fs
        except ImportError as missing:
            raise AsFoundError(
                f"{url}: a store by URL needs the extra 'fleet': pip install asfound[fleet]."
            ) from missing
        try:
            found: tuple[Any, str] = url_to_fs(url)
        except ImportError as missing:
            raise AsFoundError(f"{url}: this kind of store needs a library that is not there: {missing}.") from missing
        except ValueError as unknown:
            raise AsFoundError(f"{url}: no such kind of store is known: {unknown}.") from unknown
        self.system, self.root = found
        self.where = url

    def _path(self, path: str) -> str:
        return f"{self.root}/{path}" if path else self.root

    def names(self, path: str) -> list[str]:
        """Return names in a folder, sorted."""
        try:
            self.system.invalidate_cache()
            return sorted(
                str(one).rstrip("/").rpartition("/")[2] for one in self.system.ls(self._path(path), detail=False)
            )
        except (FileNotFoundError, NotADirectoryError):
            return []

    def read(self, path: str) -> bytes:
        """Return an object's bytes."""
        return bytes(self.system.cat_file(self._path(path)))

    def _put(self, local: Path, path: str) -> None:
        self._parents(path)
        self.system.put_file(str(local), self._path(path))

    def _fetch(self, path: str, local: Path) -> None:
        with self.system.open(self._path(path), "rb") as source, local.open("wb") as copy:
            shutil.copyfileobj(source, copy, 1 << 20)

    def create(self, path: str, data: bytes) -> bool:
        """Put an object unless it is there: the place itself is asked to, as another may put it at this moment."""
        if self.system.exists(self._path(path)):
            return False
        self._parents(path)
        try:
            self.system.pipe_file(self._path(path), data, mode="create")
        except FileExistsError:
            return False
        return True

    def rename(self, old: str, new: str) -> None:
        """Give an object another name."""
        self.system.mv(self._path(old), self._path(new))

    def remove(self, path: str) -> None:
        """Remove an object."""
        with contextlib.suppress(FileNotFoundError):
            self.system.rm_file(self._path(path))

    def _parents(self, path: str) -> None:
        self.system.makedirs(self._path(path.rpartition("/")[0]), exist_ok=True)


def _remove(passing: Path) -> None:
    with contextlib.suppress(OSError):  # on a disk that may only be read nothing can be removed either
        passing.unlink(missing_ok=True)


def _flush(path: Path) -> int:
    with path.open("rb+") as out:
        flush(out.fileno())
        return os.fstat(out.fileno()).st_size
