"""Gases that a question can name: the analyses that the record has of the engines of one site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.words import STATES
from asfound.report.wording import day_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

SHARES = tuple(f'"quantity":"{name}"' for name in ANALYSIS)
"""Texts by which the store finds the readings of an analysis; see `Known.standing_with`."""
WHOLE = 0.9
"""An analysis whose shares add up to less is none. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class GasOnRecord:
    """One analysis."""

    name: str
    """Under which a question asks for it: of its visit."""
    title: str
    shares: dict[str, float]
    """Component to mole fraction."""


def gases_on_record(records: Records, view: VisitView) -> tuple[GasOnRecord, ...]:
    """Return the analyses of other visits to the engines of this site, the newest first."""
    with records.steady():
        return _of_site(records, view)


def _of_site(records: Records, view: VisitView) -> tuple[GasOnRecord, ...]:
    found = []
    for engine in records.engines():
        if engine.id != view.engine.id and (engine.site is None or engine.site != view.engine.site):
            continue
        read = records.standing_with(engine.id, "reading", SHARES)
        for visit in records.visits(engine.id):
            if visit.id == view.id or visit.id not in read:
                continue
            shares = _analysis(read[visit.id])
            if sum(shares.values()) >= WHOLE:
                title = f"{engine.tag}, {day_words(visit.date)}: methane {100 * shares.get('methane', 0.0):.1f} %"
                found.append((visit.date, GasOnRecord(name=visit.name, title=title, shares=shares)))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0], reverse=True))


def _analysis(entries: Iterable[Entry]) -> dict[str, float]:
    """Return the shares of a visit's analysis: as left where there is one, else as found."""
    by_state: dict[str, dict[str, float]] = {state: {} for state in STATES}
    for content in _shares(entries):
        by_state[content["state"]][ANALYSIS[content["quantity"]]] = max(float(content["value"]), 0.0)
    whole = next((one for state in reversed(STATES) if (one := by_state[state]).get("methane")), {})
    return {name: share for name, share in whole.items() if share > 0.0}


def _shares(entries: Iterable[Entry]) -> Iterator[Mapping[str, Any]]:
    for one in entries:
        content = one.content
        if one.kind == "reading" and content.get("quantity") in ANALYSIS and content.get("value") is not None:
            yield content
