"""The page of the fuel gas: what burns, what it is worth, whether it knocks, whether it drops liquid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_fuel import COMPONENTS, gas, knock, lacks_line, line
from asfound.report.rooms import FUEL
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from asfound.web.frame import AtVisit

TEMPLATE = "fuel.html"


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    view, system = here.view, here.system
    made = shared(here, FUEL, leading=("gross_heating_value", "net_heating_value", "fuel_flow"))
    needed = knock(view, system)
    for card in made["large"]:
        if card.quantity == "methane_number" and card.scale is not None and needed is not None:
            card.scale["limit"] = (*card.scale["limit"], needed.wall)
            card.scale["undecided"] = needed.undecided
            made["card_says"][card.key] = [needed.says] if needed.says else []
    jumps = (
        ("results-h", "Results"),
        ("gas", "What burns"),
        ("line", "In the line"),
        ("ways", "Methods"),
        ("compared", "Last visit"),
        ("cautions", "Cautions"),
    )
    burns = gas(view, system)
    made |= {"folded_rows": COMPONENTS if burns else (), "folded_title": "The analysis", "jumps": jumps}
    return made | {"gas": burns, "line": line(view, system), "line_lacks": lacks_line(view)}
