"""Findings by when a hand is needed, what was decided about them, and the open points with who and by when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError, UnknownNameError
from asfound.quantities.parse import parse_number
from asfound.records.standing import standing
from asfound.records.visit import decision_key
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web import words
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.visit import by_severity

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

POINT = ("says", "severity", "who", "due", "minutes", "state_needed", "note")


def show_findings(request: Request, *, complaint: str = "", typed: dict[str, str] | None = None) -> Response:
    """Show what the results and looks mean, and what is still to be done by whom."""
    here = at_visit(request)
    tags = {tag for one in here.view.findings for tag in one.cautions}
    points, stands = here.view.open_points, standing(here.view)
    settled = [one for one in here.view.findings if one not in stands]
    return visit_page(
        request,
        "findings.html",
        here,
        step="findings",
        title="Findings",
        severities=by_severity(stands),
        settled=settled,
        firsts={one.code: one for one in reversed([*stands, *settled])},
        decision_key=decision_key,
        decisions=here.view.decisions,
        points=points,
        complaint=complaint,
        typed=typed or {},
        status=422 if complaint else 200,
        cautions=cautions_for(tags),
        defers=DEFER,
        pages={"troubleshoot": "trouble"},
        steps={**words.STEPS, "crosscheck": ("Cross-check", "Cross-check"), "troubleshoot": ("What is wrong", "Wrong")},
    )


def decide(request: Request, form: FormData) -> Response:
    """Keep what the person on site decided about a finding; the program advises only."""
    here, house = at_visit(request), house_of(request)
    key = text(form, "key")
    finding = next((one for one in here.view.findings if decision_key(one) == key), None)
    if finding is None:
        raise UnknownNameError("finding of this visit", text(form, "code"), [one.code for one in here.view.findings])
    content = {
        "code": finding.code,
        "subject": finding.subject,
        "about": list(finding.because),
        "state": finding.state,
        "decision": text(form, "decision"),
        "why": text(form, "why"),
        "to_whom": text(form, "to_whom"),
    }
    before = here.view.decisions.get(key)
    house.records.append(
        "finding_decision", content, visit=here.id, who=here.prefs.who, corrects=before.id if before else None
    )
    return go(f"{here.base}/findings#f-{text(form, 'anchor')}")


def keep_point(request: Request, form: FormData) -> Response:
    """Keep an open point, or put one right."""
    here, house = at_visit(request), house_of(request)
    typed = {name: text(form, name) for name in POINT}
    content: dict[str, Any] = {name: value for name, value in typed.items() if value and name != "minutes"}
    try:
        if not typed["says"]:
            raise InputError("says", "", "is missing", try_next="Say what is to be done.")
        if typed["minutes"]:
            content["minutes"] = parse_number(typed["minutes"]).value
        house.records.append("open_point", content, visit=here.id, who=here.prefs.who)
    except AsFoundError as refused:
        return show_findings(request, complaint=str(refused), typed=typed)
    return go(f"{here.base}/findings#points")


def close_point(request: Request, form: FormData) -> Response:
    """Say that an open point is done, or that it is open after all."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    content = {**entry.content, "done": text(form, "done") == "yes"}
    house.records.append("open_point", content, visit=here.id, corrects=entry.id, who=here.prefs.who)
    return go(f"{here.base}/findings#points")


BASE = "/engines/{engine}/{day}/findings"
ROUTES = [
    Route(BASE, show_findings),
    Route(f"{BASE}/decide", acting(decide), methods=["POST"]),
    Route(f"{BASE}/points", acting(keep_point), methods=["POST"]),
    Route(f"{BASE}/points/done", acting(close_point), methods=["POST"]),
]
