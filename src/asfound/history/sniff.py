"""The form of a log, proposed from its own lines: separator, head, units, number form, what each column holds.

What the lines do not decide is asked, never guessed: day or month first, the time zone, a decimal or a thousands mark.
"""

from __future__ import annotations

import csv
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from asfound.errors import InputError
from asfound.history.bytes_in import decoded
from asfound.history.cell_units import unit_of, without_unit
from asfound.history.log_form import MISSING_WORDS, Column, LogForm, Role
from asfound.history.numbers_in import number_of
from asfound.history.sniff_fields import (
    TIME_WORDS,
    fields_of,
    head_and_unit,
    is_number,
    is_unit,
    looks_like_heads,
    looks_like_units,
    rejoined,
    row_of_data,
    time_kind,
    with_unit,
)
from asfound.history.sniff_widths import cut, under_heads, widths_of

DELIMITERS = (";", "\t", ",", "|", "\x1f")
SENTINELS = (-9999.0, -999.0, -99999.0, 9999.0, 99999.0, -999.9, 999.9, 32767.0, -32768.0, 65535.0, 6553.5, 3276.7,
             -3276.8, 1e30, -1e30, 1e38, 2147483647.0, -2147483648.0, 999999.0, -99.0, -888.0, 8888.0)  # fmt: skip
_LINES = 1500


@dataclass(frozen=True, slots=True)
class Sampled:
    """The first lines of a log, parted at one separator."""

    rows: list[list[str]]
    first: int
    """Index of the first row of data."""
    columns: int
    lines: Sequence[str] = ()
    """The lines themselves, of text that a separator parts."""


def sniff(sample: bytes, encoding: str, *, whole: bool = False) -> LogForm:
    """Return the proposed form of delimited or fixed-width text; date order and zone are left open.

    Raises
    ------
    InputError
        Nothing in it is a table with a time.
    """
    lines = _lines(sample, encoding, whole)
    best: tuple[float, str, Sampled] | None = None
    for delimiter in DELIMITERS:
        found = _sampled(lines, delimiter)
        if found is None:
            continue
        score = _score(found, delimiter)
        if best is None or score > best[0]:
            best = (score, delimiter, found)
    if best is not None and best[0] > 0.4:
        return form_of(best[2], LogForm(encoding=encoding, delimiter=best[1], quote='"'))
    widths = under_heads(lines, widths_of(lines))
    if widths:
        rows = [cut(line, widths) for line in lines]
        table = _first_of(rows, len(widths))
        if table is not None:
            return form_of(table, LogForm(layout="fixed", encoding=encoding, widths=tuple(widths), quote=""))
    raise InputError(
        "file", lines[0][:60] if lines else "", "holds no rows of a time and values that a separator parts",
        try_next="Look at the file in an editor; write its form by hand if it has one.",
    )  # fmt: skip


def _lines(sample: bytes, encoding: str, whole: bool) -> list[str]:
    text = decoded(sample, encoding).replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    if not whole and len(lines) > 1:
        lines.pop()  # cut off in the middle
    return [line[:20000] for line in lines[:_LINES]]


def _sampled(lines: Sequence[str], delimiter: str) -> Sampled | None:
    if not any(delimiter in line for line in lines[:200]):
        return None
    found = _first_of([fields_of(line, delimiter) for line in lines], 0)
    return None if found is None else replace(found, lines=lines)


def _first_of(rows: list[list[str]], columns: int) -> Sampled | None:
    """Return the rows with the place where data begins: the first that has a time, a number, and the usual length."""
    if not columns:
        counts = Counter(len(row) for row in rows if len(row) > 1 and row_of_data(row))
        if not counts:
            return None
        columns = counts.most_common(1)[0][0]
    first = next((at for at, row in enumerate(rows) if len(row) == columns and row_of_data(row)), None)
    if first is None:
        return None
    timed = [at for at, field in enumerate(rows[first]) if time_kind(field) in ("time", "date")]
    while first and timed and len(rows[first - 1]) == columns and time_kind(rows[first - 1][timed[0]]):
        first -= 1  # a row with a time whose values are missing is a row, no head
    return Sampled(rows, first, columns)


def _score(found: Sampled, delimiter: str) -> float:
    """Return how well a separator explains the lines: rows of one length whose fields are something."""
    data = [row for row in found.rows[found.first : found.first + 300] if any(field.strip() for field in row)]
    steady = max(sum(len(row) == found.columns for row in data) / max(1, len(data)), _steady_quoted(found, delimiter))
    fields = [field.strip() for row in data[:100] for field in row]
    other = [mark for mark in DELIMITERS if mark not in (delimiter, ",")]
    clean = sum(
        not field
        or is_number(field)
        or bool(time_kind(field))
        or (len(field) < 60 and not any(m in field for m in other))
        for field in fields
    )
    typed = sum(is_number(field) or bool(time_kind(field)) or with_unit(field) is not None for field in fields)
    share = clean / max(1, len(fields)) * (0.5 + 0.5 * typed / max(1, len(fields)))
    timed = any(time_kind(field) in ("time", "date") for row in data[:5] for field in row)
    return steady * share * (1.0 if timed else 0.6) + 0.001 * min(found.columns, 50)


def _steady_quoted(found: Sampled, delimiter: str) -> float:
    """Return the share of rows of the usual length where quoted fields may go over several lines."""
    lines = found.lines[found.first : found.first + 300]
    if not any('"' in line for line in lines):
        return 0.0
    try:
        rows = [row for row in csv.reader([f"{line}\n" for line in lines], delimiter=delimiter) if row]
    except csv.Error:
        return 0.0
    # a mark that is opened in error swallows all that follows: such rows are few
    return sum(len(row) == found.columns for row in rows) / max(1, len(rows)) if len(rows) > len(lines) / 20 else 0.0


def form_of(table: Sampled, form: LogForm, *, first_line: int = 1) -> LogForm:
    """Return the form with heads, units, roles and number form of a sampled table."""
    heads, units, header, unit_row = _heads(table)
    data = [row for row in table.rows[table.first :] if len(row) == table.columns and row != heads][:_LINES]
    inside = [_in_cells(data, at, head, unit) for at, (head, unit) in enumerate(zip(heads, units, strict=True))]
    if any(inside):
        data = [[without_unit(field.strip(), unit) for field, unit in zip(row, inside, strict=True)] for row in data]
    decimal, thousands, asked = number_form(data, form.delimiter)
    columns = tuple(
        replace(column, unit=unit or column.unit, unit_in_cells=bool(unit))
        for column, unit in zip(_columns(heads, units, data, decimal, thousands), inside, strict=True)
    )
    return replace(
        form, decimal=decimal, thousands=thousands,
        preamble=(header if header is not None else table.first),
        header_line=None if header is None else header + first_line,
        unit_line=None if unit_row is None else unit_row + first_line,
        first_row=table.first + first_line, columns=columns,
        sentinels=_sentinels(columns, data, decimal, thousands),
        notes=(*form.notes, *(("decimal",) if asked else ())),
    )  # fmt: skip


def _heads(table: Sampled) -> tuple[list[str], list[str], int | None, int | None]:
    """Return heads and units of the columns, and in which rows they stand."""
    above = [at for at in range(table.first) if len(table.rows[at]) >= max(2, table.columns - 2)]
    unit_row = above[-1] if above and looks_like_units(table.rows[above[-1]]) else None
    heads_at = [at for at in above if at != unit_row and (looks_like_heads(table.rows[at]) or table.columns <= 2)]
    header = heads_at[-1] if heads_at else None
    if header is None and unit_row is not None and looks_like_heads(table.rows[unit_row]):
        header, unit_row = unit_row, None
    heads = _fitted(table.rows[header], table.columns) if header is not None else [""] * table.columns
    units = _fitted(table.rows[unit_row], table.columns) if unit_row is not None else [""] * table.columns
    return heads, units, header, unit_row


def _fitted(row: Sequence[str], columns: int) -> list[str]:
    whole = rejoined(list(row), columns)
    return [field.strip().lstrip("\ufeff#").strip() for field in (*whole, *[""] * columns)][:columns]


def _in_cells(data: Sequence[Sequence[str]], at: int, head: str, unit: str) -> str:
    """Return the unit that stands within the cells of a column, where none or the same stands over it."""
    return unit_of([row[at].strip() for row in data], unit or head_and_unit(head)[1])


def _columns(
    heads: Sequence[str], units: Sequence[str], data: Sequence[Sequence[str]], decimal: str, thousands: str
) -> list[Column]:
    found: list[Column] = []
    seen: Counter[str] = Counter()
    for at, written in enumerate(heads):
        head, inside = (written, "") if units[at] else head_and_unit(written)
        fields = [row[at].strip() for row in data]
        unit = units[at].strip(" []()") or inside
        role = _role(head, unit, fields, decimal, thousands, first=at == 0)
        head = head or ("" if role == "empty" else f"column {at + 1}")
        seen[head] += 1
        found.append(Column(head=f"{head} ({seen[head]})" if head and seen[head] > 1 else head, unit=unit, role=role))
    return _one_time(found)


def _role(head: str, unit: str, fields: Sequence[str], decimal: str, thousands: str, *, first: bool) -> Role:
    said = [field for field in fields if field]
    if not said:
        return "number" if head else "empty"
    kinds = Counter(time_kind(field) for field in said)
    for kind in ("time", "date", "clock", "offset"):
        if kinds[kind] >= 0.6 * len(said) and not (
            kind == "date" and said[0].isdigit() and not TIME_WORDS.search(head)
        ):
            return kind
    if kinds["time"] + kinds["date"] >= 0.8 * len(said):  # midnight without a clock, as spreadsheets write it
        return "time"
    values = [number_of(field, decimal, thousands) for field in said]
    numeric = [value for value in values if value is not None]
    missing = sum(field.lower() in MISSING_WORDS for field in said)
    if len(numeric) + missing < 0.5 * len(said) or not numeric:
        return "number" if not numeric and missing == len(said) and unit else "text"
    return "time" if (first or TIME_WORDS.search(head)) and not unit and counted_order(numeric) else "number"


def counted_order(values: Sequence[float]) -> str:
    """Return what numbers of a time column count (``epoch_s``, ``sheet_days`` ...); nothing when they are no times."""
    if len(values) < 2 or any(after < before for before, after in itertools.pairwise(values)):
        grown = sum(after >= before for before, after in itertools.pairwise(values))
        if len(values) < 2 or grown < 0.95 * (len(values) - 1):
            return ""
    low, high = min(values), max(values)
    for order, start, end in (
        ("epoch_s", 6e8, 4.2e9), ("epoch_ms", 6e11, 4.2e12), ("epoch_us", 6e14, 4.2e15),
        ("sheet_days", 29000.0, 75000.0),
    ):  # fmt: skip
        if (
            start <= low
            and high <= end
            and (order != "sheet_days" or any(value % 1 for value in values) or len(values) < 4)
        ):
            return order
    return ""


def _one_time(columns: list[Column]) -> list[Column]:
    """Leave one time: the first whole time, or the first date with the first clock; other times are words."""
    roles = [column.role for column in columns]
    whole = roles.index("time") if "time" in roles else -1
    date = roles.index("date") if "date" in roles else -1
    clock = roles.index("clock") if "clock" in roles else -1
    if whole < 0 and date < 0:
        raise InputError(
            "time", ", ".join(column.head for column in columns)[:80], "has no column of times",
            try_next="Say which column is the time, in the form of the source.",
        )  # fmt: skip
    paired = whole < 0 or (date >= 0 and clock >= 0 and date < whole)
    keep = {date, clock} if paired else {whole}
    if paired and clock < 0:
        columns[date], keep = replace(columns[date], role="time"), {date}
    keep |= {roles.index("offset")} if "offset" in roles else set()
    timed = ("time", "date", "clock", "offset")
    return [
        replace(column, role="text") if column.role in timed and at not in keep else column
        for at, column in enumerate(columns)
    ]


def number_form(data: Sequence[Sequence[str]], delimiter: str) -> tuple[str, str, bool]:
    """Return decimal mark, thousands mark, and whether that stays a question."""
    fields = [field.strip() for row in data[:300] for field in row if is_number(field)]
    comma = sum(bool(re.search(r",\d*$", f)) and not re.search(r"^[-+]?[1-9]\d{0,2}(,\d{3})+$", f) for f in fields)
    point = sum(bool(re.search(r"\.\d*$", f)) and not re.search(r"^[-+]?[1-9]\d{0,2}(\.\d{3})+$", f) for f in fields)
    marks = (",", ".", " ", "'", "\xa0", "\u202f")
    patterns = {mark: re.compile(rf"^[-+]?[1-9]\d{{0,2}}({re.escape(mark)}\d{{3}})+([.,]\d*)?$") for mark in marks}
    grouped = {mark: sum(bool(pattern.search(field)) for field in fields) for mark, pattern in patterns.items()}
    decimal = "," if comma > point else "."
    other = "." if decimal == "," else ","
    thousands = max((mark for mark in grouped if mark != decimal), key=lambda mark: grouped[mark])
    thousands = thousands if grouped[thousands] else ""
    asked = False
    # a comma within a field that commas part stood in quotation marks; a point there is a decimal mark
    if not comma and not point and (grouped[","] or (grouped["."] and delimiter != ",")):
        mark = "," if grouped[","] > grouped["."] else "."
        decimal, thousands, asked = mark, "", True
    elif thousands == other and comma == point == 0:
        thousands = ""
    return decimal, thousands, asked


def _sentinels(
    columns: Sequence[Column], data: Sequence[Sequence[str]], decimal: str, thousands: str
) -> tuple[float, ...]:
    """Return the numbers that stand for 'no value': of the usual ones, those far from all else in their column."""
    found: set[float] = set()
    for at, column in enumerate(columns):
        if column.role != "number":
            continue
        values = [number_of(row[at].strip(), decimal, thousands) for row in data]
        numbers = np.array([value for value in values if value is not None])
        for one in SENTINELS:
            rest = numbers[numbers != one]
            if len(rest) == len(numbers) or len(rest) < 5:
                continue
            low, high = float(rest.min()), float(rest.max())
            if not low - 3 * (high - low) - 1 <= one <= high + 3 * (high - low) + 1:
                found.add(one)
    return tuple(sorted(found))


def heads_changed(fields: Sequence[str], heads: Sequence[str]) -> bool:
    """Return whether fields in mid file are a new head: names of columns, and not the same as before."""
    fields = rejoined(list(fields), len(heads))
    named = [head_and_unit(field)[0] for field in fields]
    if [field.strip() for field in fields if field.strip()] == [head for head in heads if head]:
        return False
    plain = [re.sub(r" \(\d+\)$", "", head) for head in heads if head]
    if [name for name in named if name] == plain:
        return False
    return looks_like_heads(list(fields)) and [name for name in named if name] != [head for head in heads if head]


def unit_row(fields: Sequence[str]) -> bool:
    """Return whether fields in mid file are a row of units."""
    said = [field for field in fields if field.strip()]
    rest = [field for field in said if field.strip() != "1"]  # '1' may stand over a share
    return bool(said) and sum(is_unit(field) for field in said) >= 0.6 * len(said) and not any(map(is_number, rest))
