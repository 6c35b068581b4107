"""What fault codes mean by a table of the home: parameter numbers are named by the engine's documents, not by guess."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

from asfound.errors import KnowledgeError

OWN_CODES = "fault_codes.csv"
"""Name of the table in the home."""
COLUMNS = ("spn", "fmi", "title", "meaning", "source")


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeName:
    """A parameter number, with one failure mode or any, and what a document says it is."""

    spn: int
    fmi: int | None
    title: str
    meaning: str
    source: str


def read_names(text: str, *, file: str = OWN_CODES) -> dict[tuple[int, int | None], CodeName]:
    """Return the names in a table with the columns spn, fmi, title, meaning, source; fmi may be empty (any).

    Raises
    ------
    KnowledgeError
        Names file, line and column: a column that is missing, a number that is none, a row twice, no title or source.
    """
    reader = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), strict=True)
    found: dict[tuple[int, int | None], CodeName] = {}
    head: list[str] = []
    try:
        for fields in reader:
            line = reader.line_num
            if not any(fields) or fields[0].lstrip().startswith("#"):
                continue
            if not head:
                head = [one.strip().lower() for one in fields]
                _check_head(head, file, line)
                continue
            if len(fields) != len(head):
                raise KnowledgeError(file, line, 1, f"{len(fields)} fields under {len(head)} column heads.")
            row = {name: one.strip() for name, one in zip(head, fields, strict=True)}
            one = _name(row, head, file, line)
            if (one.spn, one.fmi) in found:
                raise KnowledgeError(file, line, 1, f"SPN {one.spn} with this FMI stands here twice.")
            found[one.spn, one.fmi] = one
    except csv.Error as fault:
        raise KnowledgeError(file, reader.line_num, 1, f"this line is not CSV: {fault}.") from fault
    if not head:
        raise KnowledgeError(file, 1, 1, "the table is empty.", allowed=",".join(COLUMNS))
    return found


def name_of(spn: int, fmi: int, names: Mapping[tuple[int, int | None], CodeName]) -> CodeName | None:
    """Return what a table says of a code: of this failure mode, else of the parameter; None where it says nothing."""
    return names.get((spn, fmi)) or names.get((spn, None))


def _check_head(head: list[str], file: str, line: int) -> None:
    for column in COLUMNS:
        if column not in head:
            raise KnowledgeError(file, line, 1, f"column '{column}' is missing.", allowed=",".join(COLUMNS))


def _name(row: Mapping[str, str], head: list[str], file: str, line: int) -> CodeName:
    spn = _number(row["spn"], 2**19 - 1, file, line, head.index("spn") + 1, "SPN")
    fmi = _number(row["fmi"], 31, file, line, head.index("fmi") + 1, "FMI") if row["fmi"] else None
    for column in ("title", "source"):
        if not row[column]:
            raise KnowledgeError(file, line, head.index(column) + 1, f"'{column}' is empty.", allowed="words")
    return CodeName(spn=spn, fmi=fmi, title=row["title"], meaning=row["meaning"], source=row["source"])


def _number(text: str, most: int, file: str, line: int, column: int, what: str) -> int:
    if not (text.isascii() and text.isdecimal() and int(text) <= most):
        raise KnowledgeError(file, line, column, f"'{text}' is no {what}.", allowed=f"0 to {most}")
    return int(text)
