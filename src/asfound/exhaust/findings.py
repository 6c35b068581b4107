"""Findings of the exhaust: what its results mean beside the limits of the permit."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.display import chance, show
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.words import Finding, Limit, Result

OVER, NEAR = 0.95, 0.05
"""Over from the first chance on, undecided between the two. Engineering judgement: a permit may say otherwise."""

OWN = ("exhaust",)


def find(case: Case) -> Iterator[Finding]:
    """Yield a finding for each result of the exhaust that a limit is set for."""
    for limit in case.limits:
        if quantity(limit.quantity).step not in OWN:
            continue
        for result in case.worked.results:
            if result.quantity == limit.quantity and limit.place in ("", result.place):
                yield from _beside(case, result, limit)


def _beside(case: Case, result: Result, limit: Limit) -> Iterator[Finding]:
    """Judge one result beside one limit."""
    beyond = case.worked.probability_beyond(result, limit)
    system = str(case.visit.get("system", "si"))
    said = show(result.value, result.quantity, system=system, interval=result.interval)
    title = quantity(result.quantity).title
    stands = f"{said.value} {said.unit} ({said.low} to {said.high}) of {limit.as_typed}"
    compared = f"{limit.name} {limit.as_typed}" + (f", {limit.text}" if limit.text else "")
    if beyond >= OVER:
        code, severity = "EX-01", "visit"
        says = f"{title} is over the {limit.name}"
        step = "Tell the site's environmental office; find the cause before the mixture is moved, then prove as left."
    elif beyond > NEAR:
        code, severity = "EX-02", "visit"
        says = f"{title} is too close to the {limit.name} to be sure"
        step = "Zero and span the analyser, take it again at steady load; improve the reading with most of the doubt."
    else:
        code, severity = "EX-03", "note"
        says = f"{title} is inside the {limit.name}"
        step = "Nothing to do."
    yield Finding(
        code=code,
        subject="exhaust",
        says=f"{says}: {stands}",
        severity=severity,  # type: ignore[arg-type]
        next_step=f"{chance(beyond)} to be over. {step}"
        if limit.side == "upper"
        else f"{chance(beyond)} to be under. {step}",
        compared_with=compared,
        probability=beyond,
        because=(result.key,),
        cautions=("local",) if severity == "visit" else (),
        state=result.state,
    )
