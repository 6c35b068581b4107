"""Rows of one time: the first is kept. A row that says nothing else is dropped, one that contradicts is not taken.

A row that only fills what the earlier one left empty (another file of the same logger, with other columns) is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import Channels

SAME, OTHER = "exact duplicate", "same time, other values"
KEEP, DROP, CONFLICT = 0, 1, 2


@dataclass(slots=True)
class Duplicates:
    """Judges blocks of rows against all that was kept before them.

    ``existing`` gives rows that were kept for good in a span of time (microseconds, both ends), or None.
    """

    existing: Callable[[int, int], Channels | None]
    _recent: list[Channels] = field(default_factory=list)

    def judge(self, block: Channels) -> NDArray[np.int8]:
        """Return `KEEP`, `DROP` or `CONFLICT` for each row of a block; the kept rows count as known from then on."""
        verdict = np.zeros(len(block), np.int8)
        if not len(block):
            return verdict
        low, high = int(block.time.min()), int(block.time.max())
        known = [part for part in self._recent if int(part.time.min()) <= high and int(part.time.max()) >= low]
        before = self.existing(low, high)
        known = [one for one in (before, *known) if one is not None and len(one)]
        ascending = bool(np.all(block.time[1:] > block.time[:-1]))
        if known or not ascending:
            old = Channels.concat(known) if known else None
            verdict = _judged(old, block)
        kept = block if not verdict.any() else block.take(verdict == KEEP)
        if len(kept):
            self._recent.append(kept)
        return verdict

    def committed(self) -> None:
        """Forget the rows of this run: they can be asked of ``existing`` from now on."""
        self._recent.clear()


def _judged(old: Channels | None, block: Channels) -> NDArray[np.int8]:
    """Return the verdict of each row of a block beside older rows."""
    verdict = np.zeros(len(block), np.int8)
    old_times = old.time if old is not None else np.empty(0, np.int64)
    if old is not None:
        near = np.isin(old_times, block.time)
        old, old_times = old.take(near), old_times[near]
    times = np.concatenate((old_times, block.time))
    order = np.argsort(times, kind="stable")
    ordered = times[order]
    start = np.concatenate(([True], ordered[1:] != ordered[:-1])) if len(ordered) else np.empty(0, bool)
    group = np.cumsum(start) - 1
    first = order[np.flatnonzero(start)][group]
    later = ~start & (order >= len(old_times))
    if not later.any():
        return verdict
    base, row = first[later], order[later]
    other, more = _compared(old, block, base, row - len(old_times))
    found = np.where(other, CONFLICT, np.where(more, KEEP, DROP)).astype(np.int8)
    verdict[row - len(old_times)] = found
    # where rows of one time complete each other, or old ones stand in several rows, each is held against all of them
    several = np.zeros(int(group[-1]) + 1, bool)
    several[group[later][more & ~other]] = True
    old_later = ~start & (order < len(old_times))
    several[group[old_later]] = True
    for one in np.flatnonzero(several):
        rows = order[group == one] if several.sum() < 50 else order[slice(*np.searchsorted(group, (one, one + 1)))]
        _one_time(old, block, rows.tolist(), len(old_times), verdict)
    return verdict


def _compared(
    old: Channels | None, block: Channels, base: NDArray[np.int64], row: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return where rows contradict the first row of their time, and where they bring something it does not have."""
    other, more = np.zeros(len(row), bool), np.zeros(len(row), bool)
    shift = 0 if old is None else len(old)
    from_old = base < shift
    for name, column in block.values.items():
        new = column[row]
        had = np.full(len(row), np.nan)
        if old is not None and name in old.values:
            had[from_old] = old.values[name][base[from_old]]
        had[~from_old] = column[base[~from_old] - shift]
        known, said = ~np.isnan(had), ~np.isnan(new)
        other |= known & said & (had != new)
        more |= ~known & said
    for name, words in block.texts.items():
        said_words = np.array([words.text(int(one)) for one in row], object)
        had_words = np.full(len(row), "", object)
        if old is not None and name in old.texts:
            had_words[from_old] = [old.texts[name].text(int(one)) for one in base[from_old]]
        had_words[~from_old] = [words.text(int(one) - shift) for one in base[~from_old]]
        other |= (had_words != "") & (said_words != "") & (had_words != said_words)
        more |= (had_words == "") & (said_words != "")
    return other, more


def _one_time(old: Channels | None, block: Channels, rows: list[int], shift: int, verdict: NDArray[np.int8]) -> None:
    """Judge the rows of one time one after another."""
    known: dict[str, object] = {}
    for row in rows:
        source, at = (old, row) if row < shift and old is not None else (block, row - shift)
        cells: dict[str, object] = {n: float(c[at]) for n, c in source.values.items() if not np.isnan(c[at])}
        cells |= {name: words.text(at) for name, words in source.texts.items() if words.codes[at] >= 0}
        if row >= shift:
            other = any(known[name] != value for name, value in cells.items() if name in known)
            more = any(name not in known for name in cells) or not known
            verdict[at] = CONFLICT if other else KEEP if more else DROP
            if verdict[at] != KEEP:
                continue
        known = cells | known
