"""The page of the fuel gas: what burns, what it is worth, whether it knocks, whether it drops liquid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.rooms import FUEL
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from asfound.web.frame import AtVisit

TEMPLATE = "fuel.html"


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    return shared(here, FUEL)
