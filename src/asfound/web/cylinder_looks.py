"""What somebody saw, read or heard of a cylinder: the door to the entry `cylinder_look`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.inference_model import ERRORS
from asfound.errors import InputError, UnknownNameError
from asfound.quantities.words import STATES
from asfound.records.store import Draft
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit
from asfound.web.pages import go, house_of
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.entries import Entry
    from asfound.records.visit import VisitView

COULD_NOT, BACK = "could_not_tell", "take_back"
"""Answers beside the states of a witness: looked and could not tell; the answer is taken back."""
HOWS = {"seen": "seen", "read": "read on an instrument or the control", "paper": "from paper", "hearsay": "told"}
LONGEST_NAME, LONGEST_BY = 40, 200


def keep_look(request: Request, form: FormData) -> Response:
    """Keep what a witness says of a cylinder; a second answer puts the first one right."""
    here, house = at_visit(request), house_of(request)
    cylinder, witness, answer = text(form, "cylinder"), text(form, "witness"), text(form, "answer")
    state = text(form, "state_of_visit", "as_found")
    content = look_content(cylinder, witness, answer, state, how=text(form, "how", "seen"), by=text(form, "by"))
    before = standing(here.view, cylinder, witness, state)
    if answer == BACK:
        gone = [
            Draft(
                kind="withdrawn",
                content={"why": "the answer is taken back"},
                visit=here.id,
                corrects=one.id,
                who=here.prefs.who,
            )
            for one in reversed(answers(here.view, cylinder, witness, state))
        ]
        if gone:  # the earlier ones as well: without its correction the first would stand again
            house.records.append_many(gone)
    else:
        content["time"] = typed_at(request, house)
        house.records.append(
            "cylinder_look",
            content,
            visit=here.id,
            corrects=before.id if before else None,
            who=here.prefs.who,
        )
    return go(f"{here.base}/cylinders#verdict")


def look_content(cylinder: str, witness: str, answer: str, state: str, *, how: str, by: str) -> dict[str, Any]:
    """Return the content of a look, without its time.

    Raises
    ------
    UnknownNameError
        The knowledge has no such witness or answer, or nobody can have learnt it so.
    InputError
        No cylinder, or a state that a visit has not.
    """
    known = knowledge().witnesses
    if witness not in known:
        raise UnknownNameError("witness", witness, known)
    if answer not in (*known[witness].states, COULD_NOT, BACK):
        raise UnknownNameError(f"answer of {witness}", answer, (*known[witness].states, COULD_NOT))
    if how not in HOWS or how not in ERRORS:
        raise UnknownNameError("way of observing", how, HOWS)
    if state not in STATES:
        raise UnknownNameError("state of a visit", state, STATES)
    if not cylinder or len(cylinder) > LONGEST_NAME:
        raise InputError("cylinder", cylinder[:LONGEST_NAME], "is no cylinder", try_next="Name it as on the drawing.")
    return {
        "cylinder": cylinder,
        "witness": witness,
        "state": "" if answer in (COULD_NOT, BACK) else answer,
        "could_not_tell": answer == COULD_NOT,
        "how": how,
        "by": by[:LONGEST_BY],
        "state_of_visit": state,
    }


def standing(view: VisitView, cylinder: str, witness: str, state: str) -> Entry | None:
    """Return the answer that stands for a witness of a cylinder in one state."""
    return next((one for one in reversed(view.entries) if _is_of(one, cylinder, witness, state)), None)


def answers(view: VisitView, cylinder: str, witness: str, state: str) -> list[Entry]:
    """Return every answer that was given and not taken back, those that were put right later among them."""
    return [one for one in view.entries_all if _is_of(one, cylinder, witness, state) and one.id not in view.void]


def _is_of(one: Entry, cylinder: str, witness: str, state: str) -> bool:
    return (
        one.kind == "cylinder_look"
        and one.content["cylinder"] == cylinder
        and one.content["witness"] == witness
        and one.content.get("state_of_visit", "as_found") == state
    )


ROUTES = [Route("/engines/{engine}/{day}/cylinders/look", acting(keep_look), methods=["POST"])]
