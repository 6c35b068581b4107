"""A catalogue as a decision tree on paper: what to look at first, and then, until one build is left.

The tree is made once, for one kind of engine, with looks that need no stop (or those that are allowed): at each fork
the
look that takes away most doubt per minute. It ignores that people err; the program does not. Take it where no screen
may go.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound import evidence as ev
from asfound.evidence.model import AS_BUILT, INAPPLICABLE
from asfound.evidence.observations import Evidence, Observation
from asfound.evidence.posterior import Belief, posterior
from asfound.fitout.looks import SOMETHING_ELSE
from asfound.fitout.model import FitModel, fit_model
from asfound.fitout.next_looks import Offer, build_title, offers, setups
from asfound.fitout.words import in_100, state_title

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.engine_facts import EngineFacts

SURE = 0.90
RARE = 0.004
"""Ways through the tree less probable than this have no branch of their own: 'anything else'."""
DEEPEST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """A look with its answers, or a leaf with the builds that are left."""

    answer: str
    """Answer that led here; empty at the root."""
    chance: float
    """Of getting here. [0 to 1]"""
    look: str = ""
    slot: str = ""
    minutes: float = 0.0
    where: str = ""
    branches: tuple[Fork, ...] = ()
    builds: tuple[tuple[str, str, float], ...] = ()
    """Name, title, probability of what is left here; at a leaf the answer."""

    def as_dict(self) -> dict[str, Any]:
        """Return it with all its branches."""
        return {
            "answer": self.answer,
            "chance": self.chance,
            "look": self.look,
            "slot": self.slot,
            "minutes": self.minutes,
            "where": self.where,
            "builds": [{"name": name, "title": title, "probability": p} for name, title, p in self.builds],
            "branches": [one.as_dict() for one in self.branches],
        }

    def lines(self, depth: int = 0) -> Iterator[str]:
        """Yield the tree as text, two blanks for each step."""
        pad = "    " * depth
        if self.answer:
            yield f"{pad}- {self.answer}"
        indent = pad + ("  " if self.answer else "")
        if self.look:
            yield f"{indent}Look: {self.look} ({self.minutes:g} min; {self.where})"
            for one in self.branches:
                yield from one.lines(depth + 1)
        else:
            left = ", or ".join(f"{title} ({in_100(p)})" for _, title, p in self.builds)
            yield f"{indent}= {left}"

    def text(self) -> str:
        """Return the tree as text."""
        return "\n".join(self.lines())

    def leaves(self) -> Iterator[Fork]:
        """Yield the leaves."""
        if not self.branches:
            yield self
        for one in self.branches:
            yield from one.leaves()


def decision_tree(
    catalogue: Catalogue,
    engine: EngineFacts,
    *,
    allowed: Sequence[str] = ("running",),
    sure: float = SURE,
    deepest: int = DEEPEST,
    rare: float = RARE,
) -> Fork:
    """Return the decision tree for a kind of engine.

    Parameters
    ----------
    sure : float
        A branch ends when its leading build is at least this probable. [0 to 1]
    deepest : int
        A branch ends after this many looks.
    rare : float
        Ways through the tree less probable than this are put together as 'anything else'. [0 to 1]
    """
    fit = fit_model(catalogue, engine)
    every = {
        one.look.id: one
        for one in offers(fit, allowed)
        if one.look.reveals != (AS_BUILT,) and one.look.allowed and not one.slot.apart
    }
    return _fork(fit, engine, every, (), "", 1.0, sure=sure, deepest=deepest, rare=rare)


def _fork(
    fit: FitModel,
    engine: EngineFacts,
    every: dict[str, Offer],
    seen: tuple[Evidence, ...],
    answer: str,
    chance: float,
    *,
    sure: float,
    deepest: int,
    rare: float,
) -> Fork:
    belief = posterior(fit.model, seen)
    builds = _left(fit, belief)
    if belief.lineages[belief.top] >= sure or len(seen) >= deepest:
        return Fork(answer=answer, chance=chance, builds=builds)
    made = {one.id for one in seen}
    left = [one.look for name, one in every.items() if name not in made]
    ranking = ev.rank(fit.model, belief, left, setups(fit, engine.state), lookahead=False)
    if not ranking.looks or ranking.looks[0].bits < 0.01:
        return Fork(answer=answer, chance=chance, builds=builds)
    best = ranking.looks[0]
    offer = every[best.id]
    branches = []
    for outcome in best.outcomes:
        state = outcome.states[0]
        if chance * outcome.probability < rare or state == INAPPLICABLE:
            continue
        title = "something else" if state == SOMETHING_ELSE else state_title(offer.slot, offer.character, state)
        more = (*seen, Observation(best.reveals[0], (state,), best.kind, id=best.id))
        branches.append(
            _fork(fit, engine, every, more, title, chance * outcome.probability, sure=sure, deepest=deepest, rare=rare)
        )
    if len(branches) < 2:
        return Fork(answer=answer, chance=chance, builds=builds)
    rest = 1.0 - sum(one.chance for one in branches) / chance if chance else 0.0
    if rest > 1e-9:
        branches.append(
            Fork(answer="anything else", chance=chance * rest, builds=(("", "go on with the program, or ask", 1.0),))
        )
    character = offer.slot.characters[offer.character]
    return Fork(
        answer=answer,
        chance=chance,
        look=f"{offer.slot.title}: {character.title[0].lower()}{character.title[1:]}",
        slot=offer.slot.id,
        minutes=offer.way.minutes,
        where=offer.slot.where,
        branches=tuple(branches),
        builds=builds,
    )


def _left(fit: FitModel, belief: Belief) -> tuple[tuple[str, str, float], ...]:
    """Return what is left: builds until nine tenths are told, three at most."""
    found: list[tuple[str, str, float]] = []
    for name, p in belief.ranked()[:3]:
        if found and sum(one[2] for one in found) >= 0.9:
            break
        found.append((name, build_title(fit, name), p))
    return tuple(found)
