"""The database under the record: SQLite in the home, or PostgreSQL by its URL, with the same statements.

SQLite keeps a roll-back journal and waits for the disk at each commit (``synchronous=EXTRA``), because an entry that
was answered as kept must survive a pulled plug. Each writing transaction takes the lock at its beginning: two programs
on one home wait for each other and never fail half-way.
"""

from __future__ import annotations

import os
import shutil
import threading
import time
from contextlib import contextmanager, suppress
from functools import partial
from itertools import count
from typing import TYPE_CHECKING, Any

from sqlalchemy import URL, create_engine, event, inspect, text
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from asfound.errors import RecordError
from asfound.records.tables import METADATA

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlalchemy import Connection, Engine, PoolProxiedConnection

SCHEMA = "0004"
"""Revision of the schema that this program writes; the newest file in ``migrations/versions``."""
WAIT = 5.0
"""How long one program waits for another on the same home. [s]"""
LOOK_AGAIN = 0.002
"""How often a program that waits looks whether the other has done. [s]"""
_NUMBERS = count()
_LOCK = 7_411_202  # any number: names the advisory lock that orders writers on PostgreSQL


class Database:
    """Connections to one record."""

    def __init__(self, url: str | URL, *, file: Path | None = None, key: str = "") -> None:
        self.url, self.file, self.key = url, file, key
        self.lite = file is not None
        self._inode = _inode(file)
        self._number = next(_NUMBERS)
        self._watching: PoolProxiedConnection | None = None
        self._watch = threading.Lock()
        if self.lite:
            settings = {"timeout": WAIT, "check_same_thread": False}
            self.engine: Engine = create_engine(url, connect_args=settings, **_driver(key))
            if key:
                event.listen(self.engine, "connect", partial(_give_key, key))
            event.listen(self.engine, "connect", _prepare_sqlite)
            event.listen(self.engine, "begin", _begin_sqlite)
        else:
            self.engine = create_engine(url, pool_pre_ping=True)

    @classmethod
    def in_file(cls, file: Path, key: str = "", *, only_read: bool = False) -> Database:
        """Return the record in a file, whatever signs its path holds."""
        if not only_read:
            return cls(URL.create("sqlite", database=str(file)), file=file, key=key)
        asked = {"mode": "ro", "uri": "true"}
        return cls(URL.create("sqlite", database=file.absolute().as_uri(), query=asked), file=file, key=key)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection for one consistent read."""
        with _said_plainly(self), self.engine.begin() as connection:
            self._still_there()
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone may write; durable when the block is left without an error."""
        with _said_plainly(self), self.engine.connect() as connection:
            connection = connection.execution_options(asfound_writes=True)
            with connection.begin():
                if not self.lite:
                    connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
                self._still_there()  # with the lock held: who puts another file in its place holds it too
                yield connection

    def close(self) -> None:
        """Close all connections."""
        with self._watch:
            if self._watching is not None:
                self._watching.close()
                self._watching = None
        self.engine.dispose()

    def version(self) -> tuple[int, int, int] | None:
        """Return what is another whenever anybody has changed the file, or put another in its place; some 5 us.

        None where that cannot be told without waiting: a server is asked over the network, and while somebody writes
        nobody knows. SQLite counts the changes itself and tells one connection those of all others.
        """
        if not self.lite:
            return None
        with self._watch, suppress(DBAPIError, self.engine.dialect.loaded_dbapi.Error):
            if self._watching is None:
                self._watching = self.engine.raw_connection()
                self._watching.detach()  # not of the pool: it never changes anything
                self._ask("PRAGMA busy_timeout = 0")
            return self._number, _inode(self.file), self._ask("PRAGMA data_version")
        return None

    def _ask(self, words: str) -> int:
        assert self._watching is not None
        cursor = self._watching.cursor()
        try:
            cursor.execute(words)
            found = cursor.fetchone()
            return int(found[0]) if found else 0
        finally:
            cursor.close()

    def _still_there(self) -> None:
        """Refuse to go on in a file that is no longer the record: its stick is gone, or another was put in its place.

        The open connection would go on writing into what nobody will ever read.
        """
        if self.file is None:
            return
        now = _inode(self.file)
        if self._inode == 0:
            self._inode = now
        if now == 0:
            raise RecordError(
                f"{self.file} is gone: its disk or stick was taken out, or the folder was moved. Nothing was kept. "
                "Put it back; what was kept before is on it."
            )
        if now != self._inode:
            raise RecordError(
                f"{self.file} is another file than the one that this program opened: it was locked, restored or "
                "replaced meanwhile. Nothing was kept. Close this program and start it again."
            )

    def bring_up_to_date(self) -> None:
        """Make the schema, or bring it up to this program's; asks one SELECT when it already is.

        Raises
        ------
        RecordError
            The record was written by a newer program, or it is not a record, or it cannot be written.
        """
        with self.reading() as connection:  # both of one moment: another program may be making the record
            found = self._revision(connection)
            tables = found is None and self._has_tables(connection)
        if found == SCHEMA:
            return
        from asfound.records.migrate import known_revisions, upgrade

        if found is not None and found not in known_revisions():
            raise RecordError(
                f"This record was written by a newer asfound (schema {found}; this program knows {SCHEMA}). "
                "Nothing was changed. Install the newer program to open it."
            )
        if tables:
            raise RecordError(f"{self.file or self.url} is a database, but no record. Nothing was changed.")
        if found is not None and self.file is not None:
            shutil.copy2(self.file, self.file.with_name(f"{self.file.name}.before-{SCHEMA}"))
        with self.writing() as connection:
            if self._revision(connection) != SCHEMA:  # another program may have been quicker
                upgrade(connection)

    def _revision(self, connection: Connection) -> str | None:
        """Return the revision written in the database; None where there is none."""
        if self.lite:
            there = connection.execute(text("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'")).first()
        else:
            there = (1,) if inspect(connection).has_table("alembic_version") else None  # type: ignore[assignment]
        if there is None:
            return None
        row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
        return None if row is None else str(row[0])

    def _has_tables(self, connection: Connection) -> bool:
        """Tell whether tables of the record's names stand there."""
        return bool(set(inspect(connection).get_table_names()) & set(METADATA.tables))

    def faults(self) -> tuple[str, ...]:
        """Return what SQLite itself finds wrong with the file; empty when it is sound. Reads the whole file."""
        if not self.lite:
            return ()
        with self.reading() as connection:
            said = [str(row[0]) for row in connection.execute(text("PRAGMA integrity_check"))]
        return tuple(line for line in said if line != "ok")


def _inode(file: Path | None) -> int:
    """Return what tells one file from another that bears its name later; 0 where there is none."""
    try:
        return 0 if file is None else os.stat(file).st_ino
    except OSError:
        return 0


def _driver(key: str) -> dict[str, Any]:
    """Return what ``create_engine`` needs to open an enciphered file."""
    if not key:
        return {}
    from asfound.records.lock import cipher_driver

    return {"module": cipher_driver()}


def _give_key(key: str, connection: Any, _record: Any) -> None:
    """Give the key to a new connection, before anything is asked of it; what is sorted stays in memory."""
    cursor = connection.cursor()
    cursor.execute(f'PRAGMA key = "{key}"')
    cursor.execute("PRAGMA temp_store = MEMORY")
    cursor.close()


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    """Set what each connection needs; ``isolation_level`` None leaves BEGIN to us."""
    connection.isolation_level = None
    connection.text_factory = _lenient  # a damaged byte must be named by the verification, not stop the reading
    cursor = connection.cursor()
    for pragma in ("busy_timeout=5000", "journal_mode=DELETE", "synchronous=EXTRA", "fullfsync=ON", "foreign_keys=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _lenient(raw: bytes) -> str:
    """Read text; a byte that is no UTF-8 becomes its escape."""
    return raw.decode("utf-8", "backslashreplace")


def _begin_sqlite(connection: Connection) -> None:
    """Begin; a writer takes the lock at once.

    SQLite itself would look every tenth of a second whether the lock is free, and in 5 s might never meet the
    millisecond in which a program that writes without a pause has let go of it.
    """
    if not connection.get_execution_options().get("asfound_writes", False):
        connection.exec_driver_sql("BEGIN")
        return
    until = time.monotonic() + WAIT
    connection.exec_driver_sql("PRAGMA busy_timeout = 0")
    try:
        while True:
            try:
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            except OperationalError as busy:
                if "locked" not in str(busy.orig) or time.monotonic() > until:
                    raise
                time.sleep(LOOK_AGAIN)
            else:
                return
    finally:
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {1000 * WAIT:.0f}")


_PLAINLY = {
    "readonly database": "The record may only be read: get the right to write to {where}, or name another home.",
    "disk is full": "The disk is full. Nothing was kept: make room, then keep it again.",
    "disk I/O error": "The disk answers with errors. Nothing was kept: copy {where} to another disk first.",
    "database is locked": "Another program has held the record for over {wait:.0f} s. Nothing was kept: try again, or "
    "close the other program.",
    "unable to open database file": "{where} cannot be opened: the folder is missing or may not be written.",
    "not a database": "{where} is not a record, or its beginning is damaged. Keep a copy, then fetch a backup.",
    "malformed": "{where} is damaged. Keep a copy, then fetch a backup or an export; nothing was changed.",
}


@contextmanager
def _said_plainly(database: Database) -> Iterator[None]:
    """Turn a fault of the database into a RecordError that says what to do."""
    where = database.file or database.engine.url.render_as_string(hide_password=True)
    try:
        yield
    except UnicodeDecodeError as fault:  # SQLite quotes a name of a damaged schema, which is no text any more
        raise RecordError(_PLAINLY["malformed"].format(where=where)) from fault
    except DBAPIError as fault:
        said = str(fault.orig)
        if "readonly database" in said:  # so SQLite also calls a file that was moved away under it
            database._still_there()
        for part, plainly in _PLAINLY.items():
            if part in said:
                raise RecordError(plainly.format(where=where, wait=WAIT)) from fault
        if isinstance(fault, IntegrityError):
            raise RecordError(
                f"The record at {where} does not hold together: an entry names another that is not there, or bears its "
                "identifier. Nothing was kept. If it has been damaged, fetch a backup or an export."
            ) from fault
        if isinstance(fault, OperationalError):
            raise RecordError(f"The record at {where} does not answer: {said.strip()}. Nothing was kept.") from fault
        raise
