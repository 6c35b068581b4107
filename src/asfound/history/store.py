"""The store of logs: Parquet by engine and month, with buckets beside them. A folder, no server.

    store = Store(home / "logs")
    store.add("A2", block)                       # merges; the same block twice changes nothing
    store.read("A2", ["engine_power@engine"])    # rows by time
    store.buckets("A2", names, start, end, DAY)  # exact: the same bytes whatever the order in which rows came

A month is a folder ``<engine>/<year-month>`` with files that never change and a manifest that names them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from asfound.errors import InputError
from asfound.history import month as a_month
from asfound.history import repair
from asfound.history.bucket_table import empty
from asfound.history.buckets import LEVELS, Buckets, of_rows
from asfound.history.channels import Channels, TextChannel
from asfound.history.folders import folder
from asfound.history.fresh import TOLD, Clash
from asfound.history.manifest import Manifest, engine_of_path, engine_path, load
from asfound.history.months import by_month, month_bounds, month_of, overlapping
from asfound.history.rows_file import DamagedError
from asfound.history.writer import add_rows

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What became of a block."""

    rows: int
    kept: int
    """Rows with anything new in them."""
    same: int
    cells_filled: int
    """New cells at times that had a row already."""
    clash_count: int
    """Cells that differ from what was kept before; they are not taken."""
    clashes: tuple[Clash, ...]
    months: tuple[str, ...]
    """Those that changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """What a month holds of a channel; times in microseconds, values in SI; ``mean`` is None if it cannot be told."""

    month: str
    channel: str
    n: int
    first: int
    last: int
    low: float
    high: float
    mean: float | None


class Store:
    """Logs of engines in a folder, or under a URL that fsspec knows. Nothing is made before something is added."""

    def __init__(self, where: str | Path) -> None:
        self.folder = folder(where)
        self.where = self.folder.where

    # what is there
    def engines(self) -> tuple[str, ...]:
        """Return the engines that have a log, sorted."""
        names = (name for name in self.folder.names("") if not name.startswith("."))
        return tuple(sorted(engine for engine in map(engine_of_path, names) if self.months(engine)))

    def months(self, engine: str) -> tuple[str, ...]:
        """Return the months of an engine, ``2032-03``, ascending."""
        names = self.folder.names(engine_path(engine))
        return tuple(sorted(name for name in names if len(name) >= 7 and name[-3] == "-" and name[-2:].isdigit()))

    def manifest(self, engine: str, month: str) -> Manifest | None:
        """Return a month as it stands."""
        return load(self.folder, engine, month)

    def manifests(self, engine: str, start: int | None = None, end: int | None = None) -> list[Manifest]:
        """Return the months that have a part in start <= time < end."""
        found = (load(self.folder, engine, month) for month in overlapping(self.months(engine), start, end))
        return [one for one in found if one is not None]

    def channels(self, engine: str) -> tuple[str, ...]:
        """Return the channels of numbers of an engine, sorted."""
        return tuple(sorted({name for one in self.manifests(engine) for name in one.channels}))

    def texts(self, engine: str) -> tuple[str, ...]:
        """Return the channels of words of an engine, sorted."""
        return tuple(sorted({name for one in self.manifests(engine) for part in one.rows for name in part.texts}))

    def sources(self, engine: str) -> dict[str, int]:
        """Return the sources of an engine's rows, and how many rows each gave."""
        counts: dict[str, int] = {}
        for one in self.manifests(engine):
            for part in one.rows:
                for source, rows in part.sources.items():
                    counts[source] = counts.get(source, 0) + rows
        return dict(sorted(counts.items()))

    def span(self, engine: str) -> tuple[int, int] | None:
        """Return first and last time of an engine's log, microseconds; None where it has none."""
        parts = [part for one in self.manifests(engine) for part in one.rows]
        return (min(part.first for part in parts), max(part.last for part in parts)) if parts else None

    def coverage(self, engine: str) -> tuple[Coverage, ...]:
        """Return what there is of each channel, month by month, from the manifests alone."""
        return tuple(
            Coverage(
                month=one.month, channel=name, n=cover.n, first=cover.first, last=cover.last,
                low=cover.low, high=cover.high, mean=cover.mean,
            )
            for one in self.manifests(engine)
            for name, cover in one.channels.items()
        )  # fmt: skip

    # rows
    def add(self, engine: str, block: Channels) -> Added:
        """Merge rows of one source into the engine's months; durable, month by month, when this returns.

        At one time a channel has one value: a cell that is there already is dropped, an empty one is filled, one that
        differs is told and not taken. Adding the same block again changes nothing, so a broken import is just repeated.
        """
        block = _checked(engine, block)
        kept = same = filled = count = 0
        clashes, months = list[Clash](), list[str]()
        for month, rows in by_month(block.time):
            for layer in _layers(block.take(rows)):
                one = add_rows(self.folder, engine, month, layer)
                kept, same, filled = kept + one.kept, same + one.same, filled + one.cells_filled
                count += one.clash_count
                clashes += one.clashes[: TOLD - len(clashes)]
                if one.kept and month not in months:
                    months.append(month)
        return Added(
            rows=len(block), kept=kept, same=same, cells_filled=filled, clash_count=count,
            clashes=tuple(clashes), months=tuple(months),
        )  # fmt: skip

    def read(
        self, engine: str, channels: Iterable[str] | None = None, start: int | None = None, end: int | None = None,
        texts: Iterable[str] = (), *, with_source: bool = False,
    ) -> Channels:  # fmt: skip
        """Return rows by time, one for each time, start <= time < end (microseconds UTC); nan is missing.

        Without ``channels`` all channels of numbers come. ``with_source`` adds a text channel ``source``: where a row
        came from (of several sources at one time the first; ``origin`` tells it cell by cell).
        """
        names = tuple(self.channels(engine)) if channels is None else tuple(channels)
        words = tuple(texts)
        blocks = []
        for one in self.manifests(engine, start, end):
            found = self.steadily(one, lambda now: a_month.read(
                self.folder, now, names, words, start, end, with_source=with_source))  # fmt: skip
            if found:
                blocks.append(a_month.one_row_per_time(Channels.concat(found)))
        return _all_of(Channels.concat(blocks), names, (*words, *(("source",) if with_source else ())))

    def origin(self, engine: str, time: int, channel: str) -> str:
        """Return the source of one cell, empty where there is none."""
        for one in self.manifests(engine, time, time + 1):
            for block in a_month.read(self.folder, one, (channel,), (), time, time + 1, with_source=True):
                if channel in block.values:
                    for row in np.flatnonzero(~np.isnan(block.values[channel])):
                        return block.texts["source"].text(int(row))
        return ""

    # buckets
    def buckets(self, engine: str, channels: Iterable[str], start: int, end: int, step: int) -> Buckets:
        """Return buckets from the one that holds ``start`` to the one that holds ``end - 1``.

        ``step``: one of ``LEVELS``, microseconds. A month that does not keep that width (its rows are too few to be
        worth it) is counted from its rows. A bucket at either end is whole, not cut at ``start`` or ``end``.
        """
        if step not in LEVELS:
            raise InputError("step", f"{step}", "is no width that is kept", allowed=", ".join(map(str, LEVELS)))
        names = tuple(channels)
        first = start // step * step
        last = max(-(-end // step) * step, first)
        table = empty(len(names), (last - first) // step)
        for one in self.manifests(engine, first, last):
            begin, finish = month_bounds(one.month)
            begin, finish = max(begin, first), min(finish, last)
            part = self.steadily(one, partial(self._of_month, names, step, begin, finish))
            table[:, (begin - first) // step : (finish - first) // step] = part.table
        return Buckets(channels=names, step=step, first=first, table=table)

    def _of_month(self, names: Sequence[str], step: int, begin: int, end: int, one: Manifest) -> Buckets:
        count = (end - begin) // step
        if a_month.stored(one, step):
            return a_month.level(self.folder, one, names, step, begin, count)
        found = a_month.read(self.folder, one, names, (), begin, end)
        rows = a_month.one_row_per_time(Channels.concat(found)) if found else Channels.of([], {})
        return of_rows(rows.time, rows.values, step).over(begin, count, tuple(names))

    def steadily(self, one: Manifest, work: Callable[[Manifest], T]) -> T:
        """Do the work on a month; once more where another program changed it meanwhile."""
        for _ in range(5):
            try:
                return work(one)
            except FileNotFoundError as gone:
                now = load(self.folder, one.engine, one.month)
                if now is None or now.number == one.number:
                    raise DamagedError(f"{self.where}/{one.path}", f"{gone} is missing") from gone
                one = now
        raise DamagedError(f"{self.where}/{one.path}", "it changes faster than it can be read")

    # care
    def withdraw(self, engine: str, source: str) -> int:
        """Take all rows of a source out; return how many."""
        return sum(repair.withdraw(self.folder, engine, month, source) for month in self.months(engine))

    def recount(self, engine: str, month: str, threads: int = 2, memory: str = "") -> None:
        """Count a month's buckets anew from its rows."""
        repair.recount(self.folder, engine, month, threads, memory)

    def verify(self, engine: str | None = None) -> tuple[str, ...]:
        """Return the files that are missing or not what was written, with their folder."""
        engines = self.engines() if engine is None else (engine,)
        found = []
        for name in engines:
            for month in self.months(name):
                try:
                    one = load(self.folder, name, month)
                    found += [f"{one.path}/{file}" for file in repair.damaged(self.folder, one)] if one else []
                except DamagedError as damaged:
                    found.append(damaged.path)
        return tuple(found)

    def set_aside(self, engine: str, month: str) -> tuple[repair.Lost, ...]:
        """Go on without a month's damaged files; return what must be imported again."""
        return repair.set_aside(self.folder, engine, month)


def _checked(engine: str, block: Channels) -> Channels:
    if not engine:
        raise InputError("engine", engine, "is empty")
    for name, column in block.values.items():
        if np.isinf(column).any():
            raise InputError(name, "infinity", "is no reading", try_next="Mark such cells as missing (nan).")
    block = block.sorted()
    values = {name: np.asarray(column, np.float64) + 0.0 for name, column in block.values.items()}  # -0.0 becomes 0.0
    return Channels(time=np.asarray(block.time, np.int64), values=values, texts=block.texts, source=block.source)


def _layers(block: Channels) -> list[Channels]:
    """Return sorted rows as blocks that have one row for each time: first the first of each, then the second ..."""
    repeated = block.time[1:] == block.time[:-1]
    if not repeated.any():
        return [block] if len(block) else []
    starts = np.flatnonzero(np.concatenate(([True], ~repeated)))
    place = np.arange(len(block)) - np.repeat(starts, np.diff(np.append(starts, len(block))))
    return [block.take(place == number) for number in range(int(place.max()) + 1)]


def _all_of(block: Channels, names: Sequence[str], words: Sequence[str]) -> Channels:
    """Return the block with every channel that was asked for, in that order; nothing is missing but nan."""
    nothing, none = np.full(len(block), np.nan), np.full(len(block), -1, np.int32)
    return Channels(
        time=block.time,
        values={name: block.values.get(name, nothing) for name in names},
        texts={name: block.texts.get(name, TextChannel(none, ())) for name in words},
        source="",
    )


def latest(store: Store, engine: str) -> str:
    """Return the latest month of an engine, empty where it has no log."""
    span = store.span(engine)
    return month_of(span[1]) if span else ""
