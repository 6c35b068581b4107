"""How good a set of change points is beside the marks of several people.

Van den Burg and Williams 2020, arXiv 2003.06222, section 4. A mark is the index, from 0, of the first sample of the new
segment; the start of the series counts as a mark of everyone.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

MARGIN = 5
"""Samples within which a change counts as found."""


def _matched(marks: set[int], found: set[int], margin: int) -> int:
    """Return how many marks have a found one of their own within the margin, the nearest first."""
    left, hits = set(found), 0
    for mark in sorted(marks):
        near = [(abs(mark - one), one) for one in left if abs(mark - one) <= margin]
        if near:
            left.discard(min(near)[1])
            hits += 1
    return hits


def f1(annotations: Sequence[Collection[int]], found: Collection[int], margin: int = MARGIN) -> float:
    """Return the F1 measure: precision against all marks together, recall as the mean over the people who marked.

    >>> f1([[10], [11]], [10])
    1.0
    """
    ours = {0, *found}
    theirs = [{0, *marks} for marks in annotations]
    precision = _matched(set.union(*theirs), ours, margin) / len(ours)
    recall = sum(_matched(marks, ours, margin) / len(marks) for marks in theirs) / len(theirs)
    return 2.0 * precision * recall / (precision + recall) if precision + recall else 0.0


def covering(annotations: Sequence[Collection[int]], found: Collection[int], number: int) -> float:
    """Return how well our segments cover those of the people, mean over them; 1 where all are the same.

    >>> covering([[50]], [], 100)
    0.5
    """
    ours = _segments(found, number)
    each = []
    for marks in annotations:
        total = 0.0
        for low, high in _segments(marks, number):
            best = 0.0
            for start, end in ours:
                shared = min(high, end) - max(low, start)
                if shared > 0:
                    best = max(best, shared / (max(high, end) - min(low, start)))
            total += (high - low) * best
        each.append(total / number)
    return sum(each) / len(each)


def _segments(marks: Collection[int], number: int) -> list[tuple[int, int]]:
    edges = sorted({0, *marks} | {number})
    return list(pairwise(edges))
