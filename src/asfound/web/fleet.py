"""All engines, one reading each, those first that want a hand by what their logs say. Page and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.report.content_fleet import fleet_cards, shown
from asfound.web.pages import Crumb, house_of, page, prefs_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.report.content_fleet import Shown
    from asfound.web.house import House

A_PAGE = 24


def show_fleet(request: Request) -> Response:
    """Show one page of the fleet."""
    house, prefs = house_of(request), prefs_of(request)
    rows = fleet_cards(house.records)
    find = request.query_params.get("find", "").strip().casefold()
    if find:
        rows = [row for row in rows if find in row[0].tag.casefold() or find in _site(row[0]).casefold()]
    pages = max(-(-len(rows) // A_PAGE), 1)
    typed = request.query_params.get("page", "1")
    at = min(max(int(typed), 1), pages) if typed.isdigit() and len(typed) < 7 else 1
    here = rows[(at - 1) * A_PAGE : at * A_PAGE]
    return page(
        request,
        "fleet.html",
        title="All engines, one reading each",
        crumbs=(Crumb("/", "Engines"), Crumb("/fleet", "All engines")),
        rows=[(shown(*row, prefs.system(row[0].units)), house.engine_base(row[0])) for row in here],
        count=len(rows),
        with_log=sum(row[2] != "none" for row in rows),
        at=at,
        pages=pages,
        find=request.query_params.get("find", ""),
        link_of=_link,
    )


def _site(engine: Any) -> str:
    return engine.site.name if engine.site else ""


def _link(one: Shown, base: str) -> str:
    """Return the address of the reading that is shown, on the page of its engine."""
    if one.card is None or not one.card.channel:
        return f"{base}/history"
    name = f"~{one.card.key}" if one.card.own else one.card.channel
    return f"{base}/history?row={quote(name)}"


def show_data(request: Request) -> Response:
    """Return the fleet in the order in which a hand is wanted."""
    house: House = house_of(request)
    return JSONResponse(
        [
            {
                "engine": one.id,
                "tag": one.tag,
                "site": _site(one) or None,
                "state": state,
                "score": card.score if card else None,
                "says": card.says if card else "",
                "reading": card.title if card else "",
                "channel": card.channel if card else "",
                "now": card.now if card else None,
                "limit": card.limit if card else None,
                "page": f"{house.engine_base(one)}/history",
            }
            for one, card, state in fleet_cards(house.records)
        ]
    )


ROUTES = [Route("/fleet", show_fleet), Route("/api/fleet", show_data)]
