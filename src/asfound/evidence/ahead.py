"""Two steps ahead: what a look is worth together with the best one after it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.model import AS_BUILT
from asfound.evidence.observations import Evidence, LineageStatement, NothingFits, Observation
from asfound.evidence.outcomes import Sight, states_of
from asfound.evidence.plan import open_looks
from asfound.evidence.ranked import Ranked, RankedLook
from asfound.evidence.weigh import weigh
from asfound.evidence.worth import Worth

if TYPE_CHECKING:
    from asfound.evidence.weigh import Weighed

ROUNDS = 8
LEAST_CHANCE = 1e-6
"""Outcomes below this chance are not followed."""


def by_two_steps(ranking: Ranked, allowed: list[RankedLook], follow: int) -> list[RankedLook]:
    """Return the looks, the first ``follow`` of them in the order of their worth over two steps, ties as they were."""
    first = [replace(one, ahead=two_steps(ranking, one, allowed)) for one in allowed[:follow]]
    first.sort(key=lambda one: -round(one.ahead or 0.0, 12))
    return first + allowed[follow:]


def two_steps(ranking: Ranked, one: RankedLook, allowed: list[RankedLook]) -> float:
    """Return expected worth of the look and the best after it, over the expected minutes of both.

    The look after it is chosen, outcome by outcome, so that this ratio is greatest (Dinkelbach's iteration).
    """
    told = 1.0 - ranking.plan.looks[one.number].undecided_chance
    joint = Sight(ranking.belief.weighed, ranking.plan.asks[one.number]).with_lineage().sum(axis=1)
    chance = joint / joint.sum()
    states = states_of(ranking.plan.c, ranking.plan.asks[one.number], one.reveals)
    others = [(two.worth, cost_after(ranking, one, two.number)) for two in allowed if two.number != one.number]
    branches = [(1 - told, others)]
    branches += [
        (told * float(chance[o]), choices_after(ranking, one, states[o], allowed))
        for o in np.flatnonzero(chance >= LEAST_CHANCE)
    ]
    rate = one.score
    for _ in range(ROUNDS):
        worth, minutes = one.worth, one.minutes
        for share, choices in branches:
            second = max(choices, key=lambda pair: pair[0] - rate * pair[1], default=(0.0, 0.0))
            if second[0] > 0:
                worth, minutes = worth + share * second[0], minutes + share * second[1]
        now = worth / minutes if minutes > 0 else float("inf")
        if abs(now - rate) <= 1e-12 * abs(now):
            break
        rate = now
    return rate


def choices_after(
    ranking: Ranked, one: RankedLook, states: tuple[str, ...], allowed: list[RankedLook]
) -> list[tuple[float, float]]:
    """Return worth and minutes of each look that could follow this outcome."""
    plan, worth = ranking.plan, ranking.worth
    shown = as_observed(ranking, one, states)
    observations = (*ranking.belief.observations, *shown)
    weighed = None
    if one.number in plan.place and isinstance(shown[0], Observation):
        weighed = ranking.belief.weighed.after(plan.single_character[one.number], shown[0])
    if weighed is None:
        try:
            weighed = weigh(plan.c, observations)
        except NothingFits:
            return []
    keep_shown(ranking, one, weighed)
    left, general, _ = open_looks(plan, observations, weighed.gathered)
    then = Worth(plan, weighed, worth.target, worth.criterion, left, general, decisions=ranking.decisions, after=worth)
    may = {two.number for two in allowed}
    return [(then.worth[i], cost_after(ranking, one, i)) for i in left if i in may]


def keep_shown(ranking: Ranked, one: RankedLook, weighed: Weighed) -> None:
    """Take over what looks at other slots may show: a plain look at one slot changes, given the lineage, that alone."""
    plan, before = ranking.plan, ranking.belief.weighed
    if one.number not in plan.place:
        return
    slot = int(plan.plain_slot[plan.place[one.number]])
    if slot in before.tie_of or not (before.plain and weighed.plain):
        return
    shown = plan.shown_by_lineage(before).copy()
    for s, a, b in plan.runs:
        if s == slot:
            shown[a:b] = plan.work_out_shown(weighed, only=slot)
    weighed.shown[id(plan)] = shown


def cost_after(ranking: Ranked, one: RankedLook, i: int) -> float:
    """Return the minutes of look i once the set-up of this one is paid."""
    look = ranking.plan.looks[i]
    return look.minutes if look.setup is not None and look.setup == one.setup else ranking.plan.minutes[i]


def as_observed(ranking: Ranked, one: RankedLook, states: tuple[str, ...]) -> list[Evidence]:
    """Return the observations that this outcome would be."""
    c, look = ranking.plan.c, ranking.plan.looks[one.number]
    out: list[Evidence] = []
    for name, state in zip(look.reveals, states, strict=True):
        if name == AS_BUILT:
            built = tuple(lineage.name for lineage in c.model.lineages if (lineage.as_built or lineage.name) == state)
            out.append(LineageStatement(built, look.kind, look.source))
        else:
            out.append(Observation(name, (state,), look.kind, source=look.source))
    return out
