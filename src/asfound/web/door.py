"""What a tablet meets: trust and pairing before it is let in, then what makes the pages installable and keeps them."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from asfound.errors import InputError
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, chosen_light, environment, go, page, static
from asfound.web.security import DEVICE_COOKIE

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request

    from asfound.web.pairing import Sharing

YEAR = 365 * 24 * 3600
FILM = "#e9efec"
"""Ground of the pages by day, as in tokens.css; around the pages of an installed one."""


def show_pair(
    request: Request, *, complaint: InputError | None = None, typed: dict[str, str] | None = None
) -> Response:
    """Ask for the code of the laptop. Nothing of the record stands on this page."""
    share = _share(request)
    return _bare(
        request,
        "pair.html",
        status=422 if complaint else 200,
        title="Let this device in",
        share=share,
        complaint=complaint,
        typed=typed or {},
        known=request.scope.get("asfound_device"),
    )


def pair(request: Request, form: FormData) -> Response:
    """Let this device in for a code that holds; its token goes into a cookie that no script can read."""
    share = _share(request)
    typed = {name: text(form, name) for name in ("code", "name", "person")}
    try:
        _device, token = share.let_in(typed["code"], typed["name"], typed["person"])
    except InputError as refused:
        return show_pair(request, complaint=refused, typed=typed)
    answer = go("/")
    answer.set_cookie(
        DEVICE_COOKIE, token, max_age=YEAR, path="/", httponly=True, samesite="strict", secure=_secure(request)
    )
    return answer


def _secure(request: Request) -> bool:
    return request.url.scheme == "https"


def show_trust(request: Request) -> Response:
    """Say how a tablet is told to trust this laptop, and what to compare."""
    return _bare(request, "trust.html", title="Trust this laptop", share=_share(request))


def certificate(request: Request) -> Response:
    """Hand over the authority's certificate; it holds nothing secret."""
    headers = {"content-disposition": 'attachment; filename="asfound.crt"'}
    return Response(_share(request).authority.der, media_type="application/x-x509-ca-cert", headers=headers)


def show_waiting(request: Request) -> Response:
    """Show what waits on this device; the list itself is read from the device by the script."""
    crumbs = (Crumb("/", "Engines"), Crumb("/waiting", "On this device"))
    return page(request, "waiting.html", title="On this device", crumbs=crumbs, kept_at="")


def worker(_request: Request) -> Response:
    """Return the service worker; it stands at the root so that it may keep every page."""
    code = (resources.files("asfound.web") / "static" / "away.js").read_bytes()
    return Response(code, media_type="text/javascript")


def manifest(_request: Request) -> Response:
    """Return what a tablet asks before it puts the pages beside its other programs (W3C Web Application Manifest)."""
    sizes = (("icon-192.png", "192x192", "any"), ("icon-512.png", "512x512", "any maskable"))
    icons = [
        {"src": static(name), "sizes": size, "type": "image/png", "purpose": purpose} for name, size, purpose in sizes
    ]
    return JSONResponse(
        {
            "name": "asfound",
            "short_name": "asfound",
            "description": "The visit to a gas engine, as found and as left.",
            "id": "/",
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": FILM,
            "theme_color": FILM,
            "icons": icons,
        },
        media_type="application/manifest+json",
    )


def _share(request: Request) -> Sharing:
    """Return the door for tablets; there is no such page where nothing is shared."""
    share: Sharing | None = request.app.state.share
    if share is None:
        raise HTTPException(404)
    return share


def _bare(request: Request, template: str, *, status: int = 200, **context: object) -> Response:
    """Render a page that shows nothing of the record: no path, no time of the last entry, no choices of the home."""
    html = environment().get_template(template).render(light=chosen_light(request), **context)
    return HTMLResponse(html, status_code=status)


ROUTES = [
    Route("/pair", show_pair),
    Route("/pair", acting(pair), methods=["POST"]),
    Route("/trust", show_trust),
    Route("/authority.crt", certificate),
    Route("/waiting", show_waiting),
    Route("/away.js", worker),
    Route("/asfound.webmanifest", manifest),
]
