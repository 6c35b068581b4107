"""The tables of the record: entries, file contents (used only where there is no folder beside them), what was sent."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, String, Table, Text

METADATA = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)

ENTRIES = Table(
    "entries",
    METADATA,
    # The order in which this store came to know them; a merge brings entries older than the newest.
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True),
    Column("id", String(36), nullable=False, unique=True),
    Column("at", String(40), nullable=False),
    Column("who", String(400), nullable=False),
    Column("device", String(400), nullable=False),
    Column("engine", String(36), ForeignKey("entries.id")),
    Column("visit", String(36), ForeignKey("entries.id")),
    Column("kind", String(40), nullable=False),
    Column("content", Text, nullable=False),
    Column("corrects", String(36), ForeignKey("entries.id")),
    sqlite_autoincrement=True,
)
Index(None, ENTRIES.c.engine, ENTRIES.c.seq)
Index(None, ENTRIES.c.visit, ENTRIES.c.kind)
Index(None, ENTRIES.c.kind, ENTRIES.c.engine, ENTRIES.c.seq)
_CORRECTING = ENTRIES.c.corrects.is_not(None)
Index(None, ENTRIES.c.corrects, sqlite_where=_CORRECTING)

FILES = Table(
    "files",
    METADATA,
    Column("digest", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
)

SENT = Table(
    "sent",
    METADATA,
    # What a device sent, by the identifier that it made; no entry refers to it, and it stays in this store.
    Column("key", String(36), primary_key=True),
    Column("at", String(40), nullable=False),
    Column("entries", Text, nullable=False),
    Column("status", Integer, nullable=False),
    Column("address", Text, nullable=False),
)

# Of an office, where several people share a record; no entry refers to them. Passwords and tokens stand as digests.
PEOPLE = Table(
    "people",
    METADATA,
    Column("name", String(400), primary_key=True),
    Column("role", String(20), nullable=False),
    Column("password", String(400), nullable=False),
    Column("since", String(40), nullable=False),
    Column("barred", String(40)),
)

SESSIONS = Table(
    "sessions",
    METADATA,
    Column("token", String(64), primary_key=True),
    Column("name", String(400), ForeignKey("people.name"), nullable=False),
    Column("until", String(40), nullable=False),
)

DOINGS = Table(
    "doings",
    METADATA,
    # Signing in and out, what was refused, changes of the list of people; who wrote an entry stands in the entry.
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True),
    Column("at", String(40), nullable=False),
    Column("name", String(400), nullable=False),
    Column("what", String(40), nullable=False),
    Column("says", Text, nullable=False),
    sqlite_autoincrement=True,
)
Index(None, DOINGS.c.name, DOINGS.c.at)
