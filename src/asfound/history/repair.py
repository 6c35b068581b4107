"""What is done to a month beside adding: a source taken out, damaged files set aside, buckets counted anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

import numpy as np

from asfound.errors import AsFoundError
from asfound.history import month as a_month
from asfound.history.buckets import DAY, TEN_MINUTES, Buckets, of_rows
from asfound.history.channels import Channels
from asfound.history.folders import Folder
from asfound.history.manifest import BucketFile, Manifest, RowsFile, digest_of_file, load
from asfound.history.months import month_bounds
from asfound.history.rows_file import DamagedError
from asfound.history.writer import TRIES, change_to, with_levels, write_part

DAMAGED = "damaged-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """A file that was set aside: whose rows must be imported again, and between which times."""

    engine: str
    month: str
    file: str
    rows: int
    first: int
    last: int
    sources: Mapping[str, int]


def withdraw(folder: Folder, engine: str, month: str, source: str) -> int:
    """Take the rows of a source out of a month; return how many. Buckets are counted anew.

    A cell that another source had as well at the same time comes back when that source is added again.
    """
    for _ in range(TRIES):
        before = load(folder, engine, month)
        if before is None or not any(source in part.sources for part in before.rows):
            return 0
        touched = [part for part in before.rows if source in part.sources]
        kept = [part for part in before.rows if part not in touched]
        for part in touched:
            kept += _without(folder, before, part, source)
        if change_to(folder, before, counted_anew(folder, replace(before, rows=tuple(kept)))):
            return sum(part.sources[source] for part in touched)
    raise AsFoundError(f"{folder.where}: {engine}, {month}: other programs write this month all the time.")


def _without(folder: Folder, manifest: Manifest, part: RowsFile, source: str) -> list[RowsFile]:
    if set(part.sources) == {source}:
        return []
    alone = replace(manifest, rows=(part,))
    rows = a_month.read(folder, alone, tuple(part.channels), tuple(part.texts), None, None, with_source=True)[0]
    of = rows.texts["source"]
    found = []
    for other in part.sources:
        if other != source:
            code = of.words.index(other)
            mine = Channels(
                time=rows.time, values=rows.values, source=other,
                texts={name: text for name, text in rows.texts.items() if name != "source"},
            ).take(of.codes == code)  # fmt: skip
            found.append(write_part(folder, manifest, mine))
    return found


def counted_anew(folder: Folder, manifest: Manifest, threads: int = 1, memory: str = "") -> Manifest:
    """Return the month with buckets counted from its rows; their files are written, the manifest is not."""
    names = tuple(sorted({name for part in manifest.rows for name in part.channels}))
    begin, end = month_bounds(manifest.month)
    if not names:
        none = of_rows(np.empty(0, np.int64), {}, DAY).over(begin, (end - begin) // DAY, ())
        return with_levels(folder, manifest, {DAY: none}, {}, {})
    finest = a_month.count(folder, manifest, names, TEN_MINUTES, threads=threads, memory=memory)
    days = finest.coarser(DAY)
    levels: dict[int, Buckets] = {}
    for step in a_month.worth_keeping(days):
        levels[step] = finest if step == TEN_MINUTES else finest.coarser(step)
    first, last = _ends(folder, manifest, finest)
    return with_levels(folder, manifest, levels, first, last)


def _ends(folder: Folder, manifest: Manifest, finest: Buckets) -> tuple[dict[str, int], dict[str, int]]:
    """Return first and last time of each channel: read from the rows of its first and last bucket."""
    first, last = {}, {}
    for number, name in enumerate(finest.channels):
        there = np.flatnonzero(finest.n[number])
        if len(there):
            first[name] = _time_in(folder, manifest, name, finest, int(there[0]), 0)
            last[name] = _time_in(folder, manifest, name, finest, int(there[-1]), -1)
    return first, last


def _time_in(folder: Folder, manifest: Manifest, name: str, finest: Buckets, bucket: int, which: int) -> int:
    start = finest.first + bucket * finest.step
    rows = a_month.one_row_per_time(
        Channels.concat(a_month.read(folder, manifest, (name,), (), start, start + finest.step))
    )
    return int(rows.time[~np.isnan(rows.values[name])][which])


def recount(folder: Folder, engine: str, month: str, threads: int = 1, memory: str = "") -> None:
    """Count a month's buckets anew from its rows: they are damaged, or on the grid of another edition."""
    for _ in range(TRIES):
        before = load(folder, engine, month)
        if before is None or change_to(folder, before, counted_anew(folder, before, threads, memory)):
            return
    raise AsFoundError(f"{folder.where}: {engine}, {month}: other programs write this month all the time.")


def damaged(folder: Folder, manifest: Manifest) -> list[str]:
    """Return the files of a month that are missing or not what was written."""
    wrong = []
    files: tuple[RowsFile | BucketFile, ...] = (*manifest.rows, *manifest.buckets.values())
    for part in files:
        try:
            with folder.local(f"{manifest.path}/{part.file}") as path:
                if digest_of_file(path) != part.digest:
                    wrong.append(part.file)
        except (OSError, DamagedError):
            wrong.append(part.file)
    return wrong


def set_aside(folder: Folder, engine: str, month: str) -> tuple[Lost, ...]:
    """Give damaged files of rows another name and go on without them; the sources that they name can be added again.

    Damaged buckets are counted anew. What is whole stays as it is.
    """
    before = load(folder, engine, month)
    if before is None:
        return ()
    wrong = set(damaged(folder, before))
    if not wrong:
        return ()
    bad = [part for part in before.rows if part.file in wrong]
    lost = tuple(
        Lost(
            engine=engine, month=month, file=part.file, rows=part.rows, first=part.first, last=part.last,
            sources=dict(part.sources),
        )
        for part in bad
    )  # fmt: skip
    rest = replace(before, rows=tuple(part for part in before.rows if part not in bad))
    rest = replace(rest, lost=(*before.lost, *(asdict(one) for one in lost)))
    for part in bad:
        try:
            folder.rename(f"{before.path}/{part.file}", f"{before.path}/{DAMAGED}{part.file}")
        except FileNotFoundError:
            continue
    if not change_to(folder, before, counted_anew(folder, rest)):
        raise DamagedError(before.path, "another program changed the month meanwhile")
    return lost
