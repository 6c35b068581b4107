"""Sensor or cylinder: what is behind a cylinder that reads odd, from all witnesses at hand, with its doubt.

    P(cause | all that is said) = P(cause) product of P(said | cause), summed over right and wrong wires

by `evidence`. As long as one wire alone speaks, no side and no cause goes beyond a stated bound: what is over it goes
to the other causes that something odd can have. The more the second wire tells, the less the bound holds, without step:

    bound = b + (1 - b) (1 - exp(h - s)) for s > h,   s = how far the second wire tells the sides apart [nats]
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from asfound.cylinders.inference_knowledge import SIDES, Knowledge
from asfound.cylinders.inference_knowledge import knowledge as shipped
from asfound.cylinders.inference_model import (
    SIDES_AND_OTHER,
    Statement,
    likelihood,
    model_of,
    observed,
    source_of,
    witness_of,
)
from asfound.cylinders.inference_next import Next, next_witnesses
from asfound.cylinders.inference_words import in_hundred, side_words, stated
from asfound.evidence import OTHER, posterior

__all__ = ["Statement", "Testimony", "Verdict", "judge"]

HEARD = 0.5
"""A wire that tells the sides apart by less is not counted as a witness. [nats]"""
TELLS = 0.4
"""A statement speaks for a side when it makes it one and a half times as probable against the other. [nats]"""
TOLD = 0.75
"""From here on a side is said to be it (own setting)."""
SETTLED = 0.9
"""From here on a side is taken as told, and the next witness is chosen to tell its causes apart (own setting)."""

Says = Literal["sensor", "cylinder", "does not tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Testimony:
    """What one statement speaks for."""

    statement: Statement
    title: str
    says: str
    """What it said, in words."""
    side: Says
    factor: float
    """How much more probable it is with a cylinder that is at fault than with a sensor that is."""
    wire: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """What to believe of one cylinder."""

    cylinder: str
    causes: Mapping[str, float]
    """Cause to probability, in the order of the knowledge, ``other`` last; together 1."""
    unbounded: Mapping[str, float]
    """The same before the bound of one witness."""
    sides: Mapping[str, float]
    """``nothing``, ``sensor``, ``cylinder``, ``other`` (something else, or more than one thing)."""
    groups: Mapping[str, float]
    misfire: float
    """Probability of a cause with which it does not fire in every cycle."""
    bound: float
    """How far a side may go with the witnesses heard."""
    bounded: bool
    """The bound was reached."""
    wires: tuple[str, ...]
    """Wires that tell the sides apart, the one that tells most first."""
    testimony: tuple[Testimony, ...]
    next: tuple[Next, ...]
    """Witnesses to hear next in the present state of the engine, best first per minute."""
    next_later: tuple[Next, ...]
    """Those that want another state of the engine, its set-up counted in, best first."""
    says: str

    @property
    def side(self) -> str:
        """The most probable side."""
        return max(self.sides, key=lambda name: self.sides[name])

    @property
    def ranked(self) -> tuple[tuple[str, float], ...]:
        """Causes, the most probable first; ties in the order of the knowledge."""
        return tuple(sorted(self.causes.items(), key=lambda pair: -pair[1]))

    @property
    def top(self) -> str:
        """Most probable cause."""
        return self.ranked[0][0]

    @property
    def runner_up(self) -> str:
        """The next one."""
        return self.ranked[1][0]


def judge(
    statements: Sequence[Statement],
    *,
    cylinder: str = "",
    engine_state: str = "running",
    others: Sequence[Mapping[str, float]] = (),
    not_fitted: Sequence[str] = (),
    knowledge: Knowledge | None = None,
    ask: bool = True,
) -> Verdict:
    """Return what to believe of one cylinder after all that the witnesses said.

    Parameters
    ----------
    statements : sequence of Statement
        In any order; a witness that is left out was not heard.
    cylinder : str
        How it is called.
    engine_state : str
        ``running``, ``stopped`` or ``isolated``: decides which witness can be heard next.
    others : sequence of mapping of cause to probability
        Beliefs in the other odd cylinders of the same bank: they may have moved a shared witness as well.
    not_fitted : sequence of str
        Witnesses that this engine has not.
    knowledge : Knowledge, optional
        A company's own; the shipped one where None.
    ask : bool
        False: do not work out what to hear next (for many cylinders at once).

    Raises
    ------
    UnknownNameError, InputError
        A witness, state or number that the knowledge cannot place.
    """
    known = shipped() if knowledge is None else knowledge
    model = model_of(known)
    observations = observed(known, statements, others)
    belief = posterior(model, observations)
    free = dict(belief.lineages)
    strength = strengths(known, statements, others)
    wires = tuple(wire for wire, nats in strength if nats >= HEARD)
    bound = bound_of(known, [nats for _, nats in strength])
    causes, bounded = within_bound(known, free, bound)
    sides = by_side(known, causes)
    settled = max(SIDES_AND_OTHER, key=lambda side: sides[side])
    target: Literal["side", "cause"] = "cause" if sides[settled] >= SETTLED else "side"
    now: tuple[Next, ...] = ()
    later: tuple[Next, ...] = ()
    if ask:
        heard = {one.witness for one in statements if not one.could_not_tell}
        skipped = heard.union(not_fitted)
        now, later = next_witnesses(known, model, belief, engine_state, skipped, target)
    groups: dict[str, float] = {}
    for name, cause in known.causes.items():
        groups[cause.group] = groups.get(cause.group, 0.0) + causes[name]
    groups[OTHER] = causes[OTHER]
    return Verdict(
        cylinder=cylinder,
        causes=causes,
        unbounded=free,
        sides=sides,
        groups=groups,
        misfire=sum(causes[name] for name, cause in known.causes.items() if cause.misses),
        bound=bound,
        bounded=bounded,
        wires=wires,
        testimony=tuple(speaks_for(known, one, others) for one in statements),
        next=now,
        next_later=later,
        says=in_words(known, causes, sides, bounded, bound, len(wires)),
    )


def by_side(known: Knowledge, causes: Mapping[str, float]) -> dict[str, float]:
    """Return the probability of each side, ``other`` last."""
    sides = dict.fromkeys(SIDES_AND_OTHER, 0.0)
    for name, cause in known.causes.items():
        sides[cause.side] += causes[name]
    sides[OTHER] = causes[OTHER]
    return sides


def side_logs(known: Knowledge, logs: Mapping[str, float]) -> dict[str, float]:
    """Return the log likelihood of each side from those of its causes, weighed by their priors."""
    out: dict[str, float] = {}
    for side in SIDES:
        mine = [(one.prior, logs[name]) for name, one in known.causes.items() if one.side == side]
        top = max(log for _, log in mine)
        total = sum(prior for prior, _ in mine)
        out[side] = top + math.log(sum(prior * math.exp(log - top) for prior, log in mine) / total)
    return out


def cause_logs(known: Knowledge, statement: Statement, others: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Return the log likelihood of one statement for each cause, never below one in ten thousand of the greatest."""
    if statement.could_not_tell:
        return dict.fromkeys(known.causes, 0.0)
    chances = likelihood(known, statement, others)
    top = max(chances.values())
    return {name: math.log(max(chance, 1e-4 * top)) for name, chance in chances.items()}


def strengths(
    known: Knowledge, statements: Sequence[Statement], others: Sequence[Mapping[str, float]] = ()
) -> list[tuple[str, float]]:
    """Return for each wire (or person) how far it tells the sides apart, the strongest first. [nats]"""
    wires: dict[str, dict[str, float]] = {}
    for one in statements:
        if one.could_not_tell:
            continue
        wire = source_of(known, one) or witness_of(known, one).wire
        logs = cause_logs(known, one, others)
        before = wires.get(wire)
        wires[wire] = logs if before is None else {name: before[name] + log for name, log in logs.items()}
    spans = []
    for wire, logs in wires.items():
        by = side_logs(known, logs).values()
        spans.append((wire, max(by) - min(by)))
    return sorted(spans, key=lambda pair: (-pair[1], pair[0]))


def bound_of(known: Knowledge, spans: Sequence[float]) -> float:
    """Return how far a side may go: the stated bound with one wire, near 1 where a second tells much."""
    second = spans[1] if len(spans) > 1 else 0.0
    return known.bound + (1 - known.bound) * (1 - math.exp(min(HEARD - second, 0.0)))


def within_bound(known: Knowledge, causes: Mapping[str, float], bound: float) -> tuple[dict[str, float], bool]:
    """Return the probabilities with neither sensor nor cylinder beyond the bound, and whether that changed them.

    What is over goes to what else can be behind something odd, as probable as that was before any look; 'sound' stays.
    """
    sides = by_side(known, causes)
    over = max(("sensor", "cylinder"), key=lambda side: sides[side])
    if sides[over] <= bound:
        return dict(causes), False
    odd = {name: one.prior * (1 - known.unlisted) for name, one in known.causes.items() if one.side != "nothing"}
    odd[OTHER] = known.unlisted
    total = sum(odd.values())
    share = sum(p for name, p in odd.items() if name != OTHER and known.causes[name].side == over) / total
    mass = 1 - sides["nothing"]
    moved = (sides[over] - bound) / (sides[over] - share * mass)
    return {
        name: p
        if name in known.causes and known.causes[name].side == "nothing"
        else (1 - moved) * p + moved * mass * odd[name] / total
        for name, p in causes.items()
    }, True


def speaks_for(known: Knowledge, statement: Statement, others: Sequence[Mapping[str, float]] = ()) -> Testimony:
    """Return which side one statement speaks for."""
    witness = witness_of(known, statement)
    logs = side_logs(known, cause_logs(known, statement, others))
    between = logs["cylinder"] - logs["sensor"]
    side: Says = "cylinder" if between >= TELLS else "sensor" if between <= -TELLS else "does not tell"
    return Testimony(
        statement=statement,
        title=witness.title,
        says=stated(witness, statement),
        side=side,
        factor=math.exp(between),
        wire=witness.wire,
    )


def in_words(
    known: Knowledge,
    causes: Mapping[str, float],
    sides: Mapping[str, float],
    bounded: bool,
    bound: float,
    wires: int,
) -> str:
    """Return the verdict with its doubt, in a few sentences."""
    best = max(sides, key=lambda name: sides[name])
    said = f"{side_words(best)}: {in_hundred(sides[best])}."
    if best != "nothing" and sides[best] < TOLD:
        said = f"Not told yet: sensor {in_hundred(sides['sensor'])}, cylinder {in_hundred(sides['cylinder'])}."
    odd = sorted(((p, name) for name, p in causes.items() if name not in ("sound", OTHER)), reverse=True)[:2]
    if best not in ("nothing", OTHER):
        (p1, first), (p2, second) = odd
        said += f" Most probable: {known.causes[first].title} ({in_hundred(p1)}), then "
        said += f"{known.causes[second].title} ({in_hundred(p2)})."
    if wires <= 1 and best != "nothing":
        said += (
            f" One witness alone is not enough: held at {in_hundred(bound)} at most."
            if bounded
            else (" Only one witness tells anything.")
        )
    return said
