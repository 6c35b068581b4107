"""Looks behind one set-up, valued together: once it is paid, every look behind it is cheap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.evidence.outcomes import MOST_OUTCOMES, joined, size

if TYPE_CHECKING:
    from asfound.evidence.looks import RankedGroup, Ranking


def groups(ranking: Ranking) -> tuple[RankedGroup, ...]:
    """Return a group for each set-up not yet paid that an open look needs; allowed ones first, then by score."""
    from asfound.evidence.looks import NO_DOUBT, RankedGroup

    out: list[RankedGroup] = []
    for setup in ranking.plan.setups.values():
        behind = [i for i in ranking.left if ranking.plan.looks[i].setup == setup.name]
        if setup.paid or not behind:
            continue
        chosen, bits, minutes = greedy(ranking, behind, setup.minutes + setup.risk_minutes)
        if not chosen:
            continue
        barred = [ranking.plan.looks[i] for i in chosen if not ranking.plan.looks[i].allowed]
        out.append(
            RankedGroup(
                setup.name,
                tuple(ranking.plan.looks[i].id for i in chosen),
                bits,
                bits / ranking.doubt if ranking.doubt > NO_DOUBT else 0.0,
                minutes,
                bits / minutes if minutes > 0 else float("inf"),
                not barred,
                barred[0].why_not if barred else "",
            )
        )
    return tuple(sorted(out, key=lambda one: (not one.allowed, -round(one.score, 12))))


def greedy(ranking: Ranking, behind: list[int], paid_once: float) -> tuple[list[int], float, float]:
    """Return the looks chosen, their joint bits, and the minutes with the set-up paid once.

    Each step takes the look that gives the best joint information per minute, as long as that rises. A look's gain
    counts with its chance of being told. Sources are asked on their own: only the first may be one. A look at what
    another of the group shows already, or with which the joint outcomes would be too many, does not join.
    """
    plan, worth = ranking.plan, ranking.worth
    chosen: list[int] = []
    shown: frozenset[str] = frozenset()
    told, bits, minutes, score = 0.0, 0.0, paid_once, 0.0
    while True:
        best: tuple[float, int, float, float, float] | None = None
        for i in behind:
            look = plan.looks[i]
            if i in chosen or shown & plan.characters[i] or (chosen and (look.source or plan.looks[chosen[0]].source)):
                continue
            together = joined(plan.asks[j] for j in (*chosen, i)) if chosen else plan.asks[i]
            if size(plan.c, together) > MOST_OUTCOMES:
                continue
            now = worth.single(together)[0] if chosen else worth.bits[i] / max(float(plan.decided[i]), 1e-12)
            gained = bits + float(plan.decided[i]) * max(0.0, now - told)
            cost = minutes + look.minutes
            candidate = (gained / max(cost, 1e-9), -i, gained, cost, now)
            if best is None or candidate[:1] > best[:1]:
                best = candidate
        if best is None or best[0] <= score * (1 + 1e-12):
            return chosen, bits, minutes
        score, number, bits, minutes, told = best
        chosen.append(-number)
        shown |= plan.characters[-number]
