"""Findings of the main bearings: one apart from the others, one that rises against them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from asfound.cylinders.bearings import LIMIT, RISE_LIMIT, bearing_spread
from asfound.cylinders.shown import difference
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.plan import in_number_order
from asfound.quantities.words import STATES, Finding, Result, State
from asfound.quantities.worked import Worked

BEARING, OIL = "bearing_temperature", "oil_temperature"
CAUTIONS = ("hot", "crankcase", "local")
COMPARED = (
    f"{LIMIT:.0f} K off the median of the bearings: common practice, no source; the engine's own limit goes first"
)
SAME_OIL = 2.0
"""Oil temperatures of two visits that compare without a word. [K]"""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the main bearings of each state say."""
    for state in STATES:
        now = _bearings(case.worked, state)
        if len(now) >= 3:
            yield from _apart(case, state, now)
            yield from _rising(case, state, now)


def _bearings(worked: Worked, state: State) -> dict[str, float]:
    """Return the bearing temperatures read in a state, by place. [K]"""
    found = {
        one.place: one.value
        for one in worked.readings
        if one.state == state and one.quantity == BEARING and one.place.startswith("bearing_")
    }
    return {place: found[place] for place in sorted(found, key=in_number_order)}


def _apart(case: Case, state: State, now: Mapping[str, float]) -> Iterator[Finding]:
    seen = bearing_spread(np.array(list(now.values())))
    for place, away, odd, beyond in zip(now, seen.deviation, seen.odd, seen.beyond_limit, strict=True):
        if not beyond:
            continue
        result = case.worked.result(f"{state}/{place}/bearing_deviation")
        shown = difference(case, float(away), result.interval if isinstance(result, Result) else None, signed=True)
        hot = away > 0
        yield Finding(
            code="CY-20",
            subject="cylinders",
            says=(
                f"Main bearing {place.removeprefix('bearing_')} is {shown} from the median of the bearings"
                + ("" if odd else "; the others scatter so that it is not singled out")
            ),
            severity=("visit" if odd else "soon") if hot else "note",
            next_step=(
                "Compare it with its neighbours and with the last visit at equal oil temperature; exchange its input "
                "with a neighbour's to tell sensor from bearing. Rising with load, or metal in oil or filter: stop by "
                "the engine's own document. Never open a crankcase door of a hot engine."
                if hot
                else "A bearing does not run cold: look at the sensor, its depth and its terminals."
            ),
            compared_with=COMPARED,
            because=(f"{state}/{place}/{BEARING}",),
            cautions=CAUTIONS,
            state=state,
        )


def _rising(case: Case, state: State, now: Mapping[str, float]) -> Iterator[Finding]:
    """Yield the bearings that rose against the others since the last visit; oil common to all drops out."""
    if case.previous is None:
        return
    then = _bearings(case.previous, "as_left") or _bearings(case.previous, "as_found")
    places = [place for place in now if place in then]
    if len(places) < 3:
        return
    change = np.array([now[place] - then[place] for place in places])
    for at, place in enumerate(places):
        rise = float(change[at] - np.median(np.delete(change, at)))
        if rise > RISE_LIMIT:
            yield Finding(
                code="CY-21",
                subject="cylinders",
                says=(
                    f"Main bearing {place.removeprefix('bearing_')} has risen by {difference(case, rise)} against the "
                    f"others since the last visit{_oil_words(case, state)}"
                ),
                severity="soon",
                next_step=(
                    "Look at the log between the visits: a step is a sensor or a change of work, a slope a bearing. "
                    "Oil sample and a cut filter tell the rest."
                ),
                compared_with=f"{RISE_LIMIT:.0f} K against the others: common practice, no source",
                because=(f"{state}/{place}/{BEARING}",),
                cautions=CAUTIONS,
                state=state,
            )


def _oil_words(case: Case, state: State) -> str:
    """Return the caveat where the oil was not as warm, or nobody read it."""
    now = number_at(case.worked, state, "engine", OIL)
    then = case.previous and (
        number_at(case.previous, "as_left", "engine", OIL) or number_at(case.previous, "as_found", "engine", OIL)
    )
    if now is None or not then:
        return "; the oil temperature was not read both times"
    apart = now.value - then.value
    return f" (oil {difference(case, apart, signed=True)} against then)" if abs(apart) > SAME_OIL else ""
