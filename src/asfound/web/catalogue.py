"""What can be fitted: families, generations, places with what can sit there and what it looks like, papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.fitout.check import check_catalogue
from asfound.sources.cautions import cautions_for
from asfound.sources.register import sources
from asfound.web.pages import Crumb, house_of, page

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

CRUMBS = (Crumb("/", "Engines"), Crumb("/catalogue", "What can be fitted"))


def show_catalogue(request: Request) -> Response:
    """Show the catalogue's shelves and the outcome of its check."""
    catalogue = house_of(request).catalogue
    groups: dict[str, list[Any]] = {}
    for slot in catalogue.slots.values():
        groups.setdefault(slot.group, []).append(slot)
    return page(
        request,
        "catalogue.html",
        title="What can be fitted",
        crumbs=CRUMBS,
        catalogue=catalogue,
        groups=groups,
        remarks=check_catalogue(catalogue),
        source=_source_words,
    )


def _source_words(key: str) -> str:
    """Return a source in words; a company's own catalogue may name one that is not in the register."""
    return sources()[key].text if key in sources() else key


def show_slot(request: Request) -> Response:
    """Show one place: what can sit there, and what each looks like."""
    catalogue = house_of(request).catalogue
    slot = catalogue.slot(request.path_params["slot"])
    return page(
        request,
        "catalogue_slot.html",
        title=slot.title,
        crumbs=(*CRUMBS, Crumb(f"/catalogue/slots/{slot.id}", slot.title)),
        catalogue=catalogue,
        slot=slot,
        cautions=cautions_for(slot.hazards),
    )


def show_family(request: Request) -> Response:
    """Show one family of engines."""
    catalogue = house_of(request).catalogue
    family = catalogue.family(request.path_params["family"])
    built = [one for one in catalogue.generations.values() if family.id in one.families]
    return page(
        request,
        "catalogue_family.html",
        title=family.title,
        crumbs=(*CRUMBS, Crumb(f"/catalogue/families/{family.id}", family.title)),
        catalogue=catalogue,
        family=family,
        built=built,
        slots=catalogue.slots_of(family.id),
        drawing=_drawing(family),
    )


def _drawing(family: Any) -> Any:
    from asfound.report.svg import drawing_of_engine

    return drawing_of_engine({"family": family.id})


ROUTES = [
    Route("/catalogue", show_catalogue),
    Route("/catalogue/slots/{slot}", show_slot),
    Route("/catalogue/families/{family}", show_family),
]
