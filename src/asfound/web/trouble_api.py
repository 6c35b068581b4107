"""The HTTP door for trouble: what is believed and next; an answer, the end of a case and fault codes kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.records.trouble_codes import read_fault_codes
from asfound.records.trouble_say import close_case, say_step, say_symptom
from asfound.report.content_trouble_data import trouble_data
from asfound.web.api import AT_VISIT, _plain, taking
from asfound.web.api_bodies import body_of
from asfound.web.pages import house_of, prefs_of
from asfound.web.trouble_bodies import AnswerBody, CloseBody, CodesBody

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.visit import VisitView
    from asfound.web.house import House


def _at(request: Request) -> tuple[House, VisitView]:
    house = house_of(request)
    _, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    return house, house.view(visit.id)


def show_trouble_data(request: Request) -> Response:
    """Return the trouble of a visit as JSON."""
    _, view = _at(request)
    return JSONResponse(_plain(trouble_data(view)))


def keep_answer(request: Request, body: Any) -> Response:
    """Keep what is said of a symptom, a test or a repair, and answer what is believed then."""
    asked = body_of(AnswerBody, body)
    house, view = _at(request)
    who = prefs_of(request).who
    if asked.about in view.trouble.knowledge.symptoms:
        say_symptom(
            house.records,
            view,
            asked.about,
            asked.says,
            place=asked.place,
            by=asked.by,
            note=asked.note,
            who=who,
            time=asked.time,
        )
    else:
        say_step(
            house.records,
            view,
            asked.about,
            asked.says,
            place=asked.place,
            minutes=asked.minutes,
            by=asked.by,
            note=asked.note,
            who=who,
            time=asked.time,
        )
    return _answer(request)


def close_now(request: Request, body: Any) -> Response:
    """Close the case."""
    asked = body_of(CloseBody, body)
    house, view = _at(request)
    close_case(
        house.records,
        view,
        asked.cause,
        asked.confirmed,
        part=asked.part,
        note=asked.note,
        who=prefs_of(request).who,
        time=asked.time,
    )
    return _answer(request)


def keep_codes(request: Request, body: Any) -> Response:
    """Keep fault codes, and answer what they say."""
    asked = body_of(CodesBody, body)
    house, view = _at(request)
    who = prefs_of(request).who
    read_fault_codes(house.records, view, asked.text, source=asked.source, note=asked.note, who=who, time=asked.time)
    return _answer(request)


def _answer(request: Request) -> Response:
    _, view = _at(request)
    return JSONResponse(_plain(trouble_data(view)), 201)


ROUTES = [
    Route(f"{AT_VISIT}/trouble", show_trouble_data),
    Route(f"{AT_VISIT}/trouble/answers", taking(keep_answer), methods=["POST"]),
    Route(f"{AT_VISIT}/trouble/close", taking(close_now), methods=["POST"]),
    Route(f"{AT_VISIT}/trouble/codes", taking(keep_codes), methods=["POST"]),
]
