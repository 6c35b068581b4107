"""Emissions read at the stack on a visit, beside the portable emission check that the list of tasks asks for."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from asfound.quantities.days import day_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.entries import Entry

CHECK = "emission_check"
PAIRS = (("exhaust_nox_dry", "exhaust_oxygen_dry"), ("exhaust_nox_wet", "exhaust_oxygen_wet"))
EMISSIONS = frozenset(name for pair in PAIRS for name in pair)
EMISSION_TEXTS = tuple(f'"quantity":"{name}"' for name in sorted(EMISSIONS))
AT_STACK = ("stack", "after_catalyst")


def read_but_no_check(readings: Iterable[Entry], since: date | None, until: date) -> str:
    """Return what is said of NOx and oxygen read together at the stack after the last check; empty where there is none.

    No reading shows the gas that the analyser was given before and after it, so none counts by itself.
    """
    seen: dict[date, set[str]] = {}
    for one in readings:
        day = date.fromisoformat(str(one.content["time"])[:10])
        named = one.content.get("instrument") or one.content.get("instrument_text")
        if named and one.content.get("place") in AT_STACK and one.content.get("value") is not None and day <= until:
            seen.setdefault(day, set()).add(str(one.content["quantity"]))
    days = [day for day, names in seen.items() if any(names >= set(pair) for pair in PAIRS)]
    last = max(days, default=None)
    if last is None or (since is not None and last <= since):
        return ""
    return (
        f"NOx and oxygen were read at the stack on {day_text(last)}, but no check gas "
        "before and after is shown: this does not count as the portable emission check. If it was one, note it as done."
    )
