"""The page of the cross-check: which reading lies, what the balances say, each reading against the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.errors import InputError
from asfound.quantities.words import STATES
from asfound.report.content_crosscheck import crosscheck_shown, unsolved
from asfound.report.content_crosscheck_data import crosscheck_data
from asfound.report.content_crosscheck_without import with_and_without
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web.api import AT_VISIT, _plain
from asfound.web.frame import at_visit, visit_page
from asfound.web.visit import leads_to

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_crosscheck import CrossCheckShown
    from asfound.web.frame import AtVisit

OWN_CODES = ("CC-01", "CC-02", "CC-03", "CC-04", "CC-05")
"""Findings that say what the head of the page says."""
CAUTIONS = ("hot", "local")
WORTH_IT = 0.1
"""Of the probability, or of the doubt, that a measurement must be worth to be the next thing. [1]"""


def show_crosscheck(request: Request) -> Response:
    """Show the cross-check of the state that the switch says; `?state=as_left` names another."""
    here = at_visit(request)
    state = state_of(request, here)
    shown = crosscheck_shown(here.view, state, here.system)
    findings = [
        one
        for one in here.view.findings
        if one.subject == "crosscheck" and one.state == state and one.code not in OWN_CODES
    ]
    tags = {*CAUTIONS, *(tag for one in findings for tag in one.cautions)}
    return visit_page(
        request,
        "crosscheck.html",
        here,
        step="crosscheck",
        title="Cross-check",
        state=state,
        shown=shown,
        unsolved="" if shown else unsolved(here.view, state),
        next=_next(here, shown, state),
        both=with_and_without(here.view, state, here.system),
        said=findings,
        links=_links(here.view),
        cautions=cautions_for(tags),
        defers=DEFER,
        leads_to=leads_to,
    )


def state_of(request: Request, here: AtVisit) -> State:
    """Return the state that is asked for: by the address, else by the switch of the strip."""
    asked = request.query_params.get("state", "")
    if asked:
        return _state(asked)
    return "as_found" if here.view.seal else here.prefs.column


def _state(asked: str) -> State:
    """Return a state by name; refuse any other."""
    for one in STATES:
        if one == asked:
            return one
    raise InputError("state", asked, "is no state", allowed=", ".join(STATES))


def _next(here: AtVisit, shown: CrossCheckShown | None, state: State) -> dict[str, str] | None:
    """Return the one next thing of this page; nothing where the visit is closed."""
    if here.view.seal:
        return None
    if shown is not None and (worth := _measurement(here, shown)):
        return worth
    if shown is not None and shown.answer.kind == "unexplained":
        why = "One after the other, at steady load. Until then no balance of this visit proves anything."
        return _thing("read the gauges again", why, "Readings", f"{here.base}/other")
    if shown is not None and shown.answer.look:
        return _thing("look at the one that lies", shown.answer.look, "Findings", f"{here.base}/findings")
    other: State = "as_left" if state == "as_found" else "as_found"
    if (state == "as_found" or shown is None) and crosscheck_shown(here.view, other, here.system) is not None:
        words = other.replace("_", " ")
        why = f"What was turned or renewed must show in the readings {words}, and nowhere else."
        return _thing(f"look at the readings {words}", why, words.capitalize(), f"{here.base}/crosscheck?state={other}")
    if shown is None:
        why = "With the gas analysis they make the first two balances. About ten minutes with an analyser."
        return _thing("take oxygen and CO2 of one sample", why, "Exhaust", f"{here.base}/exhaust")
    return None


def _measurement(here: AtVisit, shown: CrossCheckShown) -> dict[str, str] | None:
    """Return the measurement that is worth most, where it is worth making."""
    one = shown.more[0] if shown.more else None
    if one is None or one.gain < WORTH_IT:
        return None
    says = one.act[:1].lower() + one.act[1:]
    return _thing(says, one.says, "Take it" if one.step else "All readings", f"{here.base}/{one.step or 'other'}")


def _thing(says: str, why: str, button: str, href: str) -> dict[str, str]:
    return {"says": says, "why": why, "button": button, "href": href}


def _links(view: VisitView) -> dict[str, str]:
    """Return where each reading of the visit is taken, by its key."""
    from asfound.quantities.register import quantities

    known = quantities()
    return {key: known[one.quantity].step for key, one in view.readings.items() if one.quantity in known}


def show_crosscheck_data(request: Request) -> Response:
    """Return the cross-check of a state as JSON, in SI."""
    here = at_visit(request)
    state = _state(request.query_params.get("state", "as_found"))
    return JSONResponse(_plain(crosscheck_data(here.view, state)))


ROUTES = [
    Route("/engines/{engine}/{day}/crosscheck", show_crosscheck),
    Route(f"{AT_VISIT}/crosscheck", show_crosscheck_data),
]
