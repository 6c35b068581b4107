"""What an import did: every row that was read stands in one of four counts, and the counts add up."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from asfound.history.channels import Channels
from asfound.history.ledger import Ledger
from asfound.history.mapping import moment_text

GAP_STEPS = 5
_MOST_GAPS = 10_000


@dataclass(slots=True)
class ChannelSums:
    """Of the kept rows of a channel, in SI."""

    n: int = 0
    total: float = 0.0
    low: float = math.inf
    high: float = -math.inf

    @property
    def mean(self) -> float:
        """The mean; nan without rows."""
        return self.total / self.n if self.n else math.nan


@dataclass(slots=True)
class FileReport:
    """One file."""

    name: str
    what: str
    """``new``, ``same``, ``grown`` or ``broken off``: as it was met."""
    read: int = 0
    kept: int = 0
    refused: int = 0
    duplicates: int = 0
    conflicts: int = 0
    blank: int = 0
    held: int = 0
    """A last line without a line end, left for the next time."""


@dataclass(slots=True)
class ImportReport:
    """What an import did. ``read == kept + refused + duplicates + conflicts``, always (`adds_up`)."""

    source: str
    read: int = 0
    kept: int = 0
    refused: int = 0
    duplicates: int = 0
    conflicts: int = 0
    blank: int = 0
    cells: int = 0
    cells_empty: int = 0
    cells_refused: int = 0
    first: int | None = None
    """Microseconds UTC of the earliest kept row."""
    last: int | None = None
    files: list[FileReport] = field(default_factory=list)
    channels: dict[str, ChannelSums] = field(default_factory=dict)
    words: dict[str, dict[str, int]] = field(default_factory=dict)
    """By channel of words: how many kept rows say each word (the first thousand words)."""
    gaps: list[tuple[int, int]] = field(default_factory=list)
    """Spans without a row that are longer than five usual steps: last row before, first row after."""
    notes: list[str] = field(default_factory=list)
    refusals: Ledger | None = None
    _before: int | None = None

    @property
    def adds_up(self) -> bool:
        """Whether every row that was read is accounted for."""
        return self.read == self.kept + self.refused + self.duplicates + self.conflicts

    def take(self, block: Channels, step: float) -> None:
        """Count rows that were kept."""
        if not len(block):
            return
        time = block.time
        self.first = int(time.min()) if self.first is None else min(self.first, int(time.min()))
        self.last = int(time.max()) if self.last is None else max(self.last, int(time.max()))
        for name, column in block.values.items():
            sums = self.channels.setdefault(name, ChannelSums())
            known = column[~np.isnan(column)]
            if len(known):
                sums.n += len(known)
                sums.total += float(known.sum())
                sums.low, sums.high = min(sums.low, float(known.min())), max(sums.high, float(known.max()))
        for name, words in block.texts.items():
            counted = self.words.setdefault(name, {})
            numbers = np.bincount(words.codes[words.codes >= 0], minlength=len(words.words))
            for word, count in zip(words.words, numbers.tolist(), strict=True):
                if count and (word in counted or len(counted) < 1000):
                    counted[word] = counted.get(word, 0) + count
        self._gaps(np.sort(time), step)

    def _gaps(self, time: np.ndarray, step: float) -> None:
        times = time if self._before is None else np.concatenate(([self._before], time))
        if step > 0 and len(self.gaps) < _MOST_GAPS:
            wide = np.flatnonzero(np.diff(times) > GAP_STEPS * step * 1e6)
            self.gaps += [(int(times[at]), int(times[at + 1])) for at in wide[: _MOST_GAPS - len(self.gaps)]]
        self._before = int(times.max()) if self._before is None else max(self._before, int(times.max()))

    def as_dict(self) -> dict[str, Any]:
        """Return plain data for JSON."""
        return {
            "source": self.source,
            **{name: getattr(self, name) for name in (
                "read", "kept", "refused", "duplicates", "conflicts", "blank", "cells", "cells_empty", "cells_refused",
            )},
            "first": None if self.first is None else moment_text(self.first),
            "last": None if self.last is None else moment_text(self.last),
            "channels": {
                name: {"n": one.n, "mean": one.mean, "min": one.low, "max": one.high} if one.n else {"n": 0}
                for name, one in self.channels.items()
            },
            "words": self.words,
            "gaps": [[moment_text(start), moment_text(end)] for start, end in self.gaps],
            "why": {f"{kind}: {why}": count for (kind, why), count in sorted(self.refusals.counts.items())}
            if self.refusals else {},
            "files": [{name: getattr(one, name) for name in FileReport.__slots__} for one in self.files],
            "notes": list(self.notes),
        }  # fmt: skip
