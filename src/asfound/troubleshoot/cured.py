"""Which findings spoke of a trouble whose cause a repair has cured: they ask for no hand any more."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asfound.quantities.words import Finding
    from asfound.troubleshoot.knowledge import Heard, Knowledge
    from asfound.troubleshoot.told import Told

LIKELY = 0.5
"""A finding spoke of a cause that shows itself so at least that often (own setting). [-]"""
CYLINDER = "cylinder_"


def spoke_of_what_was_cured(finding: Finding, told: Told, knowledge: Knowledge) -> bool:
    """Return whether a finding as found was about the trouble that a repair of this visit has cured.

    What asks for a stop is never settled by this, only by a person; nor is what was found at a cylinder that the case
    does not name.

    Parameters
    ----------
    told : Told
        What the record knows of the trouble of the visit.
    knowledge : Knowledge
        Of this engine: how often a cause shows itself in which way.
    """
    closed = told.closed
    if closed is None or closed.confirmed != "cured" or finding.state != "as_found" or finding.severity == "stop":
        return False
    at = cylinder_of(finding)
    named = {one.place for one in told.said if one.place}
    if at and named and at not in named:
        return False
    return any(_chance(knowledge, heard, closed.cause) >= LIKELY for heard in knowledge.findings.get(finding.code, ()))


def cylinder_of(finding: Finding) -> str:
    """Return the cylinder that a finding is about first, as ``L4``; empty where it is about none."""
    place = finding.extra.get("place") or next(
        (key.split("/")[1] for key in finding.because if key.count("/") == 2), ""
    )
    return place.removeprefix(CYLINDER) if place.startswith(CYLINDER) else ""


def _chance(knowledge: Knowledge, heard: Heard, cause: str) -> float:
    """Return P(this is said | cause). [-]"""
    test, known = knowledge.tests.get(heard.about), knowledge.causes.get(cause)
    if test is not None:
        positive = test.given.get(cause, test.otherwise)
        return positive if heard.says == "positive" else 1.0 - positive
    shows = known.leads_to.get(heard.about, knowledge.unlisted) if known is not None else 0.0
    return shows if heard.says == "present" else 1.0 - shows
