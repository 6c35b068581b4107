"""The page of what-if: a setting is changed, the model answers; the question stands in the address."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal
from urllib.parse import urlencode

from starlette.responses import HTMLResponse, JSONResponse
from starlette.routing import Route

from asfound.errors import AsFoundError, InputError, UnknownNameError
from asfound.report.content_whatif import LackingShown, whatif_shown
from asfound.report.content_whatif_data import whatif_data
from asfound.report.content_whatif_words import CAN, CANNOT, CAUTIONS, DECIDES
from asfound.report.whatif_back import TARGETS, ways_shown
from asfound.report.whatif_fit import FittedEngine, fitted
from asfound.report.whatif_gases import gases_on_record
from asfound.report.whatif_how import FITS, RATES, how_of
from asfound.report.whatif_how import NAMES as BESIDE
from asfound.report.whatif_proposed import KIND, content_of, proposed_of
from asfound.report.whatif_question import NAMES, Question, asked_of
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web import words
from asfound.web.api import AT_VISIT, _plain
from asfound.web.crosscheck import _links, state_of
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import environment, go, house_of, wants_parts
from asfound.web.readings import typed_at
from asfound.web.visit import leads_to

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.words import State
    from asfound.report.whatif_gases import GasOnRecord
    from asfound.web.frame import AtVisit

LONGEST = 80
"""Signs of one typed part; what is longer is no setting."""
OWN_GAS = "methane"
"""Choice of the gas: this one, with another share of methane."""


def show_whatif(request: Request, *, complaint: str = "") -> Response:
    """Show the answer to the question of the address, from the state that it or the switch names."""
    here = at_visit(request)
    state = state_of(request, here)
    typed = _typed(request.query_params)
    parts = wants_parts(request)
    asks_gas = typed.get("gas", "") not in ("", OWN_GAS)
    gases = gases_on_record(house_of(request).records, here.view) if asks_gas or not parts else ()
    question = Question(typed={**typed, "gas": _gas(typed)})
    decimal = _decimal(here)
    quick = parts and request.query_params.get("draws") == "few"
    shown = whatif_shown(
        here.view, state, question, here.system, gases=_named(gases), decimal=decimal, quick=quick,
        whole=not parts,
    )  # fmt: skip
    context = {
        "shown": shown, "state": state, "typed": typed, "gases": gases, "links": _links(here.view),
        "leads_to": leads_to, "base": here.base, "view": here.view, "question": _query(typed), "quick": quick,
        "own_gas": OWN_GAS, "only": request.query_params.get("only", ""), "complaint": complaint,
        "fits_known": FITS, "rates_known": RATES, "kept_beside": [one for one in BESIDE if one not in ("fit", "rates")],
        "linked": lambda one, name, value: _query({**one, "state": state, name: value}), "us": here.system == "us",
    }  # fmt: skip
    if isinstance(shown, LackingShown):
        return visit_page(request, "whatif_lacking.html", here, step="whatif", title="What if",
                          **_without(context, "base", "view"), can=CAN, cannot=CANNOT, decides=DECIDES)  # fmt: skip
    if parts:
        html = environment().get_template("_whatif_parts.html").render(page_name=f"{here.base}/whatif", **context)
        return HTMLResponse(html)
    back = request.query_params.get("back", "")[:LONGEST]
    ways, refused = None, ""
    if back:
        try:
            ways = _ways(here, state, back, request.query_params.get("to", "")[:LONGEST], decimal, typed)
        except AsFoundError as fault:
            refused = str(fault)
    return visit_page(
        request, "whatif.html", here, step="whatif", title="What if", **_without(context, "base", "view"),
        can=CAN, cannot=CANNOT, decides=DECIDES, cautions=cautions_for(CAUTIONS), defers=DEFER,
        proposed=[(one, _query(_shown(one.question.typed))) for one in proposed_of(here.view)], targets=TARGETS,
        ways=ways, query_of=lambda one: _query(dict(one.typed)), back=back, to=request.query_params.get("to", ""),
        refused=refused,
    )  # fmt: skip


def keep(request: Request, form: FormData) -> Response:
    """Keep a question as proposed."""
    here, house = at_visit(request), house_of(request)
    state = _state(text(form, "state"))
    typed = _typed(form)
    gas = _gas(typed)
    fit = fitted(here.view, state, how_of(typed))
    if not isinstance(fit, FittedEngine):
        raise InputError("state", state, "cannot be modelled yet", try_next="Take the readings that are missing.")
    gases = _named(gases_on_record(house.records, here.view))
    asked = asked_of(fit, Question(typed={**typed, "gas": gas}), here.system, gases=gases, decimal=_decimal(here))
    if asked.faults:
        raise next(iter(asked.faults.values()))
    content = content_of(asked, state, gas, system=here.system, why=text(form, "why"), time=typed_at(request, house))
    house.records.append(KIND, content, visit=here.id, who=here.prefs.who)
    return go(f"{here.base}/whatif?{_query({**typed, 'state': state})}#proposed")


def take_back(request: Request, form: FormData) -> Response:
    """Take a proposed setting back: a line is added, none is removed."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    if entry.kind != KIND or entry.visit != here.id:
        raise UnknownNameError("proposed setting of this visit", entry.id, ())
    house.records.undo(entry.id, who=here.prefs.who, why="taken back on the page")
    return go(f"{here.base}/whatif#proposed")


def show_whatif_data(request: Request) -> Response:
    """Return the answer as JSON, in SI; `back` and `to` trace a wanted change back."""
    here = at_visit(request)
    state = _state(request.query_params.get("state", "as_found"))
    typed = _typed(request.query_params)
    gases = _named(gases_on_record(house_of(request).records, here.view))
    question = Question(typed={**typed, "gas": _gas(typed)})
    whole = request.query_params.get("map", "") == "yes"
    wanted = f"{request.query_params.get('back', '')} {request.query_params.get('to', '')}".strip()
    data = whatif_data(
        here.view, state, question, here.system, gases=gases, decimal=_decimal(here), whole=whole, wanted=wanted
    )
    return JSONResponse(_plain(data))


def _state(asked: str) -> State:
    for one in words.STATES:
        if one == (asked or "as_found"):
            return one  # type: ignore[return-value]
    raise InputError("state", asked, "is no state", allowed=", ".join(words.STATES))


def _decimal(here: AtVisit) -> Literal[".", ","] | None:
    signs: dict[str | None, Literal[".", ","]] = {"point": ".", "comma": ","}
    return signs.get(here.prefs.decimal_sign)


def _typed(given: Mapping[str, Any]) -> dict[str, str]:
    """Return what was typed of a question, by name of its part."""
    return {
        name: str(given[name]).strip()[:LONGEST]
        for name in (*NAMES, "methane", *BESIDE)
        if name in given and str(given[name]).strip()
    }


def _gas(typed: Mapping[str, str]) -> str:
    """Return the gas that is asked for: another analysis, or this gas with a share of methane."""
    chosen, methane = typed.get("gas", ""), typed.get("methane", "")
    if chosen in ("", OWN_GAS) and methane:
        return f"methane {methane.rstrip('% ')} %"
    return "" if chosen in (OWN_GAS, "this") else chosen


def _shown(typed: Mapping[str, str]) -> dict[str, str]:
    """Return a question as the fields of the page hold it."""
    found = dict(typed)
    if found.get("gas", "").startswith("methane "):
        found["methane"] = found.pop("gas").removeprefix("methane ").rstrip("% ")
        found["gas"] = OWN_GAS
    return found


def _named(gases: tuple[GasOnRecord, ...]) -> dict[str, Mapping[str, float]]:
    return {one.name: one.shares for one in gases}


def _query(typed: Mapping[str, str]) -> str:
    return urlencode({name: value for name, value in typed.items() if value})


def _without(context: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in context.items() if name not in names}


def _ways(
    here: AtVisit, state: State, back: str, to: str, decimal: Literal[".", ","] | None, typed: Mapping[str, str]
) -> Any:
    fit = fitted(here.view, state, how_of(typed))
    assert isinstance(fit, FittedEngine)
    return ways_shown(here.view, state, fit, f"{back} {to}", here.system, decimal=decimal)


BASE = "/engines/{engine}/{day}/whatif"
ROUTES = [
    Route(BASE, show_whatif),
    Route(f"{BASE}/keep", acting(keep), methods=["POST"]),
    Route(f"{BASE}/undo", acting(take_back), methods=["POST"]),
    Route(f"{AT_VISIT}/what-if", show_whatif_data),
]
