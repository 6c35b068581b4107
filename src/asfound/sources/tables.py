"""Packaged tables: a row that does not say where it comes from is not loaded.

A CSV file names the source of each row in a column ``source``, or of all rows in a first line ``# source: key``. A
YAML file does so by ``source`` in each item, or once at its top. A source is a key of the register, or several joined
by ``;``.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import KnowledgeError
from asfound.sources.parsed import packaged
from asfound.sources.register import ROOMS, keys

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.sources.yaml_lines import Node


def load_csv(package: str, name: str, *, columns: Iterable[str] | None = None) -> list[dict[str, str]]:
    """Return the rows of a packaged CSV table, each a dict of text by column, with ``source`` always filled.

    Parameters
    ----------
    package : str
        Package that holds the file, ``asfound.quantities``.
    name : str
        Path under it, ``data/units.csv``.
    columns : iterable of str, optional
        Columns that must be there.

    Raises
    ------
    KnowledgeError
        A row without source, an unknown source, a missing column, a row with too few or too many fields.
    """
    return csv_rows(read_text(package, name), file=f"{package.replace('.', '/')}/{name}", columns=columns)


def csv_rows(text: str, *, file: str, columns: Iterable[str] | None = None) -> list[dict[str, str]]:
    """Return the rows of CSV text, checked as `load_csv` does; lines with # before the header are remarks."""
    skipped, for_all = 0, ""
    lines = text.splitlines(keepends=True)
    while skipped < len(lines) and lines[skipped].startswith("#"):
        remark = lines[skipped][1:].strip()
        if remark.startswith("source:"):
            for_all = remark.removeprefix("source:").strip()
        skipped += 1
    reader = csv.reader(io.StringIO("".join(lines[skipped:]), newline=""), strict=True)
    try:
        header = next(reader)
    except StopIteration:
        raise KnowledgeError(file, 1, 1, "the table is empty.") from None
    if "source" not in header and not for_all:
        raise KnowledgeError(file, skipped + 1, 1, "no column 'source', and no line '# source: key' above the header.")
    for column in columns or ():
        if column not in header:
            raise KnowledgeError(file, skipped + 1, 1, f"column '{column}' is missing.", allowed=", ".join(header))
    try:
        return [_row(header, fields, for_all, file, skipped + reader.line_num) for fields in reader]
    except csv.Error as error:
        raise KnowledgeError(file, skipped + reader.line_num, 1, f"this line is not CSV: {error}.") from error


def _row(header: list[str], fields: list[str], for_all: str, file: str, line: int) -> dict[str, str]:
    if len(fields) != len(header):
        raise KnowledgeError(
            file, line, 1, f"{len(fields)} fields under {len(header)} column heads.", allowed=", ".join(header)
        )
    row = dict(zip(header, fields, strict=True))
    given = row.get("source", "").strip() or for_all
    column = header.index("source") + 1 if "source" in header else 1
    row["source"] = check_source(given, file, line, column)
    return row


def check_source(given: str, file: str, line: int, column: int) -> str:
    """Return the source as given; KnowledgeError when it is empty or a key in it is unknown."""
    parts = [part.strip() for part in given.split(";")]
    if not all(parts):
        raise KnowledgeError(
            file, line, column, "a row without source is not loaded.", allowed="a key of the register of sources"
        )
    for part in parts:
        if part not in keys():
            raise KnowledgeError(
                file, line, column, f"no source is called '{part}'.", allowed="a key of the register of sources"
            )
    return given


def load_yaml(package: str, name: str, *, rows: str = "") -> Any:
    """Return a packaged YAML table as plain dicts and lists, once each row is known to have its source.

    The file is a list of mappings, a mapping of names to mappings, or a mapping that holds such lists or mappings. With
    ``source`` at its top the whole file has that source. ``rows`` names the one key at the top under which the rows
    stand, where other things stand beside them.

    Raises
    ------
    KnowledgeError
        A row without source or with an unknown one, or anything `yaml_lines.load` refuses.
    """
    return load_yaml_lines(package, name, rows=rows).plain()


def load_yaml_lines(package: str, name: str, *, rows: str = "") -> Node:
    """Return a packaged YAML table as `Node`, once each row is known to have its source."""
    from asfound.sources import yaml_lines  # PyYAML costs 20 ms: not for a command that reads CSV alone

    root = yaml_lines.load(read_text(package, name), file=f"{package.replace('.', '/')}/{name}")
    check_rows(root.want(rows)[0] if rows else root)
    return root


def check_rows(root: Node) -> None:
    """Refuse a table in which a row has no source; see `load_yaml` for its shapes."""
    if _has_source(root):
        return
    for row in _children(root):
        if _has_source(row):
            continue
        under = [child for child in _children(row) if isinstance(child.value, dict)]
        if not under or not all(_has_source(child) for child in under):
            wrong = next((child for child in under if not _has_source(child)), row)
            raise wrong.error("a row without source is not loaded.", allowed="source: a key of the register of sources")


def _children(node: Node) -> list[Node]:
    return (
        list(node.value.values())
        if isinstance(node.value, dict)
        else node.value
        if isinstance(node.value, list)
        else []
    )


def _has_source(node: Node) -> bool:
    if not isinstance(node.value, dict) or "source" not in node.value:
        return False
    at = node.value["source"]
    check_source(at.text(), at.file, at.line, at.column)
    return True


def read_text(package: str, name: str) -> str:
    """Return the text of a packaged file; it knows which, so that it need not be parsed in every process."""
    path = package_folder(package).joinpath(name)
    return packaged(path.read_text(encoding="utf-8"), path)


def package_folder(package: str) -> Path:
    """Return the folder of a package of this program (importlib.resources would cost 20 ms at every start)."""
    top, *below = package.split(".")
    if top != ROOMS.name:
        raise ValueError(f"'{package}' is no package of {ROOMS.name}.")
    return ROOMS.joinpath(*below)
