"""The page of the cylinders: the engine with its pattern, sensor or cylinder, each against its own habit, bearings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cylinders.spread_of_case import TEMPERATURE
from asfound.report.content_bearings import bearings_shown
from asfound.report.content_cylinder_headline import headline
from asfound.report.content_cylinder_rest import parts_of
from asfound.report.content_cylinder_verdicts import cylinder_verdicts
from asfound.report.content_cylinders import cylinders_shown
from asfound.report.rooms import CYLINDERS
from asfound.report.wording import natural
from asfound.web.cylinder_looks import HOWS
from asfound.web.readings import VALUE
from asfound.web.room_page import shared

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.quantities.words import Finding
    from asfound.records.visit import VisitView
    from asfound.report.content_cylinder_verdicts import CylinderVerdict
    from asfound.web.frame import AtVisit

TEMPLATE = "cylinders.html"
NUMBERS = ("CY-01", "CY-02", "CY-03", "CY-04", "CY-05", "CY-06", "CY-07", "CY-08", "CY-09")
"""Findings of numbers, entries and wires: they stand as notices of their own."""
PATTERN = ("CY-15", "CY-16", "CY-17", "CY-18", "CY-36", "CY-37", "CY-38")
"""Findings of several cylinders together, and of witnesses that contradict each other."""
BEARINGS = ("CY-20", "CY-21", "CY-22")
NOTICE = {"stop": "over", "visit": "over", "clash": "clash", "soon": "near", "note": ""}
MOST_SHOWN = 3
"""Verdicts of more cylinders are folded."""


def content(here: AtVisit) -> dict[str, Any]:
    """Return what the page shows beyond its readings."""
    view, system = here.view, here.system
    column = here.prefs.column
    case = view.case
    shown = cylinders_shown(view, case, system, href=f"#{VALUE}{{key}}")
    state = column if column in shown.drawn else next(iter(shown.drawn))
    found = cylinder_verdicts(case, here.before(), shown, system, column=column)
    filled, empty = parts_of(view, system)
    bearings = bearings_shown(view, system, href=f"#{VALUE}{{key}}")
    parts: dict[str, Any] = {
        "shown": shown,
        "headline": headline(shown, system),
        "drawn": shown.drawn[state],
        "drawn_state": state,
        "verdicts": found[:MOST_SHOWN],
        "more_verdicts": found[MOST_SHOWN:],
        "next_ask": next(((one, one.next) for one in found if one.next is not None), None) if not view.seal else None,
        "numbers": _findings(view, NUMBERS),
        "pattern": _findings(view, PATTERN),
        "bearings": bearings.get(column) or next(iter(bearings.values()), None),
        "bearing_findings": _findings(view, BEARINGS),
        "filled": filled,
        "empty": empty,
        "NOTICE": NOTICE,
    }
    made = shared(here, CYLINDERS)
    if (view.engine.content.get("layout") or {}).get("form") != "vee":
        made["large"] = [one for one in made["large"] if one.quantity != "exhaust_bank_difference"]
    tags = {tag for one in found if one.next is not None for tag in one.next.cautions}
    return made | parts | {"jumps": _jumps(parts, found), "caution_tags": tags, "hows": HOWS}


def rows_in_order(items: Sequence[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
    """Return the readings of the step with the ports first, as they are counted along the engine."""
    ports = sorted((one for one in items if one[0] == TEMPERATURE), key=lambda one: natural(one[1]))
    return [*ports, *(one for one in items if one[0] != TEMPERATURE)]


def _findings(view: VisitView, codes: Sequence[str]) -> list[Finding]:
    return [one for one in view.findings if one.code in codes]


def _jumps(parts: dict[str, Any], found: Sequence[CylinderVerdict]) -> list[tuple[str, str]]:
    """Return what lies below, by anchor."""
    jumps = [("numbering", "Does not agree")] if parts["numbers"] or parts["pattern"] else []
    jumps += [("verdict", "Sensor or cylinder"), ("witnesses", "Witnesses")] if found else []
    jumps += [("habit", "Against its own habit")] if parts["shown"].habit else []
    jumps += [("bearings", "Main bearings")] if parts["bearings"] or parts["bearing_findings"] else []
    return [*jumps, ("readings", "Readings"), ("rest", "Wear and the rest"), ("cautions", "Cautions")]
