"""How many decibans each witness weighs for one lineage against another.

Log odds = log prior odds + sum over blocks, exactly. A block is a slot, the slots that sources tie together, or a statement
about the lineage. Inside a block witnesses are tied through the variant, so their weights are shares that do not hang on any
order (Shapley) and add up to the block's sum.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import factorial
from typing import TYPE_CHECKING, Literal

import numpy as np

from asfound.evidence.gather import gather
from asfound.evidence.observations import LineageStatement
from asfound.evidence.weigh import LINEAGE, Weighed, log_sum, weigh
from asfound.evidence.witnesses import Witness, witnesses

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats
    from asfound.evidence.observations import Evidence

DECIBANS = float(10.0 / np.log(10.0))
"""Decibans per nat."""
MOST_SHARED = 10
"""Most witnesses in one slot for exact Shapley shares (1,024 subsets)."""
MOST_SHARED_TIED = 6
"""The same where sources tie slots."""
LEAST_LOG = -1e4
"""Stands for the logarithm of 0 in weights, so that they stay numbers. [nats]"""

Shared = Literal["exact", "shapley", "leave_one_out"]


@dataclass(frozen=True, slots=True)
class BlockWeight:
    """One block: its name, its decibans, its witnesses with their shares, and how they were shared out."""

    name: str
    decibans: float
    witnesses: tuple[Witness, ...]
    shares: tuple[float, ...]
    shared: Shared


def block_weights(
    c: Compiled, observations: Sequence[Evidence], weighed: Weighed, winner: int, other: int
) -> tuple[BlockWeight, ...]:
    """Return the decibans of each block for lineage ``winner`` against ``other``, shared out among its witnesses."""
    out = []
    for name, slots, log in block_logs(c, weighed):
        total = (bounded(log[winner]) - bounded(log[other])) * DECIBANS
        mine = tuple(one for one in witnesses(observations) if not slots.isdisjoint(slots_of(c, one)))
        if not mine:
            continue
        tied = any(one.source is not None for one in mine) or LINEAGE in slots
        shares, shared = share_out(c, mine, total, winner, other, tied=tied)
        out.append(BlockWeight(name, total, mine, shares, shared))
    return tuple(out)


def block_logs(c: Compiled, weighed: Weighed) -> list[tuple[str, set[int], Floats]]:
    """Return name, slots and log P(o of the block | lineage) [G] of each block, slots in catalogue order, the lineage last."""
    names = [slot.name for slot in c.model.slots]
    out: list[tuple[str, set[int], Floats]] = []
    for s in range(c.S):
        tie = weighed.tie_of.get(s)
        if tie is None:
            out.append((names[s], {s}, weighed.log_z[s]))
        elif s == min(one for one in tie.slots if one != LINEAGE):
            title = " + ".join(
                [names[one] for one in sorted(tie.slots) if one != LINEAGE] + ["lineage"] * (LINEAGE in tie.slots)
            )
            out.append((title, set(tie.slots), log_sum(tie.log, 0)))
    if weighed.gathered.lineage:
        tie = weighed.tie_of.get(LINEAGE)
        if tie is None:
            with np.errstate(divide="ignore"):
                chance = np.log(c.lineage_chance([statement for statement, _ in weighed.gathered.lineage]))
            out.append(("lineage", {LINEAGE}, chance))
        elif tie.slots == (LINEAGE,):
            out.append(("lineage", {LINEAGE}, log_sum(tie.log, 0)))
    return out


def slots_of(c: Compiled, one: Witness) -> set[int]:
    """Return the slots a witness speaks of."""
    return {
        LINEAGE if isinstance(said, LineageStatement) else c.slot_list[c.model.character_index(said.character)]
        for said in one.evidence
    }


def share_out(
    c: Compiled, mine: tuple[Witness, ...], total: float, winner: int, other: int, *, tied: bool
) -> tuple[tuple[float, ...], Shared]:
    """Return each witness's share of a block's decibans, and how it was shared out."""
    n = len(mine)
    if n == 1:
        return (total,), "exact"
    exact = n <= (MOST_SHARED_TIED if tied else MOST_SHARED)

    worth = (within_tie if tied else within_slot)(c, mine, total, winner, other)
    if exact:
        return shapley(n, worth), "shapley"
    everyone = tuple(range(n))
    lost = np.array([total - worth(tuple(j for j in everyone if j != i)) for i in everyone])
    if abs(lost.sum()) > 0.1 * np.abs(lost).sum():
        return tuple((lost * total / lost.sum()).tolist()), "leave_one_out"
    return tuple((lost + (total - lost.sum()) / n).tolist()), "leave_one_out"


def within_tie(
    c: Compiled, mine: tuple[Witness, ...], total: float, winner: int, other: int
) -> Callable[[tuple[int, ...]], float]:
    """Return the worth of subsets of witnesses that sources tie together: decibans if only these had spoken."""

    def worth(subset: tuple[int, ...]) -> float:
        if len(subset) in (0, len(mine)):
            return total if subset else 0.0
        log = weigh(c, tuple(said for i in subset for said in mine[i].evidence)).log - c.log_prior
        return (bounded(log[winner]) - bounded(log[other])) * DECIBANS

    return worth


def within_slot(
    c: Compiled, mine: tuple[Witness, ...], total: float, winner: int, other: int
) -> Callable[[tuple[int, ...]], float]:
    """Return the worth of subsets of plain observations of one slot: the slot alone is weighed, for two lineages."""
    (s,) = slots_of(c, mine[0])
    pair = c.given[s][[winner, other]]

    def worth(subset: tuple[int, ...]) -> float:
        if len(subset) in (0, len(mine)):
            return total if subset else 0.0
        gathered = gather(c, [said for i in subset for said in mine[i].evidence])
        L = c.blank[s].copy()
        for _, logs in gathered.quick:
            L += logs
        for characters in gathered.slots.values():
            for k, items in characters.items():
                L += c.padded_log(c.chance(k, [statement for statement, _ in items]))
        with np.errstate(divide="ignore"):
            log = log_sum(np.log(pair) + L, 1)
        return float(bounded(log[0]) - bounded(log[1])) * DECIBANS

    return worth


def shapley(n: int, worth: Callable[[tuple[int, ...]], float]) -> tuple[float, ...]:
    """Return Shapley shares of n players: what each adds, averaged over all orders; they add up to the worth of all.

    >>> shapley(2, lambda team: {(): 0.0, (0,): 1.0, (1,): 2.0, (0, 1): 5.0}[team])
    (2.0, 3.0)
    """
    value = [worth(tuple(i for i in range(n) if code >> i & 1)) for code in range(1 << n)]
    order = [factorial(size) * factorial(n - size - 1) / factorial(n) for size in range(n)]
    shares = [0.0] * n
    for code in range(1 << n):
        size = code.bit_count()
        for i in range(n):
            if not code >> i & 1:
                shares[i] += order[size] * (value[code | 1 << i] - value[code])
    return tuple(shares)


def bounded(log: float) -> float:
    """Return the logarithm, that of 0 as a very small number."""
    return max(float(log), LEAST_LOG)
