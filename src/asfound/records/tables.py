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
