"""How many decibans each witness weighs for one lineage against another.

Log odds = log prior odds + sum over blocks, exactly. A block is a slot, the slots that sources tie together, or a
statement about the lineage. Inside a block witnesses are tied through the variant, so their weights are shares that
do not hang on any order (Shapley) and add up to the block's sum.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import factorial
from typing import TYPE_CHECKING, Literal

import numpy as np

from asfound.evidence.gather import gather
from asfound.evidence.observations import LineageStatement, NothingFits
from asfound.evidence.weigh import LINEAGE, Weighed, log_sum, weigh
from asfound.evidence.witnesses import Heard, Witness, witnesses

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
    """Return the decibans of each block for lineage ``winner`` against ``other``, shared out among its witnesses.

    What hangs on no pair of lineages is worked out once for these weighed observations.
    """
    if weighed.blocks is None:
        weighed.blocks = heard_blocks(c, observations, weighed)
    out = []
    for one in weighed.blocks:
        total = (bounded(one.log[winner]) - bounded(one.log[other])) * DECIBANS
        shares, shared = share_out(c, one, total, winner, other)
        out.append(BlockWeight(one.name, total, one.witnesses, shares, shared))
    return tuple(out)


def heard_blocks(c: Compiled, observations: Sequence[Evidence], weighed: Weighed) -> tuple[Heard, ...]:
    """Return the blocks in which somebody spoke, with those who did."""
    everyone = [(one, slots_of(c, one)) for one in witnesses(observations)]
    out = []
    for name, slots, log in block_logs(c, weighed):
        mine = tuple(one for one, spoke in everyone if not slots.isdisjoint(spoke))
        if mine:
            out.append(Heard(name, slots, log, mine))
    return tuple(out)


def block_logs(c: Compiled, weighed: Weighed) -> list[tuple[str, set[int], Floats]]:
    """Return name, slots and log P(o of the block | lineage) [G] of each block, slots in catalogue order, the
    lineage last.
    """
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


def share_out(c: Compiled, block: Heard, total: float, winner: int, other: int) -> tuple[tuple[float, ...], Shared]:
    """Return each witness's share of a block's decibans, and how it was shared out."""
    mine = block.witnesses
    n = len(mine)
    if n == 1:
        return (total,), "exact"
    tied = any(one.source is not None for one in mine) or LINEAGE in block.slots
    if n <= (MOST_SHARED_TIED if tied else MOST_SHARED):
        if block.subsets is None:
            logs = subsets_of_tie(c, mine) if tied else subsets_of_slot(c, mine)
            block.subsets = np.maximum(logs, LEAST_LOG)
        worth = (block.subsets[:, winner] - block.subsets[:, other]) * DECIBANS
        worth[0], worth[-1] = 0.0, total
        return shares_of(n, worth), "shapley"
    everyone = tuple(range(n))
    less = (subsets_of_tie if tied else subsets_of_slot)(
        c, mine, [tuple(j for j in everyone if j != i) for i in everyone]
    )
    less = np.maximum(less, LEAST_LOG)
    lost = total - (less[:, winner] - less[:, other]) * DECIBANS
    if abs(lost.sum()) > 0.1 * np.abs(lost).sum():
        return tuple((lost * total / lost.sum()).tolist()), "leave_one_out"
    return tuple((lost + (total - lost.sum()) / n).tolist()), "leave_one_out"


def every_subset(n: int) -> list[tuple[int, ...]]:
    """Return all subsets of n, the one with members i at place sum 2^i."""
    return [tuple(i for i in range(n) if code >> i & 1) for code in range(1 << n)]


def subsets_of_tie(c: Compiled, mine: tuple[Witness, ...], subsets: Sequence[tuple[int, ...]] | None = None) -> Floats:
    """Return log P(o | lineage) if only these witnesses of tied slots had spoken [subsets, G]; all where None."""
    chosen = every_subset(len(mine)) if subsets is None else subsets
    out = np.zeros((len(chosen), c.G))
    for row, subset in enumerate(chosen):
        if subset:
            try:
                out[row] = weigh(c, tuple(said for i in subset for said in mine[i].evidence)).log - c.log_prior
            except NothingFits:
                out[row] = -np.inf
    return out


def subsets_of_slot(c: Compiled, mine: tuple[Witness, ...], subsets: Sequence[tuple[int, ...]] | None = None) -> Floats:
    """Return log P(o | lineage) if only these plain witnesses of one slot had spoken [subsets, G]; all where None.

    Where each speaks of a character of its own their logarithms add up, and all subsets are weighed in one go.
    """
    (s,) = slots_of(c, mine[0])
    n = len(mine)
    chosen = every_subset(n) if subsets is None else subsets
    each = [gather(c, one.evidence) for one in mine]
    if all(one.simple and len(one.quick) == 1 for one in each) and len({k for one in each for k in one.plain}) == n:
        told = np.array([one.quick[0][1] for one in each])
        if np.isfinite(told).all():
            among = np.array([[i in subset for i in range(n)] for subset in chosen], dtype=float)
            return lineages_of_slot(c, s, among @ told + c.blank[s])
    L = np.tile(c.blank[s], (len(chosen), 1))
    for row, subset in enumerate(chosen):
        gathered = gather(c, [said for i in subset for said in mine[i].evidence])
        for _, logs in gathered.quick:
            L[row] += logs
        for characters in gathered.slots.values():
            for k, items in characters.items():
                L[row] += c.padded_log(c.chance(k, [statement for statement, _ in items]))
    return lineages_of_slot(c, s, L)


def lineages_of_slot(c: Compiled, s: int, L: Floats) -> Floats:
    """Return log sum_v P(v | g) exp(L[v]) of one slot [rows, G] from L [rows, V]."""
    with np.errstate(divide="ignore"):
        return log_sum(np.log(c.given[s]) + L[:, None, :], 2)


def shapley(n: int, worth: Callable[[tuple[int, ...]], float]) -> tuple[float, ...]:
    """Return Shapley shares of n players: what each adds, averaged over all orders; they add up to the worth of all.

    >>> shapley(2, lambda team: {(): 0.0, (0,): 1.0, (1,): 2.0, (0, 1): 5.0}[team])
    (2.0, 3.0)
    """
    return shares_of(n, np.array([worth(team) for team in every_subset(n)]))


def shares_of(n: int, value: Floats) -> tuple[float, ...]:
    """Return Shapley shares from the worth of every subset, that with members i at place sum 2^i."""
    codes = np.arange(1 << n)
    sizes = np.bitwise_count(codes)
    order = np.array([factorial(size) * factorial(n - size - 1) / factorial(n) for size in range(n)])
    shares = []
    for i in range(n):
        without = codes[(codes >> i & 1) == 0]
        shares.append(float(order[sizes[without]] @ (value[without | 1 << i] - value[without])))
    return tuple(shares)


def bounded(log: float) -> float:
    """Return the logarithm, that of 0 as a very small number."""
    return max(float(log), LEAST_LOG)
