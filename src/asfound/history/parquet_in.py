"""Logs that are Parquet files: numbers and times come as they are, times in words through the reader of text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from asfound.errors import InputError
from asfound.history.channels import TextChannel
from asfound.history.ledger import Ledger
from asfound.history.log_form import Column, LogForm, Order, Role
from asfound.history.reading import NO_VALUE, OUT_OF_YEARS, Counts, Part
from asfound.history.sniff_time import Decision, date_order
from asfound.history.split_lines import fields_of_texts
from asfound.history.times_in import NO_TIME, NO_TIME_WRITTEN, times
from asfound.history.zones import MISSING_HOUR, ToUTC

_ROWS = 100_000


@dataclass(slots=True)
class ParquetReader:
    """Reads a Parquet file from a row on; the same interface as the reader of text. ``line`` counts rows from 1."""

    path: Path
    form: LogForm
    ledger: Ledger
    position: int = 0
    clock: ToUTC | None = None
    name: str = ""
    held: int = 0
    counts: Counts = field(default_factory=Counts)
    pending: list[tuple[int, str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.name = self.name or self.path.name
        if self.clock is None and self.form.zone:
            self.clock = ToUTC(self.form.zone, self.form.step or 60.0)

    @property
    def line(self) -> int:
        """The next row, from 1."""
        return self.position + 1

    def parts(self) -> Iterator[Part]:
        """Yield the rows of the file."""
        for several in self.blocks():
            yield from several

    def blocks(self) -> Iterator[list[Part]]:
        """Yield the rows some hundred thousand at a time."""
        with _opened() as connection:
            total = _fetch(connection, "SELECT count(*) AS n FROM read_parquet(?)", [str(self.path)], self.path)["n"][0]
            while self.position < total:
                until = min(int(total), self.position + _ROWS)
                found = _fetch(
                    connection,
                    "SELECT * FROM read_parquet(?, file_row_number = true) WHERE file_row_number >= ? AND "
                    "file_row_number < ? ORDER BY file_row_number",
                    [str(self.path), self.position, until], self.path,
                )  # fmt: skip
                part = self._part(found, self.position)
                self.position = until
                yield [part]

    def _part(self, found: dict[str, Any], start: int) -> Part:
        rows = len(found["file_row_number"])
        lines = np.arange(start + 1, start + rows + 1)
        utc, why = self._times(found, rows)
        good = why == ""
        for row in np.flatnonzero(~good):
            text = ", ".join(str(found[column.head][row]) for column in self.form.columns)
            self.ledger.row(self.name, int(lines[row]), text, str(why[row]))
        self.counts.read += rows
        self.counts.refused += int((~good).sum())
        values = {c.head: self._numbers(found[c.head], c, lines, good) for c in self.form.columns if c.role == "number"}
        texts = {c.head: _words(found[c.head], good) for c in self.form.columns if c.role == "text"}
        return Part(lines[good], utc[good], values, texts, self.form)

    def _times(self, found: dict[str, Any], rows: int) -> tuple[np.ndarray, np.ndarray]:
        why = np.full(rows, "", object)
        column = next(c for c in self.form.columns if c.role in ("time", "date"))
        raw = found[column.head]
        beside = next((found[c.head] for c in self.form.columns if c.role == "clock"), None)
        if beside is not None:
            raw = _together(raw, beside)
        if raw.dtype.kind == "M":
            missing = np.ma.getmaskarray(raw)
            wall = np.where(missing, NO_TIME, np.ma.getdata(raw).astype("datetime64[us]").astype(np.int64))
            why[missing | (wall == NO_TIME)] = NO_TIME_WRITTEN
        else:
            table = fields_of_texts(_texts(raw))
            clock = times(*table, self.form.order or "ymd")
            wall = clock.wall - (0 if clock.offset is None else _microseconds(clock.offset))
            why = why if clock.why is None else clock.why
            wall = np.where(clock.wall == NO_TIME, NO_TIME, wall)
            if clock.offset is not None:
                return wall, why
        utc, missing = (self.clock or ToUTC("UTC"))(wall)
        why[missing & (why == "")] = MISSING_HOUR
        why[(why == "") & ((utc < 315532800_000000) | (utc > 7258118400_000000))] = OUT_OF_YEARS
        return utc, why

    def _numbers(self, raw: Any, column: Column, lines: np.ndarray, good: np.ndarray) -> np.ndarray:
        values = np.ma.filled(raw.astype(np.float64), np.nan)[good]
        self.counts.cells += len(values)
        self.counts.cells_empty += int(np.isnan(values).sum())
        for one in (*self.form.sentinels, np.inf, -np.inf):
            for row in np.flatnonzero(values == one):
                self.ledger.cell(self.name, column.head, int(lines[good][row]), str(one), NO_VALUE)
                self.counts.cells_refused += 1
            values[values == one] = np.nan
        return np.asarray(values, np.float64)


def _texts(raw: Any) -> list[str]:
    """Return a column as words; a whole number without a point, so that a time that is counted is read as one."""
    if raw.dtype.kind == "f":
        return ["" if np.isnan(one) else repr(float(one)) for one in np.ma.filled(raw, np.nan)]
    return ["" if one is None else str(one) for one in np.ma.filled(raw.astype(object), "")]


def _together(day: Any, clock: Any) -> Any:
    """Return date and clock of two columns as words."""
    days = [text[:10] for text in _texts(day)]
    return np.array([f"{a} {b}" if a and b else "" for a, b in zip(days, _texts(clock), strict=True)], object)


def _microseconds(offset: np.ndarray) -> np.ndarray:
    return np.where(offset == NO_TIME, 0, offset) * 60_000_000


def _words(raw: Any, good: np.ndarray) -> TextChannel:
    plain = np.ma.filled(raw.astype(object), "")[good]
    return TextChannel.of(["" if one is None else str(one) for one in plain])


def parquet_form(path: Path) -> LogForm:
    """Return the form of a Parquet file: its time is the first column of that type, or of that look."""
    from asfound.history.sniff_fields import head_and_unit, time_kind

    with _opened() as connection:
        found = _fetch(connection, "SELECT * FROM read_parquet(?) LIMIT 1000", [str(path)], path)
    columns: list[Column] = []
    for head, raw in found.items():
        text = raw.dtype.kind not in "iufbM"
        timed = raw.dtype.kind == "M" or (text and len(raw) and time_kind(str(raw[0])) in ("time", "date"))
        role: Role = (
            "time" if timed and not any(c.role == "time" for c in columns) else "text" if text or timed else "number"
        )
        columns.append(Column(head=head, unit=head_and_unit(head)[1], role=role))
    order: Order = ""
    timed_at = next((at for at, column in enumerate(columns) if column.role == "time"), None)
    if timed_at is None:
        timed_at, order = _counted_column(found)
        if timed_at is None:
            raise InputError("time", path.name, "has no column of times", allowed=", ".join(found)[:200])
        columns[timed_at] = replace(columns[timed_at], role="time")
    elif (clock_at := _clock_column(found, columns)) is not None and _days_only(found[columns[timed_at].head]):
        columns[timed_at] = replace(columns[timed_at], role="date")
        columns[clock_at] = replace(columns[clock_at], role="clock")
    return LogForm(layout="parquet", columns=tuple(columns), first_row=1, quote="", delimiter="", order=order)


def _counted_column(found: dict[str, Any]) -> tuple[int | None, Order]:
    """Return the column of numbers that counts time, and what it counts."""
    from asfound.history.sniff import counted_order
    from asfound.history.sniff_fields import TIME_WORDS

    for at, (head, raw) in enumerate(found.items()):
        named = TIME_WORDS.search(head) or head.casefold() in ("ts", "t") or at == 0
        if raw.dtype.kind in "iuf" and named:
            values = np.ma.filled(raw.astype(np.float64), np.nan)
            order = counted_order(values[~np.isnan(values)].tolist())
            if order:
                return at, order  # type: ignore[return-value]
    return None, ""


def _clock_column(found: dict[str, Any], columns: list[Column]) -> int | None:
    from asfound.history.sniff_fields import time_kind

    for at, column in enumerate(columns):
        raw = found[column.head]
        if column.role == "text" and len(raw) and time_kind(str(raw[0])) == "clock":
            return at
    return None


def _days_only(raw: Any) -> bool:
    """Return whether times are all at midnight."""
    return all(text[11:] in ("", "00:00:00", "00:00:00.000000") for text in _texts(raw) if text)


def parquet_order(path: Path, form: LogForm) -> Decision:
    """Return the order of the dates of a Parquet file: that of its words, or none is needed."""
    head = next(column.head for column in form.columns if column.role in ("time", "date"))
    with _opened() as connection:
        column = '"' + head.replace('"', '""') + '"'
        found = _fetch(connection, f"SELECT {column} AS t FROM read_parquet(?)", [str(path)], path)["t"]
    if found.dtype.kind == "M":
        return Decision("ymd", "times are times")
    texts = _texts(found)
    return date_order(
        (fields_of_texts(texts[at : at + _ROWS]) for at in range(0, len(texts), _ROWS)), form.step or 60.0
    )


def parquet_zone(path: Path) -> str:
    """Return ``UTC`` where the times of a Parquet file are moments, nothing where they are local."""
    with _opened() as connection:
        found = _fetch(connection, "DESCRIBE SELECT * FROM read_parquet(?)", [str(path)], path)
    return "UTC" if any("TIME ZONE" in str(kind) for kind in found["column_type"]) else ""


def _opened() -> Any:
    import duckdb

    connection = duckdb.connect(
        config={"autoinstall_known_extensions": False, "autoload_known_extensions": False, "threads": 2}
    )
    connection.execute("SET TimeZone = 'UTC'")
    return connection


def _fetch(connection: Any, query: str, given: list[Any], path: Path) -> dict[str, Any]:
    import duckdb

    try:
        return connection.execute(query, given).fetchnumpy()  # type: ignore[no-any-return]
    except duckdb.Error as error:
        raise InputError("file", path.name, f"cannot be read as Parquet: {str(error)[:160]}") from error
