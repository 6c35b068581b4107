"""The page of what is wrong: causes with their doubt, the next step, symptoms, and every answer kept at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from starlette.routing import Route

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.parse import parse_number
from asfound.records.trouble_say import (
    close_case,
    say_allowed,
    say_protection,
    say_step,
    say_symptom,
    set_count_closed,
)
from asfound.report.content_trouble import trouble_shown
from asfound.report.content_trouble_words import CONFIRMED, PROTECTION_SAYS, SYMPTOM_LOOKS, SYMPTOM_SAYS
from asfound.sources.cautions import DEFER, cautions_for
from asfound.web.forms import acting, text, texts
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.readings import typed_at
from asfound.web.trouble_rows import rows_of

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.troubleshoot.told import Confirmed

CAUTIONS = ("protect", "local", "noise", "gas")
"""Hazards of looking for a fault at all; those of each step stand before it."""
KIND_TITLES = {
    "lean": "Lean-burn",
    "stoich": "Stoichiometric",
    "turbo": "Turbocharged",
    "prechamber": "With prechambers",
    "catalyst": "With a catalyst",
}
MOST = 5
"""Tests that stand unfolded."""
KINDS = frozenset(
    {"trouble_symptom", "trouble_step", "trouble_allowed", "trouble_closed", "protection_seen", "fault_codes"}
)
"""Entries that this page takes back."""
ANCHORS = ("next", "moved", "tests", "repairs", "symptoms", "codes")


def show_trouble(request: Request, *, complaint: str = "", typed: dict[str, str] | None = None) -> Response:
    """Show what may be wrong, and what to do next about it."""
    here = at_visit(request)
    trouble = here.view.trouble
    find = request.query_params.get("find", "").strip()[:60]
    return visit_page(
        request,
        "trouble.html",
        here,
        step="trouble",
        title="What is wrong",
        status=422 if complaint else 200,
        t=trouble,
        shown=trouble_shown(trouble, chosen=request.query_params.get("step", "")[:80]),
        find=find,
        complaint=complaint,
        typed=typed or {},
        SAYS=SYMPTOM_SAYS,
        LOOKS=SYMPTOM_LOOKS,
        CONFIRMED=CONFIRMED,
        PROTECTION_SAYS=PROTECTION_SAYS,
        MOST=MOST,
        KINDS=KIND_TITLES,
        cautions=cautions_for(CAUTIONS),
        defers=DEFER,
        **rows_of(here.view, trouble, find=find),
    )


def keep_symptom(request: Request, form: FormData) -> Response:
    """Keep what a person says of a symptom."""
    here, house = at_visit(request), house_of(request)
    symptom = text(form, "symptom")
    before = next((one for one in here.view.trouble.symptoms if one.id == symptom), None)

    def kept(name: str) -> str:
        """Return what was typed, else what was said before: a button says nothing of place and note."""
        return text(form, name) if name in form else str(getattr(before, name, ""))

    return _kept(
        request,
        f"s-{symptom}",
        lambda: say_symptom(
            house.records,
            here.view,
            symptom,
            text(form, "says"),
            place=kept("place"),
            note=kept("note"),
            who=here.prefs.who,
            time=typed_at(request, house),
        ),
    )


def keep_step(request: Request, form: FormData) -> Response:
    """Keep the outcome of a test or repair."""
    here, house = at_visit(request), house_of(request)

    def keep() -> Any:
        took = text(form, "minutes")
        return say_step(
            house.records,
            here.view,
            text(form, "step"),
            text(form, "says"),
            place=text(form, "place"),
            minutes=parse_number(took).value if took else None,
            note=text(form, "note"),
            who=here.prefs.who,
            time=typed_at(request, house),
        )

    return _kept(request, "next", keep)


def keep_runs(request: Request, form: FormData) -> Response:
    """Keep whether the engine runs on, as it was decided on site."""
    here, house = at_visit(request), house_of(request)
    now = here.view.trouble.now
    return _kept(
        request,
        "next",
        lambda: say_allowed(
            house.records,
            here.view,
            can_run=text(form, "can_run") != "no",
            may_stop=now.may_stop,
            may_isolate=now.may_isolate,
            barred=tuple(sorted(now.barred)),
            why="decided first, because of what shows",
            who=here.prefs.who,
            time=typed_at(request, house),
        ),
    )


def keep_allowed(request: Request, form: FormData) -> Response:
    """Keep what may be done with the engine now."""
    here, house = at_visit(request), house_of(request)
    return _kept(
        request,
        "tests",
        lambda: say_allowed(
            house.records,
            here.view,
            can_run=text(form, "can_run") == "yes",
            may_stop=text(form, "may_stop") == "yes",
            may_isolate=text(form, "may_isolate") == "yes",
            barred=texts(form, "barred"),
            who=here.prefs.who,
            time=typed_at(request, house),
        ),
    )


def keep_protection(request: Request, form: FormData) -> Response:
    """Keep what was seen of a protection."""
    here, house = at_visit(request), house_of(request)
    return _kept(
        request,
        f"p-{text(form, 'protection')}",
        lambda: say_protection(
            house.records,
            here.view,
            text(form, "protection"),
            text(form, "says"),
            who=here.prefs.who,
            time=typed_at(request, house),
        ),
    )


def close(request: Request, form: FormData) -> Response:
    """Keep the cause, and how it is known."""
    here, house = at_visit(request), house_of(request)
    typed = {name: text(form, name) for name in ("cause", "confirmed", "part", "note")}
    confirmed = cast("Confirmed", typed["confirmed"])  # the entry refuses any other word
    return _kept(
        request,
        "closed",
        lambda: close_case(
            house.records,
            here.view,
            typed["cause"],
            confirmed,
            part=typed["part"],
            note=typed["note"],
            who=here.prefs.who,
            time=typed_at(request, house),
        ),
        typed=typed,
    )


def take_back(request: Request, form: FormData) -> Response:
    """Take an answer back: a line is added, none is removed."""
    here, house = at_visit(request), house_of(request)

    def undo() -> Any:
        entry = house.records.entry(text(form, "entry"))
        if entry.kind not in KINDS or entry.visit != here.id:
            raise UnknownNameError("answer of this visit", entry.id, ())
        return house.records.undo(entry.id, who=here.prefs.who, why="taken back on the page")

    back = text(form, "back")
    if back == "read":
        undo()
        return go(f"{here.base}/trouble/codes#read")
    return _kept(request, back if back in ANCHORS else "next", undo)


def count_closed(request: Request, form: FormData) -> Response:
    """Let closed cases move how common a cause is taken to be, or leave them out."""
    house = house_of(request)
    return _kept(request, "cases", lambda: set_count_closed(house.records, text(form, "count") == "yes"))


def _kept(request: Request, anchor: str, keep: Any, *, typed: dict[str, str] | None = None) -> Response:
    """Keep, then show the page again; what is refused is said at its head and nothing is kept."""
    try:
        keep()
    except InputError as refused:
        return show_trouble(request, complaint=str(refused), typed=typed)
    return go(f"{at_visit(request).base}/trouble#{anchor}")


BASE = "/engines/{engine}/{day}/trouble"
ROUTES = [
    Route(BASE, show_trouble),
    Route(f"{BASE}/symptom", acting(keep_symptom), methods=["POST"]),
    Route(f"{BASE}/step", acting(keep_step), methods=["POST"]),
    Route(f"{BASE}/runs", acting(keep_runs), methods=["POST"]),
    Route(f"{BASE}/allowed", acting(keep_allowed), methods=["POST"]),
    Route(f"{BASE}/protection", acting(keep_protection), methods=["POST"]),
    Route(f"{BASE}/close", acting(close), methods=["POST"]),
    Route(f"{BASE}/undo", acting(take_back), methods=["POST"]),
    Route(f"{BASE}/count", acting(count_closed), methods=["POST"]),
]
