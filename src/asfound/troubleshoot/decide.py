"""What to do now, several steps ahead: test, repair, or call - the policy that is expected to cost least.

The leading causes are kept, all others and *something else* become one; the tests of most worth and the repairs that
fit are searched through to the end by the exact AND/OR recursion of `asfound.evidence` (one table over all ways through
them; never more than fit it, and the decision says how much was left aside). A repair is a step that changes the
engine: after it the engine is run, and a fault that is still there takes belief away from what the repair would have
cured. When a repair stands first, testing has ended: what is left to learn costs more than it saves. When the call
stands first, no step of the file is worth it: before that, tests that tell something go first while the plan sees too
little of what is believed, or while repairs wait for leave to stop the engine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from asfound.evidence.policy_table import states
from asfound.evidence.repair import Policy, Repair, Test, Trouble
from asfound.sources.cautions import DEFER, Caution
from asfound.troubleshoot.belief import OTHER, Belief
from asfound.troubleshoot.cautions import LICENSED, cautions_before
from asfound.troubleshoot.next_test import STANDS, WORTH_TESTING, Now, cost, information, next_tests
from asfound.troubleshoot.worth import saves

STEPS = 12
"""Tests and repairs together that are searched through; all ways through them fit one table."""
MOST_WAYS = 50_000
"""States of repairs and tests that are worked out for one answer: some 15 ms."""
LEADING = 12
"""Causes that are kept apart."""
LEAST = 0.005
"""A repair that cures with less chance than this is not weighed."""
CALL_SEES = 0.5
"""A plan that keeps apart causes of less belief than this sees too little to call (own setting)."""
TELLS = 0.05
"""A test that takes away as much goes before such a call. [bit] (own setting)"""
FALLBACK = "fallback"
LATER = "End of this plan: weigh anew with what was learnt; call where nothing more is worth its minutes."
Does = Literal["test", "repair", "call"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A step of the plan and what follows each answer; ``cost``: expected from here to the end [min]."""

    does: Does
    id: str
    title: str
    cost: float
    minutes: float
    cautions: tuple[Caution, ...]
    after: dict[str, Planned]

    def walk(self, depth: int = 0, answer: str = "") -> Iterator[tuple[int, str, Planned]]:
        """Yield (depth, answer that leads here, step), each before those that follow it."""
        yield depth, answer, self
        for word, then in self.after.items():
            yield from then.walk(depth + 1, word)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What to do first, why, the whole plan, and what goes before every plan."""

    first: Planned
    why: str
    without_tests: float
    """Expected cost of repairs alone, in their best order. [min]"""
    urgent: tuple[str, ...]
    """Symptoms seen for which it is decided before any step whether the engine runs on."""
    before_all: str
    left_out: dict[str, str]
    """Steps that cannot be made now, each with why."""
    weighed: str
    """How much of what could be done was searched through, in words."""
    cut: bool
    """Whether steps that could be made now and might be worth it were left aside; the next answer brings them back."""
    licensed: str = LICENSED


def decide(belief: Belief, now: Now | None = None, *, steps: int = STEPS, leading: int = LEADING) -> Decision:
    """Return the plan that is expected to cost least from here until the engine is cured or help is called.

    Costs: what `next_test.cost` counts, from the state in which the engine is now (a stop or isolation is counted at
    each step that needs one: an upper bound, since one stop may serve several), a proof run after each repair, and
    the price of the call.
    """
    now = now or Now()
    trouble, left_out = trouble_of(belief, now, steps=steps, leading=leading)
    weighed, cut = _weighed(belief, trouble, left_out)
    policy = trouble.best_policy()
    _, alone = trouble.best_sequence()
    first, why = _planned(belief, policy, now), ""
    if first.does == "call":
        first, why = _before_calling(belief, now, first, trouble, left_out)
    return Decision(
        first=first,
        why=why or _why(first, policy.cost, alone, belief),
        without_tests=alone,
        urgent=belief.urgent(),
        before_all=_before_all(belief),
        left_out=left_out,
        weighed=weighed,
        cut=cut,
    )


def _weighed(belief: Belief, trouble: Trouble, left_out: dict[str, str]) -> tuple[str, bool]:
    odds = belief.odds
    bits = information(belief.p, odds.positive)
    tests = sum(
        bits[j] >= WORTH_TESTING and name not in belief.told and name not in left_out
        for j, name in enumerate(odds.tests)
    )
    gained = belief.p @ odds.cured
    repairs = sum(
        gained[j] >= LEAST and name not in belief.told and name not in left_out for j, name in enumerate(odds.repairs)
    )
    cut = tests > len(trouble.tests) or repairs > len(trouble.repairs)
    return (
        f"Searched through to the end: {len(trouble.tests)} of {tests} tests worth making and {len(trouble.repairs)} "
        f"of {repairs} repairs that may help, for the {len(trouble.causes) - 1} leading causes of {len(odds.causes)}; "
        "the other causes count as one."
    ), cut


def trouble_of(
    belief: Belief, now: Now, *, steps: int = STEPS, leading: int = LEADING
) -> tuple[Trouble, dict[str, str]]:
    """Return the small problem that is searched, and the repairs and tests that are barred now with why."""
    odds, prices = belief.odds, belief.odds.knowledge.prices
    ranked = [name for name, _ in belief.ranked() if name != OTHER][:leading]
    kept = [odds.causes.index(name) for name in ranked]
    rest = np.setdiff1d(np.arange(len(odds.causes)), kept)
    of_rest = belief.p[rest] / belief.p[rest].sum()
    prior = {**{odds.causes[i]: float(belief.p[i]) for i in kept}, OTHER: float(belief.p[rest].sum())}

    def chances(column: np.ndarray) -> dict[str, float]:
        return {**{odds.causes[i]: float(column[i]) for i in kept}, OTHER: float(of_rest @ column[rest])}

    left_out: dict[str, str] = {}
    repairs: list[tuple[float, Repair]] = []
    for j, name in enumerate(odds.repairs):
        work = odds.knowledge.repairs[name]
        gained = float(belief.p @ odds.cured[:, j])
        if name in belief.told or gained < LEAST or not any(odds.cured[i, j] for i in kept):
            continue
        if why := now.why_not(work):
            left_out[name] = why
            continue
        price = cost(work, now.state, prices) + prices.proof_run
        repairs.append((gained / price, Repair(name, price, chances(odds.cured[:, j]))))
    repairs.sort(key=lambda pair: -round(pair[0], 12))
    proposed = next_tests(belief, now)
    left_out |= proposed.barred
    chosen = [one for _, one in repairs[: max(steps // 2, steps - len(proposed.proposals))]]
    room = steps - len(chosen)
    while room and states(len(chosen), room) > MOST_WAYS:
        room -= 1
    worth = saves(belief, now)
    most = sorted(proposed.proposals, key=lambda one: -round(worth[one.id], 9))[:room]
    tests = [Test(one.id, one.cost, chances(odds.positive[:, odds.place[one.id]])) for one in most]
    return Trouble(prior, chosen, tests, fallback=prices.call), left_out


def _planned(belief: Belief, policy: Policy, now: Now, *, later: bool = False) -> Planned:
    known = belief.odds.knowledge
    if policy.step == FALLBACK:
        title = "Call for help: with what was seen, what was tried, and what is still possible."
        if later:
            title = LATER
        return Planned(
            does="call", id=FALLBACK, title=title, cost=policy.cost, minutes=known.prices.call, cautions=(), after={}
        )
    step = known.step(policy.step)
    repair = step.id in known.repairs
    return Planned(
        does="repair" if repair else "test",
        id=step.id,
        title=step.title,
        cost=policy.cost,
        minutes=cost(step, now.state, known.prices) + (known.prices.proof_run if repair else 0.0),
        cautions=cautions_before(step),
        after={word: _planned(belief, then, now, later=True) for word, then in policy.after.items()},
    )


def _before_calling(
    belief: Belief, now: Now, call: Planned, trouble: Trouble, left_out: dict[str, str]
) -> tuple[Planned, str]:
    """Return the best test for its cost where the plan calls too early, with why; else the call and no words.

    Too early: the causes that the plan keeps apart hold less than `CALL_SEES` of all belief, so that hardly anything
    can be cured in it; or a repair that would help waits for leave, so that what is learnt until then shortens the
    stop.
    """
    best = next((one for one in next_tests(belief, now).proposals if one.bits >= TELLS), None)
    waits = [name for name, why in left_out.items() if name in belief.odds.knowledge.repairs and why != STANDS]
    sees_little = float(trouble.prior[:-1].sum()) < CALL_SEES
    cause, chance = belief.ranked()[0]
    leads = f"{belief.odds.title(cause)} leads with {100 * chance:.0f} in 100."
    if best is None and waits:
        gained = dict(zip(belief.odds.repairs, belief.p @ belief.odds.cured, strict=True))
        most = max(waits, key=lambda name: (round(float(gained[name]), 12), name))
        return (
            call,
            f"{leads} The repair that would end it most often, {_named(belief, most)}, waits: {left_out[most]}.",
        )
    if best is None or not (waits or sees_little):
        return call, ""
    step = belief.odds.knowledge.step(best.id)
    later = replace(call, title=LATER)
    first = Planned(
        does="test",
        id=step.id,
        title=step.title,
        cost=call.cost,
        minutes=best.cost,
        cautions=best.cautions,
        after={"positive": later, "negative": later},
    )
    if waits:
        some = "Repairs that may help wait for leave" if trouble.repairs else "No repair that may help can be made now"
        words = f"{some}; what is learnt until then shortens the stop."
        return first, f"{leads} {words} Who is stuck calls for help."
    words = "Too many causes are possible for a plan to the end, so the best test for its cost goes first."
    return first, f"{leads} {words} Who is stuck calls for help."


def _named(belief: Belief, name: str) -> str:
    return f"'{belief.odds.knowledge.step(name).title}'"


def _before_all(belief: Belief) -> str:
    titles = [belief.odds.knowledge.symptoms[name].title for name in belief.urgent()]
    if not titles:
        return DEFER
    return (
        f"{'; '.join(titles)}: whether the engine runs on is decided first, by its own manual and the site's rules; "
        f"tests on the running engine wait for that. No protection is defeated to look longer. {DEFER}"
    )


def _why(first: Planned, expected: float, alone: float, belief: Belief) -> str:
    cause, chance = belief.ranked()[0]
    leads = f"{belief.odds.title(cause)} leads with {100 * chance:.0f} in 100."
    if first.does == "call":
        return f"{leads} No test or repair that can be made now is worth its minutes; help is called."
    if first.does == "repair":
        return f"{leads} No further test saves more than it costs: repair, run, and see ({expected:.0f} min expected)."
    return f"{leads} Testing first is expected to take {expected:.0f} min to the end; repairs alone, {alone:.0f} min."
