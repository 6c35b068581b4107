"""Gas analyses from files: one analysis, or the log of a gas chromatograph with thousands; CSV, xlsx, ods.

A table either has a component in each row (one analysis), or a component in each column and a gas in each row (a log).
Which of the two it is, is seen from where the names of components stand.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from asfound.errors import InputError
from asfound.fuel.composition import Basis
from asfound.fuel.laboratory_report import LaboratoryReport, PlusMinus, read_report
from asfound.fuel.names import GROUPS, component_named, is_known
from asfound.fuel.report_words import columns_of
from asfound.fuel.splits import Split, split_of
from asfound.quantities.numerals import DecimalSign, missing, parse_number
from asfound.quantities.typing import Array

SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
LARGEST = 50_000_000
"""Largest file that is read. [byte]"""
Cells = list[list[str]]
_UNIT = re.compile(
    r"^\s*%\s*|\s*\b(?:mol(?:e|ar)?|vol(?:ume)?|wt|mass|gew)\b[.\-\s]*(?:%|fractions?|/mol)?|\s*%", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GasLog:
    """Many analyses of one table: n gases, m components."""

    components: tuple[str, ...]
    fractions: Array
    """(n, m) as analysed; nan where a cell is empty. [mol/mol]"""
    labels: tuple[str, ...]
    """What stands before the components in each row: a time, a sample."""
    rows: tuple[int, ...]
    """Row of the table, from 1."""

    @property
    def totals(self) -> Array:
        """(n,) what each analysis adds up to; nan where a cell is empty. [mol/mol]"""
        return np.asarray(self.fractions.sum(axis=1))


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
    if path.suffix.casefold() in SPREADSHEETS:
        return _spreadsheet(path, sheet)
    return _csv(path.read_bytes(), path.name)


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


def read_log(
    path: Path | str,
    *,
    sheet: str | None = None,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    decimal: DecimalSign | None = None,
) -> GasLog:
    """Return the analyses of a file with a component in each column; arguments as `read_report`.

    Only mole per cent or fractions: a log of volume or mass shares is converted gas by gas with `composition`.

    Raises
    ------
    InputError
        No row of names, a cell that is no number (named by row and column), a basis other than mole.
    """
    return log_of(read_cells(path, sheet=sheet), basis=basis, heavier=heavier, decimal=decimal)


def log_of(
    cells: Cells,
    *,
    basis: Basis | None = None,
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    decimal: DecimalSign | None = None,
) -> GasLog:
    """Return the analyses of a table of text; see `read_log`.

    Examples
    --------
    >>> log = log_of([["time", "CH4 mol%", "N2 mol%"], ["08:00", "95", "5"], ["09:00", "94", ""]])
    >>> log.components, log.fractions[0].tolist(), log.totals.tolist()
    (('methane', 'nitrogen'), [0.95, 0.05], [1.0, nan])
    """
    head = next((at for at, row in enumerate(cells) if sum(_is_component(cell) for cell in row) >= 2), None)
    if head is None:
        raise InputError("table", "", "has no row with the names of at least two components",
                         try_next="Name the columns by component, CH4, C2H6 ...")  # fmt: skip
    columns = {at: _component(cell, at) for at, cell in enumerate(cells[head]) if _is_component(cell)}
    twice = [name for name in columns.values() if list(columns.values()).count(name) > 1]
    if twice:
        raise InputError("table", twice[0], "heads two columns", try_next="Leave one of them out.")
    kinds = {kind for row in cells[: head + 2] for cell in row for kind in columns_of(cell)}
    if basis not in (None, "mole") or (kinds & {"volume", "mass"} and not kinds & {"mole", "mole fraction"}):
        raise InputError("basis", basis or ", ".join(sorted(kinds)), "is not mole",
                         allowed="mole per cent, mole fractions")  # fmt: skip
    first = min(columns)
    labels, rows, values = [], [], []
    for number, row in enumerate(cells[head + 1 :], start=head + 2):
        texts = {at: row[at] if at < len(row) else "" for at in columns}
        if not any(sign.isdigit() for text in texts.values() for sign in text):
            continue  # empty, or the row of units
        labels.append(" ".join(cell for cell in row[:first] if cell))
        rows.append(number)
        values.append([_number(text, number, columns[at], decimal) for at, text in texts.items()])
    if not rows:
        raise InputError("table", "", "has no row with numbers below the names")
    x = np.array(values)
    middle = float(np.nanmedian(np.nansum(x, axis=1)))
    per = next((one for one in (1.0, 100.0) if 0.8 <= middle / one <= 1.2), None)
    if per is None:
        raise InputError("table", f"{middle:g}", "is what most rows add up to: neither fractions nor per cent",
                         allowed="about 1, or about 100")  # fmt: skip
    names, x = _split(tuple(columns.values()), x / per, heavier)
    return GasLog(components=names, fractions=x, labels=tuple(labels), rows=tuple(rows))


def _split(
    names: tuple[str, ...], x: Array, heavier: str | Split | Mapping[str, str | Split] | None
) -> tuple[tuple[str, ...], Array]:
    """Return the table with sums of heavier components shared out."""
    of_group = heavier if isinstance(heavier, Mapping) and any(one in GROUPS for one in heavier) else None
    out: dict[str, Array] = {}
    for at, name in enumerate(names):
        stated: Any = of_group.get(name) if of_group is not None else heavier
        for one, share in (split_of(name, stated) if name in GROUPS else {name: 1.0}).items():
            out[one] = out[one] + share * x[:, at] if one in out else share * x[:, at]
    return tuple(out), np.column_stack(list(out.values()))


def _is_component(cell: str) -> bool:
    return is_known(_bare(cell))


def _component(cell: str, at: int) -> str:
    return component_named(_bare(cell), field=f"column {at + 1}")


def _bare(cell: str) -> str:
    """Return a column head without its unit."""
    head = _UNIT.sub(" ", cell.split("[")[0].split("(")[0])
    return head.strip().removeprefix("x_").removeprefix("x ").strip(" _-")


def _number(text: str, row: int, component: str, decimal: DecimalSign | None) -> float:
    """Return the number of a cell; nan where it is empty."""
    if missing(text):
        return float("nan")
    sign: DecimalSign | None = decimal or ("comma" if "," in text and "." not in text else "point")
    try:
        found = parse_number(text, decimal=sign, field=f"row {row}, {component}").value
    except InputError as error:
        raise InputError(f"row {row}, {component}", text, error.because, try_next=error.try_next) from error
    return float("nan") if found is None else found


def _csv(content: bytes, name: str) -> Cells:
    """Return the cells of a CSV file: comma, semicolon or tab, UTF-8 or Windows-1252."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    sample = [line for line in text.splitlines()[:20] if line.strip()]
    if not sample:
        raise InputError("file", name, "is empty")
    delimiter = max("\t;,", key=lambda sign: sum(line.count(sign) > 0 for line in sample))
    if delimiter == "," and any(line.count(";") for line in sample):
        delimiter = ";"  # then the commas are decimal signs
    return [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(text), delimiter=delimiter)]


def _spreadsheet(path: Path, sheet: str | None) -> Cells:
    """Return the cells of one sheet as text."""
    import python_calamine  # a spreadsheet is seldom read

    try:
        book = python_calamine.load_workbook(str(path))
    except (python_calamine.CalamineError, OSError) as error:
        raise InputError("file", path.name, f"cannot be read as a spreadsheet: {error}",
                         allowed=", ".join(SPREADSHEETS)) from error  # fmt: skip
    names = book.sheet_names
    if sheet is not None and sheet not in names:
        raise InputError("sheet", sheet, f"is not in {path.name}", allowed=", ".join(names))
    rows: Sequence[Sequence[Any]] = book.get_sheet_by_name(sheet or names[0]).to_python(skip_empty_area=False)
    return [[_text(cell) for cell in row] for row in rows]


def _text(cell: Any) -> str:
    """Return a cell of a spreadsheet as text that has one reading."""
    if isinstance(cell, (datetime, date)):
        return cell.isoformat()
    return repr(cell) if isinstance(cell, float) else str(cell).strip()
