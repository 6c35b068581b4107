"""Records of failures and of work from a file: YAML with both, or CSV with failures; each mistake with its line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import KnowledgeError
from asfound.upkeep.failure_records import FAILURE_FIELDS, check_failure, check_work, plain

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

FAILURE_COLUMNS = ("record", "equipment", "detected", "hours", *FAILURE_FIELDS, "subunit", "item", "remarks")
WORK_COLUMNS = (
    "record", "equipment", "failure", "date", "hours", "item", "category", "activity", "also", "active_hours",
    "down_hours", "while_running",
)  # fmt: skip
_NUMBERS = ("hours", "active_hours", "down_hours")


@dataclass(frozen=True, slots=True)
class Records:
    """What a file holds; codes are as they stand in it, and may be missing or wrong."""

    failures: tuple[Mapping[str, Any], ...]
    works: tuple[Mapping[str, Any], ...]

    @property
    def problems(self) -> dict[str, tuple[str, ...]]:
        """Name of a record to what is wrong with it, as codes (`failure_records.says`); sound ones are left out."""
        found = {str(one.get("record")): check_failure(one) for one in self.failures}
        found |= {str(one.get("record")): check_work(one) for one in self.works}
        return {name: codes for name, codes in found.items() if codes}


def read_records(path: str | Path) -> Records:
    """Return the records of a file; KnowledgeError with file and line where it cannot be read.

    A CSV file has columns named as the fields of a failure; a YAML file has lists ``failures`` and ``works``.
    """
    file = Path(path)
    if not file.is_file():
        raise KnowledgeError(str(file), 1, 1, "there is no file here.", allowed="a YAML or CSV file")
    if file.suffix.lower() == ".csv":
        return Records(tuple(_csv(file)), ())
    from asfound.sources import yaml_lines

    root = yaml_lines.load(file)
    root.only("failures", "works")
    return Records(
        tuple(_row(one, FAILURE_COLUMNS) for one in _rows(root, "failures")),
        tuple(_row(one, WORK_COLUMNS) for one in _rows(root, "works")),
    )


def failures_csv(failures: Iterable[Mapping[str, Any]]) -> str:
    """Return records of failures as CSV that `read_records` takes: what nobody knows stays empty, never a guess."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(FAILURE_COLUMNS)
    for one in failures:
        writer.writerow(["" if one.get(name) is None else _written(name, one[name]) for name in FAILURE_COLUMNS])
    return out.getvalue()


def _written(name: str, value: Any) -> str:
    """Return a value for a table: codes as the table of codes writes them, one line of text."""
    text = (
        plain(name, str(value))
        if name in FAILURE_FIELDS
        else f"{value:.10g}"
        if isinstance(value, float)
        else str(value)
    )
    text = " ".join(text.split())
    return f"'{text}" if text[:1] in ("=", "+", "@") else text  # a spreadsheet takes it for a formula


def _rows(root: Node, key: str) -> list[Node]:
    under = root.get(key)
    return [] if under is None else under.items()


def _row(row: Node, columns: tuple[str, ...]) -> dict[str, Any]:
    row.only(*columns)
    found: dict[str, Any] = {}
    for name, node in row.mapping().items():
        if node.value is None:
            found[name] = None
        elif name in _NUMBERS:
            found[name] = node.number()
        elif name == "while_running":
            found[name] = node.truth()
        elif name == "also":
            found[name] = [one.text() for one in node.items()]
        else:
            found[name] = node.text()
    return found


def _csv(file: Path) -> Iterator[dict[str, Any]]:
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise KnowledgeError(str(file), 1, 1, f"the file is not UTF-8 text ({error.reason}).") from error
    reader = csv.reader(text.splitlines(), strict=True)
    try:
        header = next(reader, [])
        for at, name in enumerate(header, 1):
            if name not in FAILURE_COLUMNS:
                raise KnowledgeError(
                    str(file), 1, at, f"no column is called '{name}'.", allowed=", ".join(FAILURE_COLUMNS)
                )
        for fields in reader:
            if len(fields) != len(header):
                raise KnowledgeError(
                    str(file), reader.line_num, 1, f"{len(fields)} fields under {len(header)} column heads."
                )
            yield {name: _value(file, reader.line_num, name, text) for name, text in zip(header, fields, strict=True)}
    except csv.Error as error:
        raise KnowledgeError(str(file), reader.line_num, 1, f"this line is not CSV: {error}.") from error


def _value(file: Path, line: int, name: str, text: str) -> Any:
    if not text.strip():
        return None
    if name not in _NUMBERS:
        return text.strip()
    try:
        return float(text)
    except ValueError:
        raise KnowledgeError(
            str(file), line, 1, f"'{text}' is no number of {name}.", allowed="hours, as 38244"
        ) from None
