"""When to stop looking: sure enough, nothing left to decide, or nothing worth looking at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.information import LN2, x_log_x
from asfound.evidence.outcomes import Sight
from asfound.evidence.plan import open_looks

if TYPE_CHECKING:
    from asfound.evidence.compiled import Floats
    from asfound.evidence.looks import Ranking, Stop
    from asfound.evidence.plan import Plan
    from asfound.evidence.weigh import Weighed

REMAINS = 1e-3
"""Lineages with a posterior above this remain possible (own setting)."""


def stop(ranking: Ranking) -> Stop | None:
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


def same_decision(ranking: Ranking, remaining: list[int]) -> bool:
    """Whether all that remains possible leads to the same decision."""
    return ranking.decisions is not None and len({int(ranking.worth.decision[g]) for g in remaining}) == 1


def told(ranking: Ranking, reason: str, remaining: list[int]) -> Stop:
    """Return the stop with what remains possible and the look elsewhere that would tell more."""
    from asfound.evidence.looks import Stop

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


def alike(ranking: Ranking, remaining: list[int]) -> list[tuple[list[int], float]]:
    """Return classes of lineages that no allowed look can tell apart, with their sums, most probable first.

    Two lineages are alike when no allowed look would give ``worth_looking`` bits on an even choice between them,
    neither now nor before anything was observed; looks that could not be told do not count. A lineage joins the
    first class with all of whose members it is alike.
    """
    left, general, untold = open_looks(ranking.plan, ranking.belief.observations, ranking.belief.weighed.gathered)
    allowed = [i for i, look in enumerate(ranking.plan.looks) if look.allowed]
    told_apart = [i for i in allowed if not untold.issuperset(ranking.plan.looks[i].reveals)]
    still = set(left)
    before = ranking.plan.apart_before[np.ix_(told_apart, remaining, remaining)]
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


def would_tell(ranking: Ranking, members: list[int]) -> tuple[str, ...]:
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


def telling_apart(plan: Plan, weighed: Weighed, looks: list[int], lineages: list[int], general: set[int]) -> Floats:
    """Return what each look would tell on an even choice between each two lineages [looks, lineages, lineages]. [bit]

    ``general``: looks at what was stated before, which need the exact way of ``outcomes``; so do looks that are not
    plain.
    """
    m = len(lineages)
    out = np.zeros((len(looks), m, m))
    quick = [n for n, i in enumerate(looks) if i in plan.place and i not in general]
    if quick:
        rows = [plan.place[looks[n]] for n in quick]
        out[quick] = pairs_apart(plan.shown_by_lineage(weighed)[rows][:, :, lineages])
    special = set(range(len(looks))) - set(quick)
    for n in special:
        shown = Sight(weighed, plan.asks[looks[n]]).with_lineage()[:, lineages] / weighed.p[lineages]
        out[n] = pairs_apart(shown[None])[0]
    decided = np.array([plan.decided[i] for i in looks])
    return np.asarray(out * decided[:, None, None])


def pairs_apart(shown: Floats) -> Floats:
    """Return the information on an even choice between each two columns of P(outcome | lineage) [n, O, m]: [n, m, m].

    ``information`` of each pair, with the logarithms of each column taken once. [bit]
    """
    each, total = x_log_x(shown).sum(axis=1), shown.sum(axis=1)  # [n, m]
    both = x_log_x(shown[:, :, :, None] + shown[:, :, None, :]).sum(axis=1)  # [n, m, m]
    single = each - x_log_x(total)
    whole = total[:, :, None] + total[:, None, :]
    nats = single[:, :, None] + single[:, None, :] - both
    return np.asarray(np.maximum((nats / whole + np.log(whole)) / LN2, 0.0))
