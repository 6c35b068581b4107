"""What of new rows a month does not have yet, cell by cell.

At one time a channel has one value. A cell that is there with the same value is the same cell seen twice; one that is
there with another value clashes: what was kept first stays, and the other is told, never taken in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import Channels, TextChannel

TOLD = 1000
"""Clashes told one by one; all are counted."""
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Clash:
    """Two values for one channel at one time: ``kept`` stays, ``refused`` came later from ``source``."""

    channel: str
    time: int
    kept: float | str
    refused: float | str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fresh:
    """Rows to keep, with only the cells that are new; and what became of the others."""

    rows: Channels
    same: int
    """Rows of which nothing is new."""
    filled: int
    """New cells at times that had a row already."""
    clashes: tuple[Clash, ...]
    clash_count: int


def fresh_rows(there: Channels | None, block: Channels) -> Fresh:
    """Compare sorted rows, one for each time, with those that are there (sorted, one for each time)."""
    if there is None or not len(there):
        return Fresh(rows=_without_empty(block), same=0, filled=0, clashes=(), clash_count=0)
    at = np.minimum(np.searchsorted(there.time, block.time), len(there) - 1)
    met = there.time[at] == block.time
    left: Mask = np.zeros(len(block), bool)
    values, clashes, count, filled = {}, list[Clash](), 0, 0
    for name, column in block.values.items():
        had = np.where(met, there.values[name][at], np.nan) if name in there.values else np.full(len(block), np.nan)
        new = ~np.isnan(column) & np.isnan(had)
        wrong = np.flatnonzero(~np.isnan(column) & ~np.isnan(had) & (column != had))
        values[name] = np.where(new, column, np.nan)
        left |= new
        filled += int(np.count_nonzero(new & met))
        count += len(wrong)
        clashes += [
            Clash(name, int(block.time[row]), float(had[row]), float(column[row]), block.source)
            for row in wrong[: max(0, TOLD - len(clashes))]
        ]
    texts, text_clashes = _texts(there, block, at, met, left)
    keep = left | ~met
    rows = Channels(time=block.time, values=values, texts=texts, source=block.source).take(keep)
    return Fresh(
        rows=_without_empty(rows), same=int(np.count_nonzero(~keep)), filled=filled,
        clashes=(*clashes, *text_clashes)[:TOLD], clash_count=count + len(text_clashes),
    )  # fmt: skip


def _texts(
    there: Channels, block: Channels, at: NDArray[np.intp], met: Mask, left: Mask
) -> tuple[Mapping[str, TextChannel], list[Clash]]:
    """Return the new words, and note in ``left`` the rows that have any."""
    texts, clashes = {}, list[Clash]()
    for name, text in block.texts.items():
        codes = text.codes.copy()
        if name in there.texts:
            for row in np.flatnonzero(met & (text.codes >= 0) & (there.texts[name].codes[at] >= 0)):
                had, got = there.texts[name].text(int(at[row])), text.text(int(row))
                codes[row] = -1
                if had != got:
                    clashes.append(Clash(name, int(block.time[row]), had, got, block.source))
        left |= codes >= 0
        texts[name] = TextChannel(codes, text.words)
    return texts, clashes


def _without_empty(rows: Channels) -> Channels:
    """Return rows without the channels that have nothing in them."""
    return Channels(
        time=rows.time,
        values={name: column for name, column in rows.values.items() if not np.isnan(column).all()},
        texts={name: text for name, text in rows.texts.items() if (text.codes >= 0).any()},
        source=rows.source,
    )
