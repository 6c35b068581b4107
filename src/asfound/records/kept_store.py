"""What was worked out once, kept beside the record for the next start: it can be made again, and is never the record.

A small database of its own in the home. Nothing waits for the disk, nothing fails for it: where it cannot be written or
read it is as if nothing had been kept. A locked home keeps none, for it would stand there to be read.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import threading
import zlib
from collections import Counter
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.store import Records

NAME = ".kept.sqlite"
MOST = 20_000
"""Rows that are kept of what is no page; the oldest go."""
PAPERS = 400
"""Papers that are kept, some 150 MB."""
MEGABYTES = 1_500
"""What the file may take where nothing else is said (setting ``kept_mb``): 5,000 visits with all their pages."""
LOOKED_AT = 500
"""So often something is kept before it is asked whether that is too much."""
AT_ONCE = 0.1
"""Share of the pages, the oldest, that goes where the file is too large."""


class KeptStore:
    """Values by what they are and of whom, each for one key: another key, another value."""

    def __init__(self, path: Path, megabytes: float = MEGABYTES) -> None:
        self.path, self.most = path, megabytes
        self._lock = threading.Lock()
        self._connection: sqlite3.Connection | None = None
        self._broken = False
        self._put: Counter[str] = Counter()
        """How often something was kept, by table."""

    def get(self, what: str, keys: dict[str, str]) -> dict[str, Any]:
        """Return by name what was kept for exactly these keys."""
        found: dict[str, Any] = {}
        names = list(keys)
        for at in range(0, len(names), 400):
            some = names[at : at + 400]
            marks = ",".join("?" * len(some))
            rows = self._ask(f"SELECT name, made, value FROM kept WHERE what = ? AND name IN ({marks})", (what, *some))
            for name, made, value in rows:
                if made == keys[name]:
                    found[name] = json.loads(value)
        return found

    def put(self, what: str, name: str, key: str, value: Any) -> None:
        """Keep a value that JSON can hold in place of what was kept under its name."""
        row = (what, name, key, json.dumps(value, ensure_ascii=False))
        self._ask("INSERT OR REPLACE INTO kept (what, name, made, value) VALUES (?, ?, ?, ?)", row)
        if self._time_to_look("kept"):
            self._ask("DELETE FROM kept WHERE rowid < (SELECT max(rowid) FROM kept) - ?", (MOST,))

    def page(self, name: str, key: str) -> bytes | None:
        """Return a page that was kept for exactly this key."""
        return self._bytes("pages", name, key)

    def keep_page(self, name: str, key: str, page: bytes) -> None:
        """Keep a page in place of what was kept under its name."""
        self._keep_bytes("pages", name, key, page)
        if self._time_to_look("pages") and self.megabytes() > self.most:
            self._ask(
                "DELETE FROM pages WHERE rowid < (SELECT rowid FROM pages ORDER BY rowid LIMIT 1 OFFSET "
                "(SELECT CAST(count(*) * ? AS INTEGER) FROM pages))", (AT_ONCE,),
            )  # fmt: skip

    def megabytes(self) -> float:
        """Return what is kept, in MB; what was let go again and is free in the file is not counted."""
        counts = [self._ask(f"PRAGMA {name}", ()) for name in ("page_count", "freelist_count", "page_size")]
        if not all(counts):
            return 0.0
        every, free, size = (int(rows[0][0]) for rows in counts)
        return (every - free) * size / 1e6

    def paper(self, name: str, key: str) -> bytes | None:
        """Return a paper that was kept for exactly this key."""
        return self._bytes("papers", name, key)

    def keep_paper(self, name: str, key: str, paper: bytes) -> None:
        """Keep a paper in place of what was kept under its name."""
        self._keep_bytes("papers", name, key, paper)
        if self._time_to_look("papers"):
            self._ask("DELETE FROM papers WHERE rowid < (SELECT max(rowid) FROM papers) - ?", (PAPERS,))

    def _bytes(self, table: str, name: str, key: str) -> bytes | None:
        rows = self._ask(f"SELECT made, value FROM {table} WHERE name = ?", (name,))
        try:
            return zlib.decompress(rows[0][1]) if rows and rows[0][0] == key else None
        except (zlib.error, TypeError):
            return None

    def _keep_bytes(self, table: str, name: str, key: str, value: bytes) -> None:
        row = (name, key, zlib.compress(value, 6))
        self._ask(f"INSERT OR REPLACE INTO {table} (name, made, value) VALUES (?, ?, ?)", row)

    def _time_to_look(self, table: str) -> bool:
        """Return whether it is time to see whether a table has become too large."""
        self._put[table] += 1
        return self._put[table] % LOOKED_AT == 1

    def _ask(self, words: str, values: Iterable[Any]) -> list[Any]:
        if self._broken:
            return []
        with self._lock:
            try:
                if self._connection is None:
                    self._connection = _opened(self.path)
                return self._connection.execute(words, tuple(values)).fetchall()
            except (sqlite3.Error, OSError, ValueError) as fault:
                if not _busy(fault):
                    self._give_up()
                return []

    def _give_up(self) -> None:
        """Keep nothing any more; a file that is none is taken away, for nothing is lost with it."""
        self._broken = True
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None


def _opened(path: Path) -> sqlite3.Connection:
    """Return a connection to the file, made anew where it is not there or not sound."""
    for turn in range(2):
        connection = sqlite3.connect(path, check_same_thread=False, isolation_level=None, timeout=0.2)
        try:
            connection.execute("PRAGMA synchronous = OFF")
            connection.execute("PRAGMA journal_mode = TRUNCATE")  # a process that dies in the midst breaks nothing
            connection.execute(
                "CREATE TABLE IF NOT EXISTS kept (what TEXT, name TEXT, made TEXT, value TEXT, UNIQUE (what, name))"
            )
            for table in ("pages", "papers"):
                connection.execute(f"CREATE TABLE IF NOT EXISTS {table} (name TEXT UNIQUE, made TEXT, value BLOB)")
            return connection
        except sqlite3.DatabaseError as fault:
            connection.close()
            if turn or _busy(fault):
                raise
            os.unlink(path)
    raise OSError(f"{path} cannot be made")


def _busy(fault: Exception) -> bool:
    """Return whether another program only held the file a moment too long."""
    return getattr(fault, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def kept_store(records: Records) -> KeptStore | None:
    """Return the store of a home; None where it must not or cannot keep any."""
    folder = getattr(records.home, "folder", None)
    if folder is None or records.database is None or not Path(folder).is_dir():
        return None
    if records.database.key:  # locked: what was kept before it was goes
        forget(Path(folder))
        return None

    def opened() -> KeptStore:
        store = KeptStore(Path(folder) / NAME, records.settings.kept_mb)
        records.at_close.append(store.close)
        return store

    found: KeptStore = records.remembered(("kept store",), opened)
    return found


def forget(folder: Path) -> None:
    """Take away all that is kept beside the record of a home."""
    for name in (NAME, f"{NAME}-journal"):
        with contextlib.suppress(OSError):
            (folder / name).unlink(missing_ok=True)


@cache
def program_stamp() -> str:
    """Return what tells this program from another version of it: what one worked out the other does again."""
    from asfound import __version__

    newest = 0
    root = str(resources.files("asfound"))
    folders = [root]
    while folders:
        with os.scandir(folders.pop()) as entries:
            for one in entries:
                if one.is_dir():
                    if not one.name.startswith((".", "__pycache__")):
                        folders.append(one.path)
                else:
                    newest = max(newest, one.stat().st_mtime_ns)
    return f"{__version__}/{newest}"
