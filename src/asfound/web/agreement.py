"""Choosing the way to a number: the door to the entry `method_choice`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.register import quantity
from asfound.quantities.worksheets import load
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit
from asfound.web.pages import go, house_of
from asfound.web.readings import typed_at

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response


LONGEST_WHY = 400


def choose_way(request: Request, form: FormData) -> Response:
    """Keep which way to a number is taken; an empty worksheet gives the choice back to the program."""
    here, house = at_visit(request), house_of(request)
    name, sheet, place = text(form, "quantity"), text(form, "worksheet"), text(form, "place")
    checked_way(name, sheet)
    content = {
        "quantity": name,
        "worksheet": sheet,
        "why": text(form, "why")[:LONGEST_WHY],
        "time": typed_at(request, house),
    }
    house.records.append("method_choice", content, visit=here.id, who=here.prefs.who)
    return go(f"{here.base}/{request.path_params['step']}#ways-{place}-{name}")


def checked_way(name: str, sheet: str) -> None:
    """Refuse a way that leads somewhere else.

    Raises
    ------
    UnknownNameError
        No such quantity or worksheet.
    InputError
        The worksheet does not give the quantity.
    """
    quantity(name)
    sheets = load()
    if sheet and sheet not in sheets:
        raise UnknownNameError("worksheet", sheet, [one for one in sheets if name in sheets[one].gives])
    if sheet and name not in sheets[sheet].gives:
        allowed = ", ".join(one for one in sheets if name in sheets[one].gives)
        raise InputError(name, sheet, "does not lead to it", allowed=allowed or "none: it can only be read")


ROUTES = [Route("/engines/{engine}/{day}/{step:str}/way", acting(choose_way), methods=["POST"])]
