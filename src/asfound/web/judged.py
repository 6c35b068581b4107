"""A reading is judged false, or counted again, from any page of a visit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.records.judgement import judge_reading
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit
from asfound.web.pages import back_or, go, house_of

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response


def keep(request: Request, form: FormData) -> Response:
    """Keep the judgement: ``false`` or ``sound`` names the reading by its key."""
    here, house = at_visit(request), house_of(request)
    false, sound = text(form, "false"), text(form, "sound")
    judge_reading(
        house.records,
        here.view,
        false or sound,
        "false" if false else "sound",
        why=text(form, "why"),
        who=here.prefs.who,
    )
    back = request.query_params.get("back", "") or text(form, "back")
    return go(back_or(back, f"{here.base}/crosscheck"))


ROUTES = [Route("/engines/{engine}/{day}/judged", acting(keep), methods=["POST"])]
