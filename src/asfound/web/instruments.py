"""Instruments: what readings were taken with, what they claim, when they are due for calibration."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.quantities.instruments import classes, instrument_class
from asfound.quantities.parse import parse_number
from asfound.quantities.register import quantities, quantity
from asfound.records.kinds_home import Specification
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import Thing

FIELDS = ("name", "serial", "kind", "calibrated", "interval_months", "source", "note")
DAYS_OF_A_MONTH = 30.44


def show_instruments(
    request: Request, *, complaints: Mapping[str, str] | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """Show the instruments of this home, and the usual claims of each kind."""
    house = house_of(request)
    today = house.records.clock.now().date()
    known = [
        (one, _claims(one.content.get("specs", {})), _due(one, today)) for one in house.records.instruments().values()
    ]
    kinds = [
        (name, one, _claims({q: asdict(spec) for q, spec in one.specs.items()})) for name, one in classes().items()
    ]
    return page(
        request,
        "instruments.html",
        title="Instruments",
        crumbs=(Crumb("/", "Engines"), Crumb("/instruments", "Instruments")),
        known=known,
        kinds=kinds,
        complaints=complaints or {},
        typed=typed or {},
        status=422 if complaints else 200,
    )


def _claims(specs: Mapping[str, Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return (quantities, claim in words), quantities with the same claim together."""
    together: dict[str, list[str]] = {}
    for name, spec in specs.items():
        if name in quantities():
            together.setdefault(_claim(name, spec), []).append(quantity(name).title)
    return [(", ".join(titles), claim) for claim, titles in together.items()]


def _claim(name: str, spec: Mapping[str, Any]) -> str:
    """Return a claim in words, in the display unit of its quantity."""
    about = quantity(name)
    unit = about.display()
    step = about.to_unit(1.0, unit) - about.to_unit(0.0, unit)  # a difference: an offset of the scale must not count
    shown = "" if unit == "1" else f" {unit}"
    parts = []
    if spec.get("percent_of_reading"):
        parts.append(f"{spec['percent_of_reading']:g} % of reading")
    if spec.get("absolute"):
        parts.append(f"{spec['absolute'] * step:.3g}{shown}")
    joined = (" or " if spec.get("combine") == "larger" else " + ").join(parts)
    if spec.get("resolution"):
        joined += f"{', ' if joined else ''}step {spec['resolution'] * step:.3g}{shown}"
    if spec.get("drift_per_year"):
        joined += f", drift {spec['drift_per_year'] * step:.3g}{shown} a year"
    return joined or "nothing"


def _due(one: Thing, today: date) -> tuple[str, bool]:
    """Return until when the calibration holds, and whether that is past."""
    calibrated, months = one.content.get("calibrated"), one.content.get("interval_months")
    if not calibrated or not months:
        return "", False
    until = date.fromordinal(date.fromisoformat(str(calibrated)).toordinal() + round(float(months) * DAYS_OF_A_MONTH))
    return until.isoformat(), until < today


def keep_instrument(request: Request, form: FormData) -> Response:
    """Keep an instrument, with the usual claims of its kind."""
    house = house_of(request)
    typed = {name: text(form, name) for name in FIELDS}
    content: dict[str, Any] = {
        name: typed[name] for name in ("name", "serial", "calibrated", "source", "note") if typed[name]
    }
    try:
        if not typed["name"]:
            raise InputError("name", "", "is missing", try_next="Say what it is called.")
        if typed["interval_months"]:
            content["interval_months"] = parse_number(typed["interval_months"]).value
        if typed["kind"]:
            specs = instrument_class(typed["kind"]).specs
            known = set(Specification.model_fields)
            content["specs"] = {
                name: {field: value for field, value in asdict(spec).items() if field in known}
                for name, spec in specs.items()
            }
            content.setdefault("source", f"usual for {instrument_class(typed['kind']).name}")
        house.records.append("instrument", content, who=prefs_of(request).who)
    except AsFoundError as refused:
        field = refused.field.rsplit(".", 1)[-1] if isinstance(refused, InputError) else "name"
        return show_instruments(request, complaints={field: str(refused)}, typed=typed)
    return go("/instruments")


ROUTES = [
    Route("/instruments", show_instruments),
    Route("/instruments", acting(keep_instrument), methods=["POST"]),
]
