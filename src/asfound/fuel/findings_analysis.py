"""Findings about the gas analysis itself: whether it can be taken for the gas that burns now."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.case_numbers import each_state, held, number_at, said
from asfound.quantities.display import number_text
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Reading

MOST_OFF = 0.01
"""A sum further than this from 1 means a component missing or misread (ASTM D1945, from memory). [mol/mol]"""
OLD = 183 * 86_400.0
"""Twice a year is how often a gas that does not change is sampled: common practice, no source. [s]"""
SOME_AIR = 0.005
"""Air above this is more than a laboratory leaves in a sample bottle: engineering judgement. [mol/mol]"""
LIKE_AIR = (3.0, 5.0)
"""Nitrogen over oxygen in dry air is 3.73; within these ends all of the nitrogen may be air's. [1]"""
GAS_WITH_AIR = 0.15
"""Carbon dioxide from which on a gas is a biogas or landfill gas, whose field may draw air. [mol/mol]"""
APART, DOUBTS = 0.01, 2.0
"""Heating values stand apart by more than 1 % and two standard uncertainties: engineering judgement."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what is to be known of the analysis."""
    yield from _two_gases(case)
    yield from _sum(case)
    yield from _burns(case)
    yield from _age(case)
    yield from _air(case)
    yield from _heating_values(case)


def _two_gases(case: Case) -> Iterator[Finding]:
    """Yield that two analyses of one visit have lines that only one of them has: a line holds for both states until it
    is taken again, so those count in both.
    """
    lines: dict[str, dict[str, Reading]] = {state: {} for state in STATES}
    for one in case.readings:
        if one.quantity in ANALYSIS and one.place == "fuel":
            lines[one.state][one.quantity] = one
    found, left = (lines[state] for state in STATES)
    if not found or not left:
        return
    alone = [one for here, there in ((found, left), (left, found)) for name, one in here.items() if name not in there]
    alone = [one for one in alone if one.value > 0.0 and len(left) > 1]
    if alone:
        names = ", ".join(ANALYSIS[one.quantity] for one in alone)
        yield Finding(
            code="FU-18",
            subject="fuel",
            says=f"Two analyses of this visit run into each other: {names} {'was' if len(alone) == 1 else 'were'} "
            f"typed in one of them only and {'counts' if len(alone) == 1 else 'count'} in both",
            severity="clash",
            next_step="Type each analysis whole, 0 for what the gas has not: until then heating value, methane number "
            "and mixture are those of neither gas.",
            because=tuple(one.key for one in alone),
            state="as_left",
        )


def _sum(case: Case) -> Iterator[Finding]:
    for total in each_state(case.worked, "fuel", "fuel_analysis_sum"):
        if abs(total.value - 1) > MOST_OFF:
            yield Finding(
                code="FU-04",
                subject="fuel",
                says=f"The gas analysis adds up to {100 * total.value:.2f} %; results were scaled to 100 %",
                severity="soon",
                next_step="Compare each line with the report; if nothing was misread, ask the laboratory for the rest.",
                compared_with="99 to 101 %",
                because=(total.key,),
                state=total.state,
            )


def _burns(case: Case) -> Iterator[Finding]:
    for total in each_state(case.worked, "fuel", "fuel_analysis_sum"):
        heat = case.worked.result(f"{total.state}/fuel/gross_heating_value")
        if heat is not None and heat.value == 0.0:
            yield Finding(
                code="FU-17",
                subject="fuel",
                says="Nothing in the gas analysis burns, so no heat, air or mixture follows from it",
                severity="clash",
                next_step="Compare each line with the report: one was misread or left out, or the sample was purge gas "
                "or air. Until then the exhaust is judged as that of the gas that was assumed.",
                because=(total.key,),
                state=total.state,
            )


def _age(case: Case) -> Iterator[Finding]:
    for age in each_state(case.worked, "fuel", "fuel_analysis_age"):
        if age.value > OLD:
            yield Finding(
                code="FU-05",
                subject="fuel",
                says=f"The gas analysis is {age.value / 86_400:.0f} days old",
                severity="soon",
                next_step="Ask what has changed in the field since; have a sample taken at this engine.",
                compared_with=f"{OLD / 86_400:.0f} days (common practice, no source)",
                because=(age.key,),
                cautions=("gas",),
                state=age.state,
            )


def _air(case: Case) -> Iterator[Finding]:
    for air in each_state(case.worked, "fuel", "fuel_air_in_sample"):
        oxygen, nitrogen, carbon_dioxide = (
            held(case.worked, air.state, "fuel", name)
            for name in ("fuel_oxygen", "fuel_nitrogen", "fuel_carbon_dioxide")
        )
        if air.value <= SOME_AIR or oxygen is None or nitrogen is None or oxygen.value <= 0:
            continue
        ratio = nitrogen.value / oxygen.value
        if not LIKE_AIR[0] <= ratio:
            continue  # oxygen without its nitrogen: not air
        alike = ratio <= LIKE_AIR[1]
        field = carbon_dioxide is not None and carbon_dioxide.value >= GAS_WITH_AIR
        yield Finding(
            code="FU-06",
            subject="fuel",
            says=f"Oxygen and nitrogen of the analysis can be {number_text(100 * air.value, 2)} % air"
            + (", and stand to each other as in air" if alike else ""),
            severity="note" if field else "soon",
            next_step=(
                "Look for air drawn in at the gas field or on the suction side; if the line is tight, sample again."
                if field
                else "Have the gas sampled again, bottle purged; until then let the air be taken out of the analysis."
            ),
            compared_with=f"{100 * SOME_AIR:g} %; nitrogen over oxygen {ratio:.1f}, in air 3.7",
            because=(air.key, oxygen.key, nitrogen.key),
            cautions=("gas",),
            state=air.state,
        )


def _heating_values(case: Case) -> Iterator[Finding]:
    for state in STATES:
        typed = number_at(case.worked, state, "fuel", "gross_heating_value")
        computed = case.worked.result(f"{state}/fuel/gross_heating_value")
        if not isinstance(typed, Reading) or computed is None or typed.value <= 0 or computed.value != computed.value:
            continue
        apart = case.worked.difference(typed, computed)
        share = apart.value / computed.value
        if abs(share) > APART and abs(apart.value) > DOUBTS * apart.standard_uncertainty:
            yield Finding(
                code="FU-07",
                subject="fuel",
                says=f"The heating value typed is {100 * abs(share):.1f} % {'over' if share > 0 else 'under'} that of "
                f"the analysis: {said(case, typed)} against {said(case, computed)}",
                severity="clash",
                next_step="Look at its unit, base pressure, gross or net, dry or wet; else the analysis is of other "
                "gas: sample again.",
                compared_with="heating value by ISO 6976 from the analysis",
                because=(typed.key, computed.key),
                state=state,
            )
