"""Findings by when a hand is needed, what was decided about them, and the open points with who and by when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError, UnknownNameError
from asfound.quantities.parse import parse_number
from asfound.records.points import left_by_visits, say_done
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

    from asfound.records.things import EngineRecord
    from asfound.web.house import House

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
        points_done=here.view.points_done,
        left=left_by_visits(house_of(request).records, here.view.engine, before=here.view.visit),
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
    """Say that an open point is done, or that it is open after all; of an earlier or closed visit as of the engine."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    if here.view.seal is None and entry.visit == here.id:
        content = {**entry.content, "done": text(form, "done") == "yes"}
        house.records.append("open_point", content, visit=here.id, corrects=entry.id, who=here.prefs.who)
    else:
        change_left(house, here.view.engine, form, who=here.prefs.who, visit=None if here.view.seal else here.id)
    return go(f"{here.base}/findings#points")


def change_left(house: House, engine: EngineRecord, form: FormData, *, who: str, visit: str | None = None) -> None:
    """Say that a point which a visit left is done, or take that back."""
    entry = house.records.entry(text(form, "entry"))
    if entry.engine != engine.id or entry.kind not in ("open_point", "point_done"):
        raise UnknownNameError("open point of this engine", entry.id, ())
    if entry.kind == "point_done":
        house.records.undo(entry.id, who=who)
    else:
        say_done(house.records, entry, who=who, note=text(form, "note"), visit=visit)


BASE = "/engines/{engine}/{day}/findings"
ROUTES = [
    Route(BASE, show_findings),
    Route(f"{BASE}/decide", acting(decide), methods=["POST"]),
    Route(f"{BASE}/points", acting(keep_point), methods=["POST"]),
    Route(f"{BASE}/points/done", acting(close_point), methods=["POST"]),
]
