"""The seven explanations that whoever decides must get.

1 the posterior table with runner-up and ``other``, and a word from fixed bands; 2 decibans of each witness for the
winner against the runner-up, which add up exactly; 3 what speaks against the winner and what it would have shown
instead; 4 why not another; 5 what the answer hangs on; 6 what to look at next; 7 the same order for the same input,
ties in catalogue order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import UnknownNameError
from asfound.evidence.fit import unknown
from asfound.evidence.looks import rank
from asfound.evidence.model import OTHER
from asfound.evidence.observations import LineageStatement, NothingFits
from asfound.evidence.posterior import Belief, posterior
from asfound.evidence.weigh import weigh
from asfound.evidence.weights import DECIBANS, BlockWeight, Shared, block_weights, bounded
from asfound.evidence.witnesses import Witness, without, witnesses

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled
    from asfound.evidence.look import Look, Setup
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence
    from asfound.evidence.ranked import RankedLook

BANDS = ((0.95, "settled"), (0.75, "likely"), (0.50, "leaning"), (0.0, "open"))
"""Words by probability of the top lineage; the number always stands beside."""
NOT_IN_CATALOGUE = "not in the catalogue"
MOST_COSTS = 3
"""How many observations are named that cost a candidate most."""
MOST_PAIRED = 16
"""Up to so many witnesses, pairs are tried for 'which readings would have to be wrong' before going one by one."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the posterior table."""

    lineage: str
    probability: float


@dataclass(frozen=True, slots=True)
class Weight:
    """What one witness weighs for the winner against another.

    Attributes
    ----------
    observations : tuple of str
        Ids; all statements of one source are one witness.
    decibans : float
        Signed: below 0 it speaks against the winner.
    block : str
        The slot, or the tied slots, within which it was shared out.
    shared : {"exact", "shapley", "leave_one_out"}
        Alone in its block; shares that hang on no order; or leave-one-out scaled to the block's sum.
    instead : tuple of (character, state, probability)
        What the winner would have shown, where it speaks against it.
    """

    observations: tuple[str, ...]
    source: str | None
    decibans: float
    block: str
    shared: Shared
    instead: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class WhyNot:
    """What costs a candidate most against the winner, and what it would need.

    ``decibans`` by which the winner leads; ``needs_wrong`` the fewest observations found that would have to be
    wrong for the candidate to overtake it (empty with ``possible`` False: none would do).
    """

    lineage: str
    decibans: float
    costs: tuple[Weight, ...]
    needs_wrong: tuple[str, ...]
    possible: bool


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Belief with one witness left out."""

    observations: tuple[str, ...]
    source: str | None
    top: str
    top_probability: float
    winner_probability: float
    changes_top: bool


@dataclass(frozen=True, slots=True)
class Explanation:
    """All seven; ``prior_decibans`` and the weights add up to ``total_decibans`` exactly, as do the blocks."""

    words: str
    table: tuple[Row, ...]
    winner: str
    runner_up: str
    prior_decibans: float
    blocks: tuple[tuple[str, float], ...]
    weights: tuple[Weight, ...]
    total_decibans: float
    against: tuple[Weight, ...]
    why_not: tuple[WhyNot, ...]
    left_out: tuple[LeftOut, ...]
    hangs_on: tuple[LeftOut, ...]
    next_looks: tuple[RankedLook, ...]


def explain(
    model: Model,
    observations: Sequence[Evidence],
    *,
    looks: Sequence[Look] = (),
    setups: Sequence[Setup] = (),
    why_not: Sequence[str] | int = 3,
    target: str = "lineage",
) -> Explanation:
    """Return why the winner leads, what speaks against it, what it hangs on, and what to look at next.

    Parameters
    ----------
    model, observations : Model, sequence of observations
    looks, setups : sequences, optional
        For the next looks; none where empty.
    why_not : sequence of lineages, or int
        Candidates to speak of, or how many of those that follow the winner.
    target : str
        What the next looks shall tell; see ``rank``.

    Raises
    ------
    UnknownNameError
        A candidate of ``why_not`` is no lineage.
    """
    belief = posterior(model, observations)
    c, kept = model.compiled, belief.observations
    table = belief.ranked()
    winner = c.lineages.index(table[0][0])
    second = c.lineages.index(table[1][0]) if len(table) > 1 else winner
    blocks, weights = weighed_up(c, belief, winner, second)
    if isinstance(why_not, int):
        others = [name for name, _ in table[1 : 1 + why_not]]
    else:
        others = list(why_not)
        for name in others:
            if name not in c.lineages:
                raise UnknownNameError("lineage", name, c.lineages)
    left_out = tuple(leave_out(c, kept, one, winner) for one in witnesses(kept))
    return Explanation(
        words=words(model, belief),
        table=tuple(Row(name, p) for name, p in table),
        winner=c.lineages[winner],
        runner_up=c.lineages[second],
        prior_decibans=prior_weight(c, winner, second),
        blocks=tuple((one.name, one.decibans) for one in blocks),
        weights=weights,
        total_decibans=odds(belief, winner, second),
        against=tuple(one for one in weights if one.decibans < 0),
        why_not=tuple(why(c, belief, winner, c.lineages.index(name)) for name in others if name != c.lineages[winner]),
        left_out=left_out,
        hangs_on=tuple(one for one in left_out if one.changes_top),
        next_looks=rank(model, belief, looks, setups, target=target).looks if looks else (),
    )


def words(model: Model, belief: Belief) -> str:
    """Return the word for the top lineage, or that it is not in the catalogue."""
    if unknown(model, belief.observations).not_in_catalogue:
        return NOT_IN_CATALOGUE
    p = belief.lineages[belief.ranked()[0][0]]
    return next(word for least, word in BANDS if p >= least)


def odds(belief: Belief, winner: int, other: int) -> float:
    """Return the log odds of two lineages in decibans."""
    log = belief.weighed.log
    return (bounded(log[winner]) - bounded(log[other])) * DECIBANS


def prior_weight(c: Compiled, winner: int, other: int) -> float:
    """Return the log prior odds in decibans."""
    return (bounded(c.log_prior[winner]) - bounded(c.log_prior[other])) * DECIBANS


def weighed_up(
    c: Compiled, belief: Belief, winner: int, other: int
) -> tuple[tuple[BlockWeight, ...], tuple[Weight, ...]]:
    """Return the blocks, and every witness's weight, the heaviest for the winner first."""
    blocks = block_weights(c, belief.observations, belief.weighed, winner, other)
    out = [
        Weight(
            one.ids,
            one.source,
            share,
            block.name,
            block.shared,
            would_show(c, one, winner) if share < 0 else (),
        )
        for block in blocks
        for one, share in zip(block.witnesses, block.shares, strict=True)
    ]
    return blocks, tuple(sorted(out, key=lambda weight: -round(weight.decibans, 9)))


def would_show(c: Compiled, one: Witness, g: int) -> tuple[tuple[str, str, float], ...]:
    """Return what a lineage would most probably have shown where this witness spoke, known misreadings left out."""
    out = []
    for said in one.evidence:
        if isinstance(said, LineageStatement):
            if g < len(c.built):
                out.append(("lineage", c.as_built[c.built[g]], 1.0))
            continue
        k = c.model.character_index(said.character)
        s = c.slot_list[k]
        shown = c.given[s][g][: c.sizes[s]] @ c.theta[k]
        native = int(np.argmax(c.given[s][g]))
        variant = c.model.variant_names(c.model.slots[s].name)[native]
        described = c.model.describe(said.character, variant)
        state = (
            described[0][0] if described and g < len(c.built) else c.model.characters[k].states[int(np.argmax(shown))]
        )
        out.append((said.character, state, float(shown[c.states[k][state]])))
    return tuple(out)


def leave_out(c: Compiled, observations: tuple[Evidence, ...], one: Witness, winner: int) -> LeftOut:
    """Return the belief without one witness."""
    p = weigh(c, without(observations, one)).p
    top = int(np.argmax(np.round(p, 12)))
    return LeftOut(one.ids, one.source, c.lineages[top], float(p[top]), float(p[winner]), top != winner)


def why(c: Compiled, belief: Belief, winner: int, other: int) -> WhyNot:
    """Return what costs a candidate most against the winner, and which readings would have to be wrong."""
    _, weights = weighed_up(c, belief, winner, other)
    costs = tuple(one for one in weights if one.decibans > 0)[:MOST_COSTS]
    found = would_need(c, belief.observations, winner, other)
    ids = tuple(name for one in found for name in one.ids) if found else ()
    return WhyNot(c.lineages[other], odds(belief, winner, other), costs, ids, bool(found))


def would_need(c: Compiled, observations: tuple[Evidence, ...], winner: int, other: int) -> tuple[Witness, ...] | None:
    """Return the fewest witnesses found without whom the candidate overtakes the winner; None where none would do.

    One, then two are tried in all ways (two for up to 16 witnesses); more are taken away one by one, the costliest
    first.
    """
    everyone = witnesses(observations)

    def lead(gone: tuple[Witness, ...]) -> float:
        """How far the candidate is ahead without these."""
        try:
            log = weigh(c, without(observations, *gone)).log
        except NothingFits:
            return -np.inf
        return bounded(log[other]) - bounded(log[winner])

    for size in (1, 2) if len(everyone) <= MOST_PAIRED else (1,):
        tried = [(lead(gone), gone) for gone in combinations(everyone, size)]
        if tried and max(tried, key=lambda pair: round(pair[0], 9))[0] > 0:
            return max(tried, key=lambda pair: round(pair[0], 9))[1]
    gone: tuple[Witness, ...] = ()
    while len(gone) < len(everyone):
        now = lead(gone)
        steps = [(lead((*gone, one)), one) for one in everyone if one not in gone]
        best = max(steps, key=lambda pair: round(pair[0], 9))
        if best[0] <= now + 1e-12:
            return None
        gone = (*gone, best[1])
        if best[0] > 0:
            return gone
    return None


__all__ = ["BANDS", "NOT_IN_CATALOGUE", "OTHER", "Explanation", "LeftOut", "Row", "Weight", "WhyNot", "explain"]
