"""The description of the HTTP door (OpenAPI 3.1), made from the registers, so a new worksheet is in it at once."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from asfound import __version__
from asfound.quantities.register import quantities, quantity
from asfound.quantities.worksheets import load
from asfound.report.readers import NAMES
from asfound.sources.register import cite, sources
from asfound.web.api_bodies import Body, Compute, IdentifyBody, LooksBody, ReadingsBody
from asfound.web.calculate import field_name
from asfound.web.due_bodies import UpkeepBody
from asfound.web.gas_bodies import GasBody, KeepGasBody
from asfound.web.trouble_bodies import AnswerBody, CloseBody, CodesBody

if TYPE_CHECKING:
    from asfound.quantities.worksheets import Take, Worksheet

BODIES: dict[str, type[Body]] = {
    "Answer": AnswerBody,
    "CloseCase": CloseBody,
    "Compute": Compute,
    "FaultCodes": CodesBody,
    "Gas": GasBody,
    "Identify": IdentifyBody,
    "KeepGas": KeepGasBody,
    "Looks": LooksBody,
    "Readings": ReadingsBody,
    "Upkeep": UpkeepBody,
}
WHAT_IF = ("timing", "mixture", "charge", "air", "humidity", "power", "gas", "methane", "map", "back", "to")
"""What a question of what-if can name, in the address."""
STATE_ASKED = {
    "name": "state",
    "in": "query",
    "description": "Readings as found or as left.",
    "schema": {"type": "string", "enum": ["as_found", "as_left"], "default": "as_found"},
}
FORM_ASKED = {
    "name": "form",
    "in": "query",
    "description": "Form of the document; not every reader has a table or a calendar.",
    "schema": {"type": "string", "enum": ["json", "pdf", "text", "csv", "calendar"], "default": "json"},
}
DAY_ASKED = {
    "name": "day",
    "in": "query",
    "description": "As seen at the end of this day.",
    "schema": {"type": "string", "format": "date"},
}


def _asked(name: str, says: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "in": "query", "description": says, "schema": schema}


VIEW_ASKED = (
    _asked("channel", "Channel: quantity@place; several may be given.", {"type": "array", "items": {"type": "string"}}),
    _asked("from", "Date, moment, or seconds since 1970.", {"type": "string"}),
    _asked("to", "Date (its end), moment, or seconds since 1970.", {"type": "string"}),
    _asked("span", "Stretch in place of from.", {"type": "string", "enum": ["all", "year", "month", "week", "day"]}),
    _asked("width", "Columns.", {"type": "integer", "minimum": 1, "maximum": 4000, "default": 900}),
    DAY_ASKED,
)
PROBLEM = {
    "type": "object",
    "description": "What was refused and why (RFC 9457).",
    "required": ["title", "status", "detail"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
    },
}
NUMBER = {"type": ["number", "null"]}
RESULT = {
    "type": "object",
    "required": [
        "key",
        "quantity",
        "value",
        "unit",
        "interval",
        "standard_uncertainty",
        "worksheet",
        "method",
        "source",
    ],
    "properties": {
        "key": {"type": "string"},
        "quantity": {"type": "string"},
        "title": {"type": "string"},
        "state": {"type": "string"},
        "place": {"type": "string"},
        "value": NUMBER | {"description": "In `unit`, SI."},
        "unit": {"type": "string"},
        "interval": {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2, "description": "95 % coverage."},
        "standard_uncertainty": NUMBER,
        "worksheet": {"type": "string"},
        "method": {"type": "string"},
        "source": {"type": "string"},
        "shown": {"type": "object"},
        "cautions": {"type": "array", "items": {"type": "string"}},
        "outside": {"type": "array", "items": {"type": "string"}},
        "assumed": {"type": "array", "items": {"type": "string"}},
        "shares": {"type": "object", "additionalProperties": NUMBER},
    },
}


def document() -> dict[str, Any]:
    """Return the whole description, of the worksheets that are registered now."""
    return _document(tuple(load()))


@cache
def _document(_worksheets_now: tuple[str, ...]) -> dict[str, Any]:
    """Return the description; made once for one list of worksheets."""
    schemas = {"Problem": PROBLEM, "Result": RESULT, "Computed": _computed(), **_bodies()}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "asfound",
            "version": __version__,
            "description": "The record of service visits on this machine. Values go in as people write them, with "
            "their unit; they come out in SI, with interval, method and source.",
        },
        "servers": [{"url": "/"}],
        "paths": {**_registers(), **_worksheets(), **_visits()},
        "components": {"schemas": schemas},
    }


def _bodies() -> dict[str, Any]:
    """Return the schemas of what is taken, the inner ones beside them."""
    found: dict[str, Any] = {}
    for name, model in BODIES.items():
        schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
        found |= schema.pop("$defs", {})
        found[name] = schema
    return found


def _computed() -> dict[str, Any]:
    return {
        "type": "object",
        "required": ["worksheet", "results"],
        "properties": {
            "worksheet": {"type": "string"},
            "draws": {"type": "integer"},
            "seed": {"type": "integer"},
            "results": {"type": "array", "items": {"$ref": "#/components/schemas/Result"}},
        },
    }


def _answers(schema: dict[str, Any], *, status: str = "200", refusals: tuple[str, ...] = ()) -> dict[str, Any]:
    said = {
        "400": "It cannot be read.",
        "404": "Nothing bears that name.",
        "409": "The record refuses.",
        "413": "Too large.",
        "422": "A value cannot be.",
    }
    refused = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    answers: dict[str, Any] = {
        status: {"description": "The answer.", "content": {"application/json": {"schema": schema}}}
    }
    for code in sorted({"400", *refusals}):  # any address may be one that cannot be read
        answers[code] = {"description": said[code], "content": refused}
    return answers


def _get(
    name: str,
    summary: str,
    schema: dict[str, Any],
    *,
    parameters: list[Any] | None = None,
    refusals: tuple[str, ...] = (),
) -> dict[str, Any]:
    found: dict[str, Any] = {"operationId": name, "summary": summary, "responses": _answers(schema, refusals=refusals)}
    if parameters:
        found["parameters"] = parameters
    return {"get": found}


def _post(
    name: str, summary: str, body: dict[str, Any], schema: dict[str, Any], *, status: str, refusals: tuple[str, ...]
) -> dict[str, Any]:
    return {
        "operationId": name,
        "summary": summary,
        "requestBody": {"required": True, "content": {"application/json": {"schema": body}}},
        "responses": _answers(schema, status=status, refusals=refusals),
    }


def _in_path(name: str, says: str, choices: list[str] | None = None) -> dict[str, Any]:
    schema: dict[str, Any] = {"type": "string", "minLength": 1}
    if choices:
        schema["enum"] = choices
    return {"name": name, "in": "path", "required": True, "description": says, "schema": schema}


LIST = {"type": "array", "items": {"type": "object"}}
OBJECT = {"type": "object"}


def _registers() -> dict[str, Any]:
    return {
        "/api/quantities": _get("quantities", "The register of quantities", LIST),
        "/api/quantities/{name}": _get(
            "quantity",
            "One quantity",
            OBJECT,
            parameters=[_in_path("name", "Its name", list(quantities()))],
            refusals=("404",),
        ),
        "/api/sources": _get("sources", "The register of published sources", LIST),
        "/api/sources/{key}": _get(
            "source", "One source", OBJECT, parameters=[_in_path("key", "Its key", list(sources()))], refusals=("404",)
        ),
        "/api/prove": _get(
            "prove",
            "Every published value, computed again here",
            OBJECT,
            refusals=("404",),
            parameters=[
                {
                    "name": "room",
                    "in": "query",
                    "required": False,
                    "schema": {"type": "string"},
                    "description": "One room only",
                }
            ],
        ),
        "/api/worksheets": _get("worksheets", "Every registered worksheet", LIST),
    }


def _worksheets() -> dict[str, Any]:
    """Return the paths of all worksheets, each with its own inputs."""
    paths: dict[str, Any] = {}
    computed = {"$ref": "#/components/schemas/Computed"}
    refusals = ("400", "404", "413", "422")
    for sheet in load().values():
        paths[f"/api/worksheets/{sheet.name}"] = _get(f"{sheet.name}_describe", f"About: {sheet.title}", OBJECT)
        asked = _get(
            f"{sheet.name}_query", sheet.title, computed, parameters=_parameters(sheet), refusals=("404", "422")
        )
        asked["get"]["description"] = (
            f"{sheet.help} {sheet.method.name}; {cite(sheet.method.source, sheet.method.clause)}."
        )
        asked["post"] = _post(
            sheet.name, sheet.title, {"$ref": "#/components/schemas/Compute"}, computed, status="200", refusals=refusals
        )
        paths[f"/api/worksheets/{sheet.name}/result"] = asked
    return paths


def _parameters(sheet: Worksheet) -> list[dict[str, Any]]:
    return [
        {
            "name": field_name(take),
            "in": "query",
            "required": not take.optional and take.assume is None,
            "description": _says(take),
            "schema": {"type": "string", "maxLength": 200},
            "example": f"1 {quantity(take.quantity).si_display}".strip(),
        }
        for take in sheet.takes
    ]


def _says(take: Take) -> str:
    about = quantity(take.quantity)
    said = f"{about.title}; units {', '.join(about.units[:8])}."
    if take.each:
        said += f" Of each {take.place.partition('_')[0]}, with a semicolon between."
    if take.assume:
        said += f" Empty: {take.assume.says} is assumed."
    return said


def _visits() -> dict[str, Any]:
    at = [_in_path("engine", "Tag of the engine, or its identifier"), _in_path("day", "Day of the visit: 2032-07-08")]
    base = "/api/visits/{engine}/{day}"
    body = "#/components/schemas/"
    refusals = ("400", "404", "409", "413", "422")
    identification = {"type": ["object", "null"]}

    def keeping(name: str, summary: str, schema: str) -> dict[str, Any]:
        post = _post(name, summary, {"$ref": body + schema}, OBJECT, status="201", refusals=refusals)
        return {"post": post | {"parameters": at}}

    return {
        "/api/engines": _get("engines", "The engines of this home", LIST),
        "/api/due": _get("due_of_all", "What is due on every engine", LIST),
        "/api/engines/{engine}/due": _get(
            "due",
            "What is due on an engine: hours, tasks, stops, oil",
            OBJECT,
            parameters=at[:1],
            refusals=("404", "409"),
        ),
        "/api/engines/{engine}/upgrade": _get(
            "upgrade",
            "The upgrade study of an engine: targets, the way, what follows, what it is worth",
            OBJECT,
            parameters=at[:1],
            refusals=("404", "409"),
        ),
        "/api/fleet": _get("fleet", "The engines by how much their logs ask for a hand, one reading each", LIST),
        "/api/engines/{engine}/history": _get(
            "history",
            "What the log of an engine says: changes, forecasts, events, hours, sensors",
            OBJECT,
            parameters=[*at[:1], DAY_ASKED],
            refusals=("404", "409", "422"),
        ),
        "/api/engines/{engine}/history/view": _get(
            "history_view",
            "Columns of a plot between two times, with lowest, highest and mean, from stored buckets; SI",
            OBJECT,
            parameters=[*at[:1], *VIEW_ASKED],
            refusals=("404", "409", "422"),
        ),
        "/api/engines/{engine}/upkeep": {
            "post": _post(
                "keep_upkeep",
                "Keep work done, a meter exchanged, an oil sample, an order, a failure, another interval",
                {"$ref": body + "Upkeep"},
                OBJECT,
                status="201",
                refusals=refusals,
            )
            | {"parameters": at[:1]}
        },
        "/api/visits": _get("visits", "The visits, oldest first", LIST),
        base: _get("visit", "A visit with what follows from it", OBJECT, parameters=at, refusals=("404", "409")),
        f"{base}/record": _get(
            "record", "The record by its published schema", OBJECT, parameters=at, refusals=("404", "409")
        ),
        f"{base}/identification": _get(
            "identification", "What is fitted, and why", identification, parameters=at, refusals=("404", "409")
        ),
        f"{base}/crosscheck": _get(
            "crosscheck",
            "Which readings agree, and which one lies",
            OBJECT,
            parameters=[*at, STATE_ASKED],
            refusals=("404", "409", "422"),
        ),
        f"{base}/what-if": _get(
            "what_if",
            "What a change of the setting would do, by the model fitted to the visit; with map and back/to on request",
            OBJECT,
            parameters=[
                *at,
                STATE_ASKED,
                *({"name": name, "in": "query", "required": False, "schema": {"type": "string"}} for name in WHAT_IF),
            ],
            refusals=("404", "409", "422"),
        ),
        f"{base}/readers": _get(
            "readers",
            "The readers of a visit: what each document is, its forms, what the record does not hold for it",
            LIST,
            parameters=at,
            refusals=("404", "409"),
        ),
        f"{base}/readers/{{reader}}": _get(
            "reader_document",
            "The document of a reader as data, or as a file by form",
            OBJECT,
            parameters=[*at, _in_path("reader", "A reader", list(NAMES)), FORM_ASKED],
            refusals=("404", "409", "422"),
        ),
        f"{base}/trouble": _get(
            "trouble",
            "What is told, what is believed to be wrong, and what is next",
            OBJECT,
            parameters=at,
            refusals=("404", "409"),
        ),
        f"{base}/trouble/answers": keeping("say_trouble", "Keep an answer about a symptom, test or repair", "Answer"),
        f"{base}/trouble/close": keeping("close_trouble", "Close the case with its cause", "CloseCase"),
        f"{base}/trouble/codes": keeping("keep_fault_codes", "Keep fault codes of the data bus", "FaultCodes"),
        f"{base}/readings": keeping("keep_readings", "Keep readings, all or none", "Readings"),
        f"{base}/looks": keeping("keep_looks", "Keep looks, all or none", "Looks"),
        f"{base}/gas": keeping("keep_gas", "Keep a gas analysis, all of it or nothing", "KeepGas"),
        "/api/gas": {
            "post": _post(
                "understand_gas",
                "How the text of a gas analysis is understood, and what the gas is",
                {"$ref": body + "Gas"},
                OBJECT,
                status="200",
                refusals=("400", "404", "413", "422"),
            )
        },
        "/api/identify": {
            "post": _post(
                "identify",
                "What is fitted, from facts and looks of no record",
                {"$ref": body + "Identify"},
                OBJECT,
                status="200",
                refusals=("400", "413", "422"),
            )
        },
    }
