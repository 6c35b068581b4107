"""What a device sent, by the identifier that it made: a second sending of the same writes nothing, is answered alike.

A tablet that lost its answer cannot know whether its entry was kept, so it sends it again. Its identifier is written in
the same transaction as the entries that came of it: after a pulled plug there are both or neither.
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sqlalchemy import insert, select, update

from asfound.records.tables import SENT

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sqlalchemy import Connection

    from asfound.records.database import Database
    from asfound.records.entries import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What became of a sending."""

    key: str
    """Identifier that the device made: a UUID version 7."""
    at: str
    entries: tuple[str, ...]
    """Identifiers of the entries that were written, in order; may be empty."""
    status: int
    """Status of the answer; 0 where the program ended before it answered."""
    where: str
    """Address that the answer led to."""


class AlreadySentError(Exception):
    """The same was sent before (or is being written by another thread); nothing is written."""

    def __init__(self, sent: Sent) -> None:
        super().__init__(sent.key)
        self.sent = sent


@dataclass(slots=True, kw_only=True)
class Sending:
    """A sending that is being kept."""

    key: str
    entries: list[str] = field(default_factory=list)
    begun: bool = False


NOW: ContextVar[Sending | None] = ContextVar("asfound_sending", default=None)


@contextmanager
def sending(key: str) -> Iterator[Sending]:
    """Write what is kept inside the block as one sending."""
    one = Sending(key=key)
    before = NOW.set(one)
    try:
        yield one
    finally:
        NOW.reset(before)


def sent(database: Database, key: str) -> Sent | None:
    """Return what became of a sending; None where it never arrived."""
    with database.reading() as connection:
        return _read(connection, key)


def refuse_twice(connection: Connection) -> None:
    """Raise AlreadySentError where what is being kept now was kept before; called with the lock held."""
    now = NOW.get()
    if now is not None and not now.begun and (before := _read(connection, now.key)) is not None:
        raise AlreadySentError(before)


def note_entries(connection: Connection, entries: Sequence[Entry]) -> None:
    """Write, in the transaction of the entries, that they came of the sending that is being kept."""
    now = NOW.get()
    if now is None or not entries:
        return
    ids = [*now.entries, *(one.id for one in entries)]
    _write(connection, now, ids, at=entries[-1].at)
    now.entries, now.begun = ids, True


def note_answer(database: Database, now: Sending, *, at: str, status: int, where: str) -> None:
    """Write how a sending was answered, also where nothing came of it: the next one is then answered alike."""
    with database.writing() as connection:
        if not now.begun and (before := _read(connection, now.key)) is not None:
            raise AlreadySentError(before)
        _write(connection, now, now.entries, at=at, status=status, where=where)


def _write(connection: Connection, now: Sending, ids: list[str], *, at: str, status: int = 0, where: str = "") -> None:
    values = {"at": at, "entries": json.dumps(ids), "status": status, "address": where}
    if now.begun:
        connection.execute(update(SENT).where(SENT.c.key == now.key).values(**values))
    else:
        connection.execute(insert(SENT).values(key=now.key, **values))


def _read(connection: Connection, key: str) -> Sent | None:
    row = connection.execute(select(SENT).where(SENT.c.key == key)).first()
    if row is None:
        return None
    return Sent(key=row.key, at=row.at, entries=tuple(json.loads(row.entries)), status=row.status, where=row.address)
