"""What to look at next: value of each look per minute, with shared set-ups, looks not allowed now, groups, and when
to stop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from asfound.errors import InputError
from asfound.evidence.outcomes import Outcome
from asfound.evidence.plan import Plan, open_looks, plan
from asfound.evidence.posterior import Belief, posterior
from asfound.evidence.worth import Worth

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence


BEST = 10
"""How many looks are followed a second step at most."""
CLOSE = 0.9
"""Looks whose score is at least this part of the best one's are close to it."""
NO_DOUBT = 1e-12
"""Below this entropy the target is settled, and no look has a share of its doubt. [bit]"""


@dataclass(frozen=True, slots=True)
class Look:
    """Something that could be looked at, read or asked.

    Parameters
    ----------
    id : str
    reveals : tuple of str
        Characters that it shows together; ``as_built`` (AS_BUILT) for what a plate or paper says of the lineage.
    kind : str
        Name of one of the model's kinds.
    minutes : float
        Its own time, without the set-up.
    setup : str, optional
        What has to be done first and is shared with other looks (a cover off).
    allowed : bool
        False: not allowed now; it is listed with ``why_not`` and never hidden.
    undecided_chance : float
        Chance that one cannot tell. Own settings: 0.1 from outside, 0.03 at the part. [-]
    source : str, optional
        The one witness that speaks (a plate, a person): right or wrong as a whole. Skipped once it has been asked.
    """

    id: str
    reveals: tuple[str, ...]
    kind: str
    minutes: float
    setup: str | None = None
    allowed: bool = True
    why_not: str = ""
    undecided_chance: float = 0.1
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """What several looks need first; paid once.

    ``risk_minutes`` is the price of its risk, in minutes. ``paid``: it is done already, so it costs nothing more.
    """

    name: str
    minutes: float
    risk_minutes: float = 0.0
    paid: bool = False


@dataclass(slots=True)
class RankedLook:
    """A look with its worth (not to be changed; it is not frozen because many are made at each entry).

    Attributes
    ----------
    look : Look
        ``id``, ``reveals``, ``kind``, ``setup``, ``allowed``, ``why_not`` are to be had directly.
    bits : float
        Expected information about the target, the chance of 'could not tell' taken off. [bit]
    share_of_doubt : float
        ``bits`` over the target's present entropy. [0 to 1]
    minutes : float
        Its own time, the set-up not yet paid, and the price of its risk. [min]
    worth : float
        Worth by the criterion: bits, loss saved, or weight of edges cut.
    score : float
        ``worth`` per minute.
    ahead : float or None
        Worth of this look and the best one after it, per minute of both; only where it was looked two steps ahead.
    again : bool
        Another way of seeing something that could not be told before.
    """

    look: Look
    bits: float
    minutes: float
    worth: float
    score: float
    again: bool
    number: int
    valued: Worth = field(repr=False, compare=False)
    ahead: float | None = None

    @property
    def id(self) -> str:
        """As the look has it."""
        return self.look.id

    @property
    def reveals(self) -> tuple[str, ...]:
        """Characters that it shows together."""
        return self.look.reveals

    @property
    def kind(self) -> str:
        """In which way it is made."""
        return self.look.kind

    @property
    def setup(self) -> str | None:
        """What has to be done first."""
        return self.look.setup

    @property
    def allowed(self) -> bool:
        """Whether it may be made now."""
        return self.look.allowed

    @property
    def why_not(self) -> str:
        """Why it may not be made now."""
        return self.look.why_not

    @property
    def share_of_doubt(self) -> float:
        """``bits`` over the target's present entropy. [0 to 1]"""
        return self.bits / self.valued.doubt if self.valued.doubt > NO_DOUBT else 0.0

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What it may show, most probable first, if one can tell; computed when asked for."""
        return self.valued.outcomes(self.number)


@dataclass(frozen=True, slots=True)
class RankedGroup:
    """The best looks behind one set-up together, the set-up paid once.

    Found greedily: the look that adds most to the joint information over the cost comes next, as long as the score
    rises.
    """

    setup: str
    looks: tuple[str, ...]
    bits: float
    share_of_doubt: float
    minutes: float
    score: float
    allowed: bool
    why_not: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Why to stop looking, what remains possible, and which look elsewhere would tell more.

    ``classes``: lineages that no allowed look can tell apart, with their sum, most probable first.
    ``elsewhere``: looks not allowed now that would tell the leading class apart.
    """

    reason: Literal["sure_enough", "same_action", "nothing_worth"]
    says: str
    remaining: tuple[tuple[str, float], ...]
    classes: tuple[tuple[tuple[str, ...], float], ...]
    elsewhere: tuple[str, ...]


class Ranking:
    """Looks by worth per minute, groups of looks, looks not allowed now, and whether to stop.

    Attributes
    ----------
    looks : tuple of RankedLook
        Allowed now, best first; ties in the order given.
    not_allowed : tuple of RankedLook
        Not allowed now, each with its reason, best first.
    groups : tuple of RankedGroup
        One for each set-up not yet paid that an open look needs, allowed ones first, then by score.
    stop : Stop or None
        None while looking on is worth it.
    doubt : float
        Entropy of the target now. [bit]
    looked_ahead : bool
        Whether ``looks`` stand in the order of ``ahead`` (two steps) instead of ``score``.
    """

    def __init__(
        self,
        belief: Belief,
        plan: Plan,
        worth: Worth,
        *,
        left: list[int],
        undecided: set[str],
        decisions: Mapping[str, str] | None,
        lookahead: bool | Literal["auto"],
        wrong_cost: float | None,
        worth_looking: float,
    ) -> None:
        self.belief, self.plan, self.worth, self.left = belief, plan, worth, left
        self.decisions, self.wrong_cost, self.worth_looking = decisions, wrong_cost, worth_looking
        ranked = self.in_order(undecided)
        allowed = [one for one in ranked if one.look.allowed]
        self.not_allowed = () if len(allowed) == len(ranked) else tuple(one for one in ranked if not one.look.allowed)
        follow = BEST if lookahead is True else close_to_best(allowed) if lookahead == "auto" else 0
        self.looked_ahead = follow > 0 and bool(allowed)
        if self.looked_ahead:
            from asfound.evidence.ahead import by_two_steps

            allowed = by_two_steps(self, allowed, min(follow, BEST))
        self.looks = tuple(allowed)

    def in_order(self, undecided: set[str]) -> list[RankedLook]:
        """Return the open looks, best first; what differs by rounding alone stays in the order given."""
        valued, looks, minutes = self.worth, self.plan.looks, self.plan.minutes
        bits, worth = valued.bits, valued.worth
        ranked = []
        for i in self.left:
            look, cost, gain = looks[i], minutes[i], worth[i]
            score = gain / cost if cost > 0 else (float("inf") if gain > 0 else 0.0)
            again = bool(undecided) and not undecided.isdisjoint(look.reveals)
            ranked.append(RankedLook(look, bits[i], cost, gain, score, again, i, valued))
        ranked.sort(key=by_score)
        return ranked

    @property
    def doubt(self) -> float:
        """Entropy of the target now. [bit]"""
        return self.worth.doubt

    @cached_property
    def groups(self) -> tuple[RankedGroup, ...]:
        """Best looks behind each set-up together."""
        from asfound.evidence.groups import groups

        return groups(self)

    @cached_property
    def stop(self) -> Stop | None:
        """Whether to stop, and what remains possible."""
        from asfound.evidence.stopping import stop

        return stop(self)


def by_score(one: RankedLook) -> float:
    """Return the sorting key: best first; what differs by rounding alone counts as the same."""
    return -round(one.score, 12)


def close_to_best(allowed: list[RankedLook]) -> int:
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
    return Ranking(
        belief,
        made_ready,
        worth,
        left=left,
        undecided=undecided,
        decisions=decisions,
        lookahead=lookahead,
        wrong_cost=wrong_cost,
        worth_looking=worth_looking,
    )
