"""Findings of the cross-check: which reading lies, which could, which nobody can check, and what follows from it."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.crosscheck.findings_words import AT_THE_ENGINE, LEAST_CHECKS, PERMIT_READINGS, capital, permits
from asfound.crosscheck.of_case import cross_check_of
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.told import System, decision, explanation, sentence, suspect
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Severity, State


def find(case: Case) -> Iterator[Finding]:
    """Yield what the balances say of the readings of each state."""
    system: System = "us" if case.visit.get("system") == "us" else "si"
    for state in STATES:
        found = cross_check_of(case, state)
        if found is None:
            continue
        yield from _of_state(case, state, found, system)


def _of_state(case: Case, state: State, found: CrossCheck, system: System) -> Iterator[Finding]:
    if found.contradiction:
        yield _lie(case, state, found, system)
        if found.verdict == "unexplained":
            return
        yield from _what_rests_on_it(case, state, found)
        yield from _changed_engine(state, found, system)
        yield from _known_mistake(state, found, system)
        yield from _other_ways(state, found, system)
    elif found.degrees >= LEAST_CHECKS:
        yield _agree(state, found, system)


def _lie(case: Case, state: State, found: CrossCheck, system: System) -> Finding:
    """Return the contradiction: one suspect, several that cannot be told apart, two, or nothing that explains it."""
    code = {"one": "CC-02" if found.told_apart else "CC-03", "two": "CC-04", "unexplained": "CC-05"}[found.verdict]
    looks = list(dict.fromkeys(one.look for one in found.suspects if one.look))
    first = (
        f"{capital(decision(found.one_more[0]))}; it decides best. " if found.one_more and not found.told_apart else ""
    )
    step = {
        "CC-05": "Read the gauges again, one after the other, at steady load; look for a wrong unit "
        "or a wrong place. Until then no balance of this visit proves anything.",
    }.get(code, first + " ".join(looks[:2]) or "Read it again by another instrument.")
    return Finding(
        code=code,
        subject="crosscheck",
        says=sentence(found, system),
        severity=_severity(case, found),
        next_step=step,
        compared_with=_compared(found),
        probability=None if found.verdict == "unexplained" else _sure(found),
        because=found.suspect_keys,
        cautions=AT_THE_ENGINE,
        state=state,
    )


def _sure(found: CrossCheck) -> float:
    """Return the probability of the best explanation and in it of the likeliest suspects."""
    share = found.explanations[0].probability
    for one in found.named:
        share *= one.probability
    return min(max(share, 0.0), 1.0)


def _compared(found: CrossCheck) -> str:
    return f"{len(found.balances)} balances: disagreement {found.chi_squared:.0f}, usual below {found.usual_below:.0f}"


def _severity(case: Case, found: CrossCheck) -> Severity:
    """Return by when a hand is needed: during the visit where a permit rests on a suspect, else a clash."""
    touched = {name for one in found.suspects for name in one.names}
    rests = touched & {*PERMIT_READINGS, "heating_value_factor", "gas_richness"}
    return "visit" if rests and permits(case) else "clash"


def _what_rests_on_it(case: Case, state: State, found: CrossCheck) -> Iterator[Finding]:
    """A number beside a limit rests on a reading that is judged false."""
    keys = set(found.suspect_keys)
    for limit in permits(case):
        for place in (limit.place, "stack", "after_catalyst", "engine"):
            number = case.worked.result(f"{state}/{place}/{limit.quantity}") if place else None
            if number is None or not keys & {one.key for one in number.readings()}:
                continue
            how = "judged false" if found.told_apart else "that may be false"
            wrong = ", ".join(one.title for one in found.named if set(one.keys) & keys)
            yield Finding(
                code="CC-06",
                subject="crosscheck",
                says=f"The number beside {limit.name} {limit.as_typed} rests on a reading {how}: {wrong}",
                severity="visit",
                next_step="Settle which reading is wrong before the number is used; show it with and without it.",
                compared_with=limit.text,
                because=(number.key, *sorted(keys)),
                cautions=AT_THE_ENGINE,
                state=state,
            )
            break


def _changed_engine(state: State, found: CrossCheck, system: System) -> Iterator[Finding]:
    """What was assumed of the engine is the likeliest to be wrong: then no instrument lies."""
    for one in found.named:
        if one.kind == "assumption" and one.name not in ("heating_value_factor", "gas_richness"):
            yield Finding(
                code="CC-07",
                subject="crosscheck",
                says=f"No instrument need be wrong: {suspect(one, system)}",
                severity="soon",
                next_step=one.look
                or "Compare with an earlier good visit of this engine; look for what has been changed or worn.",
                probability=one.probability,
                cautions=AT_THE_ENGINE,
                state=state,
            )
        elif one.kind == "assumption":
            yield Finding(
                code="CC-08",
                subject="crosscheck",
                says=f"The gas is not the one of the analysis: {suspect(one, system)}",
                severity="clash",
                next_step="Take a sample today; until then take the mixture from oxygen and CO2, not from flows.",
                probability=one.probability,
                cautions=AT_THE_ENGINE,
                state=state,
            )


def _known_mistake(state: State, found: CrossCheck, system: System) -> Iterator[Finding]:
    """The size of the error is that of a well-known mistake, or the pattern is one."""
    for one in found.named:
        if not one.mistake:
            continue
        code = "CC-10" if one.kind == "pattern" else "CC-09"
        yield Finding(
            code=code,
            subject="crosscheck",
            says=capital(suspect(one, system)),
            severity="clash",
            next_step=one.look
            or "Look at how the number came into the visit, and correct the entry; the first one is kept.",
            probability=one.probability,
            because=one.keys,
            cautions=AT_THE_ENGINE,
            state=state,
        )


def _other_ways(state: State, found: CrossCheck, system: System) -> Iterator[Finding]:
    """Other explanations pass too."""
    for one in found.explanations[1:3]:
        if one.probability < 0.05:
            continue
        yield Finding(
            code="CC-11",
            subject="crosscheck",
            says=f"This would explain it too: {explanation(one, system)}",
            severity="note",
            next_step="Keep it in mind until a further measurement has decided.",
            probability=one.probability,
            because=tuple(key for group in one.groups for key in group[0].keys),
            cautions=AT_THE_ENGINE,
            state=state,
        )


def _agree(state: State, found: CrossCheck, system: System) -> Finding:
    return Finding(
        code="CC-01",
        subject="crosscheck",
        says=sentence(found, system),
        severity="note",
        next_step="Nothing to do.",
        compared_with=_compared(found),
        state=state,
    )
