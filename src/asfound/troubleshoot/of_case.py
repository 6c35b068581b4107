"""From a visit to its whole trouble: what is left for this engine, what is believed and why, what to do next.

Findings of the other rooms enter by their codes, each fact once; what a person told goes before them, and where they
say the contrary both are shown. The same told things in any order give the same belief; the order of the day counts for
the line of belief, and for what a repair has changed since (`changes`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from asfound.quantities.findings import Case
from asfound.sources.cautions import DEFER
from asfound.troubleshoot import rows
from asfound.troubleshoot.belief import REPAIR_SAYS, SYMPTOM_SAYS, TEST_SAYS, Belief, Odds, believe
from asfound.troubleshoot.changes import TAKEN_BACK, by_thing, holding, outdated, outdated_findings
from asfound.troubleshoot.closed_cases import Moved, moved_by
from asfound.troubleshoot.decide import Decision, decide
from asfound.troubleshoot.generic import generic, with_own
from asfound.troubleshoot.history import history, line_causes
from asfound.troubleshoot.knowledge import Knowledge
from asfound.troubleshoot.next_test import NextTests, Now, next_tests
from asfound.troubleshoot.of_engine import OfEngine, of_engine
from asfound.troubleshoot.protections import of_settings
from asfound.troubleshoot.shown import Phase, Trouble
from asfound.troubleshoot.told import AllowedSaid, Heard, Said, Told

__all__ = ["Trouble", "of_case"]

OWN_PREFIX = "TS"
"""Findings of this room itself are no evidence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What follows from what was told: worked out once for the same things told."""

    belief: Belief
    before: Belief
    proposed: NextTests
    decision: Decision | None


def of_case(case: Case, *, closed_cases: bool = True) -> Trouble:
    """Return the trouble of a visit.

    Parameters
    ----------
    case : Case
        ``visit["trouble"]``: what people told (`Told`); ``found``: findings of the other rooms; ``visit["settings"]``:
        settings of the controls; ``visit["engine_state"]``. Nothing told: the knowledge for this engine, ready to ask.
    closed_cases : bool
        False: closed cases of the home move nothing, whatever the home's own switch says.
    """
    heard = _heard(case)
    for kept in _LAST:
        if (
            all(a is b or a == b for a, b in zip(kept.of, _parts(case), strict=True))
            and kept.heard == heard
            and kept.closed_cases == closed_cases
        ):
            return kept.trouble
    found = _of_case(case, heard, closed_cases)
    _keep(_Last(of=_parts(case), heard=heard, closed_cases=closed_cases, trouble=found))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Last:
    """A trouble worked out last: findings and page ask for the same one after the other."""

    of: tuple[object, ...]
    """Of the case only what belief rests on: its sheet is large."""
    heard: Heard
    closed_cases: bool
    trouble: Trouble


_LAST: tuple[_Last, ...] = ()
MOST_LAST = 6


def _parts(case: Case) -> tuple[object, ...]:
    """Return what belief rests on: a reading that changes none of it costs nothing here."""
    of_visit = [case.visit.get(name) for name in ("trouble", "engine_state", "settings")]
    of_engine = {name: one for name, one in case.engine.items() if name != "emission_tests"}
    return (*of_visit, of_engine, _Same(case.identification))


@dataclass(frozen=True, slots=True, eq=False)
class _Same:
    """Something large that is the same only when it is the same object."""

    one: object

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.one is other.one

    def __hash__(self) -> int:
        return id(self.one)


def _keep(one: _Last) -> None:
    global _LAST  # exchanged whole, so that another thread sees the old ones or the new
    _LAST = (one, *_LAST[: MOST_LAST - 1])


def _of_case(case: Case, heard: Heard, closed_cases: bool) -> Trouble:
    told: Told = case.visit.get("trouble") or Told()
    problems = list(told.problems)
    base = _knowledge(told, problems)
    part = of_engine(base, case)
    counted = closed_cases and told.counted
    knowledge = part.knowledge
    moved: tuple[Moved, ...] = ()
    if counted:
        counts = Counter(one.cause for one in told.cases if one.counts)
        knowledge, moved = moved_by(knowledge, counts)
    said = _known(told.said, knowledge, base, problems)
    now = now_of(case, told.allowed)
    phase = _phase(told, said)
    odds = odds_of(knowledge)
    weighed = _weigh(odds, tuple(said), heard, now, phase)
    return _trouble(
        case, told, part, knowledge, moved, said, heard, now, phase, weighed, tuple(problems), counted, base
    )


def _knowledge(told: Told, problems: list[str]) -> Knowledge:
    """Return the knowledge with the company's own; the generic one where theirs is wrong, which is said."""
    from asfound.errors import KnowledgeError

    try:
        return with_own(told.own)
    except KnowledgeError as fault:
        problems.append(f"The company's own knowledge is left out until it is put right: {fault}")
        return generic()


_KEPT: dict[tuple[object, ...], Odds] = {}
MOST_KEPT = 16
"""Engines and priors of which the arrays are kept."""


def odds_of(knowledge: Knowledge) -> Odds:
    """Return the chances of a knowledge as arrays; the same object for the same knowledge, so that work is kept."""
    priors = tuple(one.prior for one in knowledge.causes.values())
    key = (knowledge.digest, tuple(knowledge.causes), tuple(knowledge.tests), tuple(knowledge.repairs), priors)
    found = _KEPT.get(key)
    if found is None:
        found = Odds(knowledge)
        while len(_KEPT) >= MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)), None)
        _KEPT[key] = found
    return found


def _known(said: Iterable[Said], knowledge: Knowledge, base: Knowledge, problems: list[str]) -> list[Said]:
    """Return what was told of things that this engine's knowledge has; the rest is said, never lost in silence."""
    ever = rows.titles(base)
    kept = []
    for one in said:
        may = _sayable(knowledge, one.about)
        if one.says in may:
            kept.append(one)
            continue
        title = ever.get(one.about, one.about)
        if may:
            why = f"that cannot be said of it ({', '.join(may)} can)"
        elif one.about in ever:
            why = knowledge.dropped.get(one.about, "it does not apply to this engine")
        else:
            why = "the knowledge at hand does not know it"
        problems.append(f"'{title}' ({one.says}) does not weigh: {why}.")
    return kept


def _sayable(knowledge: Knowledge, about: str) -> tuple[str, ...]:
    """Return what can be said of a thing; nothing of one that this engine's knowledge has not."""
    if about in knowledge.symptoms:
        return (*SYMPTOM_SAYS, TAKEN_BACK)
    if about in knowledge.tests:
        return (*TEST_SAYS, TAKEN_BACK)
    return (*REPAIR_SAYS, TAKEN_BACK) if about in knowledge.repairs else ()


def _heard(case: Case) -> Heard:
    ours = [one for one in case.found if not one.code.startswith(OWN_PREFIX)]
    return Heard(
        found=frozenset(one.code for one in ours if one.state != "as_left"),
        left=frozenset(one.code for one in ours if one.state == "as_left"),
    )


def now_of(case: Case, allowed: AllowedSaid | None) -> Now:
    """Return how the engine stands and what may be done; one that must not run counts as stopped."""
    state = str(case.visit.get("engine_state", "running"))
    state = state if state in ("running", "stopped", "isolated") else "running"
    if allowed is None:
        return Now(state=state)
    if not allowed.can_run and state == "running":
        state = "stopped"
    return Now(
        state=state,
        can_run=allowed.can_run,
        may_stop=allowed.may_stop,
        may_isolate=allowed.may_isolate,
        barred=frozenset(allowed.barred),
    )


def _phase(told: Told, said: Sequence[Said]) -> Phase:
    if told.closed is not None:
        return "closed"
    if not holding(said):
        return "nothing_told"
    return "cured" if any(one.says == "cured" for one in holding(said)) else "open"


def belief_of(odds: Odds, said: Sequence[Said], heard: Heard) -> Belief:
    """Return the belief after things told in this order and these findings."""
    spent = outdated(odds.knowledge, said)
    of_findings = outdated_findings(odds.knowledge, said, heard.found - heard.left)
    told_again = {one for one in of_findings if by_thing(said).get(one) in ("positive", "negative")}
    return believe(odds, by_thing(said), findings=heard.codes, outdated=spent | (of_findings - told_again))


@lru_cache(maxsize=64)
def _weigh(odds: Odds, said: tuple[Said, ...], heard: Heard, now: Now, phase: Phase) -> Weighed:
    belief = belief_of(odds, said, heard)
    before = believe(odds)
    return Weighed(
        belief=belief,
        before=before,
        proposed=next_tests(belief, now),
        decision=decide(belief, now) if phase == "open" else None,
    )


def _trouble(
    case: Case,
    told: Told,
    part: OfEngine,
    knowledge: Knowledge,
    moved: tuple[Moved, ...],
    said: Sequence[Said],
    heard: Heard,
    now: Now,
    phase: Phase,
    weighed: Weighed,
    problems: tuple[str, ...],
    counted: bool,
    base: Knowledge,
) -> Trouble:
    belief, decision = weighed.belief, weighed.decision
    causes = rows.causes(belief, weighed.before, decision)
    steps = history(belief.odds, said, heard, belief_of)
    stop_testing, stop_says = rows.stop(decision, phase)
    call, call_says = rows.call(decision)
    return Trouble(
        phase=phase,
        says=rows.headline(belief, phase, told.closed),
        knowledge=knowledge,
        generic=part.generic,
        why_generic=part.why_generic,
        kinds=part.kinds,
        kinds_say=part.kinds_say,
        fitted=part.fitted,
        dropped=part.dropped,
        symptoms=rows.symptoms(belief, said),
        witnesses=rows.witnesses(belief, said),
        causes=causes,
        doubt=belief.doubt(),
        doubt_before=weighed.before.doubt(),
        history=steps,
        line_causes=line_causes(steps),
        now=now,
        now_says=rows.now_says(now, told.allowed),
        allowed=told.allowed,
        tests=rows.tests(belief, weighed.proposed, now),
        barred=rows.barred(belief, decision, weighed.proposed),
        made=tuple(one.about for one in holding(said) if one.about not in knowledge.symptoms),
        tell_nothing=weighed.proposed.tell_nothing,
        repairs=rows.repairs(belief, now),
        decision=decision,
        stop_testing=stop_testing,
        stop_says=stop_says,
        call=call,
        call_says=call_says,
        urgent=belief.urgent(),
        contradictions=rows.contradictions(belief),
        tests_disagree=rows.tests_disagree(belief),
        closed_cases=told.cases,
        priors_moved=moved,
        counted=counted,
        closed=told.closed,
        cases_before=told.before,
        fault_messages=told.faults,
        code_names=told.names,
        protections=(*told.protections, *of_settings(case.visit.get("settings", ()))),
        minutes=sum(one.minutes or 0.0 for one in holding(said)),
        before_all=decision.before_all if decision else DEFER,
        problems=problems,
        titles=rows.titles(base),
    )


def without_closed_cases(case: Case) -> Trouble:
    """Return the same with closed cases left out, to show what they did."""
    told: Told = case.visit.get("trouble") or Told()
    return of_case(replace(case, visit={**case.visit, "trouble": replace(told, counted=False)}))
