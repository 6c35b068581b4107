"""Findings about the gas and the engine: whether it knocks, and what a change of gas does to the mixture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from asfound.fuel.methane_number import UNDECIDED
from asfound.quantities.case_numbers import Number, each_state, held, latest_at, said
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding, Result

CHANGED, MUCH = 0.01, 0.03
"""Change of the Wobbe index that is told, and that moves a mixture out of its usual band: engineering judgement."""
DOUBTS = 2.0
"""Standard uncertainties that a change must exceed to be one."""
NOT_NATURAL_GAS = 0.10
"""Carbon dioxide from which on a gas is none of those that EN 16726 is for: engineering judgement. [mol/mol]"""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the gas means for this engine."""
    yield from _knock(case)
    yield from _method(case)
    yield from _since_last_visit(case)
    yield from _since_setting(case)


def _knock(case: Case) -> Iterator[Finding]:
    for margin in each_state(case.worked, "engine", "methane_number_margin"):
        needed = held(case.worked, margin.state, "engine", "required_methane_number")
        number = held(case.worked, margin.state, "fuel", "methane_number")
        if needed is None or number is None:
            continue
        doubt = max(UNDECIDED, DOUBTS * margin.standard_uncertainty)
        stands = f"{number.value:.1f}, the build needs {needed.value:.0f}"
        common = {"subject": "fuel", "because": (margin.key, number.key, needed.key), "state": margin.state}
        if margin.value < -doubt:
            yield Finding(
                code="FU-01",
                says=f"The methane number of the gas is below what the build needs: {stands}",
                severity="visit",
                next_step="Bring load down or timing back as the engine's document says for this methane number, in "
                "agreement with the operator; look at the knock readings.",
                compared_with="required methane number of the build",
                cautions=("gas", "local"),
                **common,  # type: ignore[arg-type]
            )
        elif margin.value <= doubt:
            yield Finding(
                code="FU-02",
                says=f"The methane number of the gas is too close to what the build needs to be sure: {stands}",
                severity="soon",
                next_step="Ask by which method the engine's document means its limit; watch knock when the gas gets "
                "richer. Methods differ by more than the margin.",
                compared_with=f"required methane number of the build; within {doubt:.1f} undecided",
                **common,  # type: ignore[arg-type]
            )
        else:
            yield Finding(
                code="FU-03",
                says=f"The methane number of the gas is above what the build needs: {stands}",
                severity="note",
                next_step="Nothing to do.",
                compared_with="required methane number of the build",
                **common,  # type: ignore[arg-type]
            )


def _method(case: Case) -> Iterator[Finding]:
    for number in each_state(case.worked, "fuel", "methane_number"):
        carbon_dioxide = held(case.worked, number.state, "fuel", "fuel_carbon_dioxide")
        biogas = carbon_dioxide is not None and carbon_dioxide.value > NOT_NATURAL_GAS
        if not isinstance(number, Result) or not (number.outside or biogas):
            continue
        because = _some(number.outside) or (
            f"{100 * carbon_dioxide.value:.0f} % carbon dioxide: no natural gas" if carbon_dioxide else ""
        )
        yield Finding(
            code="FU-08",
            subject="fuel",
            says=f"The methane number {round(number.value)} is outside what its method was made for: {because}",
            severity="note",
            next_step="Take it as an indication; ask the builder's document for this kind of gas.",
            compared_with="limits of use of EN 16726 annex A",
            because=(number.key,),
            state=number.state,
        )


def _some(reasons: Sequence[str]) -> str:
    """Return the first two reasons in words, and how many more there are: the trail of the number has them all."""
    more = len(reasons) - 2
    return "; ".join(reasons[:2]) + (f"; and {more} more" if more > 0 else "")


def _since_last_visit(case: Case) -> Iterator[Finding]:
    """Yield what has become of the gas since the last visit."""
    if case.previous is None:
        return
    for now in each_state(case.worked, "fuel", "wobbe_index"):
        before = latest_at(case.previous, "fuel", "wobbe_index")
        if before is None or not _is_other(now, before):
            continue
        told = []
        for title, name in (("heating value", "gross_heating_value"), ("air demand", "stoichiometric_air")):
            one, other = held(case.worked, now.state, "fuel", name), latest_at(case.previous, "fuel", name)
            if one is not None and other is not None and other.value:
                told.append(f"{title} by {_per_cent(one.value / other.value - 1)}")
        number, past = (
            held(case.worked, now.state, "fuel", "methane_number"),
            latest_at(case.previous, "fuel", "methane_number"),
        )
        if number is not None and past is not None:
            told.append(f"methane number by {number.value - past.value:+.1f}".replace("-", "\u2212"))
        change = now.value / before.value - 1
        yield Finding(
            code="FU-09",
            subject="fuel",
            says=f"The gas has changed since the last visit: Wobbe index by {_per_cent(change)}"
            + (f", {', '.join(told)}" if told else ""),
            severity="visit" if abs(change) > MUCH else "soon",
            next_step="Take the mixture by the exhaust's oxygen before anything is set: without gas-quality control "
            "it moves by about as much as the Wobbe index, the other way.",
            compared_with=f"last visit {said(case, before)}",
            because=(now.key,),
            state=now.state,
        )


def _since_setting(case: Case) -> Iterator[Finding]:
    """Yield how the gas stands to that on which the mixture was set."""
    for now in each_state(case.worked, "fuel", "wobbe_index"):
        then = held(case.worked, now.state, "engine", "setting_wobbe_index")
        if then is None or not _is_other(now, then):
            continue
        change = now.value / then.value - 1
        yield Finding(
            code="FU-10",
            subject="fuel",
            says=f"The gas is not that on which the mixture was set: Wobbe index {_per_cent(change)}",
            severity="visit" if abs(change) > MUCH else "soon",
            next_step=f"Expect the mixture {'richer' if change > 0 else 'leaner'} by about as much; prove it by the "
            "exhaust's oxygen, then set it by the document of this build.",
            compared_with=f"set with {said(case, then)}",
            because=(now.key, then.key),
            cautions=("hot", "local"),
            state=now.state,
        )


def _is_other(now: Number, before: Number) -> bool:
    """Return whether two Wobbe indices differ by more than their doubt and more than matters."""
    if not before.value > 0 or now.value != now.value:
        return False
    doubt = DOUBTS * math.hypot(now.standard_uncertainty, before.standard_uncertainty)
    return abs(now.value - before.value) > max(doubt, CHANGED * before.value)


def _per_cent(share: float) -> str:
    """Return a change with its sign: ``+3.2 %``."""
    return f"{100 * share:+.1f} %".replace("-", "\u2212")
