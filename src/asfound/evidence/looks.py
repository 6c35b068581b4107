"""What to look at next: value of each look per minute, with shared set-ups, looks not allowed now, groups, and when
to stop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from asfound.errors import InputError
from asfound.evidence.ahead import by_two_steps
from asfound.evidence.groups import groups
from asfound.evidence.look import Look, Setup
from asfound.evidence.plan import open_looks, plan
from asfound.evidence.posterior import Belief, posterior
from asfound.evidence.ranked import Ranked, RankedGroup, RankedLook, Stop
from asfound.evidence.stopping import stop
from asfound.evidence.worth import Worth

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence


BEST = 10
"""How many looks are followed a second step at most."""
CLOSE = 0.9
"""Looks whose score is at least this part of the best one's are close to it."""


class Ranking(Ranked):
    """Looks by worth per minute, groups of looks, looks not allowed now, and whether to stop.

    Attributes
    ----------
    looks, not_allowed, doubt
        As `Ranked` has them; ``looks`` in the order of two steps where ``looked_ahead``.
    groups : tuple of RankedGroup
        One for each set-up not yet paid that an open look needs, allowed ones first, then by score.
    stop : Stop or None
        None while looking on is worth it.
    looked_ahead : bool
        Whether ``looks`` stand in the order of ``ahead`` (two steps) instead of ``score``.
    """

    looked_ahead = False

    def look_ahead(self, lookahead: bool | Literal["auto"]) -> None:
        """Put the best looks in the order of their worth over two steps, where that is asked for or they are close."""
        follow = BEST if lookahead is True else close_to_best(self.looks) if lookahead == "auto" else 0
        self.looked_ahead = follow > 0 and bool(self.looks)
        if self.looked_ahead:
            self.looks = tuple(by_two_steps(self, list(self.looks), min(follow, BEST)))

    @cached_property
    def groups(self) -> tuple[RankedGroup, ...]:
        """Best looks behind each set-up together."""
        return groups(self)

    @cached_property
    def stop(self) -> Stop | None:
        """Whether to stop, and what remains possible."""
        return stop(self)


def close_to_best(allowed: Sequence[RankedLook]) -> int:
    """Return how many looks have a score within 10 % of the best one's; 0 where the best stands alone."""
    if len(allowed) < 2 or not allowed[1].score >= CLOSE * allowed[0].score > 0:
        return 0
    return sum(one.score >= CLOSE * allowed[0].score for one in allowed)


def rank(
    model: Model,
    observations: Sequence[Evidence] | Belief,
    looks: Sequence[Look],
    setups: Sequence[Setup] = (),
    *,
    target: str = "lineage",
    loss: Mapping[str, Mapping[str, float]] | None = None,
    decisions: Mapping[str, str] | None = None,
    criterion: Literal["bits", "loss", "ec2"] = "bits",
    lookahead: bool | Literal["auto"] = "auto",
    wrong_cost: float | None = None,
    worth_looking: float = 0.01,
) -> Ranking:
    """Return what to look at next, by worth per minute.

    Parameters
    ----------
    model : Model
    observations : sequence of observations, or the Belief that they gave
    looks, setups : sequences of Look and Setup
        Give tuples and keep them: they are made ready once.
    target : str
        ``"lineage"``, the name of a slot, ``"decision"`` (needs ``decisions``), or ``"all"`` (the lineage and every
        slot together).
    loss : mapping of action to (mapping of hypothesis of the target to loss), optional
        Needed by ``criterion="loss"``: expected loss saved (EVSI) per minute instead of bits. A hypothesis left out
        loses nothing.
    decisions : mapping of lineage to decision, optional
        Lineages that lead to the same action; one left out is a decision of its own. Used by ``target="decision"``,
        ``criterion="ec2"`` and by the stopping rule.
    criterion : {"bits", "loss", "ec2"}
        ``"ec2"``: expected weight cut of the edges between hypotheses with different decisions (Golovin, Krause and
        Ray 2010).
    lookahead : bool or "auto"
        Two steps ahead for the best ten looks; ``"auto"``: only for those within 10 % of the best, where there are
        two or more.
    wrong_cost : float, optional
        Cost of acting on a wrong lineage; with it one stops at P >= 1 - cost(one more look) / wrong_cost. [min]
    worth_looking : float
        Below this no look is worth its trouble. [bit]

    Returns
    -------
    Ranking

    Raises
    ------
    InputError
        Minutes or chances that cannot be; a loss table or decisions missing.
    UnknownNameError
        A character, kind, set-up, slot or hypothesis that is not known.

    Notes ----- I = H(sum_h p_h P(o|h)) - sum_h p_h H(P(o|h)); score = (1 - chance of 'could not tell') I / (minutes
    + set-up not yet paid + price of its risk).
    """
    belief = observations if isinstance(observations, Belief) else posterior(model, observations)
    made_ready = plan(model.compiled, looks, setups)
    left, general, undecided = open_looks(made_ready, belief.observations, belief.weighed.gathered)
    if wrong_cost is not None and not wrong_cost > 0:
        raise InputError("wrong_cost", f"{wrong_cost}", "is no cost", allowed="above 0 minutes")
    worth = Worth(made_ready, belief.weighed, target, criterion, left, general, loss=loss, decisions=decisions)
    ranking = Ranking(
        belief,
        made_ready,
        worth,
        left=left,
        undecided=undecided,
        decisions=decisions,
        wrong_cost=wrong_cost,
        worth_looking=worth_looking,
    )
    ranking.look_ahead(lookahead)
    return ranking
