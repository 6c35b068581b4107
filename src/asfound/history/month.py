"""One month of one engine: its rows read from several files as one, its buckets counted from rows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from asfound.history.bucket_files import read_rows
from asfound.history.buckets import DAY, LEVELS, TEN_MINUTES, Buckets
from asfound.history.channels import SECOND, Channels, TextChannel
from asfound.history.folders import Folder
from asfound.history.manifest import Manifest, RowsFile, digest_of_file
from asfound.history.months import month_bounds
from asfound.history.rows_file import TEXT, DamagedError, columns_of, connection, numbers, read_numbers, read_words
from asfound.history.scale import scale_of
from asfound.history.tally import Tally
from asfound.quantities.typing import Array

WORTH = 4.0
"""A width is kept where a bucket holds that many values on average: below it, the rows are nearly as short."""

FEW = 2.25
"""Bytes of a file for each value, below which few of its values are different."""


def read(
    folder: Folder, manifest: Manifest, channels: Sequence[str], texts: Sequence[str],
    start: int | None, end: int | None, *, with_source: bool = False,
) -> list[Channels]:  # fmt: skip
    """Return rows of each file that has some in start <= time < end; columns that a file lacks are missing there."""
    found = []
    with connection() as duck:
        for part in manifest.rows:
            if (end is not None and part.first >= end) or (start is not None and part.last < start):
                continue
            with folder.local(f"{manifest.path}/{part.file}") as path:
                columns = columns_of(tuple(part.channels), tuple(part.texts))
                there = [name for name in channels if name in part.channels]
                time, values = read_numbers(duck, path, [columns[name] for name in there], start, end)
                words_there = [name for name in texts if name in part.texts]
                wanted = [columns[TEXT + name] for name in words_there] + (["source"] if with_source else [])
                words = read_words(duck, path, wanted, start, end)
            found.append(
                Channels(
                    time=time,
                    values=dict(zip(there, values, strict=True)),
                    texts={name: words[columns[TEXT + name]] for name in words_there}
                    | ({"source": words["source"]} if with_source else {}),
                )
            )
    return found


def one_row_per_time(block: Channels) -> Channels:
    """Return rows by time in which those of one time are one: of each channel the first that is not missing."""
    block = block.sorted()
    if len(block) < 2:
        return block
    new = np.concatenate(([True], block.time[1:] != block.time[:-1]))
    if new.all():
        return block
    starts = np.flatnonzero(new)
    group = np.cumsum(new) - 1
    values: dict[str, Array] = {}
    for name, column in block.values.items():
        values[name] = column[starts].copy()
        there = np.flatnonzero(~np.isnan(column))[::-1]  # backwards: the first is written last
        values[name][group[there]] = column[there]
    texts = {}
    for name, text in block.texts.items():
        codes = np.full(len(starts), -1, np.int32)
        there = np.flatnonzero(text.codes >= 0)[::-1]
        codes[group[there]] = text.codes[there]
        texts[name] = TextChannel(codes, text.words)
    return Channels(time=block.time[starts], values=values, texts=texts, source=block.source)


def stored(manifest: Manifest, step: int) -> bool:
    """Return whether the month keeps buckets of this width, on the grid of today."""
    return str(step) in manifest.buckets and manifest.on_grid


def level(folder: Folder, manifest: Manifest, channels: Sequence[str], step: int, first: int, count: int) -> Buckets:
    """Return ``count`` stored buckets from the left edge ``first`` on, within the month."""
    begin = (first - month_bounds(manifest.month)[0]) // step
    names = list(manifest.channels)
    rows = [names.index(name) if name in manifest.channels else -1 for name in channels]
    with folder.local(f"{manifest.path}/{manifest.buckets[str(step)].file}") as path:
        table = read_rows(path, rows, begin, begin + count)
    return Buckets(channels=tuple(channels), step=step, first=first, table=table)


def checked(folder: Folder, manifest: Manifest, part: RowsFile) -> None:
    """Raise DamagedError unless a file of rows is what was written."""
    with folder.local(f"{manifest.path}/{part.file}") as path:
        if digest_of_file(path) != part.digest:
            raise DamagedError(f"{folder.where}/{manifest.path}/{part.file}", "its digest is another")


def count(
    folder: Folder, manifest: Manifest, channels: Sequence[str], step: int = TEN_MINUTES, *,
    threads: int = 1, memory: str = "",
) -> Buckets:  # fmt: skip
    """Return the month's buckets, counted from its rows in one pass.

    Several threads read, one counts, which takes less than half of what reading takes: many short calls of NumPy from
    several threads would pass Python's lock to and fro.
    """
    begin, end = month_bounds(manifest.month)
    tally = Tally([scale_of(name) for name in channels], step, begin, (end - begin) // step)
    with connection(memory, threads) as duck:
        for part in manifest.rows:
            with folder.local(f"{manifest.path}/{part.file}") as path:
                _count_file(duck, tally, part, path, channels)
    return Buckets(channels=tuple(channels), step=step, first=begin, table=tally.table)


def _count_file(duck: object, tally: Tally, part: RowsFile, path: Path, channels: Sequence[str]) -> None:
    columns = columns_of(tuple(part.channels), tuple(part.texts))
    there = [name for name in channels if name in part.channels]
    place = {name: number for number, name in enumerate(there)}
    gappy = [part.channels.get(name, 0) < part.rows for name in channels]
    complete = {columns[name] for name, gaps in zip(channels, gappy, strict=True) if not gaps} if _few(part) else set()
    for time, *values in numbers(duck, path, [columns[name] for name in there], complete=complete):
        tally.add(time, [values[place[name]] if name in place else None for name in channels], gappy)


def _few(part: RowsFile) -> bool:
    """Return whether a file is so short for what it holds that most of its values must be repetitions of few."""
    return part.bytes < FEW * sum(part.channels.values())


def worth_keeping(days: Buckets) -> tuple[int, ...]:
    """Return the widths worth keeping, given the month's buckets of a day.

    They follow from the rows alone: mean seconds between the values of the channel that has most, on days with any.
    """
    most = int(days.n.sum(axis=1, dtype=np.int64).max(initial=0))
    with_any = int((days.n > 0).any(axis=0).sum())
    return tuple(step for step in LEVELS if step == DAY or step / SECOND * most >= WORTH * with_any * 86400)


def ends(block: Channels) -> tuple[int, int]:
    """Return first and last time of sorted rows."""
    return int(block.time[0]), int(block.time[-1])
