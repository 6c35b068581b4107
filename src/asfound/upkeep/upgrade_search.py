"""The cheapest way to a wanted build, exactly; all ways that cost as much; how much was looked at to know it.

Best-first search over builds, with and without the engine standing, led by a bound that no way undercuts
(`upgrade_bound`): the first way that is taken from the queue costs no more than the bound of everything left in it,
so none is cheaper.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count, pairwise

from asfound.errors import InputError
from asfound.upkeep.upgrade import Problem, holds, may_be, reached
from asfound.upkeep.upgrade_bound import Bound
from asfound.upkeep.upgrade_masks import MaskedChange, Masks

_ALIKE = 1e-9
MOST_BUILDS = 2_000_000
"""Builds after which the search gives up rather than answer without proof."""

Least = Callable[[int, float | None], float]
Key = tuple[int, float]
"""Build in bits, minutes used in this stop; -1 while the engine runs."""
RUNNING = -1.0


@dataclass(frozen=True, slots=True)
class Move:
    """A change, or the stopping (``stop``) or starting (``start``) of the engine."""

    kind: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """Why nothing is cheaper: nothing left in the queue can cost less than ``bound``."""

    looked_at: int
    """Builds taken from the queue."""
    bound: float

    @property
    def says(self) -> str:
        """The proof in a sentence."""
        return f"{self.looked_at} builds were looked at; no way costs less than {self.bound:,.0f}."


@dataclass(frozen=True, slots=True)
class Found:
    """The cheapest way as moves, and its cost."""

    cost: float
    moves: tuple[Move, ...]
    proof: Proof

    @property
    def changes(self) -> tuple[str, ...]:
        """Names of the changes in their order."""
        return tuple(one.change for one in self.moves if one.kind == "change")


class TooManyBuildsError(InputError):
    """More builds would have to be looked at than were allowed."""


def cheapest(problem: Problem, *, led: bool = True, most: int = MOST_BUILDS) -> Found | None:
    """Return the cheapest way from start to target; None where there is none.

    Parameters
    ----------
    problem : Problem
        What is fitted, wanted, possible and barred.
    led : bool
        Led by the bound; without it every build that costs less is looked at (for comparison).
    most : int
        Builds that may be looked at.

    Raises
    ------
    InputError
        The start may not exist.
    TooManyBuildsError
        More builds than ``most`` would have to be looked at.
    """
    masks = Masks.of(problem)
    if not masks.may_stand(masks.start):
        raise InputError("start", _words(problem), "is a build that may not exist", allowed="a build no rule bars")
    least: Least = Bound(masks) if led else _nothing
    first: Key = (masks.start, RUNNING)
    costs: dict[Key, float] = {first: 0.0}
    came: dict[Key, tuple[Key, Move]] = {}
    in_build: dict[int, list[tuple[float, float]]] = {}
    tick, looked = count(), 0
    at_least = least(masks.start, None)
    heap = [] if at_least == math.inf else [(at_least, at_least, next(tick), 0.0, first)]
    while heap:
        bound, _, _, cost, key = heapq.heappop(heap)
        if cost > costs[key] + _ALIKE:
            continue
        build, used = key
        looked += 1
        if looked > most:
            raise TooManyBuildsError(
                "changes", str(len(problem.changes)), f"need more than {most} builds to be looked at",
                try_next="Leave out changes or places that the target does not touch.",
            )  # fmt: skip
        if used == RUNNING and masks.reached(build):
            moves = _trimmed(problem, _moves(came, key))
            return Found(cost_of(problem, moves), moves, Proof(looked, bound))
        for then, price, move in _steps(masks, key):
            total = cost + price
            if total >= costs.get(then, math.inf) - _ALIKE or _beaten(in_build, then, total):
                continue
            rest = least(then[0], _in_stop(then))
            if rest == math.inf:
                continue
            costs[then], came[then] = total, (key, move)
            heapq.heappush(heap, (max(bound, round(total + rest, 9)), rest, -next(tick), total, then))
    return None


def equal_ways(problem: Problem, *, most: int = 10_000) -> tuple[frozenset[str], ...]:
    """Return every smallest set of changes that reaches the target at the least cost; empty where there is no way.

    Raises
    ------
    InputError
        More than ``most`` sets would have to be kept at one build.
    """
    best = cheapest(problem)
    if best is None:
        return ()
    masks, least = Masks.of(problem), Bound(Masks.of(problem))
    names = [one.id for one in problem.changes]
    first: Key = (masks.start, RUNNING)
    costs, sets = {first: 0.0}, {first: {frozenset[str]()}}
    tick, found = count(), set[frozenset[str]]()
    heap = [(0.0, next(tick), first)]
    waiting = {first}
    while heap:
        cost, _, key = heapq.heappop(heap)
        if key not in waiting or cost > costs[key] + _ALIKE:
            continue
        waiting.discard(key)
        if key[1] == RUNNING and masks.reached(key[0]):
            found |= sets[key]
            continue
        for then, price, move in _steps(masks, key):
            total = cost + price
            if total + least(then[0], _in_stop(then)) > best.cost + 1e-6:
                continue
            new = {one | {move.change} for one in sets[key]} if move.change else sets[key]
            before = costs.get(then, math.inf)
            if total < before - _ALIKE:
                costs[then], sets[then] = total, set(new)
            elif total <= before + _ALIKE and not new <= sets[then]:
                sets[then] |= new
            else:
                continue
            if len(sets[then]) > most:
                raise InputError("changes", str(len(names)), f"give more than {most} equal ways")
            waiting.add(then)
            heapq.heappush(heap, (total, next(tick), then))
    smallest = [one for one in found if not any(other < one for other in found)]
    return tuple(sorted(smallest, key=sorted))


def builds_on_the_way(problem: Problem, moves: tuple[Move, ...]) -> Iterator[tuple[dict[str, str], bool]]:
    """Yield each build on a way and whether the engine runs with it, first and last included.

    Raises
    ------
    InputError
        A move that cannot be made there, or a build that may not be.
    """
    build, used = dict(problem.start), RUNNING
    yield dict(build), True
    for move in moves:
        if move.kind == "stop":
            used = 0.0
        elif move.kind == "start":
            if used == RUNNING or not may_be(problem, build, running=True):
                raise InputError("moves", "start", "leaves a build that may not run")
            used = RUNNING
        else:
            change = problem.change(move.change)
            if (change.stopped and used == RUNNING) or not holds(build, change.needs):
                raise InputError("moves", change.id, "cannot be done here")
            build |= change.puts
            if used != RUNNING:
                used += change.minutes
                if used > problem.stop_minutes:
                    raise InputError("moves", change.id, "does not fit into the stop")
            if not may_be(problem, build, running=used == RUNNING):
                raise InputError("moves", change.id, "leaves a build that may not be")
        yield dict(build), used == RUNNING


def cost_of(problem: Problem, moves: tuple[Move, ...]) -> float:
    """Return what a way costs."""
    stops = sum(one.kind == "stop" for one in moves)
    return math.fsum([stops * problem.stop_cost, *(problem.change(one.change).cost for one in moves if one.change)])


def is_way(problem: Problem, moves: tuple[Move, ...]) -> bool:
    """Return whether moves lead from the start to the target through builds that may be."""
    try:
        *_, (last, running) = builds_on_the_way(problem, moves)
    except InputError:
        return False
    return running and reached(problem, last)


def _steps(masks: Masks, key: Key) -> Iterator[tuple[Key, float, Move]]:
    build, used = key
    running = used == RUNNING
    if running:
        yield (build, 0.0), masks.problem.stop_cost, Move("stop")
    elif masks.may_run(build):
        yield (build, RUNNING), 0.0, Move("start")
    limited = masks.problem.stop_minutes < math.inf
    for one in masks.changes:
        if (one.stopped and running) or build & one.needs_not:
            continue
        then = build & one.keeps | one.puts
        if then == build or not (masks.may_run(then) if running else masks.may_stand(then)):
            continue
        minutes = _used(used, one, limited)
        if minutes <= masks.problem.stop_minutes:
            yield (then, minutes), one.cost, Move("change", masks.problem.changes[one.at].id)


def _used(used: float, change: MaskedChange, limited: bool) -> float:
    return RUNNING if used == RUNNING else used + change.minutes if limited else 0.0


def _beaten(in_build: dict[int, list[tuple[float, float]]], then: Key, cost: float) -> bool:
    """Return whether this build is known, in a stop, as cheaply with as few minutes used; remember it where not."""
    build, used = then
    if used == RUNNING:
        return False
    known = in_build.setdefault(build, [])
    if any(c <= cost + _ALIKE and u <= used for c, u in known):
        return True
    in_build[build] = [(c, u) for c, u in known if not (cost <= c and used <= u)] + [(cost, used)]
    return False


def _moves(came: dict[Key, tuple[Key, Move]], key: Key) -> tuple[Move, ...]:
    moves = []
    while key in came:
        key, move = came[key]
        moves.append(move)
    return tuple(reversed(moves))


def _trimmed(problem: Problem, moves: tuple[Move, ...]) -> tuple[Move, ...]:
    """Return the way without moves that it does not need (changes and stops that cost nothing)."""
    for one in [move for move in moves if move.kind == "change"]:
        fewer = tuple(move for move in moves if move is not one)
        if is_way(problem, fewer):
            moves = fewer
    idle = {at for at, (a, b) in enumerate(pairwise(moves)) if (a.kind, b.kind) == ("stop", "start")}
    return tuple(move for at, move in enumerate(moves) if not {at, at - 1} & idle)


def _in_stop(key: Key) -> float | None:
    return None if key[1] == RUNNING else key[1]


def _nothing(_build: int, _used: float | None) -> float:
    return 0.0


def _words(problem: Problem) -> str:
    return ", ".join(f"{place} {value}" for place, value in problem.start.items())
