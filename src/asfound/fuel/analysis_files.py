"""Gas analyses from files: the cells of CSV, xlsx, ods, and one analysis with a component in each row.

A table with a component in each column and a gas in each row is a log: see `gas_log`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from asfound.errors import InputError
from asfound.fuel.composition import Basis
from asfound.fuel.laboratory_report import LaboratoryReport, read_report
from asfound.fuel.report_lines import PlusMinus
from asfound.fuel.splits import Split

SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
LARGEST = 50_000_000
"""Largest file that is read. [byte]"""
Cells = list[list[str]]


def read_cells(path: Path | str, *, sheet: str | None = None) -> Cells:
    """Return the cells of a CSV file or spreadsheet as text, empty rows left in, so that row numbers hold.

    Raises
    ------
    InputError
        The file is not there, is too large, cannot be read, or has no such sheet.
    """
    path = Path(path)
    if not path.is_file():
        raise InputError("file", str(path), "is not there")
    if path.stat().st_size > LARGEST:
        raise InputError("file", path.name, f"has {path.stat().st_size / 1e6:.0f} MB", allowed="up to 50 MB")
    return cells_of(path.read_bytes(), path.name, sheet=sheet)


def cells_of(content: bytes, name: str, *, sheet: str | None = None) -> Cells:
    """Return the cells of a file that was read already; its name tells what it is. Errors as `read_cells`."""
    if Path(name).suffix.casefold() in SPREADSHEETS:
        return _spreadsheet(content, name, sheet)
    return _csv(content, name)


def text_of(content: bytes, name: str, *, sheet: str | None = None) -> str:
    """Return a file as the text that a person would paste: a row in each line, cells set apart by tabs.

    Parameters
    ----------
    content : bytes
        What the file holds.
    name : str
        Its name: what ends in .txt or in nothing known is taken as it stands.
    sheet : str, optional
        Of a spreadsheet; the first when left out.

    Raises
    ------
    InputError
        It is too large, or no spreadsheet.
    """
    if len(content) > LARGEST:
        raise InputError("file", name, f"has {len(content) / 1e6:.0f} MB", allowed="up to 50 MB")
    if Path(name).suffix.casefold() not in (*SPREADSHEETS, ".csv", ".tsv"):
        return _decoded(content)
    if not content.strip():
        return ""
    return "\n".join(
        "\t".join(cell.replace("\t", " ").replace("\n", " ") for cell in row)
        for row in cells_of(content, name, sheet=sheet)
    )


def read_analysis(
    path: Path | str,
    *,
    sheet: str | None = None,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    plus_minus: PlusMinus | None = None,
    source: str = "",
) -> LaboratoryReport:
    """Return the one analysis of a file with a component in each row; arguments and errors as `read_report`."""
    cells = read_cells(path, sheet=sheet)
    text = "\n".join("\t".join(cell.replace("\t", " ").replace("\n", " ") for cell in row) for row in cells)
    return read_report(text, basis=basis, heavier=heavier, plus_minus=plus_minus, source=source or Path(path).name)


def _csv(content: bytes, name: str) -> Cells:
    """Return the cells of a CSV file: comma, semicolon or tab, UTF-8 or Windows-1252."""
    text = _decoded(content)
    sample = [line for line in text.splitlines()[:20] if line.strip()]
    if not sample:
        raise InputError("file", name, "is empty")
    delimiter = max("\t;,", key=lambda sign: sum(line.count(sign) > 0 for line in sample))
    if delimiter == "," and any(line.count(";") for line in sample):
        delimiter = ";"  # then the commas are decimal signs
    return [[cell.strip() for cell in row] for row in rows_of_csv(text, name, delimiter)]


def rows_of_csv(text: str, name: str, delimiter: str) -> Cells:
    """Return the rows of CSV text; InputError names the line that is none."""
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        return list(reader)
    except csv.Error as fault:
        raise InputError(name, f"line {reader.line_num}", f"is not CSV: {fault}",
                         try_next="Look for a quote that is not closed.") from fault  # fmt: skip


def _decoded(content: bytes) -> str:
    """Return bytes as text: UTF-8, else Windows-1252."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _spreadsheet(content: bytes, name: str, sheet: str | None) -> Cells:
    """Return the cells of one sheet as text."""
    import python_calamine  # a spreadsheet is seldom read

    try:
        book = python_calamine.load_workbook(io.BytesIO(content))
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise InputError("file", name, f"cannot be read as a spreadsheet: {error}",
                         allowed=", ".join(SPREADSHEETS)) from error  # fmt: skip
    names = book.sheet_names
    if sheet is not None and sheet not in names:
        raise InputError("sheet", sheet, f"is not in {name}", allowed=", ".join(names))
    rows: Sequence[Sequence[Any]] = book.get_sheet_by_name(sheet or names[0]).to_python(skip_empty_area=False)
    return [[_text(cell) for cell in row] for row in rows]


def _text(cell: Any) -> str:
    """Return a cell of a spreadsheet as text that has one reading."""
    if isinstance(cell, (datetime, date)):
        return cell.isoformat()
    return repr(cell) if isinstance(cell, float) else str(cell).strip()
