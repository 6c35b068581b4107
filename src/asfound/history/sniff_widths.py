"""Where the columns of a fixed-width table lie, proposed from its lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from asfound.history.sniff_fields import looks_like_heads, row_of_data


def widths_of(lines: Sequence[str]) -> list[tuple[int, int]]:
    """Return where the columns of a fixed-width table begin and end: the places that are blank in every row."""
    counts = Counter(len(line.split()) for line in lines if row_of_data(line.split()))
    if not counts:
        return []
    usual = counts.most_common(1)[0][0]
    rows = [line.rstrip() for line in lines if len(line.split()) == usual and row_of_data(line.split())]
    width = max(map(len, rows), default=0)
    if len(rows) < 2 or width > 4000:
        return []
    filled = np.zeros(width, bool)
    for row in rows:
        filled[[at for at, sign in enumerate(row) if sign not in " \t"]] = True
    edges = np.flatnonzero(np.diff(np.concatenate(([False], filled, [False])).astype(int)))
    found = [(int(low), int(high)) for low, high in zip(edges[0::2], edges[1::2], strict=True)]
    return _room(found)


def under_heads(lines: Sequence[str], widths: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return columns with those put together that one word of the head stands over: 'STOP LOCAL' under 'State'."""
    for line in lines[:200]:
        words = line.split()
        if row_of_data(words) or not looks_like_heads(words):
            continue
        kept = [
            high for _, high in widths[:-1]
            if not (line[high - 1 : high].strip() and line[high : high + 1].strip())
        ]  # fmt: skip
        if len(words) == len(kept) + 1 < len(widths):
            return _room([(0, high) for high in (*kept, widths[-1][1])])
    return widths


def cut(line: str, widths: Sequence[tuple[int, int]]) -> list[str]:
    """Return the fields of a line; a head whose words do not stand over their columns is parted at its blanks."""
    words = line.split()
    through = any(line[high - 1 : high].strip() and line[high : high + 1].strip() for _, high in widths[:-1])
    if through and len(words) == len(widths):
        return words
    return [line[low:high].strip() for low, high in widths]


def _room(columns: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return columns with the blanks before them: numbers grow to the left, words to the right."""
    starts = [0] + [high + 1 for _, high in columns[:-1]]
    return [(low, high) for low, (_, high) in zip(starts, columns, strict=True)]
