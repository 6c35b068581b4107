"""Moving a record: from a folder to a database that several share, and back, with nothing lost on the way."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, insert, select

from asfound.errors import RecordError
from asfound.records.entries import sha256
from asfound.records.tables import DOINGS, ENTRIES, PEOPLE, SENT

if TYPE_CHECKING:
    from sqlalchemy import Connection, Table

    from asfound.records.database import Database
    from asfound.records.store import Records

ROWS = 500
_IN_ORDER: tuple[tuple[Table, str], ...] = ((ENTRIES, "seq"), (PEOPLE, "name"), (DOINGS, "seq"), (SENT, "key"))
"""What is copied, and in which order of its rows. Sessions end with a move: everybody signs in again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What was copied, and the digest over all entries, which both records have."""

    entries: int
    files: int
    people: int
    digest: str


def move(source: Records, target: Records) -> Moved:
    """Copy everything into an empty record, and compare both; the source stays as it is.

    Raises
    ------
    RecordError
        The target holds something already, a file of the source is damaged, or the two do not agree afterwards.
    """
    with target.database.reading() as connection:
        there = connection.execute(select(func.count()).select_from(ENTRIES)).scalar() or 0
        people = connection.execute(select(func.count()).select_from(PEOPLE)).scalar() or 0
    if there or people:
        raise RecordError(
            f"The record to move to holds {there} entries and {people} people already. Nothing was copied. Name an "
            "empty one; to unite two records use bundle-out and bundle-in."
        )
    digests = sorted(source.files.digests())
    for digest in digests:
        content = source.files.get(digest)
        if sha256(content) != digest:
            raise RecordError(f"The file {digest[:12]} is damaged. Nothing was moved. Fetch it from a backup first.")
        target.files.put(content)
    copied = copy_rows(source.database, target.database)
    first, second = digest_of_rows(source.database), digest_of_rows(target.database)
    if first != second:
        raise RecordError(
            f"The copy does not agree with the record it was made of ({first[:12]}, {second[:12]}): somebody wrote "
            "while it was made. Stop all programs on it, and move into an empty record again."
        )
    return Moved(entries=copied["entries"], files=len(digests), people=copied["people"], digest=first)


def copy_rows(source: Database, target: Database) -> dict[str, int]:
    """Copy the rows of all tables in one reading and one writing transaction; return how many of each."""
    copied: dict[str, int] = {}
    with source.reading() as reading, target.writing() as writing:
        for table, order in _IN_ORDER:
            copied[table.name] = _copy(reading, writing, table, order)
    return copied


def _copy(reading: Connection, writing: Connection, table: Table, order: str) -> int:
    """Copy a table in parts; a number that the store gives itself is given anew, in the same order."""
    count = 0
    last: Any = None
    while True:
        chosen = select(table).order_by(table.c[order]).limit(ROWS)
        rows = reading.execute(chosen if last is None else chosen.where(table.c[order] > last)).mappings().all()
        if not rows:
            return count
        last = rows[-1][order]
        writing.execute(insert(table), [{name: one[name] for name in one if name != "seq"} for one in rows])
        count += len(rows)


def digest_of_rows(database: Database) -> str:
    """Return a digest over all entries as they stand in a database, in the order of their identifiers."""
    made = hashlib.sha256()
    columns = [one for one in ENTRIES.c if one.name != "seq"]
    last = ""
    with database.reading() as connection:
        while True:
            chosen = select(*columns).where(ENTRIES.c.id > last).order_by(ENTRIES.c.id).limit(ROWS)
            rows = connection.execute(chosen).all()
            if not rows:
                return made.hexdigest()
            for row in rows:
                made.update(repr(tuple(row)).encode("utf-8", "surrogatepass"))
            last = rows[-1].id
