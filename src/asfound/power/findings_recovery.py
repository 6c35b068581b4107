"""Findings of heat recovery: beside what is published, and how near to a dew point the exhaust is cooled."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.power.findings_heat import share_between
from asfound.quantities.case_numbers import each_state, number_at, said
from asfound.quantities.display import chance
from asfound.quantities.findings import Case
from asfound.quantities.limits import UNSURE
from asfound.quantities.words import STATES, Finding, Result, State
from asfound.sources.tables import load_csv

MARGIN = 10.0
"""Kelvin above a dew point that exhaust is kept at: common practice, no source."""
BTU_PER_KWH = 3412.14


def find(case: Case) -> Iterator[Finding]:
    """Yield what heat recovery means."""
    for state in STATES:
        yield from _recovery(case, state)
        yield from _dew(case, state)


def _recovery(case: Case, state: State) -> Iterator[Finding]:
    """Yield where heat recovery stands surely outside what is published."""
    overall = case.worked.result(f"{state}/engine/overall_efficiency_gross")
    low, high = _range("overall_efficiency_gross", 100.0)
    if overall is not None and share_between(case.worked, overall, low, high) < UNSURE:
        yield _outside(
            f"The overall efficiency of {said(case, overall)} on gross heat (HHV)",
            f"{100 * low:.0f} to {100 * high:.0f} %",
            "Check water flows, both temperatures, the base of the fuel flow, and whether all that heat is used.",
            overall,
            state,
        )
    heat = case.worked.result(f"{state}/engine/recovered_exhaust_heat")
    power = number_at(case.worked, state, "generator", "generator_power")
    if heat is None or power is None or not power.value > 0:
        return
    low, high = _range("recovered_heat_per_power", BTU_PER_KWH)
    one, two = case.worked.draws(heat), case.worked.draws(power)
    count = min(one.size, two.size)
    ratio = one[:count] / two[:count]
    if float(((ratio >= low) & (ratio <= high)).mean()) < UNSURE:
        now = heat.value / power.value
        yield _outside(
            f"Heat recovered from the exhaust, {now * BTU_PER_KWH:,.0f} Btu/kWh ({now:.2f} kW per kW electrical),",
            f"{low * BTU_PER_KWH:,.0f} to {high * BTU_PER_KWH:,.0f} Btu/kWh",
            "Check exhaust temperature before and after the exchanger, bypass damper, and the mixture.",
            heat,
            state,
        )


def _range(name: str, per_si: float) -> tuple[float, float]:
    """Return a published range in SI."""
    row = next(one for one in load_csv("asfound.power", "data/published_ranges.csv") if one["quantity"] == name)
    return float(row["low"]) / per_si, float(row["high"]) / per_si


def _outside(what: str, published: str, next_step: str, number: Result, state: State) -> Finding:
    return Finding(
        code="PW-32",
        subject="load",
        says=f"{what} is outside what is published of gas engines with heat recovery, {published}",
        severity="soon",
        next_step=next_step,
        compared_with=published,
        because=(number.key,),
        state=state,
    )


def _dew(case: Case, state: State) -> Iterator[Finding]:
    """Yield where exhaust is cooled near or below a dew point."""
    cooled = number_at(case.worked, state, "stack", "recovery_outlet_temperature")
    if cooled is None:
        return
    for place, name, words in (
        ("stack", "exhaust_dew_point", "its water"),
        ("engine", "exhaust_acid_dew_point", "sulfuric acid"),
    ):
        for dew in each_state(case.worked, place, name):
            if dew.state != state or not dew.value > 0:
                continue
            one, two = case.worked.draws(cooled), case.worked.draws(dew)
            count = min(one.size, two.size)
            near = float((one[:count] < two[:count] + MARGIN).mean())
            if near > UNSURE:
                yield Finding(
                    code="PW-39",
                    subject="load",
                    says=(
                        f"The exhaust leaves the heat recovery at {said(case, cooled)}, less than {MARGIN:.0f} K above "
                        f"where {words} condenses, {said(case, dew)}: {chance(near)}"
                    ),
                    severity="soon",
                    next_step=(
                        "Look for wet and corroded tubes and a blocked drain; raise the outlet temperature unless the "
                        "exchanger is made to condense."
                    ),
                    probability=near,
                    because=(cooled.key, dew.key),
                    cautions=("hot", "confined", "chemical"),
                    state=state,
                )
