"""Repairs and swaps change the engine: what was told before a change, and what of it still holds.

A repair after which the fault is still there was evidence (`belief`); but a test that spoke for what it changed was
made on another engine than the one that runs now. If there were two faults, that test told of the one that is gone. So
a positive test stops to weigh once a repair of one of the causes that it speaks for has failed, and may be made again.
A negative one goes on: a part that was sound was exchanged. After a repair that cured, the tests before it stand: they
told of what was cured. A swap repairs nothing; the fault may have moved with the part, and a test is made where it is
now.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from asfound.troubleshoot.knowledge import Knowledge
from asfound.troubleshoot.told import Said

TAKEN_BACK = "not_told"
RANK = {"present": 3, "positive": 3, "cured": 4, "fails": 3, "absent": 2, "negative": 2, "not_judged": 1, "not_done": 0}
"""Where several places say different things of one symptom or step, what was found anywhere goes first."""


def holding(said: Iterable[Said]) -> tuple[Said, ...]:
    """Return what holds of all that was said: the last about each thing at each place; ``not_told`` takes it back."""
    last: dict[tuple[str, str], Said] = {}
    for one in said:
        last.pop((one.about, one.place), None)
        if one.says != TAKEN_BACK:
            last[one.about, one.place] = one
    return tuple(last.values())


def by_thing(said: Iterable[Said]) -> dict[str, str]:
    """Return what is said of each thing, over all places: found anywhere, else not found, else not judged."""
    found: dict[str, str] = {}
    for one in holding(said):
        if RANK[one.says] >= RANK[found.get(one.about, "not_done")]:
            found[one.about] = one.says
    return found


def outdated(knowledge: Knowledge, said: Sequence[Said]) -> frozenset[str]:
    """Return the tests that were positive on parts which a later repair has changed in vain.

    Parameters
    ----------
    said : sequence of Said
        In the order in which it happened.
    """
    found: set[str] = set()
    held = holding(said)
    for i, one in enumerate(held):
        test = knowledge.tests.get(one.about)
        if test is None or one.says != "positive":
            continue
        if any(_mends(knowledge, later, test.given) for later in held[i + 1 :]):
            found.add(one.about)
        else:
            found.discard(one.about)
    return frozenset(found)


def outdated_findings(knowledge: Knowledge, said: Sequence[Said], codes: Iterable[str]) -> frozenset[str]:
    """Return the tests of which findings as found spoke, before any repair: positive, and changed in vain since."""
    failed = [one for one in holding(said) if one.about in knowledge.repairs]
    found = set()
    for code in codes:
        for heard in knowledge.findings.get(code, ()):
            test = knowledge.tests.get(heard.about)
            if test and heard.says == "positive" and any(_mends(knowledge, one, test.given) for one in failed):
                found.add(heard.about)
    return frozenset(found)


def _mends(knowledge: Knowledge, later: Said, causes: Iterable[str]) -> bool:
    repair = knowledge.repairs.get(later.about)
    return repair is not None and later.says == "fails" and any(one in repair.fixes for one in causes)
