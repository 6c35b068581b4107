"""Signing in where several people share one record: who asks, what their role allows, what is noted at the door.

The rules that protect the record stand in the store (``records.office``); here it is decided who acts. Cookies are for
this server only, cannot be read by script, and go with no request that another site causes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.routing import Route

from asfound.errors import InputError
from asfound.records.office import ROLES, RoleError, acting_as, allow, who_acts
from asfound.records.people import SESSION, People
from asfound.web.forms import acting, text
from asfound.web.pages import Crumb, back_or, chosen_light, environment, go, page
from asfound.web.refusals import forbidden
from asfound.web.security import SAFE_METHODS, cookie_of

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.responses import Response
    from starlette.types import ASGIApp, Receive, Scope, Send

COOKIE = "asfound_session"
OPEN = frozenset({"/sign-in"})
"""What anybody may ask for, beside the program's own style and script."""
OWN = frozenset({"/sign-out", "/settings/light", "/people/password"})
"""What a reader may change too: their own session, light and password."""
KEEPERS = ("/settings", "/people", "/take-in", "/settle", "/sharing")
"""Beginnings of addresses under which only a keeper changes anything."""
NOT_HERE = ("/demo",)
"""What would change the pages of everybody."""


class SignIn:
    """Let nobody in who did not sign in, and let each act in their own name."""

    def __init__(self, app: ASGIApp, people: People) -> None:
        self.app, self.people = app, people

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or pass on one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers, path = Headers(scope=scope), scope["path"]
        token = cookie_of(headers, COOKIE) or headers.get("authorization", "").removeprefix("Bearer ")
        person = await run_in_threadpool(self.people.of_token, token) if token else None
        scope["asfound_person"] = person
        if path in OPEN or path.startswith("/static/"):
            await self.app(scope, receive, send)
            return
        if person is None:
            if scope["method"] == "GET" and "text/html" in headers.get("accept", ""):
                asked = path + (f"?{scope['query_string'].decode('latin-1')}" if scope.get("query_string") else "")
                answer: Response = RedirectResponse(f"/sign-in?back={quote(asked, safe='')}", status_code=303)
            else:
                answer = PlainTextResponse("Sign in first: POST name and password to /sign-in.", 401)
            await answer(scope, receive, send)
            return
        refused = _refused(scope["method"], path, person.role)
        if refused:
            await run_in_threadpool(self.people.note, person.name, "forbidden", f"{scope['method']} {path}"[:400])
            with acting_as(person):
                said = await run_in_threadpool(forbidden, Request(scope), f"{refused} Nothing was changed.")
                await said(scope, receive, send)
            return
        with acting_as(person):
            await self.app(scope, receive, send)


def _refused(method: str, path: str, role: str) -> str:
    """Say why a request is not for this role; empty where it is."""
    if method in SAFE_METHODS:
        return "The list of people is for a keeper." if path == "/people" and role != "keeper" else ""
    if path.startswith(NOT_HERE):
        return "The demo is for a laptop of one's own."
    if path in (*OWN, "/hand-over"):  # a file that is taken out writes nothing
        return ""
    if role == "reader":
        return "A reader may look, not write."
    return "That is for a keeper." if role != "keeper" and path.startswith(KEEPERS) else ""


def people_of(request: Request) -> People:
    """Return the people of the record that is served."""
    people: People = request.app.state.people
    return people


def show_sign_in(request: Request, *, complaint: str = "", name: str = "") -> Response:
    """Ask for name and password. Nothing of the record stands on this page."""
    from starlette.responses import HTMLResponse

    html = (
        environment()
        .get_template("sign_in.html")
        .render(
            title="Sign in",
            light=chosen_light(request),
            complaint=complaint,
            name=name,
            back=back_or(request.query_params.get("back", ""), "/"),
        )
    )
    return HTMLResponse(html, status_code=422 if complaint else 200)


def sign_in(request: Request, form: FormData) -> Response:
    """Begin a session for a name and its password."""
    name, password = text(form, "name"), form.get("password", "")
    source = request.client.host if request.client else ""
    try:
        token = people_of(request).sign_in(name, password if isinstance(password, str) else "", source=source)
    except InputError as refused:
        return show_sign_in(request, complaint=refused.try_next, name=name)
    answer = go(back_or(text(form, "back"), "/"))
    answer.set_cookie(
        COOKIE, token, max_age=int(SESSION.total_seconds()), httponly=True, samesite="strict", path="/",
        secure=request.url.scheme == "https" or bool(request.app.state.behind_proxy),
    )  # fmt: skip
    return answer


def sign_out(request: Request, _form: FormData) -> Response:
    """End this session."""
    people_of(request).sign_out(request.cookies.get(COOKIE, ""))
    answer = go("/sign-in")
    answer.delete_cookie(COOKIE, path="/")
    return answer


def show_people(request: Request, *, complaint: str = "") -> Response:
    """Show who may do what, and what was done at the door."""
    people = people_of(request)
    return page(
        request,
        "people.html",
        title="People",
        crumbs=(Crumb("/", "Engines"), Crumb("/people", "People")),
        people=people.listed(),
        doings=people.doings(100),
        roles=ROLES,
        complaint=complaint,
        me=who_acts(),
        status=422 if complaint else 200,
    )


def change_people(request: Request, form: FormData) -> Response:
    """Add somebody, give another role or password, bar somebody or let them in again."""
    people = people_of(request)
    doing, name, password = text(form, "do"), text(form, "name"), text(form, "password")
    try:
        allow("people")
        if doing == "add":
            people.add(name, text(form, "role"), password)
        elif doing == "role":
            people.change(name, role=text(form, "role"))
        elif doing == "password":
            people.change(name, password=password)
        else:
            people.change(name, barred=doing == "bar")
    except RoleError:
        raise
    except (InputError, LookupError) as refused:
        return show_people(request, complaint=str(refused))
    return go("/people")


def change_password(request: Request, form: FormData) -> Response:
    """Let somebody change their own password; then they sign in again."""
    person = who_acts()
    if person is not None:
        people_of(request).change(person.name, password=text(form, "password"))
    return go("/sign-in")


ROUTES = [
    Route("/sign-in", show_sign_in),
    Route("/sign-in", acting(sign_in), methods=["POST"]),
    Route("/sign-out", acting(sign_out), methods=["POST"]),
    Route("/people", show_people),
    Route("/people", acting(change_people), methods=["POST"]),
    Route("/people/password", acting(change_password), methods=["POST"]),
]
