"""Every published value that ships with the program, computed again on this machine, beside what was published."""

from __future__ import annotations

import time
from itertools import groupby
from typing import TYPE_CHECKING

from starlette.routing import Route

from asfound.sources.prove import prove
from asfound.sources.register import cite
from asfound.web.pages import Crumb, page

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def show_proof(request: Request) -> Response:
    """Recompute and show all checks, by room; what misses comes first."""
    began = time.perf_counter()
    checks = prove()
    seconds = time.perf_counter() - began
    missed = [one for one in checks if not one.holds]
    rooms = [(room, list(ones)) for room, ones in groupby(checks, key=lambda one: one.room)]
    return page(
        request,
        "proof.html",
        title="Proof",
        crumbs=(Crumb("/", "Engines"), Crumb("/prove", "Proof")),
        rooms=rooms,
        missed=missed,
        count=len(checks),
        seconds=seconds,
        cite=cite,
    )


ROUTES = [Route("/prove", show_proof)]
