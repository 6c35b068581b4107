"""What an upgrade costs at least from a build on: a bound that no way undercuts, for the search.

Places are let keep every value that they ever had, and rules that bar builds are let go; of that easier problem cuts
are taken: sets of changes of which one at least is needed, however it is done. Each cut costs its cheapest change, and
that much is taken off the changes of the cut before the next one is looked for (Helmert and Domshlak 2009, landmark
cuts). The stop itself is one of the changes.
"""

from __future__ import annotations

import heapq
import math

from asfound.upkeep.upgrade_masks import Masks

_STOPPED, _BEGIN, _GOAL = 0, 1, 2
_SPECIAL = 3


class Bound:
    """Least cost from a build to the target, remembered for each build; infinite where there is no way at all."""

    def __init__(self, masks: Masks) -> None:
        self._masks = masks
        self._known: dict[tuple[int, bool], float] = {}
        self._facts = {bit: _SPECIAL + at for at, bit in enumerate(masks.bits.values())}
        self._number = _SPECIAL + len(self._facts)
        self._needs: list[tuple[int, ...]] = []
        self._adds: list[tuple[int, ...]] = []
        self._costs: list[float] = []
        self._collect()
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

    def _collect(self) -> None:
        """Write all changes, the stop and the goal as actions with needs and additions."""
        problem, either = self._masks.problem, {}
        facts = {pair: self._facts[bit] for pair, bit in self._masks.bits.items()}

        def one_of(place: str, values: tuple[str, ...]) -> int:
            """Return the fact that a place had one of these values, made once by actions of no cost."""
            if len(values) == 1:
                return facts[place, values[0]]
            key = place, frozenset(values)
            if key not in either:
                either[key] = self._number
                self._number += 1
                for value in values:
                    self._action((facts[place, value],), (either[key],), 0.0)
            return either[key]

        self._action((_BEGIN,), (_STOPPED,), problem.stop_cost)
        for change in problem.changes:
            needs = [one_of(place, values) for place, values in change.needs.items()]
            adds = tuple(facts[pair] for pair in change.puts.items())
            self._action((*needs, *((_STOPPED,) if change.stopped else ())) or (_BEGIN,), adds, change.cost)
        goal = [one_of(place, values) for place, values in problem.target.items()]
        self._action(tuple(goal) or (_BEGIN,), (_GOAL,), 0.0)

    def _action(self, needs: tuple[int, ...], adds: tuple[int, ...], cost: float) -> None:
        self._needs.append(needs)
        self._adds.append(adds)
        self._costs.append(cost)

    def _cuts(self, build: int, stopped: bool) -> float:
        begin = [_BEGIN, *((_STOPPED,) if stopped else ()), *(at for bit, at in self._facts.items() if build & bit)]
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
        zone, todo = {_GOAL}, [_GOAL]
        while todo:
            fact = todo.pop()
            for action in self._given_by[fact]:
                source = hardest[action]
                if costs[action] <= 0.0 and source not in zone and levels[source] < math.inf:
                    zone.add(source)
                    todo.append(source)
        follows: dict[int, list[int]] = {}
        for action, source in enumerate(hardest):
            if levels[source] < math.inf:
                follows.setdefault(source, []).append(action)
        before, todo, cut = set(begin), list(begin), []
        while todo:
            for action in follows.get(todo.pop(), ()):
                if any(fact in zone for fact in self._adds[action]):
                    cut.append(action)
                    continue
                for fact in self._adds[action]:
                    if fact not in before:
                        before.add(fact)
                        todo.append(fact)
        return cut
