"""The HTTP door for programs: the same functions as the pages, JSON in and out, described at ``/api/openapi.json``."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect
from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.errors import InputError
from asfound.quantities.as_data import finite, result_as_data
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities, quantity
from asfound.quantities.worksheets import find, load
from asfound.sources.prove import prove, rooms_with_checks
from asfound.sources.register import cite, source, sources
from asfound.web.api_bodies import Compute, IdentifyBody, LooksBody, ReadingsBody, body_of
from asfound.web.calculate import calculate, sheet_as_dict
from asfound.web.openapi import document
from asfound.web.pages import house_of, prefs_of
from asfound.web.refusals import problem

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.register import Quantity
    from asfound.records.things import VisitRecord
    from asfound.records.visit import VisitView
    from asfound.web.house import House


def taking(handler: Callable[[Request, Any], Response]) -> Callable[[Request], Awaitable[Response]]:
    """Return the endpoint that reads a JSON body and lets ``handler`` answer, off the event loop."""

    async def endpoint(request: Request) -> Response:
        try:
            raw = await request.body()
        except ClientDisconnect:
            return problem(400, "the request ended before its body")
        try:
            body = json.loads(raw)
        except (ValueError, RecursionError) as fault:
            return problem(400, f"the body is no JSON: {fault}")
        return await run_in_threadpool(handler, request, body)

    endpoint.__name__ = handler.__name__
    return endpoint


def describe(_request: Request) -> Response:
    """Return the description of this door, made from the registers."""
    return JSONResponse(document())


# ---------------------------------------------------------------------- registers


def _quantity(one: Quantity) -> dict[str, Any]:
    return {
        "name": one.name,
        "title": one.title,
        "step": one.step,
        "si_unit": one.si_unit,
        "ucum": one.ucum,
        "si_display": one.si_display,
        "us_display": one.us_display,
        "units": list(one.units),
        "plausible": [finite(end) for end in one.plausible],
        "places": list(one.places),
        "carries": one.carries,
        "help": one.help,
    }


def list_quantities(_request: Request) -> Response:
    """Return the register of quantities."""
    return JSONResponse([_quantity(one) for one in quantities().values()])


def show_quantity(request: Request) -> Response:
    """Return one quantity."""
    return JSONResponse(_quantity(quantity(request.path_params["name"])))


def list_sources(_request: Request) -> Response:
    """Return the register of sources."""
    return JSONResponse([asdict(one) | {"text": one.text} for one in sources().values()])


def show_source(request: Request) -> Response:
    """Return one source."""
    one = source(request.path_params["key"])
    return JSONResponse(asdict(one) | {"text": one.text, "cite": cite(one.key)})


def show_proof(request: Request) -> Response:
    """Recompute every published value, of one room or of all."""
    room = request.query_params.get("room")
    checks = prove([room] if room else None)
    return JSONResponse(
        {
            "rooms": list(rooms_with_checks()),
            "checks": [one.as_dict() for one in checks],
            "missed": sum(not one.holds for one in checks),
        }
    )


# ---------------------------------------------------------------------- worksheets


def list_worksheets(_request: Request) -> Response:
    """Return every registered worksheet."""
    return JSONResponse([sheet_as_dict(one) for one in load().values()])


def show_worksheet(request: Request) -> Response:
    """Return one worksheet."""
    return JSONResponse(sheet_as_dict(find(request.path_params["name"])))


def compute(request: Request, body: Any) -> Response:
    """Work out a worksheet from a JSON body."""
    asked = body_of(Compute, body)
    return _computed(request.path_params["name"], asked)


def compute_query(request: Request) -> Response:
    """Work out a worksheet from ``name=value`` in the address."""
    typed = dict(request.query_params)
    system = typed.pop("system", "si")
    return _computed(request.path_params["name"], body_of(Compute, {"inputs": typed, "system": system}))


def _computed(name: str, asked: Compute) -> Response:
    sheet = find(name)
    known = (
        {one.quantity for one in sheet.takes}
        | {f"{one.quantity}@{one.place}" for one in sheet.takes}
        | {"barometric_pressure"}
    )
    for given in asked.inputs:
        if given not in known:
            raise InputError(given, asked.inputs[given], f"is no input of {name}", allowed=", ".join(sorted(known)))
    done = calculate(sheet, asked.inputs, system=asked.system, draws=asked.draws, seed=asked.seed)
    if done.complaints:
        parts = [one.as_dict() for one in done.complaints.values()]
        return problem(422, " ".join(str(one["says"]) for one in parts), errors=parts)
    if not done.results:
        missing = [quantity(one).title for one in done.missing]
        return problem(422, f"Missing: {', '.join(missing) or 'a result'}.", missing=list(done.missing))
    assert done.worked is not None
    results = [result_as_data(one, done.worked, asked.system) for one in done.results]
    return JSONResponse({"worksheet": name, "draws": asked.draws, "seed": asked.seed, "results": results})


def identify_now(request: Request, body: Any) -> Response:
    """Return what is fitted, from facts and looks that belong to no record."""
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.identify import identify
    from asfound.fitout.looks import SeenLook

    asked = body_of(IdentifyBody, body)
    facts = EngineFacts(**asked.engine.model_dump(exclude_none=True))
    looks = [SeenLook(**one.model_dump()) for one in asked.looks]
    found = identify(house_of(request).catalogue, facts, looks, allowed=asked.allowed)
    return JSONResponse(_plain(found.as_dict()))


# ---------------------------------------------------------------------- engines and visits


def list_engines(request: Request) -> Response:
    """Return the engines."""
    house = house_of(request)
    return JSONResponse(
        [
            {
                "id": one.id,
                "tag": one.tag,
                "site": one.site.name if one.site else None,
                "page": house.engine_base(one),
                **one.content,
            }
            for one in house.engine_list()
        ]
    )


def list_visits(request: Request) -> Response:
    """Return the visits, oldest first."""
    house = house_of(request)
    return JSONResponse([_visit(house, one) for one in house.records.visits()])


def _visit(house: House, one: VisitRecord) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "engine": one.engine,
        "began": one.began,
        "purpose": one.content.get("purpose", ""),
        "sealed": one.sealed.content["digest"] if one.sealed else None,
        "page": house.visit_base(one),
    }


def _view(request: Request) -> tuple[House, VisitView]:
    house = house_of(request)
    _, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    return house, house.view(visit.id)


def show_visit(request: Request) -> Response:
    """Return a visit with what follows from it."""
    house, view = _view(request)
    return JSONResponse(_plain(_visit_answer(house, view)))


def _visit_answer(house: House, view: VisitView) -> dict[str, Any]:
    seen = view.identification
    return {
        **_visit(house, view.visit),
        "engine_state": view.engine_state,
        "readings": [
            {
                "key": one.key,
                "as_typed": one.as_typed,
                "value": one.value,
                "gauge": one.gauge,
                "time": one.time,
                "standard_uncertainty": one.standard_uncertainty,
                "said_by": one.said_by,
                "entry": one.entry.id,
            }
            for one in view.readings.values()
        ],
        "results": [result_as_data(one, view.worked, view.system) for one in view.worked.results],
        "findings": [asdict(one) for one in view.findings],
        "belief": {one.name: one.probability for one in seen.builds} if seen else {},
        "words": seen.words if seen else "",
        "progress": {
            name: {"found": [one.found, one.found_of], "left": [one.left, one.left_of]}
            for name, one in view.steps.items()
        },
        "next": asdict(view.next_thing),
        "problems": list(view.problems),
    }


def show_record(request: Request) -> Response:
    """Return the whole record of a visit by its published schema."""
    from asfound.records.export import visit_record

    house, view = _view(request)
    return JSONResponse(visit_record(house.records, view.id))


def show_identification(request: Request) -> Response:
    """Return what is believed to be fitted at a visit, and why."""
    _, view = _view(request)
    return JSONResponse(_plain(view.identification.as_dict()) if view.identification else None)


def keep_readings(request: Request, body: Any) -> Response:
    """Keep readings, all or none."""
    from asfound.records.store import Draft

    house, view = _view(request)
    drafts = []
    now = house.records.clock.now().isoformat(timespec="seconds")
    for one in body_of(ReadingsBody, body).readings:
        amount = parse_amount(
            one.value, quantity=one.quantity, field=f"{one.state}/{one.place}/{one.quantity}", plus_minus="limit"
        )
        content: dict[str, Any] = {
            "quantity": one.quantity,
            "place": one.place,
            "state": one.state,
            "time": one.time or now,
            "as_typed": one.value,
            "unit": amount.unit,
            "gauge": amount.gauge,
            "censored": amount.censored,
            "missing": amount.missing,
            "reference_oxygen": amount.reference_oxygen,
            "instrument": one.instrument or None,
            "note": one.note,
            "bound" if amount.censored else "value": amount.value,
        }
        if amount.standard_uncertainty is not None:
            content |= {"standard_uncertainty": amount.standard_uncertainty, "distribution": "rectangular"}
        drafts.append(
            Draft(
                kind="reading",
                content={k: v for k, v in content.items() if v is not None},
                visit=view.id,
                who=prefs_of(request).who,
            )
        )
    entries = house.records.append_many(drafts)
    answer = _visit_answer(house, house.view(view.id)) | {"entries": [one.id for one in entries]}
    return JSONResponse(_plain(answer), 201)


def keep_looks(request: Request, body: Any) -> Response:
    """Keep looks, all or none."""
    from asfound.fitout.looks import SeenLook
    from asfound.fitout.observed import check
    from asfound.records.catalogues import book_of
    from asfound.records.store import Draft

    house, view = _view(request)
    book = book_of(house.records, view.engine)
    now = house.records.clock.now().isoformat(timespec="seconds")
    drafts = []
    for one in body_of(LooksBody, body).looks:
        check(book, SeenLook(**one.model_dump(exclude={"state"})))
        content = one.model_dump() | {"time": one.time or now, "by": one.by or prefs_of(request).who}
        drafts.append(Draft(kind="look", content=content, visit=view.id, who=prefs_of(request).who))
    entries = house.records.append_many(drafts)
    answer = _visit_answer(house, house.view(view.id)) | {"entries": [one.id for one in entries]}
    return JSONResponse(_plain(answer), 201)


def _plain(value: Any) -> Any:
    """Return a value that JSON can hold: tuples as lists, numbers without answer as null."""
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return finite(value)
    return value


def nothing_here(request: Request) -> Response:
    """Answer an address of this door that leads nowhere."""
    return problem(404, f"no such address: {request.url.path}. What there is: /api/openapi.json")


AT_VISIT = "/api/visits/{engine}/{day}"
ROUTES = [
    Route("/api/openapi.json", describe),
    Route("/api/quantities", list_quantities),
    Route("/api/quantities/{name}", show_quantity),
    Route("/api/sources", list_sources),
    Route("/api/sources/{key}", show_source),
    Route("/api/prove", show_proof),
    Route("/api/worksheets", list_worksheets),
    Route("/api/worksheets/{name}", show_worksheet),
    Route("/api/worksheets/{name}/result", compute_query),
    Route("/api/worksheets/{name}/result", taking(compute), methods=["POST"]),
    Route("/api/identify", taking(identify_now), methods=["POST"]),
    Route("/api/engines", list_engines),
    Route("/api/visits", list_visits),
    Route(AT_VISIT, show_visit),
    Route(f"{AT_VISIT}/record", show_record),
    Route(f"{AT_VISIT}/identification", show_identification),
    Route(f"{AT_VISIT}/readings", taking(keep_readings), methods=["POST"]),
    Route(f"{AT_VISIT}/looks", taking(keep_looks), methods=["POST"]),
    Route("/api/{rest:path}", nothing_here),
]
