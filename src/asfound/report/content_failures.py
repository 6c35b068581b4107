"""Orders and failures beside the terms of ISO 14224: what the words of an order suggest, what a failure leaves open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from asfound.upkeep.failure_records import check_failure, of_entry, says
from asfound.upkeep.failure_words import propose

if TYPE_CHECKING:
    from asfound.records.entries import Entry

FIELDS = ("mode", "mechanism")
"""What is proposed for an order; nothing of it is ever filled in."""


def proposals(orders: Iterable[Entry]) -> dict[str, str]:
    """Return for each order that lacks a code what its own words suggest, by identifier of the entry."""
    found = {}
    for one in orders:
        content: Mapping[str, Any] = one.content
        open_fields = [name for name in FIELDS if not content.get(name)]
        said = _proposed(str(content["text"]), str(content.get("language", "")), tuple(open_fields))
        if open_fields and said:
            found[one.id] = said
    return found


@lru_cache(maxsize=512)
def _proposed(text: str, language: str, wanted: tuple[str, ...]) -> str:
    parts = []
    for field in wanted:
        best = max((one for one in propose(text, language) if one.field == field), key=lambda one: one.confidence,
                   default=None)  # fmt: skip
        if best is not None:
            parts.append(f"{field} {best.code} ({best.title}, {100 * best.confidence:.0f} in 100)")
    return "; ".join(parts)


def left_open(failures: Iterable[Entry], tag: str) -> dict[str, tuple[str, ...]]:
    """Return for each failure what contradicts itself or is wanted and missing; what may stay open is not listed."""
    found = {}
    for one in failures:
        failure, _ = of_entry({**one.content, "entry": one.id}, tag)
        said = tuple(says(code, failure) for code in check_failure(failure) if not code.startswith("advise:"))
        if said:
            found[one.id] = said
    return found
