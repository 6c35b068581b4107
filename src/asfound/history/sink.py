"""What an import writes into: rows gathered until they are worth a file, then merged into the store."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from asfound.history import month as a_month
from asfound.history.channels import Channels
from asfound.history.fresh import Clash
from asfound.history.manifest import Manifest
from asfound.history.store import Store

ENOUGH = 250_000
"""Rows that are gathered before they are written."""


class StoreSink:
    """Takes an import's blocks in file order for one engine and source; ``commit`` makes them durable."""

    def __init__(self, store: Store, engine: str, source: str) -> None:
        self.store, self.engine, self.source = store, engine, source
        self.kept = self.same = self.clash_count = 0
        self.clashes: list[Clash] = []
        self._waiting: list[Channels] = []

    def add(self, block: Channels) -> None:
        """Take rows; written once there are enough, or at ``commit``."""
        self._waiting.append(Channels(time=block.time, values=block.values, texts=block.texts, source=self.source))
        if sum(map(len, self._waiting)) >= ENOUGH:
            self.commit()

    def existing(self, start: int, end: int) -> Channels | None:
        """Return the rows of this source, start <= time <= end (microseconds), as they came; None where there are none.

        At their times cells are shown that another source gave first, so that a row which comes again is known again.
        """
        found = [self._stored(start, end), *(self._during(block, start, end) for block in self._waiting)]
        there = [block for block in found if block is not None and len(block)]
        return a_month.one_row_per_time(Channels.concat(there)) if there else None

    def commit(self) -> None:
        """Merge what has been taken into the store; durable when this returns."""
        if self._waiting:
            added = self.store.add(self.engine, Channels.concat(self._waiting))
            self._waiting.clear()
            self.kept, self.same = self.kept + added.kept, self.same + added.same
            self.clash_count += added.clash_count
            self.clashes += added.clashes

    def _stored(self, start: int, end: int) -> Channels | None:
        blocks = []
        for one in self.store.manifests(self.engine, start, end + 1):
            if any(self.source in part.sources and part.first <= end and part.last >= start for part in one.rows):
                names = tuple(one.channels)
                texts = tuple({name: None for part in one.rows for name in part.texts})
                blocks.append(self.store.steadily(one, partial(self._mine, names, texts, start, end)))
        return Channels.concat(blocks) if blocks else None

    def _mine(self, names: Sequence[str], texts: Sequence[str], start: int, end: int, one: Manifest) -> Channels:
        found = a_month.read(self.store.folder, one, names, texts, start, end + 1, with_source=True)
        return self._of_this_source(Channels.concat(found))

    def _of_this_source(self, rows: Channels) -> Channels:
        of = rows.texts["source"]
        code = of.words.index(self.source) if self.source in of.words else -2
        mine = np.unique(rows.time[of.codes == code])
        texts = {name: text for name, text in rows.texts.items() if name != "source"}
        whole = Channels(time=rows.time, values=rows.values, texts=texts, source=self.source)
        return a_month.one_row_per_time(whole.take(np.isin(rows.time, mine)))

    @staticmethod
    def _during(block: Channels, start: int, end: int) -> Channels:
        return block.take((block.time >= start) & (block.time <= end))
