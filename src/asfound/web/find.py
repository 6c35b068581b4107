"""Find by a word: engines, places, readings, results, worksheets, documents, sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.quantities.register import quantities, quantity
from asfound.quantities.worksheets import load
from asfound.sources.register import sources
from asfound.web import words
from asfound.web.pages import Crumb, house_of, page
from asfound.web.readings import place_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import VisitRecord
    from asfound.web.house import House

MOST = 60
Hit = tuple[str, str, str, str]
"""(kind, title, what else, address)."""


def show_find(request: Request) -> Response:
    """Show what bears the word, what belongs to the open visit first."""
    house = house_of(request)
    asked = request.query_params.get("find", "").strip()[:100]
    visit = next((one for one in house.records.visits() if one.id == request.query_params.get("visit")), None)
    wanted = asked.casefold().split()
    known = (*_told(_of_visit(house, visit) if visit and wanted else ()), *(_listed(house) if wanted else ()))
    hits = [hit for text, hit in known if all(part in text for part in wanted)]
    return page(
        request,
        "find.html",
        title="Find",
        crumbs=(Crumb("/", "Engines"), Crumb("/find", "Find")),
        asked=asked,
        hits=hits[:MOST],
        count=len(hits),
        visit=visit,
        visit_base=house.visit_base(visit) if visit else "",
    )


def _told(hits: Iterable[Hit]) -> tuple[tuple[str, Hit], ...]:
    """Return hits with the text in which a word is looked for."""
    return tuple((f"{hit[1]} {hit[2]}".casefold(), hit) for hit in hits)


def _listed(house: House) -> tuple[tuple[str, Hit], ...]:
    """Return all that bears a name in this home, put together again when a visit or an engine came in."""
    records = house.records
    key = ("found", records.visits(), house.engine_list())
    found: tuple[tuple[str, Hit], ...] = records.remembered(key, lambda: _told(_all(house)), slot=("found",))
    return found


def _all(house: House) -> Iterator[Hit]:
    for engine in house.engine_list():
        site = engine.site.name if engine.site else ""
        yield (
            "Engine",
            engine.tag,
            f"{site} {engine.content.get('family', '')} {engine.content.get('works_number', '')}",
            house.engine_base(engine),
        )
    for one in house.records.visits():
        yield "Visit", one.name, str(one.content.get("purpose", "")), house.visit_base(one)
    for sheet in load().values():
        yield (
            "Worksheet",
            sheet.title,
            f"{sheet.room} {' '.join(quantity(name).title for name in sheet.gives)}",
            f"/worksheets/{sheet.name}",
        )
    for slot in house.catalogue.slots.values():
        yield "Place", slot.title, " ".join(one.title for one in slot.variants.values()), f"/catalogue/slots/{slot.id}"
    for document in house.catalogue.documents.values():
        yield "Document", document.id, document.title, "/catalogue#documents"
    for source in sources().values():
        yield "Source", source.title, f"{source.key} {source.publisher}", f"/sources#{source.key}"


def _of_visit(house: House, visit: VisitRecord) -> Iterator[Hit]:
    view, base = house.view(visit.id), house.visit_base(visit)
    if view.identification:
        for place in view.identification.places:
            yield (
                "Place",
                f"{place.number} {place.title}",
                place.title_of_variant,
                f"{base}/fitted?place={place.slot}#panel",
            )
    for name, step in view.steps.items():
        for item in step.items:
            if name != "fitted" and item.quantity in quantities():
                where = place_words(item.place)
                yield (
                    "Reading",
                    quantity(item.quantity).title,
                    f"{where} {item.quantity} {words.STEPS[name][0]}",
                    f"{base}/{name}#v:as_found/{item.place}/{item.quantity}",
                )
    for kept in view.readings.values():
        yield (
            "Reading",
            quantity(kept.quantity).title,
            f"{words.STATES[kept.state]} {place_words(kept.place)} {kept.as_typed}",
            f"{base}/reading/{kept.key}",
        )
    for result in view.worked.results:
        about = quantity(result.quantity)
        yield (
            "Result",
            about.title,
            f"{words.STATES[result.state]} {place_words(result.place)}",
            f"{base}/{about.step}?trail={result.key}@{result.worksheet}#trail",
        )


ROUTES = [Route("/find", show_find)]
