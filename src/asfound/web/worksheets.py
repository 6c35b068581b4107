"""The shelf of worksheets, and one page that is the calculator of each: a new one appears here by being registered."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AmbiguousError
from asfound.quantities.register import quantity
from asfound.quantities.worksheets import find, load
from asfound.sources.cautions import DEFER, cautions_for
from asfound.sources.register import cite
from asfound.web import words
from asfound.web.calculate import BAROMETER, calculate, field_name
from asfound.web.pages import Crumb, page, prefs_of
from asfound.web.results import Side, scale_of, shown
from asfound.web.trail import trail_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.worksheets import Worksheet
    from asfound.web import words
from asfound.web.calculate import Calculated

FEW_SHARES = 3
"""Up to so many shares of a gas are named one by one on the shelf."""
CRUMBS = (Crumb("/", "Engines"), Crumb("/worksheets", "Worksheets"))


def show_worksheets(request: Request) -> Response:
    """Show every registered worksheet, by room."""
    rooms = [(room, list(ones)) for room, ones in groupby(load().values(), key=lambda sheet: sheet.room)]
    return page(
        request, "worksheets.html", title="Worksheets", crumbs=CRUMBS, rooms=rooms, taken_by=taken_by, count=len(load())
    )


def taken_by(sheet: Worksheet) -> list[str]:
    """Return the titles of what a worksheet takes; the shares of a gas analysis are said once, as its composition."""
    titles: dict[str, None] = {}
    shares = [take.quantity for take in sheet.takes if quantity(take.quantity).title.endswith(" in the gas")]
    for take in sheet.takes:
        whole = len(shares) > FEW_SHARES and take.quantity in shares
        titles["Composition of the gas" if whole else quantity(take.quantity).title] = None
    return list(titles)


def show_worksheet(request: Request) -> Response:
    """Show one worksheet as a calculator: what is typed stands in the address, so that a result can be linked."""
    sheet = find(request.path_params["name"])
    prefs = prefs_of(request)
    system = prefs.system("si")
    typed = {name: value[:200] for name, value in request.query_params.items() if not name.startswith("u:")}
    units = {name.removeprefix("u:"): value for name, value in request.query_params.items() if name.startswith("u:")}
    done = (
        calculate(sheet, typed, system=system, decimal=prefs.decimal_sign, units=units) if any(typed.values()) else None
    )
    return page(
        request,
        "worksheet.html",
        title=sheet.title,
        crumbs=(*CRUMBS, Crumb(f"/worksheets/{sheet.name}", sheet.title)),
        sheet=sheet,
        fields=_fields(sheet, typed, units, system, done),
        done=done,
        cards=_cards(done, system) if done else [],
        says=words.sentence(sheet.help.removeprefix("Return ").split(" [")[0]),
        cite=cite,
        cautions=cautions_for(sheet.cautions),
        defers=DEFER,
        quantity=quantity,
        barometer=typed.get(BAROMETER, ""),
        needs_barometer=any(quantity(one.quantity).gauge_possible for one in sheet.takes),
        status=422 if done and done.complaints else 200,
    )


def _fields(
    sheet: Worksheet, typed: dict[str, str], units: dict[str, str], system: str, done: Calculated | None
) -> list[dict[str, Any]]:
    """Return the fields of the form, with what was typed and what is wrong with it."""
    found = []
    for take in sheet.takes:
        about, name = quantity(take.quantity), field_name(take)
        refused = done.complaints.get(name) or done.complaints.get(take.quantity) if done else None
        default = about.display(system)
        hint = ""
        if take.assume:
            hint = f"empty: {take.assume.says} is assumed"
        elif take.optional:
            hint = "may stay empty"
        if take.each:
            hint = f"of each {take.place.partition('_')[0]}, with a semicolon between" + (f"; {hint}" if hint else "")
        found.append(
            {
                "name": name,
                "about": about,
                "value": typed.get(name, ""),
                "unit": units.get(name, default),
                "hint": hint,
                "place": "" if take.place == "same" or take.each else take.place.replace("_", " "),
                "refused": str(refused).replace(f"{refused.field}: ", "", 1) if refused else "",
                "choices": refused.choices if isinstance(refused, AmbiguousError) else {},
            }
        )
    return found


def _cards(done: Calculated, system: str) -> list[dict[str, Any]]:
    """Return the results with scale and trail."""
    cards = []
    for result in done.results:
        side = Side(state="as_found", number=result, shown=shown(result, system))
        trail = trail_of(done.worked, result, system) if done.worked else []
        cards.append(
            {
                "result": result,
                "shown": side.shown,
                "title": quantity(result.quantity).title,
                "trail": trail,
                "scale": scale_of(quantity(result.quantity).title, result.quantity, (side,), (), system),
            }
        )
    return cards


ROUTES = [Route("/worksheets", show_worksheets), Route("/worksheets/{name}", show_worksheet)]
