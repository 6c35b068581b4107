"""What a pattern of odd cylinders usually comes from: candidates, not a verdict. Common practice, no source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from asfound.sources.tables import load_csv


@dataclass(frozen=True, slots=True)
class PatternWords:
    """A pattern, what it usually comes from, and which second witness tells."""

    pattern: str
    title: str
    candidates: tuple[str, ...]
    witness: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A pattern met, and the cylinders that make it."""

    words: PatternWords
    members: tuple[str, ...]


@cache
def known() -> dict[str, PatternWords]:
    """Return the patterns by name."""
    return {
        row["pattern"]: PatternWords(
            row["pattern"], row["title"], tuple(one.strip() for one in row["candidates"].split(";")), row["witness"]
        )
        for row in load_csv("asfound.cylinders", "data/patterns_of_spread.csv")
    }


def read_pattern(rows: Sequence[Sequence[tuple[str, int]]], *, banks_apart: bool = False) -> tuple[Seen, ...]:
    """Return the patterns that odd cylinders make, each odd cylinder in one of them.

    Parameters
    ----------
    rows : sequence of rows of (name, odd)
        Each row along the engine; odd is 1 hot, -1 cold, 0 not odd.
    banks_apart : bool
        The medians of the banks differ by more than their limit.
    """
    words = known()
    found = [Seen(words["whole_bank"], ())] if banks_apart else []
    odd = [(name, sign) for row in rows for name, sign in row if sign]
    if len(odd) > 2:
        return (*found, Seen(words["several"], tuple(name for name, _ in odd)))
    for row in rows:
        signs = [sign for _, sign in row]
        for at, (name, sign) in enumerate(row):
            if not sign or (at and signs[at - 1] == sign):
                continue
            heat = "hot" if sign > 0 else "cold"
            if at + 1 < len(row) and signs[at + 1] == sign:
                found.append(Seen(words[f"neighbours_{heat}"], (name, row[at + 1][0])))
            else:
                found.append(Seen(words[f"one_{heat}"], (name,)))
    return tuple(found)
