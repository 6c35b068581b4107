"""The lists that the page of what is wrong shows, with where each finding stands on the page of findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_trouble import OTHER_TITLE, before_all, lead, plan_rows
from asfound.report.content_trouble_codes import codes_shown
from asfound.report.content_trouble_rows import (
    all_said,
    barred_of,
    grouped,
    repairs_of,
    steps_of,
    to_tell,
    told_symptoms,
    why_rows,
)
from asfound.report.content_trouble_words import HAZARDS, first_up
from asfound.troubleshoot.protections import protections

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.troubleshoot.shown import Trouble


def rows_of(view: VisitView, trouble: Trouble, *, find: str) -> dict[str, Any]:
    """Return the lists."""
    findings = {one.code: f"{one.says.rstrip('.')}." for one in reversed(view.findings)}
    rows = all_said(trouble, findings)
    known = trouble.knowledge
    used = {tag for step in (*known.tests.values(), *known.repairs.values()) for tag in step.hazards}
    closed = trouble.closed.cause if trouble.closed else ""
    return {
        "lead": lead(trouble),
        "before_all": before_all(trouble),
        "anchors": anchors(view),
        "urgent": [known.symptoms[one].title for one in trouble.urgent if one in known.symptoms],
        "known_symptoms": told_symptoms(trouble),
        "groups": grouped(trouble, find=find),
        "heard": [one for one in rows if one.code],
        "made": [one for one in rows if one.what == "test"],
        "tried": [one for one in rows if one.what == "repair"],
        "steps": steps_of(trouble),
        "repairs": repairs_of(trouble),
        "barred": barred_of(trouble),
        "plan": plan_rows(trouble),
        "tell": to_tell(trouble, rows),
        "prices": known.prices,
        "hazards": {tag: said for tag, said in HAZARDS.items() if tag in used},
        "protections": {one.id: one for one in trouble.protections},
        "protection_list": [(one.id, one.title) for one in protections().values()],
        "codes_read": codes_shown(trouble),
        "cases": [(one, first_up(trouble.titles.get(one.cause, OTHER_TITLE))) for one in trouble.closed_cases],
        "counting": sum(one.counts for one in trouble.closed_cases),
        "closed_title": first_up(trouble.titles.get(closed, OTHER_TITLE)),
        "OTHER_TITLE": OTHER_TITLE,
        **why_rows(rows),
    }


def anchors(view: VisitView) -> dict[str, str]:
    """Return where the first finding of each code stands on the page of findings."""
    return {one.code: f"#{one.code}" for one in view.findings}
