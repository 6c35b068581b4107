"""What the local server refuses, and the headers that go out with every answer.

On loopback every program and every user of the laptop can reach the server; a token closes that. What a foreign page in
the same browser could do is closed here: it cannot make a name of its own point at us (the Host header is checked), it
cannot post to us (where a request comes from is checked), and nothing it could smuggle into a page would run (the
policy allows no inline script and nothing from outside).
"""

from __future__ import annotations

import hashlib
import hmac
import re
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse

if TYPE_CHECKING:
    from starlette.responses import Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from asfound.records.devices import Devices

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=()",
}
INSTALLABLE = "; manifest-src 'self'"
"""Added for tablets: under ``default-src 'none'`` a browser does not read the manifest that makes pages installable."""
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}
BODY_LIMIT = 2 * 1024 * 1024
PHOTO_LIMIT = 25 * 1024 * 1024
TOKEN_COOKIE = "asfound_token"
DEVICE_COOKIE = "asfound_device"
BEFORE_PAIRING = frozenset({"/pair", "/trust", "/authority.crt", "/away.js", "/asfound.webmanifest"})
"""What a device may ask for before it is let in, beside the program's own style and script: nothing of a record."""

# a path that climbs, hides a slash or a zero byte is no path of ours, however it is written
_TRICK = re.compile(rb"(?:^|/)\.\.?(?:/|$)|%2e|%2f|%5c|%00|\\|//|[\x00-\x1f]", re.IGNORECASE)


def crosses_sites(headers: Headers) -> bool:
    """Return whether a request that changes something was caused by a page of another site.

    Browsers say so in ``Sec-Fetch-Site``; they leave it out on plain http beyond loopback, and older ones know only
    ``Origin``. A program that sends neither is no browser and carries nobody's cookies.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in {"same-origin", "none"}
    origin = headers.get("origin")
    if origin is None:
        return False
    return urlsplit(origin).netloc.lower() != headers.get("host", "").lower()


class Guard:
    """Refuse cross-site changes and path tricks, ask for the token where there is one, set the headers."""

    def __init__(self, app: ASGIApp, token: str | None = None, devices: Devices | None = None) -> None:
        self.app, self.devices = app, devices
        self.headers = HEADERS if devices is None else {**HEADERS, "content-security-policy": POLICY + INSTALLABLE}
        self.digest = hashlib.sha256(token.encode()).digest() if token else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or pass on one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in self.headers.items():
                    answer[name] = value
                if "cache-control" not in answer:
                    answer["cache-control"] = "no-cache"
            await send(message)

        headers = Headers(scope=scope)
        if _TRICK.search(scope.get("raw_path") or scope["path"].encode()):
            await _said(headers, "This is no path of asfound.", 400)(scope, receive, send_with_headers)
        elif scope["method"] not in SAFE_METHODS and crosses_sites(headers):
            said = _said(headers, "Refused: this change was asked for by a page of another site.", 403)
            await said(scope, receive, send_with_headers)
        elif await self._may_enter(scope, headers, receive, send_with_headers):
            await self.app(scope, receive, send_with_headers)

    async def _may_enter(self, scope: Scope, headers: Headers, receive: Receive, send: Send) -> bool:
        """Return whether the caller showed what this door asks for; who did not has been answered."""
        if self.digest and not await self._admitted(scope, headers, receive, send):
            return False
        return self.devices is None or await self._let_in(scope, headers, receive, send)

    def _is_token(self, given: str) -> bool:
        return self.digest is not None and hmac.compare_digest(hashlib.sha256(given.encode()).digest(), self.digest)

    async def _admitted(self, scope: Scope, headers: Headers, receive: Receive, send: Send) -> bool:
        """Return whether the token was shown; a token in the address becomes a cookie and leaves the address."""
        query = dict(parse_qsl(scope.get("query_string", b"").decode("latin-1")))
        offered = query.pop("token", "")
        if self._is_token(offered):
            rest = f"?{urlencode(query)}" if query else ""
            answer = RedirectResponse(scope["path"] + rest, status_code=303)
            answer.set_cookie(TOKEN_COOKIE, offered, httponly=True, samesite="strict", path="/")
            await answer(scope, receive, send)
            return False
        kept = cookie_of(headers, TOKEN_COOKIE)
        bearer = headers.get("authorization", "").removeprefix("Bearer ")
        if self._is_token(kept) or self._is_token(bearer):
            return True
        said = _said(headers, "Open the address that `asfound serve` printed: it carries the token.", 401)
        await said(scope, receive, send)
        return False

    async def _let_in(self, scope: Scope, headers: Headers, receive: Receive, send: Send) -> bool:
        """Return whether a device that was let in asks, and name it in the scope; others are led to pairing."""
        assert self.devices is not None
        token = cookie_of(headers, DEVICE_COOKIE)
        device = await run_in_threadpool(self.devices.of_token, token) if token else None
        scope["asfound_device"] = device
        if device is not None or scope["path"] in BEFORE_PAIRING or scope["path"].startswith("/static/"):
            return True
        if scope["method"] == "GET" and "text/html" in headers.get("accept", ""):
            await RedirectResponse("/pair", status_code=303)(scope, receive, send)
        else:
            said = "This device is not let in (any more). On the laptop: Let a tablet in."
            await PlainTextResponse(said, 401)(scope, receive, send)
        return False


def _said(headers: Headers, says: str, status: int) -> Response:
    """Return what is said at the door: a page for a browser, which needs nothing that lies behind it; else a line."""
    if "text/html" not in headers.get("accept", ""):
        return PlainTextResponse(says, status)
    head = '<!doctype html><html lang="en"><meta charset="utf-8"><title>asfound</title>'
    view = '<meta name="viewport" content="width=device-width, initial-scale=1">'
    return HTMLResponse(f"{head}{view}<main><h1>Refused</h1><p>{escape(says)}</p></main></html>", status)


def cookie_of(headers: Headers, name: str) -> str:
    """Return the value of a cookie; empty where there is none, or where the header is none."""
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[name].value if name in cookies else ""


def is_loopback(host: str) -> bool:
    """Return whether an address to listen on is reachable from this machine only."""
    import ipaddress

    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
