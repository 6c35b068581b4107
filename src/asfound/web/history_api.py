"""The log of an engine for other programs: what is drawn between two times, and what the look at it says."""

from __future__ import annotations

import math
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse
from starlette.routing import Route

from asfound.errors import InputError
from asfound.report.history_logs import logs_of
from asfound.report.history_window import window_of
from asfound.report.time_axis import moment
from asfound.web.pages import house_of
from asfound.web.refusals import problem

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.report.history_logs import LogsOf

WIDEST, MOST_CHANNELS = 4000, 24
NO_LOG = "No log of this engine has been brought in."


def _logs(request: Request) -> LogsOf | None:
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    typed = request.query_params.get("day", "")
    try:
        day = date.fromisoformat(typed) if typed else None
    except ValueError as error:
        raise InputError("day", typed, "is no date", allowed="2032-07-08") from error
    return logs_of(house.records, engine, day)


def show_summary(request: Request) -> Response:
    """Return what the newest look at the log says, up to a day."""
    logs = _logs(request)
    if logs is None:
        return problem(404, NO_LOG)
    look = logs.look
    data: dict[str, Any] = {
        "first": _iso(logs.span[0]),
        "last": _iso(logs.span[1]),
        "channels": list(logs.store.channels(logs.stored)),
        "worked_out": look is not None,
    }
    if look is not None:
        plain = asdict(look)
        for one in plain["indicators"]:
            one.pop("daily"), one.pop("daily_time")
        data["look"] = plain
    return JSONResponse(_finite(data))


def show_view(request: Request) -> Response:
    """Return columns of a plot, SI; null where nothing was logged."""
    from asfound.history.trend import trend

    logs = _logs(request)
    if logs is None:
        return problem(404, NO_LOG)
    there = logs.store.channels(logs.stored)
    asked = request.query_params.getlist("channel")
    for one in asked:
        if one not in there:
            raise InputError("channel", one[:100], "is no channel of this log", allowed=", ".join(there)[:600])
    typed = request.query_params.get("width", "900")
    if not typed.isdigit() or not 1 <= int(typed) <= WIDEST:
        raise InputError("width", typed[:20], "is no number of columns", allowed=f"1 to {WIDEST}")
    window = window_of(request.query_params, logs.span, logs.zone, ahead=False)
    if window.complaint:
        raise InputError("from, to", str(request.query_params)[:100], window.complaint)
    names = (asked or list(there[:1]))[:MOST_CHANNELS]
    found = trend(logs.store, logs.stored, names, window.start, window.end, width=int(typed))
    return JSONResponse(
        {
            "from": _iso(window.start),
            "to": _iso(window.end),
            "step_seconds": found.step / 1e6,
            "read_from": found.read_from,
            "values_behind": found.rows_behind,
            "time": [one / 1e6 for one in found.time.tolist()],
            "channels": {
                name: {
                    "n": found.n[i].tolist(),
                    "low": _nulls(found.low[i]),
                    "high": _nulls(found.high[i]),
                    "mean": _nulls(found.mean[i]),
                    "gaps": [[_iso(a), _iso(b)] for a, b in found.gaps(name)],
                }
                for i, name in enumerate(names)
            },
        }
    )


def _iso(time: int) -> str:
    return moment(time).isoformat().replace("+00:00", "Z")


def _nulls(values: Any) -> list[float | None]:
    return [None if one != one else one for one in values.tolist()]


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(one) for one in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


ROUTES = [
    Route("/api/engines/{engine}/history", show_summary),
    Route("/api/engines/{engine}/history/view", show_view),
]
