"""Findings of efficiency and heat balance."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np

from asfound.quantities.case_numbers import Number, number_at, said
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.register import quantities, quantity
from asfound.quantities.words import STATES, Finding, Result, Severity, State
from asfound.quantities.worked import Worked
from asfound.sources.tables import load_csv

ELECTRICAL, SHAFT = "electrical_efficiency_gross", "brake_efficiency_gross"
GENERATOR = 0.96
"""Taken where the terminals were not metered: common practice, no source."""
NEWEST = 0.46
"""Electrical efficiency (HHV) that no engine known passes, about 51 % on net heat: engineering judgement."""
REST = (0.0, 0.10)
"""Of the net heat of the fuel, where all terms were measured: radiation and pumps; common practice, no source."""
TELLS = 0.20
"""Width of the rest's interval from which on the balance tells nothing (engineering judgement)."""
FAR_FROM_CLASS = 0.05
"""From the efficiency of a size class (engineering judgement: classes differ by so much among themselves)."""
TERMS = {"jacket_heat": "jacket water", "auxiliary_heat": "auxiliary water", "unburned_heat": "what did not burn"}
PART_LOAD = 0.6


def find(case: Case) -> Iterator[Finding]:
    """Yield what efficiency and balance mean."""
    for state in STATES:
        yield from _efficiency(case, state)
        yield from _balance(case, state)


@cache
def published_range() -> tuple[float, float]:
    """Return the lowest and highest electrical efficiency over gross heat that publications at hand name. [1]"""
    ranges = load_csv("asfound.power", "data/published_ranges.csv")
    row = next(one for one in ranges if one["quantity"] == ELECTRICAL)
    systems = load_csv("asfound.power", "data/chp_catalog_systems.csv")
    best = max(float(one["electrical_efficiency"]) for one in systems)
    return float(row["low"]) / 100, max(float(row["high"]) / 100, best)


def size_class(kilowatt: float) -> tuple[str, float] | None:
    """Return the narrowest size class that holds a power, in words, and its electrical efficiency (HHV). [1]"""
    rows = load_csv("asfound.power", "data/chp_size_classes.csv")
    fitting = [one for one in rows if float(one["kw_from"]) <= kilowatt <= float(one["kw_to"])]
    if not fitting:
        return None
    one = min(fitting, key=lambda row: float(row["kw_to"]) - float(row["kw_from"]))
    return f"{one['kw_from']} to {one['kw_to']} kW", float(one["electrical"])


def share_between(worked: Worked, number: Number, low: float, high: float) -> float:
    """Return the share of draws between two values."""
    drawn = worked.draws(number)
    drawn = drawn[np.isfinite(drawn)]
    return float(((drawn >= low) & (drawn <= high)).mean()) if drawn.size else float("nan")


def _efficiency(case: Case, state: State) -> Iterator[Finding]:
    """Yield whether an efficiency can be, and how it stands beside engines of its size."""
    worked = case.worked
    terminals = worked.result(f"{state}/engine/{ELECTRICAL}")
    number = terminals or worked.result(f"{state}/engine/{SHAFT}")
    if number is None or not number.value > 0:
        return
    factor = 1.0 if terminals else GENERATOR
    low, high = (one / factor for one in published_range())
    above, below = share_between(worked, number, high, np.inf), share_between(worked, number, -np.inf, low)
    basis = "at the terminals" if terminals else "at the shaft"
    if above >= SURE or below >= SURE:
        yield _implausible(case, number, above >= SURE, (low, high), NEWEST / factor, basis, state)
        return
    power = number_at(worked, state, "generator", "generator_power")
    known = size_class(power.value / 1e3) if power is not None else None
    if known is None or not terminals:
        return
    name, typical = known
    far = share_between(worked, number, typical - FAR_FROM_CLASS, typical + FAR_FROM_CLASS) < UNSURE
    away = 100 * (number.value - typical)
    yield Finding(
        code="PW-32",
        subject="load",
        says=(
            f"The electrical efficiency of {said(case, number)} on gross heat (HHV) stands {abs(away):.1f} points "
            f"{'over' if away > 0 else 'under'} the {100 * typical:.1f} % of published engines of {name}"
        ),
        severity="soon" if far and away < 0 else "note",
        next_step=(
            "Compare with the engine's own data sheet at this load, with the last visit, and with the heat balance."
            if far
            else "Nothing to do. A class average says little of one engine: its own data sheet says more."
        ),
        compared_with=f"{100 * typical:.1f} %, public default table by size class, full load",
        because=(number.key,),
        state=state,
    )


def _implausible(
    case: Case, number: Result, over: bool, limits: tuple[float, float], newest: float, basis: str, state: State
) -> Finding:
    beyond_any = over and number.value > newest
    load = number_at(case.worked, state, "engine", "engine_load")
    part = not over and load is not None and load.value < PART_LOAD
    severity: Severity = "note" if part or (over and not beyond_any) else "clash"
    if over:
        next_step = (
            "The fuel is counted too low or the power too high: check base conditions and zero of the fuel meter, the "
            "heating value's basis, and current transformers."
            if beyond_any
            else "Newer engines reach this; compare with its own data sheet, and check the basis of the heating value."
        )
    elif part:
        next_step = "At part load this is usual. Judge it at higher load."
    else:
        next_step = (
            "The fuel is counted too high or the power too low: check base conditions of the fuel meter, whether "
            "another consumer hangs on it, current transformers, and then the engine."
        )
    return Finding(
        code="PW-30" if over else "PW-31",
        subject="load",
        says=(
            f"An efficiency {basis} of {said(case, number)} on gross heat (HHV) is {'above' if over else 'below'} "
            f"what is published of gas engines, {100 * limits[0]:.0f} to {100 * limits[1]:.1f} %"
        ),
        severity=severity,
        next_step=next_step,
        compared_with="published ranges; the upper end from a catalogue, from memory",
        because=(number.key,),
        state=state,
    )


def _balance(case: Case, state: State) -> Iterator[Finding]:
    """Yield whether the heat balance closes, and what is not in it."""
    rest = case.worked.result(f"{state}/engine/balance_rest_share")
    if rest is None or not np.isfinite(rest.value):
        return
    there = {one.quantity for one in rest.inputs}
    lacking = [words for name, words in TERMS.items() if name not in there]
    inside = share_between(case.worked, rest, -np.inf if lacking else REST[0], np.inf if lacking else REST[1])
    negative = share_between(case.worked, rest, -np.inf, REST[0])
    low, high = rest.interval
    if negative >= SURE or (not lacking and inside <= UNSURE):
        yield Finding(
            code="PW-33",
            subject="load",
            says=(
                f"The heat balance does not close: {said(case, rest)} of the fuel's net heat is left over"
                + (", less than nothing" if negative >= SURE else f", where 0 to {100 * REST[1]:.0f} % is usual")
            ),
            severity="clash",
            next_step=_heaviest(case, rest),
            compared_with=f"radiation and pumps, 0 to {100 * REST[1]:.0f} % (common practice)",
            probability=1 - inside if not lacking else negative,
            because=(rest.key,),
            state=state,
        )
    elif lacking:
        yield Finding(
            code="PW-34",
            subject="load",
            says=(
                f"The heat balance leaves {said(case, rest)} of the fuel's net heat; not measured: {', '.join(lacking)}"
            ),
            severity="note",
            next_step="Read flow and both temperatures of these, if the balance is to prove anything.",
            because=(rest.key,),
            state=state,
        )
    elif high - low > TELLS:
        yield Finding(
            code="PW-34",
            subject="load",
            says=f"The heat balance leaves {said(case, rest)} of the fuel's net heat: too wide to prove anything",
            severity="note",
            next_step=_heaviest(case, rest),
            because=(rest.key,),
            state=state,
        )


def _heaviest(case: Case, rest: Result) -> str:
    """Return which reading weighs most in the rest of the balance."""
    shares = case.worked.shares(rest)
    if not shares:
        return "Take fuel flow and water flows once more."
    key, share = shares[0]
    name = key.split(" + ")[0].rsplit("/", 1)[-1]
    title = quantity(name).title if name in quantities() else "what no single reading explains"
    return (
        f"Most of the doubt, {100 * share:.0f} %, lies in: {title}. Take it again by another instrument. A fuel flow "
        "at the wrong base and a water flow off its scale are the usual causes."
    )
