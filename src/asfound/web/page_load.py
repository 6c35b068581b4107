"""The page of the load: what the engine gives, what the site lets it give, where the heat of the fuel goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.rooms import LOAD
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from asfound.web.frame import AtVisit

TEMPLATE = "load.html"


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    return shared(here, LOAD)
