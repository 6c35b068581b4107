"""Which findings of a visit still stand: not decided as done, nor taken over by a number as left, nor cured."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asfound.quantities.words import Finding
    from asfound.records.visit import VisitView

SETTLED = frozenset({"done", "set_aside"})
"""Decisions after which a finding does not ask for a hand any more."""


def standing(view: VisitView) -> list[Finding]:
    """Return the findings that still stand, the most urgent first.

    A finding about numbers as found no longer stands where the same numbers were taken again as left: what they say
    then stands in a finding of its own. Nor does one of the trouble that a repair of this visit has cured.
    """
    left = {f"{one.place}/{one.quantity}" for one in view.worked.results if one.state == "as_left"}
    left |= {key.partition("/")[2] for key in view.readings if key.startswith("as_left/")}
    open_ones = [one for one in view.findings if not _settled(view, one) and not _taken_again(one, left)]
    if not any(one.kind == "trouble_closed" for one in view.entries):
        return open_ones
    from asfound.troubleshoot.cured import spoke_of_what_was_cured  # not at every start: it brings the whole room

    told, knowledge = view.case.visit["trouble"], view.trouble.knowledge
    return [one for one in open_ones if not spoke_of_what_was_cured(one, told, knowledge)]


def _settled(view: VisitView, finding: Finding) -> bool:
    from asfound.records.visit import decision_key

    decided = view.decisions.get(decision_key(finding))
    return decided is not None and decided.content.get("decision") in SETTLED


def _taken_again(finding: Finding, left: set[str]) -> bool:
    keys = [key.partition("/")[2] for key in finding.because if key.startswith("as_found/")]
    return finding.state == "as_found" and bool(keys) and all(key in left for key in keys)
