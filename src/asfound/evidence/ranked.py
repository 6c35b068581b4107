"""Looks ranked by their worth per minute: what is known of each, of those behind one set-up, and why to stop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from asfound.evidence.look import Look
from asfound.evidence.outcomes import Outcome
from asfound.evidence.plan import Plan
from asfound.evidence.posterior import Belief
from asfound.evidence.worth import Worth

NO_DOUBT = 1e-12
"""Below this entropy the target is settled, and no look has a share of its doubt. [bit]"""


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


class Ranked:
    """Looks by worth per minute, and what they were ranked by.

    Attributes
    ----------
    looks : tuple of RankedLook
        Allowed now, best first; ties in the order given.
    not_allowed : tuple of RankedLook
        Not allowed now, each with its reason, best first.
    left : list of int
        Numbers of the looks still to be made.
    doubt : float
        Entropy of the target now. [bit]
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
        wrong_cost: float | None,
        worth_looking: float,
    ) -> None:
        self.belief, self.plan, self.worth, self.left = belief, plan, worth, left
        self.decisions, self.wrong_cost, self.worth_looking = decisions, wrong_cost, worth_looking
        ranked = self.in_order(undecided)
        allowed = tuple(one for one in ranked if one.look.allowed)
        self.not_allowed = () if len(allowed) == len(ranked) else tuple(one for one in ranked if not one.look.allowed)
        self.looks = allowed

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


def by_score(one: RankedLook) -> float:
    """Return the sorting key: best first; what differs by rounding alone counts as the same."""
    return -round(one.score, 12)
