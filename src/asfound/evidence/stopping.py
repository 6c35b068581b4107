"""When to stop looking: sure enough, nothing left to decide, or nothing worth looking at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.apart import apart_before, telling_apart
from asfound.evidence.plan import open_looks
from asfound.evidence.ranked import Ranked, Stop

if TYPE_CHECKING:
    pass

REMAINS = 1e-3
"""Lineages with a posterior above this remain possible (own setting)."""


def stop(ranking: Ranked) -> Stop | None:
    """Return why to stop, or None.

    Any of: the leading lineages that no allowed look can tell apart have together P >= 1 - cost(one more look) /
    cost(being wrong); all that remain lead to the same decision; no allowed look is worth ``worth_looking`` bits.
    That the user stops needs no rule.
    """
    p = ranking.belief.weighed.p
    best = max((one.bits for one in ranking.looks), default=0.0)
    remaining = [g for g in np.argsort(-np.round(p, 12), kind="stable").tolist() if p[g] > REMAINS]
    sure = None
    if ranking.wrong_cost is not None:
        dearest = min((one.minutes for one in ranking.looks), default=0.0)
        sure = max(0.0, 1.0 - dearest / ranking.wrong_cost)
    if best < ranking.worth_looking:
        return told(ranking, "nothing_worth", remaining)
    if same_decision(ranking, remaining):
        return told(ranking, "same_action", remaining)
    if sure is not None and (p[remaining[0]] >= sure or alike(ranking, remaining)[0][1] >= sure):
        return told(ranking, "sure_enough", remaining)
    return None


def same_decision(ranking: Ranked, remaining: list[int]) -> bool:
    """Whether all that remains possible leads to the same decision."""
    return ranking.decisions is not None and len({int(ranking.worth.decision[g]) for g in remaining}) == 1


def told(ranking: Ranked, reason: str, remaining: list[int]) -> Stop:
    """Return the stop with what remains possible and the look elsewhere that would tell more."""
    names, p = ranking.plan.c.lineages, ranking.belief.weighed.p
    classes = alike(ranking, remaining)
    elsewhere = would_tell(ranking, classes[0][0])
    says = {
        "sure_enough": "One more look would cost more than it could save.",
        "same_action": "All that remains possible leads to the same action.",
        "nothing_worth": "No look that is allowed now would tell more.",
    }[reason]
    if len(classes[0][0]) > 1:
        said = " or ".join(names[g] for g in classes[0][0])
        says += f" What is allowed now cannot tell {said} apart" + (f"; {elsewhere[0]} would." if elsewhere else ".")
    return Stop(
        reason,  # type: ignore[arg-type]
        says,
        tuple((names[g], float(p[g])) for g in remaining),
        tuple((tuple(names[g] for g in members), total) for members, total in classes),
        elsewhere,
    )


def alike(ranking: Ranked, remaining: list[int]) -> list[tuple[list[int], float]]:
    """Return classes of lineages that no allowed look can tell apart, with their sums, most probable first.

    Two lineages are alike when no allowed look would give ``worth_looking`` bits on an even choice between them,
    neither now nor before anything was observed; looks that could not be told do not count. A lineage joins the
    first class with all of whose members it is alike.
    """
    left, general, untold = open_looks(ranking.plan, ranking.belief.observations, ranking.belief.weighed.gathered)
    allowed = [i for i, look in enumerate(ranking.plan.looks) if look.allowed]
    told_apart = [i for i in allowed if not untold.issuperset(ranking.plan.looks[i].reveals)]
    still = set(left)
    before = apart_before(ranking.plan)[np.ix_(told_apart, remaining, remaining)]
    now = [i for i in allowed if i in still]
    apart = np.maximum(
        telling_apart(ranking.plan, ranking.belief.weighed, now, remaining, set(general)).max(axis=0, initial=0.0),
        before.max(axis=0, initial=0.0),
    )
    p = ranking.belief.weighed.p
    classes: list[list[int]] = []
    for a in range(len(remaining)):
        home = next((one for one in classes if all(apart[a, b] < ranking.worth_looking for b in one)), None)
        if home is None:
            classes.append([a])
        else:
            home.append(a)
    summed = [([remaining[a] for a in one], float(sum(p[remaining[a]] for a in one))) for one in classes]
    return sorted(summed, key=lambda pair: -round(pair[1], 12))


def would_tell(ranking: Ranked, members: list[int]) -> tuple[str, ...]:
    """Return the looks not allowed now that would tell members of a class apart, the best first."""
    barred = [i for i in ranking.left if not ranking.plan.looks[i].allowed]
    if len(members) < 2 or not barred:
        return ()
    _, general, _ = open_looks(ranking.plan, ranking.belief.observations, ranking.belief.weighed.gathered)
    apart = telling_apart(ranking.plan, ranking.belief.weighed, barred, members, set(general)).max(axis=(1, 2))
    order = sorted(
        range(len(barred)), key=lambda n: -round(float(apart[n]) / max(ranking.plan.minutes[barred[n]], 1e-9), 12)
    )
    return tuple(ranking.plan.looks[barred[n]].id for n in order if apart[n] >= ranking.worth_looking)
