"""A form that a device sends twice, because the first answer was lost, is kept once and answered alike.

The device makes an identifier (UUID version 7) for each entry of its outbox and sends it in ``X-Asfound-Entry``. The
record keeps it in the transaction of what came of it, so neither a killed program nor two sendings at once can double.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import RedirectResponse

from asfound.records.entries import is_id
from asfound.records.sent import AlreadySentError, Sending, Sent, note_answer, sending, sent
from asfound.web.pages import back_or, house_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

KEY = "x-asfound-entry"
AGAIN = "x-asfound-again"
ENTRIES = "x-asfound-entries"
PAGE = "x-asfound-page"
"""Page that sent it, in the browser's words: where a second sending of a field that was put in place leads to."""


def kept_once(handler: Callable[[Request, FormData], Response], request: Request, form: FormData) -> Response:
    """Let the handler keep a form, unless the same was kept before."""
    key = request.headers.get(KEY, "")
    if not is_id(key):
        return handler(request, form)
    records = house_of(request).records
    before = sent(records.database, key)
    if before is not None and before.status < 400:
        return _again(before, _page(request))
    try:
        with sending(key) as now:
            answer = handler(request, form)
            if answer.status_code < 400 or now.begun:
                at = records.clock.now().isoformat(timespec="milliseconds")
                where = answer.headers.get("location", "") or _page(request)
                note_answer(records.database, now, at=at, status=answer.status_code, where=where)
    except AlreadySentError as known:
        return _again(known.sent, _page(request))
    return _told(answer, now)


def _page(request: Request) -> str:
    return back_or(request.headers.get(PAGE, ""), request.url.path)


def _told(answer: Response, now: Sending) -> Response:
    answer.headers[ENTRIES] = ",".join(now.entries)
    return answer


def _again(before: Sent, otherwise: str) -> Response:
    """Lead to where the first answer led; the entries that came of it are named."""
    return RedirectResponse(
        before.where or otherwise, status_code=303, headers={AGAIN: "1", ENTRIES: ",".join(before.entries)}
    )
