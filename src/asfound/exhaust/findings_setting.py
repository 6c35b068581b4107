"""Findings of the inverse question: which mixture would meet the NOx limit."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.limits_of_case import facts_of, outlets, permit_limits
from asfound.exhaust.mixture_for_limit import PERMIT_QUANTITY
from asfound.exhaust.mixture_setting import WARNINGS, setting_for
from asfound.exhaust.worksheets_inverse import BEFORE_A_CHANGE
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.limits import UNSURE
from asfound.quantities.words import Finding, State

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
