"""The page of the load: what the engine gives, what the site lets it give, where the heat of the fuel goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.axis import Wall
from asfound.report.content_heat import efficiency, heat_split
from asfound.report.content_load import lacks_rating, over_rating, site_rating
from asfound.report.content_methods import ways_of
from asfound.report.rooms import LOAD
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from asfound.web.frame import AtVisit

TEMPLATE = "load.html"
METERED = ("fuel_flow", "fuel_mass_flow", "exhaust_flow_dry")
"""Numbers of other pages whose ways belong here: the flow meter computed, displayed, and against the exhaust."""
COMPRESSOR = (
    "suction_pressure", "discharge_pressure", "suction_temperature", "discharge_temperature", "compressed_gas_flow",
    "stage_gas_flow", "compressor_speed", "compressor_bore", "compressor_stroke", "compressor_rod_diameter",
    "compressor_cylinders", "compressor_ends", "compressor_clearance", "stage_volumetric_loss",
    "stage_isentropic_efficiency", "compressor_mechanical_efficiency",
)  # fmt: skip
"""Readings of the machine that the engine drives: many, and folded together."""


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    view, system = here.view, here.system
    made = shared(here, LOAD, leading=("engine_power", "site_rated_power", "compressor_power", "generator_power"))
    for card in made["large"]:
        if card.quantity == "load_fraction" and card.scale is not None:
            card.scale["limit"] = (*card.scale["limit"], Wall(100.0, "site rating"))
            made["card_says"][card.key] = list(over_rating(view.worked, system))
    made["open_ways"] |= {"fuel_flow"}
    return made | {
        "ways": (*made["ways"], *ways_of(view, METERED, system)),
        "folded_rows": COMPRESSOR,
        "folded_title": "The compressor",
        "jumps": (
            ("results-h", "Results"),
            ("rating", "Site rating"),
            ("heat", "Heat of the fuel"),
            ("ways", "Methods"),
            ("compared", "Last visit"),
            ("cautions", "Cautions"),
        ),
        "rating": site_rating(view, system),
        "rating_lacks": lacks_rating(view),
        "heat": heat_split(view, system),
        "efficiency": efficiency(view, system),
    }
