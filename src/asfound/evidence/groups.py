"""Looks behind one set-up, valued together: once it is paid, every look behind it is cheap."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.information import LN2, x_log_x
from asfound.evidence.outcomes import MOST_OUTCOMES, across, joined, size
from asfound.evidence.ranked import NO_DOUBT, Ranked, RankedGroup

if TYPE_CHECKING:
    from asfound.evidence.compiled import Floats


def groups(ranking: Ranked) -> tuple[RankedGroup, ...]:
    """Return a group for each set-up not yet paid that an open look needs; allowed ones first, then by score."""
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


def greedy(ranking: Ranked, behind: list[int], paid_once: float) -> tuple[list[int], float, float]:
    """Return the looks chosen, their joint bits, and the minutes with the set-up paid once.

    Each step takes the look that gives the best joint information per minute, as long as that rises. A look's gain
    counts with its chance of being told. Sources are asked on their own: only the first may be one. A look at what
    another of the group shows already, or with which the joint outcomes would be too many, does not join.
    """
    plan, worth = ranking.plan, ranking.worth
    chosen: list[int] = []
    shown: frozenset[str] = frozenset()
    told, bits, minutes, score = 0.0, 0.0, paid_once, 0.0
    quick = Together(ranking)
    while True:
        best: tuple[float, int, float, float, float] | None = None
        may = [
            i
            for i in behind
            if i not in chosen
            and not shown & plan.characters[i]
            and not (chosen and (plan.looks[i].source or plan.looks[chosen[0]].source))
        ]
        together = quick.with_each(may) if chosen else {}
        for i in may:
            if not chosen:
                if size(plan.c, plan.asks[i]) > MOST_OUTCOMES:
                    continue
                now = worth.bits[i] / max(float(plan.decided[i]), 1e-12)
            elif i in together:
                now = together[i]
            else:
                joint = joined(plan.asks[j] for j in (*chosen, i))
                if size(plan.c, joint) > MOST_OUTCOMES:
                    continue
                now = worth.single(joint)[0]
            gained = bits + float(plan.decided[i]) * max(0.0, now - told)
            cost = minutes + plan.looks[i].minutes
            candidate = (round(gained / max(cost, 1e-9), 14), -i, gained, cost, now)
            if best is None or candidate[:1] > best[:1]:
                best = candidate
        if best is None or best[0] <= score * (1 + 1e-12):
            return chosen, bits, minutes
        score, number, bits, minutes, told = best
        chosen.append(-number)
        quick.add(-number)
        shown |= plan.characters[-number]


class Together:
    """What plain looks tell of the lineage together, one slot's looks at a time kept as a table over its variants.

    Given the lineage the slots are independent, so the joint table of all outcomes and the lineage never has to be laid
    out: sums of x log x over it are products of sums, and only the table of the outcomes alone is as large as they are.
    Not for other targets, looks that are not plain, or slots that sources tie.
    """

    def __init__(self, ranking: Ranked) -> None:
        self.plan, self.worth, self.weighed = ranking.plan, ranking.worth, ranking.belief.weighed
        self.holds = ranking.worth.target == "lineage"
        self.known: dict[int, tuple[int, Floats]] = {}
        self.alone: dict[int, Floats] = {}
        self.tables: dict[int, Floats] = {}
        """P(outcomes chosen at the slot | variant) [O, V]."""
        self.shown: dict[int, Floats] = {}
        """The same by lineage [O, G]."""

    def add(self, i: int) -> None:
        """Add a look to those chosen."""
        found = self.worth.table_of(i) if self.holds else None
        if found is None:
            self.holds = False
            return
        s, table = found
        self.tables[s] = across([self.tables[s], table]) if s in self.tables else table
        self.shown[s] = self.tables[s] @ self.weighed.variant_given(s).T

    def with_each(self, looks: list[int]) -> dict[int, float]:
        """Return the bits about the lineage of the chosen looks and one more together, for each that can be valued."""
        if not self.holds:
            return {}
        every = across(list(self.shown.values()))
        alone: list[int] = []
        shown: list[Floats] = []
        out: dict[int, float] = {}
        for i in looks:
            found = self.known.get(i) or self.worth.table_of(i)
            if found is None:
                continue
            self.known[i] = found
            s, table = found
            if s not in self.shown:
                if len(table) * len(every) <= MOST_OUTCOMES:
                    alone.append(i)
                    shown.append(self.by_lineage(i, s, table))
                continue
            others = [one for t, one in self.shown.items() if t != s]
            rest = across(others) if others else np.ones((1, self.plan.c.G))
            if len(rest) * len(self.tables[s]) * len(table) <= MOST_OUTCOMES:
                both = across([self.tables[s], table]) @ self.weighed.variant_given(s).T
                out[i] = self.bits(rest, [both])[0]
        out.update(zip(alone, self.bits(every, shown), strict=True))
        return out

    def by_lineage(self, i: int, s: int, table: Floats) -> Floats:
        """Return P(outcome | lineage) of a look [O, G], kept for the next step."""
        found = self.alone.get(i)
        if found is None:
            found = self.alone[i] = table @ self.weighed.variant_given(s).T
        return found

    def bits(self, rest: Floats, each: list[Floats]) -> list[float]:
        """Return the information about the lineage of ``rest`` [O, G] with each of the others [O', G]. [bit]"""
        if not each:
            return []
        most = max(len(one) for one in each)
        padded = np.zeros((len(each), most, rest.shape[1]))
        for n, one in enumerate(each):
            padded[n, : len(one)] = one
        p = self.weighed.p
        rest_sum, rest_log = rest.sum(axis=0), x_log_x(rest).sum(axis=0)  # [G]
        sums, logs = padded.sum(axis=1), x_log_x(padded).sum(axis=1)  # [n, G]
        by_lineage = p * rest_sum * sums
        # sum over outcomes of x log x with x = p_g a_g b_g, for each lineage
        joint = x_log_x(p) * rest_sum * sums + p * (rest_log * sums + rest_sum * logs)
        outcomes = np.matmul(rest * p, padded.transpose(0, 2, 1))  # [n, O, O']
        total = by_lineage.sum(axis=1)
        nats = joint.sum(axis=1) - x_log_x(outcomes).sum(axis=(1, 2)) - x_log_x(by_lineage).sum(axis=1)
        found: list[float] = np.maximum((nats / total + np.log(total)) / LN2, 0.0).tolist()
        return found
