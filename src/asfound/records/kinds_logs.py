"""Logs as the record keeps them: which files of an engine were taken in, what became of their rows, what was moved."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from asfound.records.kind_base import Content, Digest, Line, Text, Time


class LogFile(Content):
    """A file that was taken in."""

    name: Line
    digest: Digest
    """SHA-256 of its bytes."""
    bytes: int = Field(ge=0)
    kept: int = Field(default=0, ge=0)
    """Rows of it that are in the store."""
    refused: int = Field(default=0, ge=0)


class LogImported(Content):
    """Files of an engine's log, or of its alarm list, were taken in; taking this back takes their rows out again."""

    what: Literal["rows", "alarms", "live"] = "rows"
    """``live``: a file that was followed, or registers that were read."""
    stored_as: Line
    """Name of the engine in the store of logs: a folder under ``logs/``."""
    source: Line
    """Name that goes with every row; unique among the imports of the engine."""
    files: tuple[LogFile, ...] = ()
    first: Time | None = None
    """Of the earliest row, UTC."""
    last: Time | None = None
    read: int = Field(default=0, ge=0)
    kept: int = Field(default=0, ge=0)
    refused: int = Field(default=0, ge=0)
    duplicates: int = Field(default=0, ge=0)
    conflicts: int = Field(default=0, ge=0)
    cells_refused: int = Field(default=0, ge=0)
    channels: int = Field(default=0, ge=0)
    zone: Text = ""
    """Time zone of times without an offset, as told or found."""
    mapping: Digest | None = None
    """Of the file that says which column is what; it lies among the files of the record."""
    clock: tuple[Line, ...] = ()
    """What was done to its times, one sentence for each correction."""
    time: Time
    """When it was taken in."""
    note: Text = ""


LOG_KINDS: dict[str, type[Content]] = {"log_imported": LogImported}
