"""Findings of the inverse question, and of what would decide an undecided number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from asfound.exhaust.decide import to_decide
from asfound.exhaust.limits_of_case import facts_of, outlets, permit_limits
from asfound.exhaust.mixture_for_limit import PERMIT_QUANTITY
from asfound.exhaust.mixture_setting import WARNINGS, setting_for
from asfound.exhaust.worksheets_inverse import BEFORE_A_CHANGE
from asfound.fuel.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.limits import UNSURE
from asfound.quantities.register import System
from asfound.quantities.words import Finding, Reading, Result, State

NO_CATALYST_FOR_NOX = (None, "none", "oxidation")
"""Behind a catalyst that takes NOx out, leaner mixture is no answer."""


def find(case: Case) -> Iterator[Finding]:
    """Yield a setting for each NOx limit that the engine, as it runs now, is not surely inside."""
    if facts_of(case.engine)[0].catalyst not in NO_CATALYST_FOR_NOX:
        return
    state: State = "as_left" if outlets(case.worked, "as_left") else "as_found"
    for limit in permit_limits(case):
        if limit.quantity not in PERMIT_QUANTITY or limit.side != "upper":
            continue
        number = next(
            (
                one
                for place in outlets(case.worked, state)
                if limit.place in ("", place) and (one := number_at(case.worked, state, place, limit.quantity))
            ),
            None,
        )
        if number is None or (beyond := case.worked.probability_beyond(number, limit)) <= UNSURE:
            continue
        before = case.previous if state == "as_found" else None
        setting = setting_for(case.worked, limit, place=number.place, state=state, previous=before)
        if setting is None:
            continue
        yield Finding(
            code="EX-38",
            subject="exhaust",
            says=f"Mixture for the {limit.name} of {limit.as_typed}. {setting.says}",
            severity="note",
            next_step=" ".join(WARNINGS),
            compared_with=f"{limit.name} {limit.as_typed}",
            probability=beyond,
            because=setting.because,
            cautions=BEFORE_A_CHANGE,
            state=state,
        )


def with_what_decides(case: Case, finding: Finding) -> Finding:
    """Return a finding of an undecided number with what to measure better added to its next step."""
    system: System = "us" if case.visit.get("system") == "us" else "si"
    known: tuple[Result | Reading, ...] = (*case.worked.results, *case.readings)
    for limit in case.limits:
        for number in known:
            if (
                number.key in finding.because
                and number.quantity == limit.quantity
                and finding.compared_with.startswith(f"{limit.name} {limit.as_typed}")
                and case.worked.probability_beyond(number, limit) == finding.probability
            ):
                answer = to_decide(case.worked, number, limit, system=system)
                return replace(finding, next_step=f"{finding.next_step} {answer.says}")
    return finding
