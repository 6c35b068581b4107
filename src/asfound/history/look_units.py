"""Changes of unit told alike of all channels of one logger: which side is wrong is one question, not forty."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from asfound.history.channels import SECOND
from asfound.history.sensor_fault import Fault

TOGETHER = 2 * 86_400 * SECOND
"""Changes within two days are one change of the logger."""
FEWEST = 3


def agreed(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return the faults, with channels that see a change from the other side brought to what most of them say.

    A channel alone cannot always tell which of two units was right. Where at least three channels say that one span is
    wrong, a channel that says the same of what lies around it, up to the same moments, saw the same span.
    """
    changes = [one for one in faults if one.kind == "unit_change"]
    spans = Counter(next(_like(one, changes)) for one in changes)
    found = [one for one in faults if one.kind != "unit_change"]
    for channel in dict.fromkeys(one.channel for one in changes):
        own = [one for one in changes if one.channel == channel]
        turned = _turned(own, spans)
        found += turned or own
    return tuple(sorted(found, key=lambda one: (one.start, one.kind, one.channel)))


def _like(one: Fault, changes: Sequence[Fault]) -> Iterator[tuple[int, int, str]]:
    """Yield the first span that is the same change as this one's."""
    for other in changes:
        if abs(other.start - one.start) <= TOGETHER and abs(other.end - one.end) <= TOGETHER:
            yield other.start, other.end, other.says


def _turned(own: Sequence[Fault], spans: Counter[tuple[int, int, str]]) -> list[Fault]:
    """Return a channel's faults with the common span instead of what lies around it; empty where nothing is turned."""
    for (start, end, says), count in spans.most_common(1):
        around = [one for one in own if _near(one.end, start) or _near(one.start, end)]
        if count < FEWEST or not around:
            continue
        kept = [one for one in own if one not in around]
        if not any(_near(one.start, start) and _near(one.end, end) for one in kept):
            kept.append(replace(own[0], start=start, end=end, says=says))
        return kept
    return []


def _near(one: int, other: int) -> bool:
    return abs(one - other) <= TOGETHER
