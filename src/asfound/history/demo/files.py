"""The logs of the demo engines as the files that would come: several dialects, overlapping, with damaged lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from asfound.history.channels import Channels, Times
from asfound.history.demo import cells as make
from asfound.history.demo.calendar import DAY, iso
from asfound.history.demo.chance import stream
from asfound.history.demo.dialects import DIALECTS, Column, Dialect, cells, columns, local, written
from asfound.history.demo.log import DemoLog
from asfound.history.demo.spreadsheet import write_sheet

WRONG_WORDS = ("ERR", "Bad", "overflow", "#REF!")
WIDTH = 12
"""Of a column with fixed width."""
DAMAGED = 4
"""Lines of each kind of damage in a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A file, and what is wrong in it."""

    name: str
    rows: int
    """Rows of the log in it, before the damage; a row that comes twice counts once."""
    first: int
    last: int
    dialect: Dialect
    heads: tuple[str, ...]
    channels: tuple[str, ...]
    damage: tuple[tuple[int, str], ...]
    """(line, what), lines counted from 1."""

    def as_dict(self, tag: str) -> dict[str, object]:
        """Return it as JSON holds it."""
        return {
            "engine": tag,
            "file": self.name,
            "rows": self.rows,
            "from": iso(self.first),
            "to": iso(self.last),
            "form": self.dialect.form,
            "zone": self.dialect.zone,
            "clock_ahead_s": self.dialect.ahead / 1e6,
            "columns": dict(zip(self.heads, self.channels, strict=True)),
            "damage": [{"line": line, "what": what} for line, what in self.damage],
        }


def write_log(log: DemoLog, folder: Path, seed: int, progress: Callable[[str], None] = lambda _: None) -> list[Written]:
    """Write the files of one engine into a folder; return what was written.

    Parameters
    ----------
    log : DemoLog
        From `generate`.
    folder : Path
        Made when it is not there.
    seed : int
        Of the damage.
    progress : function
        Told each file's name.
    """
    folder.mkdir(parents=True, exist_ok=True)
    tag = log.spec.tag
    found: list[Written] = []
    barometer = log.channels.values["barometric_pressure@site"]
    begins = int(log.channels.time[0])
    for of in DIALECTS[tag]:
        for low, high in _spans(of, log.channels.time, begins):
            rows = np.flatnonzero((log.channels.time >= low) & (log.channels.time < high))
            if not len(rows):
                continue
            part = log.channels.take(rows)
            first = iso(int(part.time[0]))[:10].replace("-", "")
            name = f"{tag}_{first}{_SUFFIX[of.form]}"
            damage = _WRITE[of.form](folder / name, of, tag, part, barometer[rows], seed)
            every = columns(of, part, tag)
            progress(name)
            found.append(
                Written(
                    name=name, rows=len(rows), first=int(part.time[0]), last=int(part.time[-1]), dialect=of,
                    heads=tuple(one.head for one in every), channels=tuple(one.channel for one in every), damage=damage,
                )
            )  # fmt: skip
        begins = of.until
    return found


def _spans(of: Dialect, time: Times, begins: int) -> Iterator[tuple[int, int]]:
    """Yield from and to of each file: whole months of the calendar, and the overlap."""
    first = np.datetime64(begins, "us").astype("datetime64[M]")
    at = begins
    end = min(of.until, int(time[-1]) + 1)
    while at < end:
        first = first + np.timedelta64(of.months, "M")
        until = min(int(first.astype("datetime64[us]").astype(np.int64)), end)
        yield at, min(until + of.overlap * DAY, end)
        at = until


def _csv(
    path: Path, of: Dialect, tag: str, part: Channels, barometer: np.ndarray, seed: int
) -> tuple[tuple[int, str], ...]:
    every = columns(of, part, tag)
    matrix = [make.times(local(of, part.time), of.time)]
    matrix += [cells(one, of, part.values[one.channel], barometer) for one in every]
    random = stream(seed, tag, path.name)
    wrong = _wrong_cells(random, matrix, every) if of.damage else []
    head = [*of.preamble, of.separator.join([of.time_head, *(_head(one, of) for one in every)])]
    if of.units == "row":
        head.append(of.separator.join(["", *(_quoted(one.unit, of) for one in every)]))
    body = make.lines(matrix, of.separator, of.end).split(of.end.encode())[:-1]
    top = [line.encode(of.encoding) for line in head]
    damage = [(row + len(top) + 1, what) for row, what in wrong]
    if of.damage:
        body, moved = _damaged(random, body, top[len(of.preamble)], of, len(top))
        damage = [(moved[0][line], what) for line, what in damage] + moved[1]
    end = of.end.encode()
    path.write_bytes(end.join([*top, *body]) + end)
    return tuple(sorted(damage))


def _head(one: Column, of: Dialect) -> str:
    return _quoted(f"{one.head} [{one.unit}]" if of.units == "head" and one.unit else one.head, of)


def _quoted(text: str, of: Dialect) -> str:
    return f'"{text}"' if of.separator in text else text


def _wrong_cells(
    random: np.random.Generator, matrix: list[make.Cells], every: tuple[Column, ...]
) -> list[tuple[int, str]]:
    """Put words where numbers belong; return (row, what)."""
    found = []
    number = [at for at, one in enumerate(every) if not one.channel.startswith("raw:")]
    for row in np.sort(random.choice(len(matrix[0]), size=DAMAGED, replace=False)).tolist():
        at = int(random.choice(number))
        word = str(random.choice(WRONG_WORDS))
        matrix[at + 1] = make.put(matrix[at + 1], np.array([row]), word)
        found.append((row, f"'{word}' in {every[at].head}"))
    return found


def _damaged(
    random: np.random.Generator, body: list[bytes], head: bytes, of: Dialect, top: int
) -> tuple[list[bytes], tuple[dict[int, int], list[tuple[int, str]]]]:
    """Return the lines with some cut short, repeated, and a head in the middle; where each old line went, and what."""
    n = len(body)
    chosen = random.choice(np.arange(10, n - 1), size=2 * DAMAGED + 1, replace=False).tolist()
    cut, twice, middle = set(chosen[:DAMAGED]), set(chosen[DAMAGED:-1]), chosen[-1]
    found: list[bytes] = []
    moved: dict[int, int] = {}
    told: list[tuple[int, str]] = []
    separator = of.separator.encode()
    for row, line in enumerate(body):
        if row == middle:
            found.append(head)
            told.append((top + len(found), "head repeated"))
        found.append(separator.join(line.split(separator)[:3]) if row in cut else line)
        moved[row + top + 1] = top + len(found)
        if row in cut:
            told.append((top + len(found), "cut short"))
        if row in twice:
            found.append(line)
            told.append((top + len(found), "row repeated"))
    return found, (moved, told)


def _fixed(
    path: Path, of: Dialect, tag: str, part: Channels, barometer: np.ndarray, seed: int
) -> tuple[tuple[int, str], ...]:
    every = columns(of, part, tag)
    matrix = [make.times(local(of, part.time), of.time)]
    matrix += [cells(one, of, part.values[one.channel], barometer) for one in every]
    wrong = _wrong_cells(stream(seed, tag, path.name), matrix, every)
    widths = [19, *(WIDTH for _ in every)]
    head = f"{of.time_head:>19}" + "".join(f"{one.head:>{WIDTH}}" for one in every)
    units = " " * 19 + "".join(f"{one.unit:>{WIDTH}}" for one in every)
    path.write_bytes(f"{head}\n{units}\n".encode() + make.fixed(matrix, widths, of.end))
    return tuple((row + 3, what) for row, what in wrong)


def _spreadsheet(
    path: Path, of: Dialect, tag: str, part: Channels, barometer: np.ndarray, seed: int
) -> tuple[tuple[int, str], ...]:
    del seed
    every = columns(of, part, tag)
    heads = [of.time_head, *(f"{one.head} [{one.unit}]" if one.unit else one.head for one in every)]
    made = [cells(one, of, part.values[one.channel], barometer) for one in every]
    write_sheet(path, f"Dunmirrow works, {tag}", heads, local(of, part.time), made)
    return ()


def _parquet(
    path: Path, of: Dialect, tag: str, part: Channels, barometer: np.ndarray, seed: int
) -> tuple[tuple[int, str], ...]:
    import duckdb

    del seed
    every = columns(of, part, tag)
    table = {of.time_head: local(of, part.time).astype("datetime64[us]")}
    for one in every:
        name = f"{one.head} [{one.unit}]" if one.unit else one.head
        value = written(one, part.values[one.channel], barometer)
        table[name] = np.round(value, one.decimals).astype(np.float32)
    with duckdb.connect() as door:
        door.register("log", table)
        quoted = str(path).replace("'", "''")
        door.execute(f"COPY (SELECT * FROM log) TO '{quoted}' (FORMAT parquet, COMPRESSION zstd)")
    return ()


_SUFFIX = {"csv": ".csv", "fixed": ".txt", "parquet": ".parquet", "spreadsheet": ".xlsx"}
_WRITE = {"csv": _csv, "fixed": _fixed, "parquet": _parquet, "spreadsheet": _spreadsheet}
