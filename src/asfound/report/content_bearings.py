"""Main bearings as pages and papers show them: a level in each, half full at their median."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.cylinders.bearings import LIMIT, bearing_spread
from asfound.quantities.units import unit
from asfound.quantities.words import STATES
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.ports import Level
from asfound.report.wording import natural, say_value, unit_words

if TYPE_CHECKING:
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

BEARING = "bearing_temperature"
DIFFERENCE = "bearing_deviation"
FEWEST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearings:
    """The main bearings in one state."""

    state: State
    picture: dict[str, Any]
    """For `report.svg.level_row`."""
    says: tuple[str, ...]


def bearings_shown(view: VisitView, system: System, *, href: str = "") -> dict[State, Bearings]:
    """Return the bearings of each state in which three or more were read."""
    found: dict[State, Bearings] = {}
    for state in STATES:
        read = {
            one.place: one.value
            for one in view.worked.readings
            if one.state == state and one.quantity == BEARING and one.place.startswith("bearing_")
        }
        if len(read) >= FEWEST:
            found[state] = _of_state(view, state, read, system, href)
    return found


def _of_state(view: VisitView, state: State, read: dict[str, float], system: System, href: str) -> Bearings:
    count = int(view.engine.content.get("bearings") or 0)
    places = sorted({*read, *(f"bearing_{i + 1}" for i in range(count))}, key=natural)
    values = np.array([read.get(place, np.nan) for place in places])
    seen = bearing_spread(values)
    symbol = unit_words(DIFFERENCE, system)
    factor = unit(symbol).factor
    levels = []
    for i, place in enumerate(places):
        away = float(seen.deviation[i])
        known = away == away
        amount = away / factor if known else 0.0
        text = "" if not known else f"{'+' if round(amount) > 0 else '−' if round(amount) < 0 else ''}{abs(amount):.0f}"
        odd = int(seen.odd[i])
        said = f"{text} {symbol} from the median" if known else "not read"
        levels.append(
            Level(
                name=place.removeprefix("bearing_"),
                level=max(-1.0, min(1.0, away / LIMIT)) if known else None,
                text=text,
                odd=odd,
                says=f"Main bearing {place.removeprefix('bearing_')}: {said}{', stands apart' if odd else ''}.",
                href=href.format(key=f"{state}/{place}/{BEARING}") if href else "",
            )
        )
    if (view.engine.content.get("numbering") or {}).get("first_at") != "driving_end":
        levels.reverse()
    median = say_value(float(np.nanmedian(values)), BEARING, system)
    full = f"{LIMIT / factor:.0f} {symbol}"
    apart = [one.says for one in levels if one.odd]
    label = (
        f"Main bearings, {STATE_WORDS[state]}, median {median}. {' '.join(apart) if apart else 'None stands apart.'}"
    )
    return Bearings(
        state=state,
        picture={"levels": tuple(levels), "label": label, "head": f"main bearings, median {median}"},
        says=(
            f"Half full: their median. Full or empty: {full} or more off it (common practice, no source; the "
            "engine's own limit goes first). Taken as numbered from the end where the cylinders are counted from.",
        ),
    )
