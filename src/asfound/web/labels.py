"""The label on a photo, read by the program where it can; a person says which text counts, and it becomes a look."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.fitout.generic import slot_of
from asfound.fitout.looks import SeenLook
from asfound.fitout.observed import check
from asfound.records.catalogues import book_of
from asfound.records.labels_read import LabelText, can_read, read_labels
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import go, house_of
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.entries import Entry
    from asfound.web.frame import AtVisit
    from asfound.web.house import House

READER = "label reader"
"""Source of such looks: however many texts of one photo are kept, they are one witness."""


def _photo(here: AtVisit, digest: str) -> Entry:
    found = next((one for one in here.view.photos if one.content["digest"] == digest), None)
    if found is None:
        raise HTTPException(404)
    return found


def _character(house: House, here: AtVisit, slot: str) -> str:
    """Return what a label is called at a place; empty where the book asks for none there."""
    known = slot_of(book_of(house.records, here.view.engine), slot)
    return next((one.id for one in known.characters.values() if one.kind == "label"), "") if known else ""


def show_label(
    request: Request, *, found: tuple[LabelText, ...] | None = None, complaint: str = "", status: int = 200
) -> Response:
    """Show a photo and what was read on it."""
    here, house = at_visit(request), house_of(request)
    photo = _photo(here, request.path_params["digest"])
    slot = str(photo.content.get("place", ""))
    known = slot_of(book_of(house.records, here.view.engine), slot) if slot else None
    return visit_page(
        request,
        "label.html",
        here,
        step="fitted",
        title="Label on a photo",
        status=status,
        photo=photo,
        slot=slot,
        slot_title=known.title if known else slot.replace("_", " "),
        takes_label=bool(slot and _character(house, here, slot)),
        can_read=can_read(),
        found=found,
        complaint=complaint,
    )


def read_label(request: Request, _form: FormData) -> Response:
    """Read the photo, and show what came of it; nothing is kept yet."""
    here, house = at_visit(request), house_of(request)
    photo = _photo(here, request.path_params["digest"])
    try:
        found = read_labels(house.records.attachment(photo.content["digest"]))
    except AsFoundError as refused:
        return show_label(request, complaint=str(refused), status=422)
    return show_label(request, found=found)


def keep_label(request: Request, form: FormData) -> Response:
    """Keep a text that a person compared with the photo, as a look in a photo."""
    here, house = at_visit(request), house_of(request)
    photo = _photo(here, request.path_params["digest"])
    slot, said = str(photo.content.get("place", "")), text(form, "label")[:80]
    look = SeenLook(slot=slot, character=_character(house, here, slot), how="photo", label=said)
    try:
        check(book_of(house.records, here.view.engine), look)
    except AsFoundError as refused:
        return show_label(request, complaint=str(refused), status=422)
    if not said or not look.character:
        return show_label(request, complaint="This place has no label in the catalogue.", status=422)
    note = f"{READER}, score {text(form, 'score')}" if text(form, "score") else ""
    content = {
        "slot": slot, "character": look.character, "answer": "seen", "how": "photo", "label": said,
        "by": here.prefs.who, "source": READER if note else "", "note": note, "time": typed_at(request, house),
        "state": photo.content.get("state") or here.prefs.column, "photos": [photo.content["digest"]],
    }  # fmt: skip
    house.records.append("look", content, visit=here.id, who=here.prefs.who)
    return go(f"{here.base}/fitted?place={slot}#panel")


BASE = "/engines/{engine}/{day}/photos/{digest}/label"
ROUTES = [
    Route(BASE, show_label),
    Route(BASE, acting(read_label), methods=["POST"]),
    Route(f"{BASE}/keep", acting(keep_label), methods=["POST"]),
]
