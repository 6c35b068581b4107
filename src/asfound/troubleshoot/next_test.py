"""Which test next: information for what it costs, and why not the others.

The gain of a test is the doubt that its answer is expected to take away [bit]; its cost is minutes by hand, the stop
or isolation that it needs and that is not there yet, waiting, and a few minutes for each hazard (prices of the file).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.sources.cautions import Caution
from asfound.troubleshoot.belief import Belief, Floats
from asfound.troubleshoot.cautions import cautions_before
from asfound.troubleshoot.knowledge import STATES, Prices, Step

WORTH_TESTING = 0.01
"""A test that takes away less is not proposed. [bit]"""
STANDS = "the engine does not run"
"""Why a step on the running engine cannot be made; no leave changes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """How the engine stands and what may be done: its state, whether it can run and may be stopped, what is barred.

    ``barred``: hazards that are not allowed now (tags), each step with one is left out and says so.
    """

    state: str = "running"
    can_run: bool = True
    may_stop: bool = True
    may_isolate: bool = True
    barred: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if self.state not in STATES[1:]:
            raise InputError("state", self.state, "is no state of an engine", allowed=", ".join(STATES[1:]))
        if self.state == "running" and not self.can_run:
            raise InputError("can_run", "false", "contradicts an engine that runs", allowed="state stopped or isolated")

    def why_not(self, step: Step) -> str:
        """Return why a step cannot be made now, or nothing."""
        barred = [tag for tag in step.hazards if tag in self.barred]
        if barred:
            return f"not allowed now: {', '.join(barred)}"
        if step.state == "running" and not self.can_run:
            return STANDS
        if step.state == "stopped" and self.state == "running" and not self.may_stop:
            return "the engine may not be stopped now"
        if step.state == "isolated" and self.state != "isolated" and not self.may_isolate:
            return "the engine may not be isolated now"
        if step.state == "isolated" and self.state == "running" and not self.may_stop:
            return "the engine may not be stopped now"
        return ""


def set_up(step: Step, state: str, prices: Prices) -> float:
    """Return what the change of state before a step counts [min]; restarting counts as a stop."""
    if step.state in ("any", state) or (step.state == "stopped" and state == "isolated"):
        return 0.0
    return prices.isolate if step.state == "isolated" else prices.stop


def cost(step: Step, state: str, prices: Prices) -> float:
    """Return what a step counts in all. [min]"""
    return (
        step.minutes + set_up(step, state, prices) + prices.waiting * step.waiting + prices.hazard * len(step.hazards)
    )


def information(p: Floats, positive: Floats) -> Floats:
    """Return the doubt that each test is expected to take away [tests, bit]; 0 for one that tells nothing.

    Parameters
    ----------
    p : array, shape (causes,)
        Chances that add up to 1.
    positive : array, shape (causes, tests)
        P(positive | cause).
    """
    overall = p @ positive
    gained = _binary(overall) - p @ _binary(positive)
    return np.where(gained > 1e-12, gained, 0.0)


def _binary(p: Floats) -> Floats:
    """Return the entropy of yes or no. [bit]"""
    q = np.clip(p, 1e-300, 1.0), np.clip(1 - p, 1e-300, 1.0)
    return -(q[0] * np.log2(q[0]) + q[1] * np.log2(q[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A test that may be next. ``after``: leading cause and its chance for either answer."""

    id: str
    title: str
    bits: float
    cost: float
    chance_positive: float
    after: dict[str, tuple[str, float]]
    cautions: tuple[Caution, ...]
    moves: bool

    @property
    def score(self) -> float:
        """Information for cost. [bit/min]"""
        return self.bits / max(self.cost, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTests:
    """Tests worth making, the best first; those that cannot be made now, with why; those that tell nothing more."""

    proposals: tuple[Proposal, ...]
    barred: dict[str, str]
    tell_nothing: tuple[str, ...]


def next_tests(belief: Belief, now: Now | None = None, *, without: Collection[str] = ()) -> NextTests:
    """Return the tests that are worth making now, ranked by information for cost.

    A test told already, undecided or not, is not proposed again; nor is one in ``without``; nor one that would take
    away less than `WORTH_TESTING`.
    """
    now = now or Now()
    odds = belief.odds
    known = odds.knowledge
    bits = information(belief.p, odds.positive)
    found, barred, nothing = [], {}, []
    for j, name in enumerate(odds.tests):
        test = known.tests[name]
        if name in belief.told or name in without:
            continue
        if bits[j] < WORTH_TESTING:
            nothing.append(name)
        elif why := now.why_not(test):
            barred[name] = why
        else:
            found.append((float(bits[j]), cost(test, now.state, known.prices), j))
    found.sort(key=lambda one: (-round(one[0] / max(one[1], 1.0), 12), one[2]))
    return NextTests(
        proposals=tuple(_proposal(belief, j, gained, price) for gained, price, j in found),
        barred=barred,
        tell_nothing=tuple(nothing),
    )


def _proposal(belief: Belief, j: int, gained: float, price: float) -> Proposal:
    odds = belief.odds
    test = odds.knowledge.tests[odds.tests[j]]
    after = {}
    for says in ("positive", "negative"):
        p = belief.after(test.id, says)
        top = int(np.argmax(np.round(p, 12)))
        after[says] = (odds.causes[top], float(p[top]))
    return Proposal(
        id=test.id,
        title=test.title,
        bits=gained,
        cost=price,
        chance_positive=float(belief.p @ odds.positive[:, j]),
        after=after,
        cautions=cautions_before(test),
        moves=test.moves,
    )
