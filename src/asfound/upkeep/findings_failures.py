"""Findings of failures on record: what their records lack, words that propose a code, the same item again and again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from asfound.quantities.findings import Case
from asfound.quantities.words import Finding
from asfound.upkeep.failure_records import check_failure, of_entry, says
from asfound.upkeep.failure_words import propose
from asfound.upkeep.findings_due import SUBJECT

AGAIN = 3
"""Failures of one item from which they are told together; common practice, no source."""
_KINDS = ("missing", "conflict", "unknown")


def find(case: Case) -> Iterator[Finding]:
    """Yield what the records of failures of this engine lack, and which item fails again."""
    entries: Sequence[Mapping[str, Any]] = case.visit.get("failures") or ()
    tag = str(case.engine.get("tag", ""))
    for entry in entries:
        yield from _lacks(entry, tag)
    items = Counter(str(entry["item"]) for entry in entries if entry.get("item"))
    for item, number in sorted(items.items()):
        if number >= AGAIN:
            yield Finding(
                code="UK-12", subject=SUBJECT, severity="soon", compared_with="the failures on record",
                says=f"{item.capitalize()} has failed {number} times on this engine.",
                next_step="Ask what is the same each time (place, hours, weather, who fitted it) before it is replaced "
                "again; look at its rate and its trend.",
            )  # fmt: skip


def _lacks(entry: Mapping[str, Any], tag: str) -> Iterator[Finding]:
    record, _ = of_entry(entry, tag or "engine")
    wrong = [code for code in check_failure(record) if code.partition(":")[0] in _KINDS and code != "missing:record"]
    if not wrong:
        return
    open_fields = {code.partition(":")[2] for code in wrong if code.startswith("missing")}
    words = [one for one in propose(str(record["remarks"] or "")) if one.field in open_fields]
    proposed = "; ".join(
        f"{one.field} {one.code} ({one.title}), {100 * one.confidence:.0f} in 100 of the words" for one in words
    )
    yield Finding(
        code="UK-11", subject=SUBJECT, severity="note", compared_with="the terms of ISO 14224",
        says=f"The record of the failure of {record['detected'] or 'an unknown day'}: "
        + " ".join(says(code, record) for code in wrong),
        next_step=f"Its words speak for: {proposed}. A person decides; nothing is filled in." if proposed
        else "Ask whoever was there, and leave open what nobody knows.",
        extra={"entry": str(entry.get("entry", ""))},
    )  # fmt: skip
