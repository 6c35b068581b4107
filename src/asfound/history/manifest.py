"""The manifest of a month: which files make it up, what is in them, and the digest of each.

A change writes its files first and then the next manifest, by creating ``manifest-<number>.json`` whole. The highest
number is what holds. A process killed at any moment leaves either the month before or the month after, never a mixture;
of two that write at once one finds the number taken, and begins again from what the other wrote.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from asfound.history.folders import Folder
from asfound.history.rows_file import DamagedError
from asfound.history.scale import scale_of

_NAME = "manifest-{:06d}.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsFile:
    """A Parquet file of rows."""

    file: str
    digest: str
    bytes: int
    rows: int
    first: int
    last: int
    """Earliest and latest time, microseconds."""
    channels: Mapping[str, int]
    """Values of each channel."""
    texts: Mapping[str, int]
    sources: Mapping[str, int]
    """Rows of each source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BucketFile:
    """A file of buckets of one width."""

    file: str
    digest: str
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What a month holds of a channel."""

    n: int
    first: int
    last: int
    low: float
    high: float
    mean: float | None
    reference: float
    step: float
    """The grid that its buckets count on."""


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """A month of an engine as it stands."""

    engine: str
    month: str
    number: int = 0
    rows: tuple[RowsFile, ...] = ()
    buckets: Mapping[str, BucketFile] = field(default_factory=dict)
    """By width in microseconds, as text."""
    channels: Mapping[str, Cover] = field(default_factory=dict)
    """By name, sorted: the rows of the bucket tables."""
    lost: tuple[Mapping[str, Any], ...] = ()
    """Files that were set aside as damaged: what was in them."""

    @cached_property
    def on_grid(self) -> bool:
        """Whether its buckets count on the grids of today's register."""
        return all(
            (cover.reference, cover.step) == (scale_of(name).reference, scale_of(name).step)
            for name, cover in self.channels.items()
        )

    @cached_property
    def path(self) -> str:
        """The folder of the month."""
        return month_path(self.engine, self.month)

    @property
    def files(self) -> set[str]:
        """Every file that it needs."""
        return {part.file for part in self.rows} | {part.file for part in self.buckets.values()}

    @property
    def digest(self) -> str:
        """Digest of what it holds, whatever its number: equal where rows and buckets are."""
        return digest_of(json.dumps([sorted(part.digest for part in self.rows), self.month], sort_keys=True).encode())


def digest_of(data: bytes) -> str:
    """Return the digest of bytes."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def digest_of_file(path: Path) -> str:
    """Return the digest of a file."""
    with path.open("rb") as source:
        return hashlib.file_digest(source, lambda: hashlib.blake2b(digest_size=16)).hexdigest()


DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
"""Names that Windows keeps for devices, whatever follows a dot."""


@lru_cache(maxsize=4096)
def engine_path(engine: str) -> str:
    """Return the folder of an engine: its name, with what some file system does not take written as ``%xx``.

    >>> engine_path("B/1"), engine_path(".x"), engine_path("aux"), engine_path("E1.")
    ('B%2F1', '%2Ex', '%61ux', 'E1%2E')
    """
    name = quote(engine, safe="")
    if name.startswith(".") or name.partition(".")[0].lower() in DEVICES:
        name = f"%{ord(name[0]):02X}{name[1:]}"
    return f"{name[:-1]}%2E" if name.endswith(".") else name


def engine_of_path(path: str) -> str:
    """Return the engine of a folder."""
    return unquote(path)


def month_path(engine: str, month: str) -> str:
    """Return the folder of a month."""
    return f"{engine_path(engine)}/{month}"


def load(folder: Folder, engine: str, month: str) -> Manifest | None:
    """Return the month as it stands, None where there is none."""
    for _ in range(5):
        names = manifests(folder, month_path(engine, month))
        if not names:
            return None
        try:
            return _parsed(folder, f"{month_path(engine, month)}/{names[-1]}")
        except FileNotFoundError:  # a later one came, and this was removed
            continue
    raise DamagedError(month_path(engine, month), "its manifest changes faster than it can be read")


def manifests(folder: Folder, path: str) -> list[str]:
    """Return the names of manifests, the one that holds last."""
    return [name for name in folder.names(path) if name.startswith("manifest-") and name.endswith(".json")]


def commit(folder: Folder, manifest: Manifest) -> bool:
    """Make this the month as it stands; False if another writer was first.

    A late writer may create a number that was already used and removed; it then sees a higher one and gives way.
    """
    name = _NAME.format(manifest.number)
    if not folder.create(f"{manifest.path}/{name}", _written(manifest)):
        return False
    if manifests(folder, manifest.path)[-1] != name:
        folder.remove(f"{manifest.path}/{name}")
        return False
    return True


def clear(folder: Folder, manifest: Manifest, before: Manifest | None) -> None:
    """Remove what the manifest before this one needed and this one does not, and older manifests."""
    for name in (before.files if before else set()) - manifest.files:
        folder.remove(f"{manifest.path}/{name}")
    for name in manifests(folder, manifest.path):
        if name < _NAME.format(manifest.number):
            folder.remove(f"{manifest.path}/{name}")


def _written(manifest: Manifest) -> bytes:
    content = json.dumps(asdict(manifest), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return f'{{"digest":"{digest_of(content.encode())}","month":{content}}}\n'.encode()


def _parsed(folder: Folder, path: str) -> Manifest:
    return _of_bytes(folder.read(path), f"{folder.where}/{path}")


@lru_cache(maxsize=4096)
def _of_bytes(data: bytes, where: str) -> Manifest:
    try:
        given = json.loads(data)
        content = json.dumps(given["month"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        if digest_of(content.encode()) != given["digest"]:
            raise DamagedError(where, "its digest is another")
        month = given["month"]
        return Manifest(
            engine=month["engine"],
            month=month["month"],
            number=month["number"],
            rows=tuple(RowsFile(**part) for part in month["rows"]),
            buckets={step: BucketFile(**part) for step, part in month["buckets"].items()},
            channels={name: Cover(**cover) for name, cover in month["channels"].items()},
            lost=tuple(month["lost"]),
        )
    except (ValueError, KeyError, TypeError) as broken:
        raise DamagedError(where, str(broken)) from broken
