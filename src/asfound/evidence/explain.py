"""The seven explanations that whoever decides must get."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from asfound.evidence.looks import Look, RankedLook, Setup
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence

BANDS = ((0.95, "settled"), (0.75, "likely"), (0.50, "leaning"), (0.0, "open"))
"""Words by probability of the top lineage; "not in the catalogue" and "does not agree" override them."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the posterior table."""

    lineage: str
    probability: float


@dataclass(frozen=True, slots=True)
class Weight:
    """What one witness weighs for the winner against the runner-up.

    ``observations`` are ids (all statements of one source are one witness). ``decibans`` is signed. ``block`` names the slot or
    the tied slots within which it was shared out; ``shared`` says how: ``exact`` (alone in its block), ``shapley``, or
    ``leave_one_out`` scaled to the block's sum. ``instead`` is what the winner would have shown, with its chance: (character, state, p).
    """

    observations: tuple[str, ...]
    source: str | None
    decibans: float
    block: str
    shared: Literal["exact", "shapley", "leave_one_out"]
    instead: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class WhyNot:
    """What costs a candidate most against the winner, and which readings would have to be wrong for it to lead."""

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
    """All seven: table, weights, against, why not, sensitivity, next looks; the order is the same for the same input.

    ``prior_decibans + sum of weights = total_decibans`` exactly.
    """

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
    """Return why the winner leads, what speaks against it, what it hangs on, and what to look at next."""
    raise NotImplementedError
