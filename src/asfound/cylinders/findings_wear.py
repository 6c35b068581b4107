"""Findings of the machine figures: compression, ignition, plugs, valves, crankcase."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from asfound.cylinders.blow_by import flow_ratio
from asfound.cylinders.compression import LOW_SHARE
from asfound.cylinders.shown import in_units
from asfound.quantities.case_numbers import number_at, said
from asfound.quantities.findings import Case
from asfound.quantities.plan import in_number_order
from asfound.quantities.register import quantity
from asfound.quantities.words import STATES, Finding, Limit, Result, State

PRACTICE = "common practice, no source; the engine's own document goes first"
ISOLATED = ("loto", "barring", "local")
SOON = 1500 * 3600.0
"""Running time left that calls for a plan now (engineering judgement). [s]"""
DEMAND_LIMIT = 4e3
"""Voltage demand off the median that is looked into; common practice, no source. [V]"""
RESERVE = 0.85
"""Share of the available voltage beyond which a plug may miss at a gust of load; common practice, no source."""
RISEN = 1.25
"""Blow-by against the last visit that is looked into (engineering judgement)."""
LEAST_PRESSURE = 50.0
"""Crankcase overpressure below which a ratio says nothing. [Pa]"""
CLOSED = 0.5
"""Share of the median clearance below which a valve is said to close up (engineering judgement)."""
WEARS = (
    ("plug_gap", "plug_gap_limit", "plug_hours_to_limit", "plug gap"),
    ("intake_valve_recession", "intake_recession_limit", "intake_hours_to_limit", "intake valve recession"),
    ("exhaust_valve_recession", "exhaust_recession_limit", "exhaust_hours_to_limit", "exhaust valve recession"),
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the machine figures of each state say."""
    for state in STATES:
        yield from _compression(case, state)
        yield from _demand(case, state)
        for wear in WEARS:
            yield from _wear(case, state, *wear)
        for valve in ("intake", "exhaust"):
            yield from _clearance(case, state, valve)
    yield from _crankcase(case)


def _results(case: Case, state: State, name: str) -> Iterator[Result]:
    """Yield the preferred results of a quantity at each cylinder, in their order, those with an answer."""
    places = {one.place for one in case.worked.results if one.state == state and one.quantity == name}
    for place in sorted(places, key=in_number_order):
        one = case.worked.result(f"{state}/{place}/{name}")
        if one is not None and math.isfinite(one.value):
            yield one


def _name(place: str) -> str:
    return place.removeprefix("cylinder_")


def _compression(case: Case, state: State) -> Iterator[Finding]:
    for one in _results(case, state, "compression_deviation"):
        if one.value > -LOW_SHARE:
            continue
        limit = Limit(quantity=one.quantity, value=-LOW_SHARE, as_typed=f"-{LOW_SHARE:.0%}", side="lower")
        yield Finding(
            code="CY-23",
            subject="cylinders",
            says=f"Compression pressure of cylinder {_name(one.place)} is {said(case, one)} from the median of all",
            severity="soon",
            next_step=(
                "Repeat it on this cylinder and on a sound one with the same instrument. Low again: leak-down tells "
                "rings (crankcase hisses) from exhaust valve (stack) and intake valve (manifold); valve "
                "clearance first."
            ),
            compared_with=f"{LOW_SHARE:.0%} below the median: {PRACTICE}",
            probability=case.worked.probability_beyond(one, limit),
            because=(one.key,),
            cautions=("pressure", "hot", *ISOLATED),
            state=state,
        )


def _demand(case: Case, state: State) -> Iterator[Finding]:
    for one in _results(case, state, "ignition_demand_deviation"):
        if abs(one.value) <= DEMAND_LIMIT:
            continue
        high = one.value > 0
        yield Finding(
            code="CY-24",
            subject="cylinders",
            says=f"Ignition demand of cylinder {_name(one.place)} is {said(case, one)} from the median of all",
            severity="soon",
            next_step=(
                "High: wide gap, lead or extender, lean cylinder. Take the plug's gap at the next stop."
                if high
                else "Low: fouled or cracked plug, tracking lead, narrow gap. Look at the plug at the next stop."
            ),
            compared_with=f"{DEMAND_LIMIT / 1e3:.0f} kV: {PRACTICE}",
            because=(one.key,),
            cautions=("hv", "local"),
            state=state,
        )
    available = number_at(case.worked, state, "engine", "ignition_voltage_available")
    if available is None:
        return
    for place in sorted({r.place for r in case.readings if r.quantity == "ignition_demand"}, key=in_number_order):
        demand = number_at(case.worked, state, place, "ignition_demand")
        if demand is not None and demand.value > RESERVE * available.value:
            yield Finding(
                code="CY-25",
                subject="cylinders",
                says=(
                    f"Cylinder {_name(place)} needs {said(case, demand)} of the {said(case, available)} that its coil "
                    "can give"
                ),
                severity="soon",
                next_step="Re-gap or replace the plug before the demand passes the coil: misfire comes at load first.",
                compared_with=f"{RESERVE:.0%} of the available voltage: {PRACTICE}",
                because=(demand.key, available.key),
                cautions=("hv", "local"),
                state=state,
            )


def _wear(case: Case, state: State, now: str, largest: str, left: str, words: str) -> Iterator[Finding]:
    """Yield the cylinders that reach a wear limit soon, the first of them by name."""
    ends = [one for one in _results(case, state, left) if one.value < SOON]
    if not ends:
        return
    first = min(ends, key=lambda one: one.value)
    worn = number_at(case.worked, state, first.place, now)
    reached = first.value <= 0.0
    others = [_name(one.place) for one in ends if one is not first]
    yield Finding(
        code="CY-26",
        subject="cylinders",
        says=(
            f"{words[0].upper()}{words[1:]} of cylinder {_name(first.place)}"
            + (f", {said(case, worn)}," if worn else "")
            + (" is at its limit" if reached else f" reaches its limit in {said(case, first)} at the mean rate so far")
            + (f"; cylinders {', '.join(others)} follow" if others else "")
        ),
        severity="visit" if reached else "soon",
        next_step=("Plan the exchange before that; measure again in between, because wear quickens towards the end."),
        compared_with=quantity(largest).title,
        because=tuple(one.key for one in ends),
        cautions=("hv", *ISOLATED) if now == "plug_gap" else ISOLATED,
        state=state,
    )


def _clearance(case: Case, state: State, valve: str) -> Iterator[Finding]:
    name = f"{valve}_valve_clearance"
    read = {r.place: r for r in case.worked.readings if r.state == state and r.quantity == name}
    if len(read) < 3:
        return
    middle = float(np.median([one.value for one in read.values()]))
    for place in sorted(read, key=in_number_order):
        one = read[place]
        if one.value >= CLOSED * middle:
            continue
        yield Finding(
            code="CY-27",
            subject="cylinders",
            says=(
                f"{valve.capitalize()} valve clearance of cylinder {_name(place)} is {said(case, one)}, the median of "
                f"all {in_units(case, middle, name)}: it closes up"
            ),
            severity="visit" if one.value <= 0.0 else "soon",
            next_step=(
                "Set it by the engine's own document, and take valve recession and compression of this cylinder: a "
                "valve that recedes into its seat closes the clearance, then leaks and burns."
            ),
            compared_with=f"half of the median: {PRACTICE}",
            because=(one.key,),
            cautions=ISOLATED,
            state=state,
        )


def _crankcase(case: Case) -> Iterator[Finding]:
    """Yield a crankcase pressure that rose since the last visit."""
    if case.previous is None:
        return
    name = "crankcase_pressure"
    now = number_at(case.worked, "as_found", "engine", name)
    then = number_at(case.previous, "as_left", "engine", name) or number_at(case.previous, "as_found", "engine", name)
    if now is None or then is None or now.value < LEAST_PRESSURE or then.value <= 0.0:
        return
    ratio = float(flow_ratio(now.value, then.value))
    if ratio < RISEN:
        return
    yield Finding(
        code="CY-28",
        subject="cylinders",
        says=(
            f"Crankcase pressure is {said(case, now)}, at the last visit {in_units(case, then.value, name)}: with the "
            f"breather unchanged that is {ratio:.1f} times the blow-by"
        ),
        severity="soon",
        next_step=(
            "Look at breather and oil separator first: blocked, they raise the pressure without blow-by. Then "
            "compression or leak-down of each cylinder."
        ),
        compared_with="the last visit; compare at like load",
        because=(now.key,),
        cautions=("crankcase", "hot", "local"),
    )
