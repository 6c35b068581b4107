"""Where the heat of the fuel goes, and the efficiency beside published figures: plain values for page and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.power.findings_heat import REST as USUAL_REST
from asfound.power.findings_heat import published_range
from asfound.quantities.words import STATES
from asfound.report.axis import Band, Mark
from asfound.report.content_lanes import MARKS, both_states, lanes_picture, mark_of, whole
from asfound.report.stairs import Stair, Stretch
from asfound.report.wording import say

if TYPE_CHECKING:
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

SHARES = (
    ("brake_efficiency", "Work at the shaft"),
    ("exhaust_heat_share", "Exhaust"),
    ("jacket_heat_share", "Jacket water"),
    ("auxiliary_heat_share", "Auxiliary water: charge and oil"),
    ("unburned_share", "Not burned"),
)
REST = ("balance_rest_share", "Rest: radiation, pumps, errors of all readings")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSplit:
    """The net heat of the fuel, part by part along one axis."""

    picture: dict[str, Any]
    complete: bool
    """Every part is known, so that the rest is what no part explains."""
    lacks: tuple[str, ...]
    """Parts that are not known."""


USUAL: dict[str, Band] = {REST[0]: Band(100 * USUAL_REST[0], 100 * USUAL_REST[1])}
"""Where a part usually lies, on the net heat: the rest, where all terms were measured (common practice, no source)."""


def heat_split(view: VisitView, system: System) -> HeatSplit | None:
    """Return where the heat of the fuel goes; None where not even two parts are known."""
    worked = view.worked
    at: dict[State, float] = dict.fromkeys(STATES, 0.0)
    rows, lacks = [], []
    for name, title in (*SHARES, REST):
        numbers = both_states(worked, "engine", name)
        if not numbers:
            if name not in ("unburned_share", REST[0]):
                lacks.append(title)
            continue
        stretches = []
        for state, number in numbers.items():
            mark = mark_of(number, system)
            start = at[state]
            stretches.append(Stretch(MARKS[state], start, _shifted(mark, start)))
            at[state] = start + mark.value
        texts = " and ".join(whole(say(one, system)) for one in numbers.values())
        band = USUAL.get(name)
        start = stretches[0].start
        rows.append(
            Stair(
                title,
                tuple(stretches),
                text=texts,
                usual=Band(start + band.low, start + band.high) if band else None,
                dashed=name == REST[0],
                strong=name == SHARES[0][0],
            )
        )
    if len(rows) < 2:
        return None
    spoken = "; ".join(f"{row.title} {row.text}" for row in rows)
    return HeatSplit(
        picture={
            "rows": rows,
            "whole": Band(0.0, 100.0),
            "unit_words": "% of the net heat of the fuel",
            "label": f"Where the heat of the fuel goes: {spoken}.",
        },
        complete=not lacks,
        lacks=tuple(lacks),
    )


def _shifted(mark: Mark, start: float) -> Mark:
    low, high = mark.ends
    return Mark(start + mark.value, start + low, start + high) if high > low else Mark(start + mark.value)


EFFICIENCIES = {
    "brake_efficiency_gross": "At the shaft, gross",
    "electrical_efficiency_gross": "At the terminals, gross",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Efficiency:
    """The efficiency beside what publications say of such engines."""

    picture: dict[str, Any]
    """What `report.svg.lanes` is given, without width."""
    published: str


def efficiency(view: VisitView, system: System) -> Efficiency | None:
    """Return the efficiency on the gross heat, beside the published range; None where it is not known."""
    rows = [
        (title, numbers)
        for name, title in EFFICIENCIES.items()
        if (numbers := both_states(view.worked, "engine", name))
    ]
    if not rows:
        return None
    low, high = (100 * end for end in published_range())
    return Efficiency(
        picture=lanes_picture("Efficiency", rows, "brake_efficiency_gross", system, wanted=Band(low, high)),
        published=f"{low:.0f} to {high:.0f} % of the gross heat at the terminals, for reciprocating gas engines",
    )
