"""What an upgrade costs at least from a build on: a bound that no way undercuts, for the search.

Places are let keep every value that they ever had, and rules that bar builds are let go; of that easier problem cuts
are taken: sets of changes of which one at least is needed, however it is done. Each cut costs its cheapest change, and
that much is taken off the changes of the cut before the next one is looked for (Helmert and Domshlak 2009, landmark
cuts). The stop itself is one of the changes. Where a stop has only so many minutes, the same cuts taken of the minutes
say how much work must be done in stops at least, and so how many stops are needed.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence

from asfound.upkeep.upgrade_masks import Masks

_STOPPED, _BEGIN, _GOAL, _NEVER = 0, 1, 2, 3
_SPECIAL = 4
_ROUND = 1e-9


class Bound:
    """Least cost from a build to the target; infinite where there is no way at all."""

    def __init__(self, masks: Masks) -> None:
        problem = masks.problem
        self._stop_cost, self._stop_minutes = problem.stop_cost, problem.stop_minutes
        self._money = Cuts(masks, [one.cost for one in problem.changes], problem.stop_cost)
        self._work = Cuts(masks, [one.minutes if one.stopped else 0.0 for one in problem.changes], 0.0)

    def __call__(self, build: int, used: float | None) -> float:
        """Return the bound; ``used`` minutes of the stop, None while the engine runs."""
        money = self._money(build, used is not None)
        if money == math.inf or self._stop_minutes == math.inf:
            return money
        minutes = self._work(build, used is not None) + (used or 0.0)
        more = math.ceil(minutes / self._stop_minutes - _ROUND) - 1  # beyond the stop that the cuts count, or this one
        return money + max(0, more) * self._stop_cost


class Cuts:
    """Sums of cuts of one kind of cost, remembered for each build."""

    def __init__(self, masks: Masks, prices: Sequence[float], stop: float) -> None:
        self._masks = masks
        self._known: dict[tuple[int, bool], float] = {}
        put = masks.start
        for one in masks.changes:
            put |= one.puts
        self._facts = {bit: _SPECIAL + at for at, bit in enumerate(bit for bit in masks.bits.values() if bit & put)}
        self._number = _SPECIAL + len(self._facts)
        self._needs: list[tuple[int, ...]] = []
        self._adds: list[tuple[int, ...]] = []
        self._costs: list[float] = []
        self._collect(prices, stop)
        self._wanted_by: list[list[int]] = [[] for _ in range(self._number)]
        self._given_by: list[list[int]] = [[] for _ in range(self._number)]
        for action, (needs, adds) in enumerate(zip(self._needs, self._adds, strict=True)):
            for fact in needs:
                self._wanted_by[fact].append(action)
            for fact in adds:
                self._given_by[fact].append(action)

    def __call__(self, build: int, stopped: bool) -> float:
        """Return the bound."""
        key = build, stopped
        if key not in self._known:
            self._known[key] = self._cuts(build, stopped)
        return self._known[key]

    def _collect(self, prices: Sequence[float], stop: float) -> None:
        """Write all changes, the stop and the goal as actions with needs and additions."""
        problem, either = self._masks.problem, dict[tuple[str, frozenset[str]], int]()
        facts = {pair: self._facts.get(bit, _NEVER) for pair, bit in self._masks.bits.items()}

        def one_of(place: str, values: tuple[str, ...]) -> int:
            """Return the fact that a place had one of these values, made once by actions of no cost."""
            if len(values) == 1:
                return facts[place, values[0]]
            key = place, frozenset(values)
            if key not in either:
                either[key] = self._new()
                for value in values:
                    self._action((facts[place, value],), (either[key],), 0.0)
            return either[key]

        self._action((_BEGIN,), (_STOPPED,), stop)
        ends = {place: self._new() for place in problem.target}
        for change, price in zip(problem.changes, prices, strict=True):
            needs = [one_of(place, values) for place, values in change.needs.items()]
            adds = [facts[pair] for pair in change.puts.items()]
            adds += [ends[place] for place, value in change.puts.items() if value in problem.target.get(place, ())]
            self._action((*needs, *((_STOPPED,) if change.stopped else ())) or (_BEGIN,), tuple(adds), price)
        self._action(tuple(ends.values()) or (_BEGIN,), (_GOAL,), 0.0)
        self._ends = [(fact, self._wrong(place), self._spoilers(place)) for place, fact in ends.items()]

    def _new(self) -> int:
        self._number += 1
        return self._number - 1

    def _wrong(self, place: str) -> int:
        """Return the bits of the values of a place that are not wanted."""
        problem, bits = self._masks.problem, self._masks.bits
        return sum(bits[place, value] for value in problem.places[place] if value not in problem.target[place])

    def _spoilers(self, place: str) -> int:
        """Return the unwanted bits of other places that no change puts right without spoiling this place."""
        problem, found = self._masks.problem, 0
        for other, values in problem.target.items():
            right = [one for one in problem.changes if one.puts.get(other) in values]
            if other != place and all(one.puts.get(place, "") not in ("", *problem.target[place]) for one in right):
                found |= self._wrong(other)
        return found

    def _action(self, needs: tuple[int, ...], adds: tuple[int, ...], cost: float) -> None:
        self._needs.append(needs)
        self._adds.append(adds)
        self._costs.append(cost)

    def _cuts(self, build: int, stopped: bool) -> float:
        begin = [_BEGIN, *((_STOPPED,) if stopped else ()), *(at for bit, at in self._facts.items() if build & bit)]
        begin += [fact for fact, wrong, spoilers in self._ends if not build & (wrong | spoilers)]
        costs, total = list(self._costs), 0.0
        while True:
            levels = self._levels(begin, costs)
            if levels[_GOAL] == math.inf:
                return math.inf
            if levels[_GOAL] <= 0.0:
                return total
            hardest = [max(needs, key=levels.__getitem__) for needs in self._needs]
            cut = self._cut(begin, costs, levels, hardest)
            least = min(costs[action] for action in cut)
            total += least
            for action in cut:
                costs[action] -= least

    def _levels(self, begin: list[int], costs: list[float]) -> list[float]:
        """Return the cost of the dearest need, all the way, for each fact."""
        levels, waits = [math.inf] * self._number, [len(needs) for needs in self._needs]
        heap, done = [(0.0, fact) for fact in begin], [False] * self._number
        for fact in begin:
            levels[fact] = 0.0
        while heap:
            level, fact = heapq.heappop(heap)
            if done[fact]:
                continue
            done[fact] = True
            for action in self._wanted_by[fact]:
                waits[action] -= 1
                if waits[action]:
                    continue
                then = level + costs[action]
                for added in self._adds[action]:
                    if then < levels[added]:
                        levels[added] = then
                        heapq.heappush(heap, (then, added))
        return levels

    def _cut(self, begin: list[int], costs: list[float], levels: list[float], hardest: list[int]) -> list[int]:
        """Return the changes that lead from what is reached without the goal's zone into that zone."""
        zone, todo = bytearray(self._number), [_GOAL]
        zone[_GOAL] = 1
        while todo:
            fact = todo.pop()
            for action in self._given_by[fact]:
                source = hardest[action]
                if costs[action] <= 0.0 and not zone[source] and levels[source] < math.inf:
                    zone[source] = 1
                    todo.append(source)
        follows: list[list[int]] = [[] for _ in range(self._number)]
        for action, source in enumerate(hardest):
            follows[source].append(action)
        before, todo, cut = bytearray(self._number), list(begin), []
        for fact in begin:
            before[fact] = 1
        while todo:
            for action in follows[todo.pop()]:
                adds = self._adds[action]
                for fact in adds:
                    if zone[fact]:
                        cut.append(action)
                        break
                else:
                    for fact in adds:
                        if not before[fact]:
                            before[fact] = 1
                            todo.append(fact)
        return cut
