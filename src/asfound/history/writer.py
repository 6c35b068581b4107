"""How a month changes: new rows merge into it, small files are joined, a source is taken out, damage is set aside."""

from __future__ import annotations

import random
import secrets
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from asfound.errors import AsFoundError
from asfound.history import month as a_month
from asfound.history.bucket_files import write_table
from asfound.history.buckets import DAY, TEN_MINUTES, Buckets, of_rows
from asfound.history.channels import Channels
from asfound.history.folders import Folder
from asfound.history.fresh import Clash, Fresh, fresh_rows
from asfound.history.manifest import (
    BucketFile,
    Cover,
    Manifest,
    RowsFile,
    clear,
    commit,
    digest_of_file,
    load,
    month_path,
)
from asfound.history.months import month_bounds
from asfound.history.rows_file import DamagedError, join_files, write_rows
from asfound.history.scale import scale_of

TRIES = 20
JOINED_AT = 8
"""So many files of one size (within a factor of eight) become one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedMonth:
    """What a month took of a block: rows kept, rows that were all there, cells filled, cells that clash."""

    kept: int
    same: int
    cells_filled: int
    clashes: tuple[Clash, ...]
    clash_count: int


def add_rows(folder: Folder, engine: str, month: str, block: Channels) -> AddedMonth:
    """Merge sorted rows, at most one for each time, into a month; durable when this returns."""
    for attempt in range(TRIES):
        time.sleep(0.01 * attempt * random.random())
        before = None
        try:
            with folder.turn(month_path(engine, month)):
                before = load(folder, engine, month)
                added = _try_to_add(folder, before or Manifest(engine=engine, month=month), before, block)
        except FileNotFoundError as gone:  # another writer joined files and removed them meanwhile, or it is damage
            now = load(folder, engine, month)
            if (now.number if now else 0) == (before.number if before else 0):
                raise DamagedError(f"{folder.where}/{month_path(engine, month)}", f"{gone} is missing") from gone
            continue
        if added:
            return added
    raise AsFoundError(f"{folder.where}: {engine}, {month}: other programs write this month all the time. Try again.")


def _try_to_add(folder: Folder, start: Manifest, before: Manifest | None, block: Channels) -> AddedMonth | None:
    """Merge rows into the month as it stood; None where another writer was first."""
    fresh = fresh_rows(_there(folder, start, block), block)
    added = _told(fresh)
    if not len(fresh.rows):
        return added
    part = write_part(folder, start, fresh.rows)
    grown = replace(start, rows=(*start.rows, part))
    try:
        grown = _joined(folder, grown)
        grown = _counted(folder, start, grown, fresh.rows)
    except FileNotFoundError:
        for file in {part.file} | (grown.files - start.files):
            folder.remove(f"{start.path}/{file}")
        raise
    if part.file not in grown.files:
        folder.remove(f"{start.path}/{part.file}")
    if change_to(folder, before, grown):
        return added
    now = load(folder, start.engine, start.month)
    return added if now and part.file in now.files else None  # taken, and another writer went on from there at once


def _told(fresh: Fresh) -> AddedMonth:
    return AddedMonth(
        kept=len(fresh.rows), same=fresh.same, cells_filled=fresh.filled, clashes=fresh.clashes,
        clash_count=fresh.clash_count,
    )  # fmt: skip


def _there(folder: Folder, manifest: Manifest, block: Channels) -> Channels | None:
    first, last = a_month.ends(block)
    if not any(part.first <= last and part.last >= first for part in manifest.rows):
        return None
    found = a_month.read(folder, manifest, tuple(block.values), tuple(block.texts), first, last + 1)
    return a_month.one_row_per_time(Channels.concat(found)) if found else None


def write_part(folder: Folder, manifest: Manifest, rows: Channels) -> RowsFile:
    """Write sorted rows of one source as a file of the month."""
    file = _name(manifest, "rows", "parquet")
    noted: dict[str, str] = {}

    def write(path: Path) -> None:
        write_rows(path, rows)
        noted["digest"] = digest_of_file(path)

    size = folder.write(f"{manifest.path}/{file}", write)
    first, last = a_month.ends(rows)
    return RowsFile(
        file=file, digest=noted["digest"], bytes=size, rows=len(rows), first=first, last=last,
        channels={name: int(np.count_nonzero(~np.isnan(column))) for name, column in sorted(rows.values.items())},
        texts={name: int(np.count_nonzero(text.codes >= 0)) for name, text in sorted(rows.texts.items())},
        sources={rows.source: len(rows)},
    )  # fmt: skip


def _counted(folder: Folder, before: Manifest, after: Manifest, rows: Channels) -> Manifest:
    """Return the month with its buckets: those that are there, and the new rows counted into them."""
    begin, end = month_bounds(after.month)
    names = tuple(sorted({*before.channels, *rows.values}))
    dense = len(rows) * TEN_MINUTES >= a_month.WORTH * (rows.time[-1] - rows.time[0])
    finest = of_rows(rows.time, rows.values, TEN_MINUTES) if dense else None  # the wider ones follow from it at once

    def fresh(step: int) -> Buckets:
        return of_rows(rows.time, rows.values, step) if finest is None else finest.coarser(step)

    def whole(step: int) -> Buckets:
        count = (end - begin) // step
        if a_month.stored(before, step):
            old = a_month.level(folder, before, names, step, begin, count)
        elif before.rows:
            old = a_month.count(folder, before, names, TEN_MINUTES).coarser(step)
        else:
            old = of_rows(rows.time[:0], {}, step)
        return old.merge(fresh(step)).over(begin, count, names)

    days = whole(DAY)
    levels = {step: days if step == DAY else whole(step) for step in a_month.worth_keeping(days)}
    first, last = _first_and_last(before, rows)
    return with_levels(folder, after, levels, first, last)


def _first_and_last(before: Manifest, rows: Channels) -> tuple[dict[str, int], dict[str, int]]:
    first = {name: cover.first for name, cover in before.channels.items()}
    last = {name: cover.last for name, cover in before.channels.items()}
    for name, column in rows.values.items():
        there = rows.time[~np.isnan(column)]
        if len(there):
            first[name] = min(first.get(name, int(there[0])), int(there[0]))
            last[name] = max(last.get(name, int(there[-1])), int(there[-1]))
    return first, last


def with_levels(
    folder: Folder, manifest: Manifest, levels: dict[int, Buckets], first: dict[str, int], last: dict[str, int]
) -> Manifest:
    """Write bucket tables, and return the month with them and with what it covers."""
    files = {str(step): _write_level(folder, manifest, step, buckets) for step, buckets in levels.items()}
    days = levels[DAY]
    whole = days.table
    means = Buckets(channels=days.channels, step=days.step, first=days.first, table=whole).total().mean()[:, 0]
    covers = {}
    for number, name in enumerate(days.channels):
        scale, row = scale_of(name), whole[number]
        covers[name] = Cover(
            n=int(row["n"].sum(dtype=np.int64)), first=first[name], last=last[name],
            low=float(np.fmin.reduce(row["low"])), high=float(np.fmax.reduce(row["high"])),
            mean=None if np.isnan(means[number]) else float(means[number]),
            reference=scale.reference, step=scale.step,
        )  # fmt: skip
    return replace(manifest, buckets=files, channels=covers)


def _write_level(folder: Folder, manifest: Manifest, step: int, buckets: Buckets) -> BucketFile:
    file = _name(manifest, f"buckets-{step // 1_000_000}", "npy")
    noted: dict[str, str] = {}

    def write(path: Path) -> None:
        write_table(path, buckets.table)
        noted["digest"] = digest_of_file(path)

    size = folder.write(f"{manifest.path}/{file}", write)
    return BucketFile(file=file, digest=noted["digest"], bytes=size)


def _name(manifest: Manifest, what: str, ending: str) -> str:
    return f"{what}-{manifest.number + 1:06d}-{secrets.token_hex(4)}.{ending}"


def change_to(folder: Folder, before: Manifest | None, after: Manifest) -> bool:
    """Make it so; False where another writer was first, and then what was written for nothing is removed."""
    after = replace(after, number=(before.number if before else 0) + 1)
    if commit(folder, after):
        clear(folder, after, before)
        folder.clear_abandoned(after.path)
        return True
    now = load(folder, after.engine, after.month)
    for name in after.files - (now.files if now else set()) - (before.files if before else set()):
        folder.remove(f"{after.path}/{name}")
    return False


def _joined(folder: Folder, manifest: Manifest) -> Manifest:
    """Return the month with many small files joined: a log that grows by the minute stays few files."""
    by_size: dict[int, list[RowsFile]] = {}
    for part in manifest.rows:
        by_size.setdefault(int(np.log2(part.rows)) // 3, []).append(part)
    for parts in by_size.values():
        if len(parts) >= JOINED_AT:
            return replace(
                manifest, rows=(*(p for p in manifest.rows if p not in parts), join(folder, manifest, parts))
            )
    return manifest


def join(folder: Folder, manifest: Manifest, parts: list[RowsFile]) -> RowsFile:
    """Write several files of rows as one, by time."""
    file = _name(manifest, "rows", "parquet")
    noted: dict[str, str] = {}
    with local(folder, manifest, parts) as paths:
        files = [(path, tuple(p.channels), tuple(p.texts)) for path, p in zip(paths, parts, strict=True)]

        def write(path: Path) -> None:
            join_files(path, files)
            noted["digest"] = digest_of_file(path)

        size = folder.write(f"{manifest.path}/{file}", write)
    return RowsFile(
        file=file, digest=noted["digest"], bytes=size, rows=sum(p.rows for p in parts),
        first=min(p.first for p in parts), last=max(p.last for p in parts),
        channels=_sums([p.channels for p in parts]), texts=_sums([p.texts for p in parts]),
        sources=_sums([p.sources for p in parts]),
    )  # fmt: skip


def _sums(counts: Sequence[Mapping[str, int]]) -> dict[str, int]:
    names = sorted({name for one in counts for name in one})
    return {name: sum(one.get(name, 0) for one in counts) for name in names}


@contextmanager
def local(folder: Folder, manifest: Manifest, parts: list[RowsFile]) -> Iterator[list[Path]]:
    """Give several files of rows as local ones."""
    with ExitStack() as held:
        yield [held.enter_context(folder.local(f"{manifest.path}/{part.file}")) for part in parts]
