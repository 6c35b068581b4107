"""The HTTP door for gas analyses: how a text is understood and what the gas is; an analysis kept in a visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.errors import InputError
from asfound.fuel.air_in_sample import without_air
from asfound.fuel.gas_data import composition_data, property_data, understood_data
from asfound.fuel.gas_summary import summary
from asfound.fuel.iso6976 import SUM_TOLERANCE, Reference
from asfound.fuel.report_traces import VOLUMES
from asfound.fuel.understood import Understood, understand
from asfound.fuel.visit_gas import of_composition
from asfound.records.gas_analysis import Paper, source_words, take
from asfound.web.api import AT_VISIT, _plain, taking
from asfound.web.api_bodies import body_of
from asfound.web.gas_bodies import GasBody, KeepGasBody, sampled_on
from asfound.web.pages import house_of, prefs_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.fuel.composition import Composition


def understand_gas(_request: Request, body: Any) -> Response:
    """Answer how a text is understood and what the gas is; keeps nothing."""
    asked = body_of(GasBody, body)
    found = _understood(asked)
    gas = _gas(asked, found)
    properties, counted = [], []
    if gas is not None:
        whole = gas if abs(gas.total - 1) <= SUM_TOLERANCE else gas.normalised()
        properties = [property_data(one) for one in summary(whole, Reference.named(asked.reference))]
        counted = list(of_composition(gas).says)
    answer = understood_data(found) | {
        "gas": composition_data(gas) if gas is not None else None,
        "properties": properties,
        "counted": counted,
    }
    return JSONResponse(_plain(answer))


def keep_gas(request: Request, body: Any) -> Response:
    """Keep an analysis in a visit."""
    asked = body_of(KeepGasBody, body)
    house = house_of(request)
    _, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    found = _understood(asked)
    gas = _gas(asked, found)
    if gas is None:
        raise found.complaint or InputError("text", asked.text[:40], "has no component")
    who = prefs_of(request).who
    entries = take(
        house.records,
        house.view(visit.id),
        gas,
        traces=found.traces,
        papers=[Paper(content=asked.text.encode(), filename="gas_analysis.txt")],
        state=asked.state,
        who=who,
        source=source_words(asked.laboratory, asked.report, gas.sampled, who),
        caption=f"Gas analysis, read as {found.basis} shares",
        correct=asked.correct,
    )
    answer = understood_data(found) | {"gas": composition_data(gas), "entries": [one.id for one in entries]}
    return JSONResponse(_plain(answer), 201)


def _understood(asked: GasBody) -> Understood:
    """Return how the text was understood, with what was said."""
    if asked.volume_at and asked.volume_at not in VOLUMES:
        raise InputError("volume_at", asked.volume_at, "is no state of a volume known here", allowed="; ".join(VOLUMES))
    return understand(
        asked.text,
        basis=asked.basis,
        heavier=asked.heavier or None,
        plus_minus=asked.plus_minus,
        decimal=asked.decimal,
        volume_at=asked.volume_at,
        uncertain=asked.uncertain,
        sampled=sampled_on(asked.sampled),
    )


def _gas(asked: GasBody, found: Understood) -> Composition | None:
    """Return the gas without air and scaled, as was asked; None while something stands against it."""
    gas = found.composition
    if gas is None or (found.refused and not asked.leave_refused):
        return None
    if asked.without_air:
        gas, _ = without_air(gas)
    return gas.normalised() if asked.scale else gas


ROUTES = [
    Route("/api/gas", taking(understand_gas), methods=["POST"]),
    Route(f"{AT_VISIT}/gas", taking(keep_gas), methods=["POST"]),
]
