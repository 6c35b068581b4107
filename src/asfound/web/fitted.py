"""What is fitted: the engine drawn with its tags, the form of a tapped place, and what follows from all looks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.evidence.model import OTHER
from asfound.fitout.generic import generic_slots, slot_of
from asfound.fitout.looks import HOW_TITLES, SOMETHING_ELSE
from asfound.fitout.words import look_says
from asfound.quantities.days import day_text
from asfound.records.catalogues import book_of, catalogue_of
from asfound.sources.cautions import cautions_for
from asfound.web import words
from asfound.web.forms import acting, text, texts
from asfound.web.frame import at_visit, visit_page
from asfound.web.looks import group_of, keep_looks
from asfound.web.pages import go, house_of, wants_parts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.fitout.catalogue import Character, Slot
    from asfound.fitout.identification import Identification, PlaceBelief
    from asfound.fitout.identify import BuildsOnly
    from asfound.records.entries import Entry
    from asfound.web.frame import AtVisit
    from asfound.web.house import House

BELONGS = {"kit": "came with the kit", "stranger": "belongs to neither", "unknown": "", "host": ""}
ARROWS = {
    "both": ("arrow_both", "both ways"),
    "one_way": ("arrow_one", "one way"),
    "no": ("arrow_none", "does not replace"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """Something that can be seen at a place, as the form asks for it."""

    name: str
    title: str
    kind: str
    """``states``, ``count``, ``label``, ``text``."""
    options: tuple[tuple[str, str, str], ...]
    """(state, title, picture)."""
    ticked: tuple[str, ...]
    typed: str
    free: bool = False
    """Whether own words may stand beside the pictures, and several of them apply at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """The form of one place."""

    slot: str
    number: int | None
    title: str
    where: str
    belief: PlaceBelief | None
    answer: str
    how: str
    note: str
    asks: tuple[Ask, ...]
    entries: tuple[Entry, ...]
    """Lines of the look that the form shows; empty for a new one."""
    looks: tuple[Entry, ...]
    """All looks at this place that stand, newest first."""
    before: tuple[tuple[str, str], ...]
    """What earlier visits saw here, and when, how, by whom."""
    again: bool
    since: str
    photos: tuple[Entry, ...]
    hazards: tuple[Any, ...]
    effect: tuple[BuildsOnly, Identification] | None
    """Belief without this look and with it."""


def show_fitted(request: Request, *, complaint: str = "", typed_place: str = "") -> Response:
    """Show the engine, its places, and what is believed."""
    here, house = at_visit(request), house_of(request)
    seen = here.view.identification
    place = typed_place or request.query_params.get("place", "") or _first_open(seen, closed=here.view.sealed)
    panel = panel_of(house, here, place, again="again" in request.query_params) if place else None
    drawing, tags = _drawing(here, place)
    return visit_page(
        request,
        "fitted.html",
        here,
        step="fitted",
        title=words.STEPS["fitted"][0],
        seen=seen,
        panel=panel,
        drawing=drawing,
        tags=tags,
        complaint=complaint,
        status=422 if complaint else 200,
        how_titles=HOW_TITLES,
        belongs=BELONGS,
        arrows=ARROWS,
        generic=generic_slots(),
        places=_by_number(seen),
        tellers=_tellers(here),
        hangs_on={one.entry: one for one in seen.hangs_on} if seen else {},
    )


def _first_open(seen: Identification | None, *, closed: bool) -> str:
    """Return the place that the form shows when none was tapped: that of the next look, else one that was looked at."""
    if seen is None:
        return ""
    if closed:
        return next((one.slot for one in seen.places if one.looked == "seen" and not one.evidence_only), "")
    following = next((one.slot for one in seen.next_looks if one.allowed), "")
    return following or (seen.places[0].slot if seen.places else "")


def _by_number(seen: Identification | None) -> list[PlaceBelief]:
    return sorted(seen.places, key=lambda one: one.number) if seen else []


def _tellers(here: AtVisit) -> dict[str, Entry]:
    """Return the entries behind looks, so that a weight can say when it was seen."""
    return {one.id: one for one in here.view.entries if one.kind == "look"}


def _drawing(here: AtVisit, chosen: str) -> tuple[Any, tuple[Any, ...]]:
    """Return the drawing and its tags, each leading to its form."""
    from asfound.report.svg import drawing_of

    drawing, tags = drawing_of(here.view)
    linked = tuple(
        replace(tag, href=f"{here.base}/fitted?place={tag.slot}#panel", chosen=tag.slot == chosen) for tag in tags
    )
    return drawing, linked


# ---------------------------------------------------------------------- the form of one place


def panel_of(house: House, here: AtVisit, slot: str, *, again: bool) -> Panel:
    """Return the form of a place, filled with the look that stands there.

    Raises
    ------
    UnknownNameError
        Neither the catalogue nor the generic list has such a place.
    """
    seen = here.view.identification
    belief = next((one for one in seen.places if one.slot == slot), None) if seen else None
    looks = tuple(one for one in reversed(here.view.entries) if one.kind == "look" and one.content["slot"] == slot)
    group = () if again else group_of(here.view, slot, here.prefs.column)
    first = group[0].content if group else {}
    book = book_of(house.records, here.view.engine)
    known = slot_of(book, slot)
    if known is None and belief is None:
        book.slot(slot)  # says what is near
    title = belief.title if belief else known.title if known else slot
    hazards = known.hazards if known else ()
    return Panel(
        slot=slot,
        number=belief.number if belief else None,
        title=title,
        where=belief.place.words if belief else known.where if known else "",
        belief=belief,
        answer=str(first.get("answer", "")),
        how=str(first.get("how", "at_part")),
        note=str(first.get("note", "")),
        asks=_asks(known, group, foreign=bool(belief and belief.variant == OTHER)),
        entries=group,
        looks=looks,
        before=_before(house, here, slot),
        again=again,
        since=here.view.entries_all[-1].id if again and here.view.entries_all else "",
        photos=tuple(one for one in here.view.photos if one.content.get("place") == slot),
        hazards=cautions_for(hazards),
        effect=_effect(house, here, group),
    )


def _before(house: House, here: AtVisit, slot: str) -> tuple[tuple[str, str], ...]:
    """Return what earlier visits saw at a place, in words, and when, how, by whom."""
    seen = [one for one in here.view.looks_before if one.slot == slot]
    if not seen:
        return ()
    catalogue = catalogue_of(house.records, here.view.engine)
    return tuple(
        (look_says(catalogue, one), ", ".join(filter(None, (day_text(one.time), HOW_TITLES[one.how], one.by))))
        for one in seen
    )


def _asks(known: Slot | None, group: tuple[Entry, ...], *, foreign: bool) -> tuple[Ask, ...]:
    """Return what the form asks for: what the book says can be seen of the place.

    Where the catalogue does not know what sits there (``foreign``), the words of the generic list follow.
    """
    if known is None:
        return ()
    by_character = {str(one.content.get("character", "")): one.content for one in group}
    found = [_ask(one, by_character.get(one.id, {}), free=known.free) for one in known.characters.values()]
    if foreign and not known.free and known.id in generic_slots():
        more = generic_slots()[known.id].characters.values()
        found += [_ask(one, by_character.get(one.id, {}), free=True) for one in more if one.id not in known.characters]
    return tuple(found)


def _ask(one: Character, content: Mapping[str, Any], *, free: bool) -> Ask:
    options = tuple((state.id, state.title, state.picture) for state in one.states.values())
    if one.kind == "states" and options and not free:
        options += ((SOMETHING_ELSE, "Something else", "unknown"),)
    kind = one.kind if one.kind != "states" or options else "text"
    states = tuple(content.get("states", ()))
    typed = str(content.get("label", "")) if kind in {"label", "text"} else ""
    if kind == "text" and not typed:
        typed = ", ".join(states)
    own = free and kind == "states"
    if own:
        typed = ", ".join(state for state in states if state not in one.states)
    return Ask(name=one.id, title=one.title, kind=kind, options=options, ticked=states, typed=typed, free=own)


def _effect(house: House, here: AtVisit, group: tuple[Entry, ...]) -> tuple[BuildsOnly, Identification] | None:
    """Return the belief in the builds without the look that the form shows, and the whole belief with it."""
    from asfound.fitout.identify import builds_of

    view = here.view
    if not group or view.identification is None or not view.identification.weighed:
        return None
    ids = {one.id for one in group}
    others = tuple(one for one in (*view.looks_before, *view.looks) if one.entry not in ids)

    def compute() -> BuildsOnly | None:
        try:
            return builds_of(catalogue_of(house.records, view.engine), view.facts, others)
        except AsFoundError:
            return None

    key = ("effect", view.id, *house.records.revision(view.engine.id), tuple(sorted(ids)))
    without: BuildsOnly | None = house.records.remembered(key, compute)
    return (without, view.identification) if without else None


# ---------------------------------------------------------------------- keeping


def keep_look(request: Request, form: FormData) -> Response:
    """Keep what was seen at a place, as the form stands now."""
    here, house = at_visit(request), house_of(request)
    slot = text(form, "slot")
    answers = {
        "answer": text(form, "answer"),
        "how": text(form, "how", "at_part"),
        "note": text(form, "note"),
        "states": {name.removeprefix("s:"): texts(form, name) for name in form if name.startswith("s:")},
        "labels": {name.removeprefix("l:"): text(form, name) for name in form if name.startswith("l:")},
        "words": {name.removeprefix("w:"): text(form, name) for name in form if name.startswith("w:")},
    }
    try:
        keep_looks(request, house, here, slot, answers, since=text(form, "since"))
    except AsFoundError as refused:
        return show_fitted(request, complaint=str(refused), typed_place=slot)
    if wants_parts(request):
        with house.records.steady():
            return show_fitted(request, typed_place=slot)
    return go(f"{here.base}/fitted?place={slot}#panel")


def draft(request: Request) -> Response:
    """Return a first catalogue entry, drafted from what was seen at this visit."""
    from asfound.fitout.draft import draft_entry

    here, house = at_visit(request), house_of(request)
    view = here.view
    if view.identification is None:
        raise HTTPException(404)
    drafted = draft_entry(
        view.identification,
        (*view.looks_before, *view.looks),
        view.facts,
        catalogue=catalogue_of(house.records, view.engine),
    )
    return PlainTextResponse(drafted, headers={"content-disposition": 'attachment; filename="draft.yaml"'})


BASE = "/engines/{engine}/{day}/fitted"
ROUTES = [
    Route(f"{BASE}/draft.yaml", draft),
    Route(BASE, show_fitted),
    Route(BASE, acting(keep_look), methods=["POST"]),
]
