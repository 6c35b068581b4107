"""Rows of what is shown of a trouble, each list by one function; words where a person reads words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from asfound.troubleshoot.belief import OTHER, TEST_SAYS, UNDECIDED, Belief, Witness
from asfound.troubleshoot.cautions import cautions_before
from asfound.troubleshoot.changes import holding
from asfound.troubleshoot.decide import LEADING, Decision
from asfound.troubleshoot.knowledge import Knowledge
from asfound.troubleshoot.next_test import NextTests, Now, Proposal, cost
from asfound.troubleshoot.shown import (
    Barred,
    CauseRow,
    Contradicts,
    Fork,
    ForkCause,
    Phase,
    RepairRow,
    SymptomRow,
    TestRow,
    TestsDisagree,
    What,
    WitnessRow,
)
from asfound.troubleshoot.told import AllowedSaid, ClosedSaid, Said
from asfound.troubleshoot.worth import saves

LEAST_CURE = 0.005
"""A repair that cures with less chance is not listed, unless it was made."""
APART = 0.1
"""Two answers disagree when their best common cause explains them by less than this share (own setting)."""
WHY = {
    "yes": "weighs",
    "undecided": "was not decided, weighs nothing",
    "already told": "a fact weighs once; a person or another finding told it",
    "contradicted": "the contrary was told; it is shown and weighs nothing",
    "does not apply": "does not apply to this engine",
    "before a change": "told of the engine before a repair that changed this part in vain; it may be made again",
}
SAYS = {
    "present": "shows",
    "absent": "looked for, does not show",
    "positive": "positive",
    "negative": "negative",
    "cured": "cured",
    "fails": "the fault is still there",
    "not_judged": "could not be judged",
    "not_done": "not done",
}


def what_is(knowledge: Knowledge, about: str) -> What:
    """Return whether a name is of a symptom, test or repair."""
    if about in knowledge.symptoms:
        return "symptom"
    return "repair" if about in knowledge.repairs else "test"


def titles(knowledge: Knowledge) -> dict[str, str]:
    """Return the title of every symptom, cause, test and repair."""
    found = {name: one.title for name, one in knowledge.symptoms.items()}
    found |= {name: one.title for name, one in knowledge.causes.items()}
    return found | {name: one.title for name, one in {**knowledge.tests, **knowledge.repairs}.items()}


def title_of(knowledge: Knowledge, about: str) -> str:
    """Return the words for a symptom, test or repair; its name where this engine has it not."""
    if about in knowledge.symptoms:
        return knowledge.symptoms[about].title
    known = {**knowledge.tests, **knowledge.repairs}
    return known[about].title if about in known else about


def symptoms(belief: Belief, said: Sequence[Said]) -> tuple[SymptomRow, ...]:
    """Return all symptoms that some cause of this engine leads to or that were told, with what was said."""
    known = belief.odds.knowledge
    led = {name for cause in known.causes.values() for name in cause.leads_to}
    last = {one.about: one for one in holding(said)}
    codes: dict[str, list[str]] = {}
    for one in belief.witnesses:
        if one.code and one.code not in codes.setdefault(one.about, []):
            codes[one.about].append(one.code)
    found = []
    for name, symptom in known.symptoms.items():
        if name not in led and name not in last:
            continue
        told = last.get(name)
        found.append(
            SymptomRow(
                id=name,
                title=symptom.title,
                group=symptom.group,
                urgent=symptom.urgent,
                seen_in=symptom.seen_in,
                says=told.says if told else "",
                place=told.place if told else "",
                by=told.by if told else "",
                time=told.time if told else "",
                note=told.note if told else "",
                entry=told.entry if told else "",
                codes=tuple(codes.get(name, ())),
            )
        )
    return tuple(found)


def witnesses(belief: Belief, said: Sequence[Said]) -> tuple[WitnessRow, ...]:
    """Return everything told, in the order of the day, then the findings of other rooms."""
    known = belief.odds.knowledge
    ranked = [name for name, _ in belief.ranked()]
    weight = {(one.about, one.code): db for one, db in belief.decibans(ranked[0], ranked[1])}
    by_about = {one.about: one for one in belief.witnesses if not one.code}
    found = []
    for one in holding(said):
        witness = by_about[one.about]
        holds = one.says == witness.says
        weighs = witness.weighs if holds else ("undecided" if one.says in UNDECIDED else "already told")
        found.append(
            WitnessRow(
                about=one.about,
                title=title_of(known, one.about),
                what=what_is(known, one.about),
                says=one.says,
                code="",
                weighs=weighs,
                why=WHY[weighs] if holds else "another place says otherwise; what was found anywhere goes first",
                decibans=weight.get((one.about, ""), 0.0) if holds else 0.0,
                time=one.time,
                place=one.place,
                by=one.by,
                entry=one.entry,
                minutes=one.minutes,
                note=one.note,
            )
        )
    found += [_of_finding(known, one, weight) for one in belief.witnesses if one.code]
    return tuple(found)


def _of_finding(known: Knowledge, one: Witness, weight: dict[tuple[str, str], float]) -> WitnessRow:
    return WitnessRow(
        about=one.about,
        title=title_of(known, one.about),
        what=what_is(known, one.about),
        says=one.says,
        code=one.code,
        weighs=one.weighs,
        why=WHY[one.weighs],
        decibans=weight.get((one.about, one.code), 0.0) if one.weighs == "yes" else 0.0,
    )


def causes(belief: Belief, before: Belief, decision: Decision | None) -> tuple[CauseRow, ...]:
    """Return every cause with its chance, the most probable first."""
    odds, known = belief.odds, belief.odds.knowledge
    first = dict(before.ranked())
    apart = {name for name, _ in [one for one in belief.ranked() if one[0] != OTHER][:LEADING]} if decision else set()
    found = []
    for name, p in belief.ranked():
        cause = known.causes.get(name)
        cures = sorted((one for one in known.repairs.values() if name in one.fixes), key=lambda one: -one.fixes[name])
        found.append(
            CauseRow(
                id=name,
                title=odds.title(name),
                system=cause.system if cause else "",
                slot=cause.slot if cause else "",
                p=p,
                before=first[name],
                repairs=tuple(one.id for one in cures),
                mechanism=cause.mechanism if cause else "",
                kept_apart=name in apart,
            )
        )
    return tuple(found)


def tests(belief: Belief, proposed: NextTests, now: Now) -> tuple[TestRow, ...]:
    """Return the tests worth making now with what each answer would make of the belief."""
    known = belief.odds.knowledge
    before = {one.about: one.says for one in belief.witnesses if one.weighs == "before a change" and not one.code}
    worth = saves(belief, now)
    found = []
    for one in proposed.proposals:
        test = known.tests[one.id]
        found.append(
            TestRow(
                id=one.id,
                title=one.title,
                bits=one.bits,
                saves=worth[one.id],
                cost=one.cost,
                minutes=test.minutes,
                waiting=test.waiting,
                state=test.state,
                positive=test.positive,
                chance_positive=one.chance_positive,
                cautions=one.cautions,
                moves=one.moves,
                forks=forks(belief, one),
                says=before.get(one.id, ""),
            )
        )
    return tuple(found)


def forks(belief: Belief, proposal: Proposal, *, most: int = 4) -> dict[str, Fork]:
    """Return what each answer to a test would make of the belief."""
    odds = belief.odds
    found = {}
    for says in ("positive", "negative"):
        after = belief.after(proposal.id, says)
        order = np.argsort(-np.round(after, 12), kind="stable")
        rows = tuple(
            ForkCause(
                id=odds.causes[i], title=odds.title(odds.causes[i]), before=float(belief.p[i]), after=float(after[i])
            )
            for i in order[:most]
        )
        found[says] = Fork(
            chance=proposal.chance_positive if says == "positive" else 1 - proposal.chance_positive,
            leader=rows[0].id,
            leader_p=rows[0].after,
            causes=rows,
            doubt=float(-(after * np.log2(after)).sum()),
        )
    return found


def repairs(belief: Belief, now: Now) -> tuple[RepairRow, ...]:
    """Return the repairs that may help, by chance of cure for cost, and those that were made."""
    odds, known = belief.odds, belief.odds.knowledge
    gained = belief.p @ odds.cured
    said = {one.about: one.says for one in belief.witnesses if not one.code}
    found = []
    for j, name in enumerate(odds.repairs):
        if gained[j] < LEAST_CURE and name not in said:
            continue
        work = known.repairs[name]
        found.append(
            RepairRow(
                id=name,
                title=work.title,
                minutes=work.minutes,
                cost=cost(work, now.state, known.prices) + known.prices.proof_run,
                state=work.state,
                chance=float(gained[j]),
                cautions=cautions_before(work),
                why_not=now.why_not(work),
                says=said.get(name, ""),
            )
        )
    return tuple(sorted(found, key=lambda one: (bool(one.says), -round(one.chance / one.cost, 12))))


def barred(belief: Belief, decision: Decision | None, proposed: NextTests) -> tuple[Barred, ...]:
    """Return steps that would be worth making and cannot be made now."""
    known = belief.odds.knowledge
    left = {**proposed.barred, **(decision.left_out if decision else {})}
    return tuple(
        Barred(id=name, title=title_of(known, name), what=what_is(known, name), why=why) for name, why in left.items()
    )


def contradictions(belief: Belief) -> tuple[Contradicts, ...]:
    """Return where a finding says the contrary of a person, or of another finding."""
    known = belief.odds.knowledge
    person = {one.about: one.says for one in belief.witnesses if not one.code}
    found = []
    for one in belief.witnesses:
        if one.weighs != "contradicted":
            continue
        told, title = person.get(one.about, ""), title_of(known, one.about)
        against = (
            f"a person says: {SAYS[told]}. The person's word stands."
            if told and told not in UNDECIDED
            else "another finding says the contrary; neither weighs until a person decides."
        )
        says = f"{title}: {one.code} says {SAYS[one.says]}, {against}"
        found.append(Contradicts(about=one.about, title=title, person=told, finding=one.says, code=one.code, says=says))
    return tuple(found)


def tests_disagree(belief: Belief) -> tuple[TestsDisagree, ...]:
    """Return pairs of tests that no one cause of the file explains well together."""
    odds = belief.odds
    known = odds.knowledge
    weigh = [
        one
        for one in belief.witnesses
        if one.weighs == "yes" and one.about in known.tests and one.says in TEST_SAYS[:2]
    ]
    found = []
    for one, other in combinations(weigh, 2):
        a = odds.likelihood(one.about, one.says)[:-1]
        b = odds.likelihood(other.about, other.says)[:-1]
        if float((a * b).max()) < APART * float(a.max() * b.max()):
            names = (title_of(known, one.about), title_of(known, other.about))
            found.append(
                TestsDisagree(
                    one=one.about,
                    other=other.about,
                    titles=names,
                    says=f"'{names[0]}' ({SAYS[one.says]}) and '{names[1]}' ({SAYS[other.says]}) are not explained "
                    "well by any one cause: one of them misleads, or there is more than one fault.",
                )
            )
    return tuple(found)


def stop(decision: Decision | None, phase: Phase) -> tuple[bool, str]:
    """Return whether testing should end now, and why, in words."""
    if phase == "cured":
        return True, "A repair cured it. Close the case with the cause and how it is known."
    if decision is None:
        return False, ""
    if decision.first.does == "test":
        return False, decision.why
    return True, decision.why


def call(decision: Decision | None) -> tuple[bool, str]:
    """Return whether help should be called now, and why, in words."""
    if decision is None or decision.first.does != "call":
        return False, ""
    return True, decision.why


def now_says(now: Now, allowed: AllowedSaid | None) -> str:
    """Say how the engine stands and what may be done."""
    parts = [f"The engine is {now.state}"]
    if not now.can_run:
        parts.append("it does not run on")
    if now.state == "running" and not now.may_stop:
        parts.append("it may not be stopped now")
    if now.state != "isolated" and not now.may_isolate:
        parts.append("it may not be isolated now")
    if now.barred:
        parts.append(f"not allowed now: {', '.join(sorted(now.barred))}")
    why = f" ({allowed.why})" if allowed and allowed.why else ""
    return "; ".join(parts) + why + "."


def headline(belief: Belief, phase: Phase, closed: ClosedSaid | None) -> str:
    """Say in one sentence how the trouble stands."""
    odds = belief.odds
    (first, p), (second, q) = belief.ranked()[:2]
    if phase == "closed" and closed is not None:
        how = {"cured": "the repair cured it", "seen": "the fault was seen", "believed": "not confirmed"}
        title = closed.cause if closed.cause not in odds.causes else odds.title(closed.cause)
        return f"Closed: {title} ({how[closed.confirmed]})."
    if phase == "nothing_told":
        return "No symptom was told yet. Say what shows, what was looked for and does not show."
    leads = f"{odds.title(first)} leads with {100 * p:.0f} in 100; next {odds.title(second)} with {100 * q:.0f}."
    if phase == "cured":
        return f"Cured by a repair; not closed yet. {leads}"
    return leads
