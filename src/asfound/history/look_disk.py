"""Looks kept on disk beside the store: one for an engine and a day, parts of one that is being worked out."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import Any

from asfound.errors import RecordError
from asfound.history.alarm_lists import digests
from asfound.history.locked import read_file
from asfound.history.look_facts import Facts
from asfound.history.look_parts import EngineLook
from asfound.history.manifest import digest_of, engine_path
from asfound.history.plain import from_plain, to_plain
from asfound.history.store import Store

VERSION = 16
"""Of what a look works out: another one makes all looks anew."""
FOLDER = ".looks"


def state_of(store: Store, engine: str, end: int, day: str, facts: Facts) -> str:
    """Return the digest of all that a look up to ``end`` rests on; a few milliseconds, from the manifests alone."""
    rests = {
        "version": VERSION,
        "day": day,
        "months": [one.digest for one in store.manifests(engine, None, end)],
        "alarms": digests(store, engine),
        "facts": asdict(facts),
    }
    return digest_of(json.dumps(rests, sort_keys=True).encode())


def days_kept(store: Store, engine: str) -> list[tuple[str, str]]:
    """Return day and file of each look that is kept, in the order of days."""
    names = store.folder.names(f"{FOLDER}/{engine_path(engine)}")
    return sorted((name[:10], name) for name in names if name.endswith(".json") and name[:1].isdigit())


def kept(store: Store, engine: str, day: str | None = None) -> EngineLook | None:
    """Return the newest look whose day is not after ``day``; nothing is worked out. None where there is none.

    One that cannot be read, or of another version of the program, counts as none.
    """
    for of, name in reversed(days_kept(store, engine)):
        if day is None or of <= day:
            found = _read(store, f"{FOLDER}/{engine_path(engine)}/{name}")
            if found is not None:
                return found
    return None


def keep(store: Store, look: EngineLook) -> None:
    """Keep a look; an older one of the same day goes."""
    place = f"{FOLDER}/{engine_path(look.engine)}"
    name = f"{look.day}-{look.digest}.json"
    text = json.dumps(to_plain(look), ensure_ascii=False, sort_keys=True)
    store.folder.create(f"{place}/{name}", text.encode())
    for day, other in days_kept(store, look.engine):
        if day == look.day and other != name:
            store.folder.remove(f"{place}/{other}")


def of_state(store: Store, engine: str, day: str, digest: str) -> EngineLook | None:
    """Return the look of one day that rests on this state."""
    path = f"{FOLDER}/{engine_path(engine)}/{day}-{digest}.json"
    names = store.folder.names(f"{FOLDER}/{engine_path(engine)}")
    return _read(store, path) if path.rpartition("/")[2] in names else None


def _read(store: Store, path: str) -> EngineLook | None:
    try:
        if "://" in store.where:
            return _parsed(store.folder.read(path))
        file = Path(store.where) / path
        told = file.stat()
        return _of_file(str(file), told.st_mtime_ns, told.st_size)
    except (OSError, ValueError, KeyError, TypeError, RecordError):
        return None


@lru_cache(maxsize=16)
def _of_file(path: str, _changed: int, _size: int) -> EngineLook | None:
    """Return the look of a file; a page asks for it more than once."""
    return _parsed(read_file(Path(path)))


def _parsed(data: bytes) -> EngineLook | None:
    plain: dict[str, Any] = json.loads(data)
    return from_plain(EngineLook, plain) if plain.get("version") == VERSION else None


class Pieces:
    """Parts of a look that is being worked out, so that one broken off goes on where it was."""

    def __init__(self, store: Store, engine: str, digest: str) -> None:
        self.folder, self.place = store.folder, f"{FOLDER}/{engine_path(engine)}/parts-{digest}"
        self.local = None if "://" in store.where else Path(store.where)

    def get(self, name: str) -> Any:
        """Return a part's plain data, None where it is not there."""
        try:
            return json.loads(self.folder.read(f"{self.place}/{name}.json"))
        except (OSError, ValueError):
            return None

    def put(self, name: str, value: Any) -> None:
        """Keep a part."""
        self.folder.create(f"{self.place}/{name}.json", json.dumps(to_plain(value), ensure_ascii=False).encode())

    def clear(self, names: Sequence[str]) -> None:
        """Remove them all."""
        for name in names:
            self.folder.remove(f"{self.place}/{name}.json")
        if self.local is not None:
            with contextlib.suppress(OSError):
                (self.local / self.place).rmdir()
