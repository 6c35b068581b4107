"""Spreadsheets as lines of text: each row of the sheet one line, so that one reader serves every kind of log.

A workbook is a packed file that anybody may have made: how large it becomes, and how far apart its cells lie, is
looked up before it is opened.
"""

from __future__ import annotations

import re
import zipfile
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from asfound.errors import InputError

DELIMITER = "\x1f"
LARGEST = 600 << 20
"""Bytes that a workbook may have when unpacked."""
MOST_CELLS = 40_000_000
_CELL = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,3})(\d{1,8})"')
_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*?\br="(\d{1,8})"')
_REPEATED = re.compile(rb'number-(?:columns|rows)-repeated="(\d+)"')


def sheets_of(path: Path) -> list[str]:
    """Return the names of the sheets of a workbook."""
    return list(_workbook(path).sheet_names)


def table_bytes(path: Path, sheet: str = "") -> bytes:
    """Return a sheet as lines of UTF-8, parted by U+001F; line numbers are the rows of the sheet. The last one is kept.

    Raises
    ------
    InputError
        The file is no workbook, is damaged, or would become too large.
    """
    told = path.stat()
    return _table_bytes(path, sheet, told.st_mtime_ns, told.st_size)


@lru_cache(maxsize=1)
def _table_bytes(path: Path, sheet: str, _changed: int, _size: int) -> bytes:
    book = _workbook(path)
    names = list(book.sheet_names)
    if sheet and sheet not in names:
        raise InputError("sheet", sheet, "is no sheet of this workbook", allowed=", ".join(names))
    if not names:
        raise InputError("file", path.name, "has no sheets")
    try:
        found = book.get_sheet_by_name(sheet or _fullest(book, names))
        rows = found.to_python(skip_empty_area=False)
    except Exception as error:  # the reader has its own errors, and panics
        raise _damaged(path, error) from error
    return b"".join(DELIMITER.join(map(_text, row)).encode("utf-8", "replace") + b"\n" for row in rows)


def _fullest(book: Any, names: list[str]) -> str:
    """Return the sheet with the most rows: logs stand beside a cover sheet."""
    return max(names, key=lambda name: book.get_sheet_by_name(name).total_height)


def _workbook(path: Path) -> Any:
    from python_calamine import CalamineWorkbook

    _weigh(path)
    try:
        return CalamineWorkbook.from_path(str(path))
    except Exception as error:
        raise _damaged(path, error) from error


def _damaged(path: Path, error: BaseException) -> InputError:
    return InputError("file", path.name, f"cannot be read as a spreadsheet: {str(error)[:120]}")


def _weigh(path: Path) -> None:
    """Refuse a workbook that would fill the memory."""
    if not zipfile.is_zipfile(path):
        return
    with zipfile.ZipFile(path) as book:
        size = sum(one.file_size for one in book.infolist())
        if size > LARGEST:
            raise InputError(
                "file", path.name, f"becomes {size >> 20} MB when unpacked", allowed=f"at most {LARGEST >> 20} MB",
                try_next="Export the log as CSV.",
            )  # fmt: skip
        for one in book.infolist():
            if re.search(r"worksheets/[^/]+\.xml$", one.filename):
                _span(path, book, one.filename)
            elif one.filename == "content.xml":
                _repeats(path, book, one.filename)


def _pieces(book: zipfile.ZipFile, name: str) -> Any:
    unpacked, before = 0, b""
    with book.open(name) as file:
        while data := file.read(1 << 20):
            unpacked += len(data)
            if unpacked > LARGEST:  # the directory lied about the size
                raise InputError("file", name, "is larger than it says", allowed=f"at most {LARGEST >> 20} MB")
            yield before + data
            before = data[-200:]


def _span(path: Path, book: zipfile.ZipFile, name: str) -> None:
    """Refuse cells so far apart that the table between them would not fit."""
    wide = high = 0
    try:
        for piece in _pieces(book, name):
            high = max((int(row) for row in _ROW.findall(piece)), default=high) if high == 0 else max(
                high, max((int(row) for row in _ROW.findall(piece)), default=0))  # fmt: skip
            for letters, row in _CELL.findall(piece):
                column = 0
                for letter in letters:
                    column = column * 26 + letter - 64
                wide, high = max(wide, column), max(high, int(row))
    except (zipfile.BadZipFile, OSError, EOFError) as error:
        raise _damaged(path, error) from error
    _table_fits(path, wide, high)


def _repeats(path: Path, book: zipfile.ZipFile, name: str) -> None:
    """Refuse an OpenDocument sheet whose filled cells repeat without end."""
    try:
        for piece in _pieces(book, name):
            for row in re.findall(rb"<table:table-row\b[^>]*>.*?</table:table-row>", piece, re.DOTALL):
                opening, _, cells = row.partition(b">")
                filled = [c for c in re.findall(rb"<table:table-cell\b[^>]*>", cells) if b"value" in c]
                times = [int(found) for found in _REPEATED.findall(opening)] or [1]
                wide = sum(int((_REPEATED.search(c) or [0, 1])[1]) for c in filled)
                if filled:
                    _table_fits(path, wide, times[0])
    except (zipfile.BadZipFile, OSError, EOFError) as error:
        raise _damaged(path, error) from error


def _table_fits(path: Path, wide: int, high: int) -> None:
    if wide * high > MOST_CELLS:
        raise InputError(
            "file", path.name, f"has cells as far as row {high}, column {wide}",
            allowed=f"a table of at most {MOST_CELLS:,} cells", try_next="Export the log as CSV.",
        )  # fmt: skip


def _text(cell: Any) -> str:
    if cell is None or cell == "":
        return ""
    if isinstance(cell, bool):
        return "1" if cell else "0"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, datetime):
        return (cell + timedelta(microseconds=500)).isoformat(" ", "milliseconds" if cell.microsecond else "seconds")
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        seconds = round(cell.total_seconds())
        return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return str(cell).replace("\r", " ").replace("\n", " ").replace(DELIMITER, " ")
