"""From a posted form to a function of the house, off the event loop, with the form's files closed afterwards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from asfound.web.resend import kept_once
from asfound.web.security import PHOTO_LIMIT

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from starlette.requests import Request
    from starlette.responses import Response

MOST_FIELDS = 2000


def acting(handler: Callable[[Request, FormData], Response]) -> Callable[[Request], Awaitable[Response]]:
    """Return the endpoint that reads the form and then lets ``handler`` keep it and answer."""

    async def endpoint(request: Request) -> Response:
        async with request.form(max_files=20, max_fields=MOST_FIELDS, max_part_size=PHOTO_LIMIT) as form:
            return await run_in_threadpool(kept_once, handler, request, form)

    endpoint.__name__ = handler.__name__
    endpoint.__doc__ = handler.__doc__
    return endpoint


def text(form: FormData, name: str, otherwise: str = "") -> str:
    """Return one typed text without blanks around it; a file in its place counts as nothing."""
    value = form.get(name, otherwise)
    return value.strip() if isinstance(value, str) else otherwise


def texts(form: FormData, name: str) -> tuple[str, ...]:
    """Return every text of that name, in the order of the form."""
    return tuple(value for value in form.getlist(name) if isinstance(value, str) and value)
