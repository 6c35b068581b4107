"""Findings of general rules: what they say beside the permit, what is to be said, and what would settle a doubt."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.facts import NOT_EVIDENCE, factor
from asfound.exhaust.limits import NOT_YOURS, Applicable, Application, stricter_than_permit
from asfound.exhaust.limits_margin import Margin
from asfound.exhaust.limits_of_case import (
    applicable_to,
    can_be_judged,
    facts_of,
    margins,
    outlets,
    permit_limits,
)
from asfound.exhaust.limits_table import READ
from asfound.exhaust.rule_facts import FACTS
from asfound.quantities.case_numbers import held, number_at, said
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.register import quantity
from asfound.quantities.words import STATES, Finding, Severity, State

ASK = "Ask the site's environmental office which limits are in force, and put them on the record."
UNLIKELY = 3.0
"""Times the factor of uncontrolled engines: more makes the reading doubtful (engineering judgement)."""
PER_HEAT = {
    "nox_mass_per_heat": "NOx",
    "co_mass_per_heat": "CO",
    "voc_mass_per_heat": "VOC",
    "formaldehyde_mass_per_heat": "formaldehyde",
}


def find(case: Case) -> Iterator[Finding]:
    """Yield what general rules say of this visit."""
    if not any(outlets(case.worked, state) for state in STATES):
        return
    found = applicable_to(case)
    _, slips = facts_of(case.engine)
    yield from _open(case, found, slips)
    yield from _stricter(case, found)
    for state in STATES:
        groups: dict[str, list[Application]] = {}
        for one in found.used:
            if one.rule.kind in ("limit", "reduction"):
                groups.setdefault(one.rule.choice or one.rule.id, []).append(one)
        for group in groups.values():
            yield from _group(case, group, state)
        yield from _unlikely(case, state)


def _group(case: Case, group: list[Application], state: State) -> Iterator[Finding]:
    """Yield the finding of rows that are alternatives: the one that the engine meets best counts."""
    stands = [margin for one in group for margin in margins(case, one, state)]
    if not stands:
        return
    best = min(stands, key=lambda one: one.probability)
    severity: Severity = "note"
    code, words, step = "EX-39", "is inside", "Nothing to do."
    if best.probability > UNSURE:
        over = best.probability >= SURE
        code, severity = "EX-30", "visit" if over else "soon"
        words, step = ("is beyond", ASK) if over else ("is too close to be sure to", ASK)
    yield _of_margin(best, code, words, severity, step)
    worst = max(stands, key=lambda one: one.probability)
    if best.probability <= UNSURE and worst.probability >= SURE:
        yield Finding(
            code="EX-33",
            subject="exhaust",
            says=(
                f"{best.rule.pollutant} passes by {best.rule.as_typed} and fails by {worst.rule.as_typed}: "
                f"{best.says}; {worst.says}"
            ),
            severity="note",
            next_step=(
                "The two units of the rule are not equivalent for a given engine: they meet at one heat rate only. The "
                "owner of a non-certified engine may choose; agree in which unit the test is reported beforehand."
            ),
            compared_with=best.rule.where,
            cautions=("local",),
            state=state,
        )


def _of_margin(margin: Margin, code: str, words: str, severity: Severity, step: str) -> Finding:
    """Return the finding of a number beside one row."""
    rule = margin.rule
    what = rule.pollutant + (" conversion" if rule.kind == "reduction" else "")
    doubt = "" if rule.status == READ else f" The row itself is {rule.status_words}."
    return Finding(
        code=code,
        subject="exhaust",
        says=f"{what} {words} a {NOT_YOURS}, {rule.where}: {margin.says}.{doubt}",
        severity=severity,
        next_step=step,
        compared_with=f"{NOT_YOURS}: {rule.says}",
        probability=margin.probability,
        because=(f"{margin.state}/{margin.place}/{rule.quantity}",),
        cautions=("local",),
        state=margin.state,
    )


def _open(case: Case, found: Applicable, slips: tuple[str, ...]) -> Iterator[Finding]:
    """Yield what must be said before rules can be told, unless the permit is all that the record wants."""
    begun = bool(case.engine.get("rules"))
    if slips:
        yield Finding(
            code="EX-34",
            subject="exhaust",
            says=f"What is kept of the engine for general rules cannot be read: {' '.join(slips)}",
            severity="soon",
            next_step="Write it again among the facts of the engine.",
        )
    if permit_limits(case) and not begun:
        return
    open_ = [one for one in found.may_apply if one.overridden_by is None and can_be_judged(case, one)]
    asked = [fact for one in open_ for fact in one.asks]
    asks = sorted(dict.fromkeys(asked), key=lambda one: (-asked.count(one), list(FACTS).index(one)))[:3]
    if not asks:
        return
    yield Finding(
        code="EX-31",
        subject="exhaust",
        says=f"{len(open_)} rows of general rules may apply to what was read; the record does not say "
        + ", ".join(FACTS[one].ask for one in asks),
        severity="note",
        next_step=f"Say it among the facts of the engine. {ASK}",
        cautions=("local",),
    )


def _stricter(case: Case, found: Applicable) -> Iterator[Finding]:
    """Yield the rows that a permit puts aside although they are stricter."""
    at_engine = held(case.worked, "as_found", "engine", "permit_reference_oxygen")
    reference = at_engine or held(case.worked, "as_found", "site", "permit_reference_oxygen")
    at = None if reference is None else reference.value
    for one in found.applying:
        limit = one.overridden_by
        if limit is not None and stricter_than_permit(one, at):
            yield Finding(
                code="EX-32",
                subject="exhaust",
                says=(
                    f"The {limit.name} ({limit.as_typed}) was used; a {NOT_YOURS}, is stricter: {one.rule.says}, "
                    f"{one.rule.where}. {one.rule.status_words[0].upper()}{one.rule.status_words[1:]}."
                ),
                severity="note",
                next_step=f"{ASK} The permit may be older than the rule, or exempt this engine.",
                compared_with=one.rule.where,
                cautions=("local",),
            )


def _unlikely(case: Case, state: State) -> Iterator[Finding]:
    """Yield numbers far above what uncontrolled engines emit: a doubt of the reading, no judgement of the engine."""
    load = number_at(case.worked, state, "engine", "engine_load")
    strokes = facts_of(case.engine)[0].strokes or 4
    for place in outlets(case.worked, state):
        mixture = number_at(case.worked, state, place, "excess_air_ratio")
        if mixture is None:
            continue
        burn = "lean" if strokes == 2 or mixture.value > 1.1 else "rich"
        for name, pollutant in PER_HEAT.items():
            number = number_at(case.worked, state, place, name)
            usual = factor(pollutant, f"{strokes}-stroke {burn}", None if load is None else load.value)
            if number is None or usual is None or number.value <= UNLIKELY * usual.value:
                continue
            yield Finding(
                code="EX-35",
                subject="exhaust",
                says=(
                    f"{quantity(name).title} is {said(case, number)}, {number.value / usual.value:.0f} times "
                    f"{usual.as_printed} of AP-42, {usual.clause} ({NOT_EVIDENCE}; {usual.status})"
                ),
                severity="soon",
                next_step="Doubt the reading first: unit, dilution, range, span gas; then mixture and misfire.",
                compared_with=f"AP-42, {usual.clause}",
                because=(number.key,),
                cautions=("calgas",),
                state=state,
            )
