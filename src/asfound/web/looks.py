"""From the form of a place to lines of the record: one look for each thing that was seen there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.records.catalogues import book_of
from asfound.records.store import Draft
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

    from asfound.fitout.catalogue import Catalogue
    from asfound.quantities.words import State
    from asfound.records.entries import Entry
    from asfound.records.visit import VisitView
    from asfound.web.frame import AtVisit
    from asfound.web.house import House

KEPT_AS_IT_WAS = ("time", "by", "photos", "source", "number")


def group_of(view: VisitView, slot: str, state: State, *, since: str = "") -> tuple[Entry, ...]:
    """Return the lines of the newest look at a place in one state: the newest for each thing seen.

    Lines that were written together, or put each other right, are seen in the same way; an older look from farther off
    keeps its own lines and is no part of the newest.
    """
    at_place = [
        one
        for one in view.entries
        if one.kind == "look"
        and one.content["slot"] == slot
        and one.content.get("state", "as_found") == state
        and one.id > since
    ]
    if not at_place:
        return ()
    newest = at_place[-1]
    together = {
        str(one.content.get("character", "")): one
        for one in at_place
        if one.content.get("how") == newest.content.get("how")
        and one.content.get("source", "") == newest.content.get("source", "")
    }
    return tuple(together.values())


def keep_looks(
    request: Request, house: House, here: AtVisit, slot: str, answers: Mapping[str, Any], *, since: str = ""
) -> None:
    """Make the lines of a look what the form says; what is the same is left alone.

    Raises
    ------
    AsFoundError
        The catalogue does not know the place, what was seen, or how it looks; nothing is kept then.
    """
    view, state = here.view, here.prefs.column
    standing = {str(one.content.get("character", "")): one for one in group_of(view, slot, state, since=since)}
    wanted = wanted_looks(slot, answers, here, when=typed_at(request, house))
    _known(book_of(house.records, view.engine), list(wanted.values()))
    drafts = []
    for character, content in wanted.items():
        before = standing.pop(character, None)
        if before is None:
            drafts.append(Draft(kind="look", content=content, visit=view.id, who=here.prefs.who))
            continue
        content |= {name: before.content[name] for name in KEPT_AS_IT_WAS if name in before.content}
        if any(content.get(name) != before.content.get(name) for name in ("answer", "states", "how", "label", "note")):
            drafts.append(Draft(kind="look", content=content, visit=view.id, corrects=before.id, who=here.prefs.who))
    gone = {"why": "not ticked any more"}
    drafts += [
        Draft(kind="withdrawn", content=gone, visit=view.id, corrects=one.id, who=here.prefs.who)
        for one in standing.values()
    ]
    if drafts:
        house.records.append_many(drafts)


def wanted_looks(slot: str, answers: Mapping[str, Any], here: AtVisit, *, when: str) -> dict[str, dict[str, Any]]:
    """Return the content of the looks by what was seen; ``""`` is the place as a whole."""
    common: dict[str, Any] = {
        "slot": slot,
        "how": answers["how"],
        "note": answers["note"],
        "state": here.prefs.column,
        "time": when,
        "by": here.prefs.who,
        "states": [],
        "label": "",
        "character": "",
    }
    answer = answers["answer"]
    ticked = {name: list(states) for name, states in answers["states"].items() if states}
    labels = {name: typed for name, typed in answers["labels"].items() if typed}
    said = {name: [*ticked.get(name, ()), typed] for name, typed in answers["words"].items() if typed}
    if answer in {"not_there", "not_judged"}:
        return {"": {**common, "answer": answer}}
    if not answer and not (ticked or labels or said):
        return {}
    found = {
        name: {**common, "answer": "seen", "character": name, "states": states}
        for name, states in {**ticked, **said}.items()
    }
    for name, typed in labels.items():
        found.setdefault(name, {**common, "answer": "seen", "character": name})["label"] = typed
    return found or {"": {**common, "answer": "seen"}}


def _known(book: Catalogue, contents: list[dict[str, Any]]) -> None:
    """Refuse what identification would not know, before anything is kept."""
    from asfound.fitout.looks import SeenLook
    from asfound.fitout.observed import check

    for one in contents:
        check(
            book,
            SeenLook(
                slot=one["slot"],
                character=one["character"],
                answer=one["answer"],
                states=tuple(one["states"]),
                how=one["how"],
                label=one["label"],
            ),
        )
