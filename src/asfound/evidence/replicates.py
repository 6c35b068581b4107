"""What else the same looks could have shown under a lineage: expectation and variance of the log likelihood.

A *block* is a slot, or the slots and lineage statements that sources tie together; blocks are independent given the
lineage.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from asfound.evidence.gather import ALWAYS, Gathered, stated_before
from asfound.evidence.weigh import LINEAGE, together

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats

MOST_OUTCOMES = 4096
REPLICATES = 4000
SEED = 1
Indices = NDArray[np.intp]


@dataclass(slots=True)
class Item:
    """One statement: its character (LINEAGE for the lineage), error, source, and the outcomes it could have had.

    ``outcomes`` [M, states] are likelihood vectors that add up to 1 for every state; the first is what was stated.
    """

    k: int
    error: float
    by: int
    outcomes: Floats


class Block:
    """The statements of one block, and the probability of any set of outcomes of them under a lineage."""

    def __init__(self, c: Compiled, gathered: Gathered, items: list[Item]) -> None:
        self.c, self.items = c, items
        self.sources = sorted({one.by for one in items if one.by != ALWAYS})
        self.wrong = {j: gathered.sources[j].wrong for j in self.sources}
        self.counts = [len(one.outcomes) for one in items]

    def moments(self, g: int) -> tuple[float, float, float]:
        """Return log P of what was stated, its expectation and its variance, under lineage g."""
        if np.prod(self.counts, dtype=float) <= MOST_OUTCOMES:
            every = np.array(list(product(*(range(n) for n in self.counts))), dtype=np.intp)
            log = np.log(self.chance(every, g))
            weight = np.exp(log)
            weight /= weight.sum()
            mean = float(weight @ log)
            return float(log[0]), mean, float(weight @ (log - mean) ** 2)
        drawn = self.draw(g, np.random.default_rng(SEED))
        stated = np.zeros((1, len(self.items)), dtype=np.intp)
        log = np.log(self.chance(np.concatenate([stated, drawn]), g))
        return float(log[0]), float(log[1:].mean()), float(log[1:].var())

    def chance(self, index: Indices, g: int) -> Floats:
        """Return P(outcomes | lineage g) of each row of outcome numbers [M, items]."""
        away = {j: self.when_wrong(index, j) for j in self.sources}
        out = np.zeros(len(index))
        for combination in product((True, False), repeat=len(self.sources)):
            right = dict(zip(self.sources, combination, strict=True))
            weight = np.ones(len(index))
            for j, is_right in right.items():
                weight *= 1 - self.wrong[j] if is_right else self.wrong[j] * away[j]
            counted = [n for n, one in enumerate(self.items) if one.by == ALWAYS or right[one.by]]
            by_slot, lineage = self.by_slot(index, counted)
            for s, chance in by_slot.items():
                weight = weight * (chance @ self.c.given[s][g])
            out += weight * lineage[:, g]
        return np.maximum(out, 1e-300)

    def when_wrong(self, index: Indices, j: int) -> Floats:
        """Return the chance of a source's statements when it describes another thing [M]."""
        by_slot, lineage = self.by_slot(index, [n for n, one in enumerate(self.items) if one.by == j])
        each = lineage * self.c.wrong_prior
        for s, chance in by_slot.items():
            each = each * (chance @ self.c.given[s].T)
        result: Floats = each.sum(axis=1)
        return result

    def by_slot(self, index: Indices, counted: list[int]) -> tuple[dict[int, Floats], Floats]:
        """Return the chance of the counted statements for each slot [M, V] and for the lineage [M, G]."""
        c = self.c
        out: dict[int, Floats] = {}
        lineage = np.ones((len(index), c.G))
        for k in dict.fromkeys(self.items[n].k for n in counted):
            mine = [n for n in counted if self.items[n].k == k]
            if len(mine) == 1:
                rows = np.arange(self.counts[mine[0]])[:, None]
                inverse = index[:, mine[0]]
            else:
                rows, inverse = np.unique(index[:, mine], axis=0, return_inverse=True)
                inverse = inverse.reshape(-1)
            statements = [
                [(self.items[n].outcomes[m], self.items[n].error) for n, m in zip(mine, row, strict=True)]
                for row in rows
            ]
            if k == LINEAGE:
                lineage *= np.array([c.lineage_chance(one) for one in statements])[inverse]
                continue
            table = np.zeros((len(rows), c.V))
            for r, one in enumerate(statements):
                table[r, : c.sizes[c.slot_list[k]]] = c.chance(k, one)
            s = c.slot_list[k]
            out[s] = out[s] * table[inverse] if s in out else table[inverse]
        return out, lineage

    def draw(self, g: int, random: np.random.Generator) -> Indices:
        """Return outcome numbers drawn from the model under lineage g [REPLICATES, items]."""
        c = self.c
        drawn = np.zeros((REPLICATES, len(self.items)), dtype=np.intp)
        here = np.full(REPLICATES, g)
        states = self.states(here, self.items, random)
        for j in [ALWAYS, *self.sources]:
            mine = [n for n, one in enumerate(self.items) if one.by == j]
            truth = states
            if j != ALWAYS:
                other = random.choice(c.G, REPLICATES, p=c.wrong_prior / c.wrong_prior.sum())
                elsewhere = self.states(other, [self.items[n] for n in mine], random)
                right = random.random(REPLICATES) >= self.wrong[j]
                truth = {k: np.where(right, states[k], elsewhere[k]) for k in elsewhere}
            for n in mine:
                one = self.items[n]
                b = c.lineage_background if one.k == LINEAGE else c.background[one.k]
                told = (1 - one.error) * one.outcomes.T[truth[one.k]] + one.error * (one.outcomes @ b)
                drawn[:, n] = pick(told, random)
        return drawn

    def states(self, lineages: Indices, items: list[Item], random: np.random.Generator) -> dict[int, Indices]:
        """Return a true state of each character for things of these lineages."""
        c = self.c
        variants: dict[int, Indices] = {}
        out: dict[int, Indices] = {}
        for k in dict.fromkeys(one.k for one in items):
            if k == LINEAGE:
                unknown = random.choice(len(c.built), len(lineages), p=c.lineage_background)
                out[k] = np.where(lineages < len(c.built), lineages, unknown)
                continue
            s = c.slot_list[k]
            if s not in variants:
                variants[s] = pick(c.given[s][lineages], random)
            theta = c.floored(k, min(one.error for one in items if one.k == k))
            out[k] = pick(theta[variants[s]], random)
        return out


def pick(weights: Floats, random: np.random.Generator) -> Indices:
    """Return one column per row, drawn in proportion to the weights."""
    edges = np.cumsum(weights, axis=1)
    return np.asarray((edges < random.random((len(edges), 1)) * edges[:, -1:]).sum(axis=1), dtype=np.intp)


Said = tuple[int, float, int, "Floats"]
"""One statement: character (LINEAGE for the lineage), error, source, likelihood."""
MOST_KEPT = 4096


def moments(c: Compiled, gathered: Gathered, g: int) -> list[tuple[float, float, float]]:
    """Return log P of what was stated, its expectation and its variance under lineage g, for each block.

    A block hangs on its own statements alone, so its moments are kept with the model: a look more costs one block.
    """
    out = []
    for block in statements(c, gathered):
        numbers = {by: n for n, by in enumerate(sorted({by for _, _, by, _ in block if by != ALWAYS}))}
        wrong = tuple(gathered.sources[by].wrong for by in numbers)
        key = (g, wrong, tuple((k, e, numbers.get(by, ALWAYS), told.tobytes()) for k, e, by, told in block))
        found = c.moments.get(key)
        if found is None:
            if len(c.moments) >= MOST_KEPT:
                c.moments.clear()
            found = c.moments[key] = Block(c, gathered, [item(c, *one) for one in block]).moments(g)
        out.append(found)
    return out


def blocks(c: Compiled, gathered: Gathered) -> list[Block]:
    """Return the blocks of a set of observations."""
    return [Block(c, gathered, [item(c, *one) for one in block]) for block in statements(c, gathered)]


def item(c: Compiled, k: int, error: float, by: int, likelihood: Floats) -> Item:
    """Return a statement with the outcomes that it could have had."""
    outcomes = lineage_alternatives(c, likelihood) if k == LINEAGE else alternatives(likelihood)
    return Item(k, error, by, outcomes)


def statements(c: Compiled, gathered: Gathered) -> list[list[Said]]:
    """Return the statements of each block, those that sources tie together first."""
    by_slot: dict[int, list[Said]] = {}
    for k in [*gathered.plain, *(k for characters in gathered.slots.values() for k in characters)]:
        for (likelihood, error), by in stated_before(c, gathered, k):
            by_slot.setdefault(c.slot_list[k], []).append((k, error, by, likelihood))
    for (likelihood, error), by in gathered.lineage:
        by_slot.setdefault(LINEAGE, []).append((LINEAGE, error, by, likelihood))
    speakers = {s: tuple(sorted({by for _, _, by, _ in said if by != ALWAYS})) for s, said in by_slot.items()}
    tied = together({s: who for s, who in speakers.items() if who}, len(gathered.sources))
    out = [[one for s in slots for one in by_slot[s]] for _, slots in tied]
    return out + [said for s, said in by_slot.items() if not speakers[s]]


def alternatives(likelihood: Floats) -> Floats:
    """Return what could have been stated instead [M, states], what was stated first.

    Ticked states are one outcome, each other state is one; graded doubt stands against not having that impression.
    """
    scaled = likelihood / likelihood.max()
    if np.isin(scaled, (0.0, 1.0)).all():
        others = np.eye(len(scaled))[scaled == 0]
        return np.concatenate([scaled[None], others])
    return np.stack([scaled, 1 - scaled])


def lineage_alternatives(c: Compiled, likelihood: Floats) -> Floats:
    """Return what could have been stated of the lineage instead [M, lineages]: the other as-built generations."""
    scaled = likelihood / likelihood.max()
    if not np.isin(scaled, (0.0, 1.0)).all():
        return np.stack([scaled, 1 - scaled])
    others = [np.where(c.built == a, 1 - scaled, 0.0) for a in range(len(c.as_built))]
    return np.array([scaled, *(one for one in others if one.any())])
