"""Let a tablet in: the laptop's page with address, one-time code and the devices that were let in."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.routing import Route

from asfound.web import words
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, go, house_of, page
from asfound.web.pairing import picture, spaced

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.devices import Device
    from asfound.web.pairing import Sharing

ADDRESS = "/sharing"


def show_sharing(request: Request) -> Response:
    """Show how a tablet gets in, and which did; on the laptop only."""
    share = _on_the_laptop(request)
    code = share.code if share else ""
    return page(
        request,
        "sharing.html",
        title="Let a tablet in",
        crumbs=(Crumb("/", "Engines"), Crumb(ADDRESS, "Let a tablet in")),
        share=share,
        code=spaced(code),
        minutes=share.minutes_left if share else 0,
        picture=Markup(picture(share.pairing_address)) if share and code else "",
        devices=[_row(request, one) for one in reversed(share.devices.all())] if share else [],
        folder=str(house_of(request).own.home.folder / "sharing"),
    )


def _row(request: Request, one: Device) -> dict[str, Any]:
    """Return a device with its times told in the zone of the home."""
    zone = house_of(request).own.clock.now().tzinfo

    def told(at: str) -> str:
        when = datetime.fromisoformat(at).astimezone(zone).isoformat()
        return f"{words.day(when)}, {words.clock(when)}"

    return {
        "id": one.id,
        "name": one.name,
        "person": one.person,
        "let_in": told(one.let_in),
        "seen": told(one.seen),
        "withdrawn": told(one.withdrawn) if one.withdrawn else "",
    }


def make_code(request: Request, _form: FormData) -> Response:
    """Make a code for one device."""
    share = _on_the_laptop(request)
    if share is not None:
        share.new_code()
    return go(f"{ADDRESS}#code")


def withdraw(request: Request, form: FormData) -> Response:
    """Shut a device out."""
    share = _on_the_laptop(request)
    if share is not None:
        share.devices.withdraw(text(form, "device"))
    return go(f"{ADDRESS}#devices")


def _on_the_laptop(request: Request) -> Sharing | None:
    """Return the door for tablets; a tablet is told that this is done on the laptop."""
    if request.app.state.shared:
        raise HTTPException(403, "This is done on the laptop that holds the record, not on a tablet.")
    share: Sharing | None = request.app.state.share
    return share


ROUTES = [
    Route(ADDRESS, show_sharing),
    Route(f"{ADDRESS}/code", acting(make_code), methods=["POST"]),
    Route(f"{ADDRESS}/withdraw", acting(withdraw), methods=["POST"]),
]
