"""Rows of one month and engine as a Parquet file, written and read by DuckDB; plain for any other program to read.

Columns: ``time`` (UTC), ``source`` (where the row came from), one of floats for each channel (SI, NULL is missing), one
of words for each channel of texts, its name after ``text:``. Rows stand by time.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from asfound.errors import AsFoundError
from asfound.history.arrow_stream import batches
from asfound.history.channels import Channels, TextChannel, Times
from asfound.quantities.typing import Array

ROW_GROUP = 61_440
TEXT = "text:"
_LOWEST = "'-Infinity'::DOUBLE"
_FORM = f"FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {ROW_GROUP}, PARQUET_VERSION v2"


LOCKED_MEMORY = "2GB"
"""What DuckDB may hold where it must put nothing aside on disk."""
_bound = {"memory": "512MB"}


def bound_memory(memory: str) -> None:
    """Set what DuckDB may hold in this process where nothing else is said."""
    _bound["memory"] = memory


@contextlib.contextmanager
def connection(memory: str = "", threads: int = 1) -> Iterator[Any]:
    """Give a connection to DuckDB, bounded, that never asks the network for anything.

    The database behind it holds nothing and is kept: to open one takes longer than to read a month.
    """
    from asfound.history.locked import given

    locked = bool(given())
    made = _database(memory or _bound["memory"], threads, os.getpid(), locked=locked).cursor()
    try:
        yield made
    finally:
        made.close()


@cache
def _database(memory: str, threads: int, _process: int, *, locked: bool = False) -> Any:
    import duckdb

    config: dict[str, Any] = {
        "memory_limit": memory,
        "threads": threads,
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "temp_directory": str(Path(tempfile.gettempdir()) / f"asfound-sorting-{_process}"),
    }
    if not locked:
        return duckdb.connect(":memory:", config=config)
    from asfound.history.locked import memory as files_in_memory

    config |= {"memory_limit": LOCKED_MEMORY, "temp_directory": ""}  # nothing that is sorted goes to the disk
    made = duckdb.connect(":memory:", config=config)
    made.register_filesystem(files_in_memory())
    return made


def columns_of(channels: Sequence[str], texts: Sequence[str] = ()) -> dict[str, str]:
    """Return the column of each channel, a text's under ``text:<name>``: DuckDB takes ``a`` and ``A`` for one name."""
    columns: dict[str, str] = {}
    taken = {"time", "source"}
    for name in (*sorted(channels), *(TEXT + text for text in sorted(texts))):
        column, number = name, 2
        while column.casefold() in taken:
            column, number = f"{name}~{number}", number + 1
        taken.add(column.casefold())
        columns[name] = column
    return columns


def quoted(column: str) -> str:
    """Return a column's name for a query."""
    return '"' + column.replace('"', '""') + '"'


def word(text: str) -> str:
    """Return a text for a query."""
    return "'" + text.replace("'", "''") + "'"


def write_rows(path: Path, block: Channels) -> None:
    """Write sorted rows of one source."""
    columns = columns_of(tuple(block.values), tuple(block.texts))
    given: dict[str, NDArray[Any]] = {"time": block.time}
    select = ["make_timestamp(time) AS time", f"{word(block.source)} AS source"]
    for number, name in enumerate(sorted(block.values)):
        given[f"v{number}"] = block.values[name]
        select.append(f"v{number} AS {quoted(columns[name])}")
    for number, name in enumerate(sorted(block.texts)):
        text = block.texts[name]
        given[f"t{number}"] = text.codes
        words = ", ".join(word(one) for one in text.words)
        select.append(f"list_extract([{words}]::VARCHAR[], t{number} + 1) AS {quoted(columns[TEXT + name])}")
    with connection(threads=1) as duck:
        duck.register("given", given)
        duck.execute(f"COPY (SELECT {', '.join(select)} FROM given) TO {word(str(path))} ({_FORM})")


def join_files(path: Path, files: Sequence[tuple[Path, Sequence[str], Sequence[str]]]) -> None:
    """Write the rows of several files (each with its channels and texts) as one, by time."""
    channels = sorted({name for _, names, _ in files for name in names})
    texts = sorted({name for _, _, names in files for name in names})
    into = columns_of(channels, texts)
    parts = []
    for file, names, its_texts in files:
        mine = columns_of(names, its_texts)
        select = [
            f"{quoted(mine[name]) if name in mine else 'NULL::' + ('VARCHAR' if name.startswith(TEXT) else 'DOUBLE')}"
            f" AS {quoted(column)}"
            for name, column in into.items()
        ]
        parts.append(f"SELECT time, source, {', '.join(select)} FROM read_parquet({word(str(file))})")
    with connection() as duck:
        rows = " UNION ALL ".join(parts)
        duck.execute(f"COPY (SELECT * FROM ({rows}) ORDER BY time, source) TO {word(str(path))} ({_FORM})")


def numbers(
    duck: Any, path: Path, columns: Sequence[str], start: int | None = None, end: int | None = None,
    *, complete: Collection[str] = (),
) -> Iterator[list[NDArray[Any]]]:  # fmt: skip
    """Yield batches of time and columns of a file, start <= time < end; nan is missing.

    ``complete`` names columns in which nothing is missing and few values are different: they come a fifth faster if
    DuckDB is told so. (It works out ``greatest`` once for each different value, and then asks no row for NULL.)
    """
    select = ["time", *(f"greatest({quoted(one)}, {_LOWEST})" if one in complete else quoted(one) for one in columns)]
    try:
        yield from batches(
            duck.sql(f"SELECT {', '.join(select)} FROM read_parquet({word(str(path))}){_during(start, end)}")
        )
    except Exception as broken:
        if isinstance(broken, AsFoundError) or type(broken).__module__.startswith(("duckdb", "_duckdb")):
            raise DamagedError(path, str(broken)) from broken
        raise


class DamagedError(AsFoundError):
    """A file of the store is not what was written."""

    def __init__(self, path: Path | str, because: str) -> None:
        self.path = str(path)
        super().__init__(f"{path}: damaged ({because}). Set the month aside and import its sources again.")


def read_numbers(
    duck: Any, path: Path, columns: Sequence[str], start: int | None, end: int | None
) -> tuple[Times, list[Array]]:
    """Return time and columns of a file, whole."""
    found = [[column.copy() for column in batch] for batch in numbers(duck, path, columns, start, end)]
    if not found:
        return np.empty(0, np.int64), [np.empty(0)] * len(columns)
    if len(found) == 1:
        return found[0][0], found[0][1:]
    joined = [np.concatenate([batch[number] for batch in found]) for number in range(len(columns) + 1)]
    return joined[0], joined[1:]


def read_words(
    duck: Any, path: Path, columns: Sequence[str], start: int | None, end: int | None
) -> dict[str, TextChannel]:
    """Return columns of words (``source`` is one), in the order of ``read_numbers``."""
    if not columns:
        return {}
    select = ", ".join(f"{quoted(column)} AS w{number}" for number, column in enumerate(columns))
    try:
        duck.execute(f"SELECT {select} FROM read_parquet({word(str(path))}){_during(start, end)}")
        found: Mapping[str, Any] = duck.fetchnumpy()
    except Exception as broken:
        if type(broken).__module__.startswith(("duckdb", "_duckdb")):
            raise DamagedError(path, str(broken)) from broken
        raise
    return {column: _text(found[f"w{number}"]) for number, column in enumerate(columns)}


def _text(column: Any) -> TextChannel:
    missing = np.ma.getmaskarray(column)
    words, codes = np.unique(np.ma.getdata(column)[~missing].astype(str), return_inverse=True)
    all_codes = np.full(len(column), -1, np.int32)
    all_codes[~missing] = codes
    return TextChannel(all_codes, tuple(words.tolist()))


def _during(start: int | None, end: int | None) -> str:
    conditions = []
    if start is not None:
        conditions.append(f"time >= make_timestamp({int(start)})")
    if end is not None:
        conditions.append(f"time < make_timestamp({int(end)})")
    return " WHERE " + " AND ".join(conditions) if conditions else ""
