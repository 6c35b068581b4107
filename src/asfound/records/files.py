"""Photos and files by their SHA-256: in a folder beside the record, or in a database that is shared."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Protocol

from asfound.errors import RecordError, UnknownNameError
from asfound.records.entries import sha256
from asfound.records.home import advice, write_durably

if TYPE_CHECKING:
    from pathlib import Path

    from asfound.records.database import Database
    from asfound.records.lock import Keys

LARGEST = 64 * 1024 * 1024
"""A photo or a saved file of settings is far smaller; a log goes elsewhere. [byte]"""


class Files(Protocol):
    """A store of contents by digest."""

    def put(self, content: bytes) -> str:
        """Keep content durably and return its digest; the same content twice is kept once."""
        ...

    def get(self, digest: str) -> bytes:
        """Return content as it lies there, unchecked."""
        ...

    def digests(self) -> frozenset[str]:
        """Return the digests of all contents that are here."""
        ...


class FolderFiles:
    """Contents as files ``files/ab/abcd...``; in a locked home enciphered, under names that tell nothing."""

    def __init__(self, folder: Path, keys: Keys | None = None) -> None:
        self.folder, self._keys = folder, keys

    def path(self, digest: str) -> Path:
        """Return where the content of a digest lies."""
        name = self._keys.name_of(digest) if self._keys else digest
        return self.folder / name[:2] / name

    def put(self, content: bytes) -> str:
        """Keep content durably and return its digest."""
        digest = _digest(content)
        path = self.path(digest)
        if not path.exists() or not self._sound(digest):
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as fault:
                said = f"{path.parent} cannot be made: {fault.strerror}. Nothing was kept. {advice(fault)}"
                raise RecordError(said) from fault
            write_durably(path, self._keys.contents.close(content) if self._keys else content)
        return digest

    def _sound(self, digest: str) -> bool:
        """Tell whether what lies there is what belongs there."""
        try:
            return sha256(self.get(digest)) == digest
        except RecordError:
            return False

    def get(self, digest: str) -> bytes:
        """Return content as it lies there, unchecked."""
        if not is_digest(digest):  # a name that is none must not lead anywhere in the file system
            raise UnknownNameError("file", digest[:80], ())
        try:
            found = self.path(digest).read_bytes()
            return self._keys.contents.open(found, f"The file {digest[:12]}") if self._keys else found
        except FileNotFoundError:
            raise UnknownNameError("file", digest, ()) from None
        except OSError as fault:
            raise RecordError(f"The file {digest[:12]} cannot be read: {fault.strerror}.") from fault

    def digests(self) -> frozenset[str]:
        """Return the digests of all contents that are here."""
        names = (one.name for one in self.folder.glob("??/*"))
        if self._keys is None:
            return frozenset(name for name in names if is_digest(name))
        return frozenset(digest for digest in map(self._keys.digest_of, names) if digest is not None)


class TableFiles:
    """Contents as rows of the table ``files``."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def put(self, content: bytes) -> str:
        """Keep content durably and return its digest."""
        from sqlalchemy import insert, select

        from asfound.records.tables import FILES

        digest = _digest(content)
        with self.database.writing() as connection:
            if connection.execute(select(FILES.c.digest).where(FILES.c.digest == digest)).first() is None:
                connection.execute(insert(FILES).values(digest=digest, content=content))
        return digest

    def get(self, digest: str) -> bytes:
        """Return content as it lies there, unchecked."""
        from sqlalchemy import select

        from asfound.records.tables import FILES

        with self.database.reading() as connection:
            row = connection.execute(select(FILES.c.content).where(FILES.c.digest == digest)).first()
        if row is None:
            raise UnknownNameError("file", digest, ())
        return bytes(row[0])

    def digests(self) -> frozenset[str]:
        """Return the digests of all contents that are here."""
        from sqlalchemy import select

        from asfound.records.tables import FILES

        with self.database.reading() as connection:
            return frozenset(str(one) for one in connection.execute(select(FILES.c.digest)).scalars())


def is_digest(text: str) -> bool:
    """Tell whether a text can be the SHA-256 of a file."""
    return re.fullmatch(r"[0-9a-f]{64}", text) is not None


def _digest(content: bytes) -> str:
    """Return the digest of content that may be kept."""
    if len(content) > LARGEST:
        raise RecordError(f"A file of {len(content) / 1e6:.0f} MB is too large: {LARGEST / 1e6:.0f} MB at most.")
    return sha256(content)
