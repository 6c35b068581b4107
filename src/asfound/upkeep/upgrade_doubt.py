"""When it is in doubt what is fitted: what the upgrade costs either way, what may be ordered now, which look decides.

Each start that is believed gets its own cheapest way. What all ways need may be ordered now; the rest waits for the
look that tells the starts apart. Places are taken as independent of each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import islice

from asfound.upkeep.upgrade import Build, Problem, may_be
from asfound.upkeep.upgrade_search import cheapest

Belief = Mapping[str, Mapping[str, float]]
"""Place to value to chance."""
SURE = 0.97
"""Chance from which a place is taken as known."""
LEAST = 0.02
"""Chance below which a value is not planned for."""
MOST_STARTS = 24
MOST_TRIED = 4_000
"""Starts that are held against the rules of what may be, the likeliest first."""
_DECIDES = 0.01  # bits of doubt about the order that a look must take away


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One start that is believed possible, and its cheapest way; cost None where there is none."""

    chance: float
    start: Mapping[str, str]
    """Only the places in doubt."""
    says: str
    cost: float | None
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DecidingLook:
    """A place in doubt, and how far a look at it settles what is to be ordered."""

    place: str
    title: str
    says: str
    doubt_before: float
    """About which changes are needed. [bits]"""
    doubt_after: float
    decides: bool
    look: str = ""
    """How to look, where the catalogue knows."""
    state: str = ""
    """State of the engine that the look needs."""
    minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubtful:
    """The upgrade over all starts that are believed possible."""

    scenarios: tuple[Scenario, ...]
    low: float | None
    high: float | None
    expected: float | None
    """Over the starts from which there is a way; None where there is none from any."""
    no_way: float
    """Chance of a start from which there is no way."""
    order_now: tuple[str, ...]
    """Titles of changes that every way needs."""
    wait: tuple[str, ...]
    wasted: float
    """What ordering for the most probable start, without a look, spends on average on changes that are not needed."""
    looks: tuple[DecidingLook, ...]
    left_out: float
    """Chance of starts that were not planned for: too improbable, or such as may not be."""


def doubtful(problem: Problem, belief: Belief) -> Doubtful:
    """Return the upgrade over what is believed; a place that is not in ``belief`` is as the problem has it."""
    open_places = {
        place: _worth_planning(values) for place, values in belief.items() if max(values.values(), default=1.0) < SURE
    }
    likeliest = islice(_starts(problem, open_places), MOST_TRIED)
    starts = list(islice((one for one in likeliest if may_be(problem, one[1], running=False)), MOST_STARTS))
    covered = math.fsum(chance for chance, _ in starts)
    found = tuple(_scenario(problem, chance / covered, start) for chance, start in starts)
    ways = [one for one in found if one.cost is not None]
    reach = math.fsum(one.chance for one in ways)
    costs = [one.cost for one in ways if one.cost is not None]
    always = frozenset.intersection(*(frozenset(one.changes) for one in ways)) if ways else frozenset()
    ever = sorted({name for one in ways for name in one.changes} - always)
    return Doubtful(
        scenarios=found, low=min(costs, default=None), high=max(costs, default=None),
        expected=math.fsum(one.chance * (one.cost or 0.0) for one in ways) / reach if ways else None,
        no_way=max(0.0, 1.0 - reach),
        order_now=tuple(problem.change(name).name for name in sorted(always) if problem.change(name).cost > 0.0),
        wait=tuple(problem.change(name).name for name in ever), wasted=_wasted(problem, ways),
        looks=tuple(_looks(problem, found, open_places)), left_out=max(0.0, 1.0 - covered),
    )  # fmt: skip


def _worth_planning(values: Mapping[str, float]) -> dict[str, float]:
    return {value: chance for value, chance in values.items() if chance >= LEAST}


def _starts(problem: Problem, open_places: Belief) -> Iterator[tuple[float, Build]]:
    """Yield the starts by their chance, the likeliest first, without ever holding all of them.

    Where nothing was looked at there are millions. A start waits in the heap; when it is taken, those that have one
    place less likely take its turn: none of them is likelier than it.
    """
    names = list(open_places)
    ranked = [
        sorted(enumerate(open_places[name].items()), key=lambda one: (-one[1][1], one[0])) for name in names
    ]  # place in the given order, value, chance

    def waiting(at: tuple[int, ...]) -> tuple[float, tuple[int, ...], tuple[int, ...]]:
        chosen = [ranked[i][k] for i, k in enumerate(at)]
        return -math.prod((chance for _, (_, chance) in chosen), start=1.0), tuple(n for n, _ in chosen), at

    if not all(ranked):
        return
    first = (0,) * len(names)
    heap, seen = [waiting(first)], {first}
    while heap:
        chance, _, at = heappop(heap)
        values = {name: of[k][1][0] for name, of, k in zip(names, ranked, at, strict=True)}
        yield -chance, dict(problem.start) | values
        for i, k in enumerate(at):
            after = (*at[:i], k + 1, *at[i + 1 :])
            if k + 1 < len(ranked[i]) and after not in seen:
                seen.add(after)
                heappush(heap, waiting(after))


def _scenario(problem: Problem, chance: float, start: Build) -> Scenario:
    way = cheapest(replace(problem, start=start))
    differs = {place: value for place, value in start.items() if value != problem.start[place]}
    says = "; ".join(f"{problem.place_title(p)}: {problem.value_title(p, v)}" for p, v in differs.items())
    return Scenario(
        chance=chance, start=differs, says=says or "as it is believed most", cost=None if way is None else way.cost,
        changes=() if way is None else tuple(sorted(set(way.changes))),
    )  # fmt: skip


def _wasted(problem: Problem, ways: Sequence[Scenario]) -> float:
    if not ways:
        return 0.0
    ordered = set(ways[0].changes)
    total = math.fsum(one.chance for one in ways)
    return math.fsum(
        one.chance / total * sum(problem.change(name).cost for name in ordered - set(one.changes)) for one in ways
    )


def _looks(problem: Problem, scenarios: Sequence[Scenario], open_places: Belief) -> list[DecidingLook]:
    before = _doubt(scenarios)
    found = []
    for place in open_places:
        groups: dict[str, list[Scenario]] = {}
        for one in scenarios:
            groups.setdefault(one.start.get(place, problem.start[place]), []).append(one)
        after = math.fsum(math.fsum(each.chance for each in group) * _doubt(group) for group in groups.values())
        title, decides = problem.place_title(place), before - after > _DECIDES
        values = " or ".join(problem.value_title(place, value) for value in groups)
        says = f"{title}: {values}? " + (
            "It decides what is ordered: look before." if decides else "What is ordered does not hang on it."
        )
        found.append(
            DecidingLook(
                place=place,
                title=title,
                says=says,
                doubt_before=before,
                doubt_after=min(after, before),
                decides=decides,
            )
        )
    return sorted(found, key=lambda one: one.doubt_after)


def _doubt(scenarios: Sequence[Scenario]) -> float:
    """Return the doubt about the set of changes, in bits."""
    total = math.fsum(one.chance for one in scenarios)
    shares: dict[tuple[str, ...] | None, float] = {}
    for one in scenarios:
        key = None if one.cost is None else one.changes
        shares[key] = shares.get(key, 0.0) + one.chance / total
    return max(0.0, -math.fsum(share * math.log2(share) for share in shares.values() if 0.0 < share < 1.0 - 1e-12))
