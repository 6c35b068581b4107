"""A head in mid file: after a change of the panel or its software the columns have other names, order or units."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from asfound.history.bytes_in import decoded, lines_of
from asfound.history.channels import Times
from asfound.history.log_form import LogForm
from asfound.history.sniff import Sampled, form_of, heads_changed, unit_row
from asfound.history.sniff_fields import fields_of, head_and_unit, looks_like_heads, rejoined
from asfound.history.split_lines import _PADDING, Rows

_ROWS = 500
NEW_HEAD, UNITS = "new header", "units under a new header"


@dataclass(frozen=True, slots=True)
class Changed:
    """A new head: where it begins in the block, how many bytes it takes, its lines, and the form from there on."""

    at: int
    size: int
    lines: tuple[tuple[int, str, str], ...]
    form: LogForm | None


def head_in(
    rows: Rows, clock: tuple[Times, NDArray[np.int64] | None, NDArray[np.object_] | None], form: LogForm
) -> Changed | None:
    """Return the first new head in a block, or None; only lines that are no rows are looked at."""
    if form.layout == "fixed":
        return None
    lines = [(line, start, end) for line, start, end, _ in rows.refused]
    why = clock[2]
    if why is not None:
        bad = np.flatnonzero(why != "")
        lines += [(int(rows.lines[r]), int(rows.starts[r, 0]), int(rows.ends[r, -1])) for r in bad[:2000]]
    for line, start, end in sorted(lines):
        if end - start > 100_000:
            continue
        begin = _line_start(rows, start)
        text = decoded(rows.text(begin, end), form.encoding).rstrip("\r\n")
        fields = fields_of(text, form.delimiter, form.quote)
        if len(fields) < 3 or not (heads_changed(fields, form.heads) or _units_changed(rows, end, fields, form)):
            continue
        found = _form_from(rows, begin, line, form)
        if found is not None:
            return found
    return None


def other_heads(path: Path, form: LogForm) -> bool:
    """Return whether a file has other heads, or the same in another order, where its form expects them."""
    if form.layout != "delimited" or form.header_line is None:
        return False
    first = next(lines_of(path, form.encoding), None)
    lines = first.data.split(b"\n", form.header_line) if first is not None else []
    if len(lines) < form.header_line:
        return False
    text = decoded(lines[form.header_line - 1], form.encoding).strip("\ufeff\r")
    fields = rejoined(fields_of(text, form.delimiter, form.quote), len(form.columns))
    said = [" ".join(field.split()).lstrip("#").strip() for field in fields]
    plain = [re.sub(r" \(\d+\)$", "", head) for head in form.heads]
    alike = all(
        not head or head == f"column {at + 1}" or head in (field, head_and_unit(field)[0])
        for at, (field, head) in enumerate(zip(said, plain, strict=False))
    )
    more = any(field for field in said[len(plain) :])
    return looks_like_heads(fields) and (not alike or more or len(said) < len([head for head in plain if head]))


def _units_changed(rows: Rows, end: int, fields: list[str], form: LogForm) -> bool:
    """Return whether a head that is there again has other units, in it or in a row below it."""
    if not looks_like_heads(fields):
        return False
    known = {column.head: column.unit for column in form.columns}
    said = {head: unit for head, unit in map(head_and_unit, fields) if unit}
    size = len(rows.data) - _PADDING
    below = decoded(rows.text(end, min(size, end + 20_000)), form.encoding).lstrip("\r\n").partition("\n")[0]
    units = fields_of(below.rstrip("\r"), form.delimiter, form.quote)
    if unit_row(units) and len(units) == len(fields):
        said |= {field.strip(): unit.strip(" []()") for field, unit in zip(fields, units, strict=True) if unit.strip()}
    return any(known.get(head) not in (None, "", unit) for head, unit in said.items())


def _line_start(rows: Rows, start: int) -> int:
    """Return where the line begins that a place is in: a quotation mark may stand before a first field."""
    return start - 1 if start > _PADDING and rows.data[start - 1] != 10 else start


def _form_from(rows: Rows, begin: int, line: int, form: LogForm) -> Changed | None:
    """Return the form of what follows a line, where it is a table with a time under other heads."""
    size = len(rows.data) - _PADDING
    raw = rows.text(begin, min(size, begin + 400_000))
    lines = raw.split(b"\n")[:_ROWS]
    texts = [decoded(one, form.encoding).rstrip("\r") for one in lines]
    table = [fields_of(text, form.delimiter, form.quote) for text in texts]
    under = 2 if len(table) > 2 and unit_row(table[1]) else 1
    if len(table) <= under:
        return None
    columns = len(table[under])
    try:
        new = form_of(Sampled(table, under, columns), replace(form, columns=()), first_line=line)
    except ValueError:
        return None
    if not any(column.role in ("time", "date") for column in new.columns):
        return None
    head = sum(len(one) + 1 for one in lines[:under])
    said = ((line, texts[0], NEW_HEAD), (line + 1, texts[1], UNITS))[:under]
    kept = replace(new, order=form.order, zone=form.zone, step=form.step,
                   sentinels=tuple(sorted({*form.sentinels, *new.sentinels})))  # fmt: skip
    return Changed(begin - _PADDING, head, said, kept)
