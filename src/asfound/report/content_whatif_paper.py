"""What-if on paper: the settings that were kept as proposed, beside as found and as left; nothing where none was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.words import STATES
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.content_paper import paper
from asfound.report.content_whatif import LackingShown, narrowed_words
from asfound.report.content_whatif_words import CANNOT, DECIDES
from asfound.report.whatif_cycle import whatif_cycle
from asfound.report.whatif_proposed import proposed_of, shown_of

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.report.content_whatif import WhatIfShown
    from asfound.report.content_whatif_rows import Cell
    from asfound.report.whatif_proposed import Proposed
    from asfound.report.wording import System

CYCLE = 640.0
"""Width of the picture. [px]"""


def whatif(view: VisitView, system: System) -> dict[str, Any] | None:
    """Return the section; None where nothing is kept as proposed."""
    kept = proposed_of(view)
    if not kept:
        return None
    return {
        "title": "What if",
        "proposed": [_proposed(one, shown_of(view, one, system), system) for one in kept],
        "cannot": list(CANNOT),
        "decides": DECIDES,
    }


def _proposed(one: Proposed, shown: WhatIfShown | LackingShown, system: System) -> dict[str, Any]:
    said = {
        "words": one.words, "why": one.why, "by": f"{one.who}, {one.day} {one.time}",
        "state": STATE_WORDS[one.state],
    }  # fmt: skip
    if isinstance(shown, LackingShown) or not shown.answered:
        no = narrowed_words(shown) if isinstance(shown, LackingShown) else " ".join(
            (*shown.asked.complaints.values(), *shown.says)
        )  # fmt: skip
        return said | {"answer": None, "no_answer": f"The model has no answer. {no}".strip()}
    del system
    return said | {
        "no_answer": "",
        "answer": {
            "headline": shown.headline,
            "below": shown.below,
            "says": [*shown.says, *shown.misfits],
            "rows": [
                {
                    "title": row.title, "unit": row.unit,
                    **{name: _cell(row.cells[name]) for name in (*STATES, "proposed")},
                    "change": row.change.value if row.change else "",
                    "interval": row.change.interval if row.change else "",
                }
                for row in shown.rows
            ],
            "permit": [
                {"title": line.title, "limit": line.limit, "now": line.now, "then": line.then,
                 "chance_now": line.chance_now, "chance_then": line.chance_then}
                for line in shown.permit
            ],
            "permit_says": list(shown.permit_says),
            "knock": f"{shown.knock.says} Ratio of nearness {shown.knock.ratio}. Methane number of the gas "
            f"{shown.knock.methane_number}"
            + (f"; the build needs {shown.knock.needs}." if shown.knock.needs else "."),
            "cycle": paper(whatif_cycle, shown.cycle, CYCLE),
            "assumed": list(shown.assumed),
            "draws": shown.draws,
        },
    }  # fmt: skip


def _cell(one: Cell | None) -> dict[str, str] | None:
    if one is None:
        return None
    return {"value": one.said.value, "interval": one.said.interval, "model": "" if one.read else "by the model"}
