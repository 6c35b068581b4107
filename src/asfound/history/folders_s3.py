"""A store on object storage that speaks the S3 protocol (extra ``s3``: obstore, which brings no other package along).

Where the server is and who asks stand in the usual variables of the environment (``AWS_ENDPOINT_URL``,
``AWS_ACCESS_KEY_ID``, ``AWS_SECRET_ACCESS_KEY``, ``AWS_DEFAULT_REGION``). An object appears whole or not at all, and
the server itself is asked to make one only where there is none.
"""

from __future__ import annotations

import contextlib
import os
from importlib import import_module
from typing import TYPE_CHECKING, Any

from asfound.history.folders import FarFolder

if TYPE_CHECKING:
    from pathlib import Path

CHUNK = 1 << 20
ENDPOINTS = ("AWS_ENDPOINT_URL_S3", "AWS_ENDPOINT_URL", "AWS_ENDPOINT")


class S3Folder(FarFolder):
    """A bucket, or a part of one."""

    def __init__(self, url: str) -> None:
        bucket, _, root = url.partition("://")[2].partition("/")
        endpoint = next((os.environ[name] for name in ENDPOINTS if os.environ.get(name)), "")
        plain = {"client_options": {"allow_http": True}} if endpoint.startswith("http://") else {}
        self._api: Any = import_module("obstore")  # costs at the start of a program that never asks
        made: Any = import_module("obstore.store").S3Store
        self._store: Any = made(bucket, **({"endpoint": endpoint} if endpoint else {}), **plain)
        self._root, self.where = root.strip("/"), url

    def _path(self, path: str) -> str:
        return "/".join(part for part in (self._root, path.strip("/")) if part)

    def names(self, path: str) -> list[str]:
        """Return names in a folder, sorted."""
        found = self._api.list_with_delimiter(self._store, self._path(path) or None)
        paths = [*found["common_prefixes"], *(one["path"] for one in found["objects"])]
        return sorted({one.rstrip("/").rpartition("/")[2] for one in paths})

    def read(self, path: str) -> bytes:
        """Return an object's bytes."""
        return bytes(self._api.get(self._store, self._path(path)).bytes())

    def _put(self, local: Path, path: str) -> None:
        self._api.put(self._store, self._path(path), local)

    def _fetch(self, path: str, local: Path) -> None:
        with local.open("wb") as copy:
            for part in self._api.get(self._store, self._path(path)).stream(min_chunk_size=CHUNK):
                copy.write(part)

    def create(self, path: str, data: bytes) -> bool:
        """Put an object unless it is there: the server refuses a second one of a name."""
        taken: type[Exception] = import_module("obstore.exceptions").AlreadyExistsError
        try:
            self._api.put(self._store, self._path(path), bytes(data), mode="create")
        except taken:
            return False
        return True

    def rename(self, old: str, new: str) -> None:
        """Give an object another name: a copy, then the old one goes."""
        self._api.copy(self._store, self._path(old), self._path(new))
        self.remove(old)

    def remove(self, path: str) -> None:
        """Remove an object."""
        with contextlib.suppress(FileNotFoundError):
            self._api.delete(self._store, self._path(path))
