"""The visit: its ledger, its findings, what is open, the day; and the small things that are kept from every page."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from textwrap import shorten
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.fitout.words import look_says
from asfound.quantities.parse import parse_number
from asfound.quantities.words import STATES
from asfound.records.catalogues import catalogue_of
from asfound.records.conflicts import clashes
from asfound.records.entries import is_id
from asfound.records.looks_before import look_of
from asfound.records.standing import standing
from asfound.web import words
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.ledger import ledger
from asfound.web.pages import back_or, go, house_of
from asfound.web.preferences import remember
from asfound.web.readings import place_words, split_key, typed_at
from asfound.web.results import shown
from asfound.web.several import Shown, shown_clash

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.fitout.catalogue import Catalogue
    from asfound.records.view_parts import Day
    from asfound.records.visit import VisitView
    from asfound.web.house import House

EVENTS = {
    "stopped": "The engine was stopped",
    "running": "The engine runs again",
    "isolated": "It was isolated and locked",
    "released": "The isolation was taken off",
    "changed": "A part was changed, or something adjusted",
    "permit": "The permit to work got another end",
    "left": "Left the site",
}
HOURS = "engine_hours"
STATE_AFTER = {"stopped": "stopped", "running": "running", "isolated": "isolated", "released": "stopped"}


def show_visit(request: Request, *, complaint: str = "", typed: dict[str, str] | None = None) -> Response:
    """Show the visit as the record that will be printed."""
    here = at_visit(request)
    return visit_page(
        request,
        "visit.html",
        here,
        step="visit",
        title=_heading(here.view),
        rows=ledger(here),
        events=EVENTS,
        severities=by_severity(standing(here.view)),
        line=day_line(here.view.day),
        complaint=complaint,
        typed=typed or {},
        status=422 if complaint else 200,
        hours=_hours(here.view),
        first=_first(here.view),
        unsorted=[one for one in here.view.photos if not one.content.get("place")],
        place_words=place_words,
        conflicts=_conflicts(house_of(request), here.view),
        leads_to=leads_to,
    )


def _heading(view: VisitView) -> str:
    driven = words.DRIVEN.get(str(view.engine.content.get("driven", "")), "")
    return f"{view.engine.tag}, {driven}" if driven else view.engine.tag


def _hours(view: VisitView) -> str:
    for kept in view.readings.values():
        if kept.quantity == HOURS and kept.reading:
            said = shown(kept.reading, view.system)
            return f"{said.value} {said.unit}"
    return ""


def _first(view: VisitView) -> dict[str, str]:
    """Return the time of the first reading of each state."""
    return {
        state: words.clock(min((one.time for one in view.readings_all if one.state == state), default=""))
        for state in STATES
    }


def by_severity(findings: Any) -> list[tuple[str, str, list[Any]]]:
    """Return findings by when a hand is needed: (severity, words, findings)."""
    groups = [
        (name, said, [one for one in findings if one.severity == name]) for name, said in words.SEVERITIES.items()
    ]
    return [group for group in groups if group[2]]


def day_line(day: Day) -> dict[str, Any]:
    """Return what the line of the day is drawn from, without its width."""
    from asfound.report.svg import DayEvent, DaySpan

    at = datetime.fromisoformat
    told = [one for one in day.events if one.kind not in {"found", "left", "look", "photo", "note"}]
    names = {"found": "as found", "left": "as left"}
    label = "; ".join(f"{words.clock(one.time)} {one.says}" for one in day.events) or "nothing recorded yet"
    return {
        "label": label,
        "start": at(day.start),
        "end": at(day.end),
        "now": at(day.now) if day.now else None,
        "events": [DayEvent(at(one.time), shorten(one.says, 66, placeholder=" …")) for one in told],
        "spans": [DaySpan(at(one.start), at(one.end), one.kind, names.get(one.kind, "")) for one in day.spans],
        "wall": DayEvent(at(day.permit_until), "permit to work ends") if day.permit_until else None,
    }


def leads_to(base: str, step: str | None, anchor: str, entry: str = "") -> str:
    """Return the address where something open is done: a field, a place of the engine, an open point, a step.

    >>> leads_to("/v", "exhaust", "as_left/stack/exhaust_co_dry"), leads_to("/v", "fitted", "ignition_unit")
    ('/v/exhaust#v:as_left/stack/exhaust_co_dry', '/v/fitted?place=ignition_unit#panel')
    """
    if entry:
        return f"{base}/findings#{entry}"
    page = f"{base}/{step}" if step not in {"visit", "", None} else base
    if not anchor:
        return page
    if step == "fitted":
        return page if is_id(anchor) else f"{page}?place={anchor}#panel"
    return f"{page}#v:{anchor}" if "/" in anchor else page if is_id(anchor) and step != "visit" else f"{page}#{anchor}"


def _conflicts(house: House, view: VisitView) -> list[Shown]:
    """Return what two laptops wrote apart in this visit."""
    return [shown_clash(one, house, view.system) for one in clashes(house.records, view.id)]


def says_of(entry: Any, view: VisitView, catalogue: Catalogue | None = None) -> str:
    """Return an entry in one line; a look in the words of the catalogue where it is given."""
    from asfound.quantities.register import quantity

    content = entry.content
    state = words.STATES.get(content.get("state", ""), "").lower()
    if entry.kind == "reading":
        where = place_words(content["place"])
        return (
            ", ".join(part for part in (quantity(content["quantity"]).title, where, state) if part)
            + f": {content.get('as_typed', '')}"
        )
    if entry.kind == "look":
        answer = words.ANSWERS[content.get("answer", "seen")].lower()
        states = ", ".join(content.get("states", ()))
        if catalogue is not None:
            return look_says(catalogue, look_of(entry))
        return f"{content['slot'].replace('_', ' ')}: {answer}" + (f", {states}" if states else "")
    titles = {
        "visit_opened": "Visit opened",
        "note": content.get("text", ""),
        "photo": f"Photo {content.get('caption') or content.get('filename', '')}",
        "open_point": f"Open point: {content.get('says', '')}",
        "finding_decision": f"Finding {content.get('code', '')}: {content.get('decision', '')}",
        "visit_state": content.get("says") or EVENTS.get(content.get("event", ""), content.get("event", "")),
        "sealed": "Visit closed",
        "addendum": f"Addendum: {content.get('says', '')}",
        "withdrawn": "Taken back: a line above",
        "resolution": "Two values settled",
        "proposed_setting": "Proposed: "
        + ", ".join(f"{name} {one['as_typed']}" for name, one in content.get("changes", {}).items())
        + (f" gas {content['gas_as_typed']}" if content.get("gas") else ""),
        "setting": f"Setting {content.get('name', '').replace('_', ' ')}: {content.get('as_typed', '')}",
        "method_choice": f"{content.get('quantity', '')} taken from {content.get('worksheet') or 'what is preferred'}",
        "cylinder_look": f"Cylinder {content.get('cylinder', '')}: {content.get('witness', '')} "
        + (content.get("state") or "could not be told"),
        "emission_test": f"Test of the exhaust in runs {content.get('source', '')}".rstrip(),
    }
    _ = view
    return str(titles.get(entry.kind, entry.kind))


# ---------------------------------------------------------------------- what is kept from here


def keep_column(request: Request, form: FormData) -> Response:
    """Switch the column that the hand is writing."""
    here = at_visit(request)
    answer = go(back_or(text(form, "back"), here.base))
    remember(answer, "column", text(form, "column"))
    return answer


def keep_note(request: Request, form: FormData) -> Response:
    """Keep free words."""
    here, house = at_visit(request), house_of(request)
    said = text(form, "text")
    if said:
        content: dict[str, Any] = {"text": said, "time": typed_at(request, house), "state": here.prefs.column}
        content |= {name: text(form, name) for name in ("step", "place") if text(form, name)}
        house.records.append("note", content, visit=here.id, who=here.prefs.who)
    return go(back_or(text(form, "back"), here.base))


def keep_event(request: Request, form: FormData) -> Response:
    """Keep what happened to the engine or to the visit."""
    here, house = at_visit(request), house_of(request)
    event, when = text(form, "event"), typed_at(request, house)
    content: dict[str, Any] = {"event": event, "time": when, "says": text(form, "says") or EVENTS.get(event, "")}
    try:
        if text(form, "time"):
            content["time"] = at_time(when, text(form, "time"))
        if text(form, "minutes"):
            content["minutes"] = parse_number(text(form, "minutes")).value
        if event in STATE_AFTER:
            content["engine_state"] = STATE_AFTER[event]
        if event == "permit" and text(form, "until"):
            content["permit_until"] = at_time(when, text(form, "until"))
        house.records.append("visit_state", content, visit=here.id, who=here.prefs.who)
    except AsFoundError as refused:
        return show_visit(request, complaint=str(refused), typed={name: text(form, name) for name in form})
    return go(f"{here.base}#day")


def at_time(now: str, typed: str) -> str:
    """Return a time of the same day as ``now``.

    >>> at_time("2032-07-08T11:52:00-06:00", "9:40")
    '2032-07-08T09:40:00-06:00'
    """
    from asfound.errors import InputError

    hours, _, minutes = typed.replace(".", ":").partition(":")
    if not (hours.isdigit() and minutes.isdigit() and int(hours) < 24 and int(minutes) < 60):
        raise InputError("time", typed, "is no time of day", allowed="00:00 to 23:59", try_next="Write 09:40.")
    return (
        datetime.fromisoformat(now)
        .replace(hour=int(hours), minute=int(minutes), second=0)
        .isoformat(timespec="seconds")
    )


def undo(request: Request, form: FormData) -> Response:
    """Take an entry back by adding a line; taking that line back brings the entry again."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    if entry.visit == here.id:
        house.records.undo(entry.id, who=here.prefs.who, why=text(form, "why"))
    return go(back_or(text(form, "back"), f"{here.base}/log"))


def show_log(request: Request) -> Response:
    """Show every line of the record, with what became of it."""
    here = at_visit(request)
    view = here.view
    catalogue = None
    with suppress(AsFoundError):  # the view says what is wrong with it
        catalogue = catalogue_of(house_of(request).records, view.engine)
    lines = [
        (one, says_of(one, view, catalogue), one.id in view.void, one.id in view.replaced)
        for one in reversed(view.entries_all)
    ]
    return visit_page(request, "log.html", here, step="log", title="Everything recorded", lines=lines)


def show_reading(request: Request) -> Response:
    """Show one reading: how it was taken, what stood there before, and the way back."""
    from asfound.quantities.register import quantity

    here = at_visit(request)
    key = request.path_params["key"]
    state, place, name = split_key(key)
    about = quantity(name)
    history = [one for one in reversed(here.view.entries_all) if one.kind == "reading" and _key(one) == key]
    kept = here.view.readings.get(key)
    return visit_page(
        request,
        "reading.html",
        here,
        step="reading",
        title=about.title,
        about=about,
        where=place_words(place),
        state=state,
        kept=kept,
        shown=shown(kept.reading, here.system) if kept and kept.reading else None,
        history=history,
        key=key,
    )


def _key(entry: Any) -> str:
    return f"{entry.content['state']}/{entry.content['place']}/{entry.content['quantity']}"


def take_again(request: Request, form: FormData) -> Response:
    """Change how a reading was taken: time, instrument, note; or say that it could not be taken."""
    here, house = at_visit(request), house_of(request)
    key = request.path_params["key"]
    kept = here.view.readings.get(key)
    back = f"{here.base}/reading/{key}"
    if kept is None:
        return go(back)
    content = dict(kept.entry.content)
    content["note"] = text(form, "note")
    if text(form, "time"):
        content["time"] = at_time(kept.time, text(form, "time"))
    if text(form, "instrument"):
        content["instrument"] = text(form, "instrument")
    else:
        content.pop("instrument", None)
    house.records.append("reading", content, visit=here.id, corrects=kept.entry.id, who=here.prefs.who)
    return go(back)


BASE = "/engines/{engine}/{day}"
ROUTES = [
    Route(BASE, show_visit),
    Route(f"{BASE}/column", acting(keep_column), methods=["POST"]),
    Route(f"{BASE}/notes", acting(keep_note), methods=["POST"]),
    Route(f"{BASE}/events", acting(keep_event), methods=["POST"]),
    Route(f"{BASE}/undo", acting(undo), methods=["POST"]),
    Route(f"{BASE}/log", show_log),
    Route(f"{BASE}/reading/{{key:path}}", show_reading),
    Route(f"{BASE}/reading/{{key:path}}", acting(take_again), methods=["POST"]),
]
