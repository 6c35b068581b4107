"""In what order to repair and to test: expected cost of sequences, best sequences, and best policies.

One cause is present. A repair removes it with a chance that hangs on the cause; after each repair the whole is
tried free of charge, and one stops when it works. Tests tell something of the cause and repair nothing. Each is
made once at most. A fallback (call somebody, replace all) always ends it.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import count

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError, UnknownNameError

Floats = NDArray[np.float64]
MOST_EXACT = 10
"""Up to so many repairs and tests the best policy is found by plain recursion; beyond, by bounded search."""
ENDED = 1e-15
"""Probability below which nothing is left to repair."""


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair: its cost, and the chance that it removes each cause (0 where it is not named)."""

    name: str
    cost: float
    fixes: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Test:
    """A test: its cost, and the chance that it is positive under each cause (0 where it is not named)."""

    __test__ = False  # not a test case

    name: str
    cost: float
    positive: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Policy:
    """What to do first, what it is expected to cost in all, and what to do after each answer.

    ``step`` is the name of a repair or test, or ``"fallback"``; ``after`` maps ``"fails"`` (repair), ``"positive"`` and
    ``"negative"`` (test) to what follows.
    """

    step: str
    cost: float
    after: Mapping[str, Policy]


class Trouble:
    """Causes with their priors, repairs, tests, and the cost of the fallback.

    Raises
    ------
    InputError
        Priors that do not add up to 1, chances outside 0 to 1, costs below 0; no fallback where repairs may all fail.
    UnknownNameError
        A repair or test names a cause that is none.
    """

    def __init__(
        self,
        prior: Mapping[str, float],
        repairs: Sequence[Repair],
        tests: Sequence[Test] = (),
        *,
        fallback: float | None = None,
    ) -> None:
        self.causes, self.repairs, self.tests = tuple(prior), tuple(repairs), tuple(tests)
        self.prior = np.array(list(prior.values()), dtype=float)
        if abs(self.prior.sum() - 1) > 1e-9 or (self.prior < 0).any():
            raise InputError("prior", f"{self.prior.sum():.9g}", "is what the priors add up to", allowed="1")
        self.fails = np.array([[1 - one.fixes.get(cause, 0.0) for cause in self.causes] for one in repairs]).reshape(
            -1, len(self.causes)
        )
        self.positive = np.array([[one.positive.get(cause, 0.0) for cause in self.causes] for one in tests]).reshape(
            -1, len(self.causes)
        )
        for one, told in [(r, r.fixes) for r in self.repairs] + [(t, t.positive) for t in self.tests]:
            if one.cost < 0:
                raise InputError(f"{one.name}/cost", f"{one.cost}", "is below 0", allowed="0 and more")
            for cause, chance in told.items():
                if cause not in prior:
                    raise UnknownNameError("cause", cause, prior)
                if not 0 <= chance <= 1:
                    raise InputError(f"{one.name}/{cause}", f"{chance}", "is no probability", allowed="0 to 1")
        self.fallback = fallback
        if fallback is None and float((self.prior * np.prod(self.fails, axis=0)).sum()) > 1e-12:
            raise InputError("fallback", "", "is missing, though all repairs may fail", try_next="Give its cost.")

    def place(self, name: str) -> int:
        """Return where a repair stands."""
        names = [one.name for one in self.repairs]
        if name not in names:
            raise UnknownNameError("repair", name, names)
        return names.index(name)

    def expected_cost(self, sequence: Sequence[str], p: Floats | None = None) -> float:
        """Return the expected cost of making repairs in turn: sum of cost times the chance that the step is reached.

        Causes that no step removes go to the fallback; without one they cost nothing more.
        """
        left = self.prior if p is None else p
        cost = 0.0
        for name in sequence:
            a = self.place(name)
            cost += self.repairs[a].cost * float(left.sum())
            left = left * self.fails[a]
        return cost + (0.0 if self.fallback is None else self.fallback * float(left.sum()))

    def efficiency(self, p: Floats | None = None) -> dict[str, float]:
        """Return chance of success over cost for each repair as a first step. [1/cost]"""
        now = self.prior if p is None else p / p.sum()
        return {
            one.name: float((now * (1 - self.fails[a])).sum()) / one.cost if one.cost else float("inf")
            for a, one in enumerate(self.repairs)
        }

    def by_efficiency(self, p: Floats | None = None) -> tuple[str, ...]:
        """Return the repairs by efficiency, worked out anew after each that fails; ends where no further one pays.

        The best order for repairs that each remove causes of their own for certain (Kalagnanam and Henrion 1990,
        from memory); elsewhere a good guess.
        """
        left = (self.prior if p is None else p).copy()
        todo = list(range(len(self.repairs)))
        order: list[int] = []
        while todo and left.sum() > ENDED:
            gains = [float((left * (1 - self.fails[a])).sum()) for a in todo]
            rates = [gain / max(self.repairs[a].cost, 1e-300) for gain, a in zip(gains, todo, strict=True)]
            best = int(np.argmax(np.round(rates, 15)))
            if gains[best] <= 0:
                break
            a = todo.pop(best)
            order.append(a)
            left = left * self.fails[a]
        names = [self.repairs[a].name for a in order]
        if self.fallback is not None:  # a tail that costs more than it saves is left to the fallback
            while names and self.expected_cost(names[:-1], p) <= self.expected_cost(names, p):
                names.pop()
        return tuple(names)

    def bound(self, left: Floats, todo: Sequence[int]) -> float:
        """Return a lower bound of the expected cost without tests, for causes with weight ``left``.

        No repair can remove more than it would remove now, so the cheapest conceivable way is the order by
        efficiency with these chances simply added up, ending at best in the fallback (Ottosen and Jensen 2008;
        Vomlelova and Vomlel 2003).
        """
        gains = [(float((left * (1 - self.fails[a])).sum()), self.repairs[a].cost) for a in todo]
        gains.sort(key=lambda pair: -pair[0] / max(pair[1], 1e-300))
        rest, cost = float(left.sum()), 0.0
        best = float("inf") if self.fallback is None else self.fallback * rest
        for gain, price in gains:
            if rest <= ENDED or gain <= 0:
                break
            cost += price * rest
            rest = max(0.0, rest - gain)
            best = min(
                best, cost + (self.fallback * rest if self.fallback is not None else 0.0 if rest <= ENDED else np.inf)
            )
        return min(best, cost) if self.fallback is None else best

    def best_sequence(self) -> tuple[tuple[str, ...], float]:
        """Return the sequence of repairs with the least expected cost, and that cost; tests are not used.

        A* over sets of repairs made, with ``bound``; exact for repairs that share causes and may fail.
        """
        everyone = frozenset(range(len(self.repairs)))
        tick = count()
        start: frozenset[int] = frozenset()
        nothing: tuple[int, ...] = ()
        reached = {start: 0.0}
        queue = [(self.bound(self.prior, sorted(everyone)), next(tick), 0.0, start, nothing, self.prior)]
        answer: tuple[tuple[str, ...], float] = ((), float("inf"))
        while queue:
            estimate, _, spent, done, order, left = heapq.heappop(queue)
            if estimate >= answer[1] - 1e-12:
                break
            if spent > reached.get(done, np.inf) + 1e-12:
                continue
            rest = float(left.sum())
            ended = spent + (self.fallback * rest if self.fallback is not None else 0.0 if rest <= ENDED else np.inf)
            if ended < answer[1] - 1e-12:
                answer = (tuple(self.repairs[a].name for a in order), ended)
            for a in sorted(everyone - done):
                after, now = done | {a}, spent + self.repairs[a].cost * rest
                if rest > ENDED and now < reached.get(after, np.inf) - 1e-12:
                    reached[after] = now
                    failed = left * self.fails[a]
                    least = now + self.bound(failed, sorted(everyone - after))
                    if least < answer[1] - 1e-12:
                        heapq.heappush(queue, (least, next(tick), now, after, (*order, a), failed))
        return answer

    def best_policy(self) -> Policy:
        """Return the policy of repairs and tests with the least expected cost.

        Exact AND/OR recursion: after a repair that fails and after either answer of a test one chooses anew. All
        states are worked out in one table where they fit; beyond, a choice is followed only where its lower bound
        (each cause treated as if it were known, its repairs in order of efficiency) is below the best found so far,
        which stays exact.
        """
        from asfound.evidence.policy_table import MOST_STATES, PolicyTable, states

        if states(len(self.repairs), len(self.tests)) <= MOST_STATES:
            return PolicyTable(self).best()
        return PolicySearch(self, bounded=len(self.repairs) + len(self.tests) > MOST_EXACT).best()

    def cost_after_test(self, name: str) -> float:
        """Return cost of a test made first plus the expected cost by efficiency after its answer (one step ahead)."""
        names = [one.name for one in self.tests]
        if name not in names:
            raise UnknownNameError("test", name, names)
        t = names.index(name)
        cost = self.tests[t].cost
        for chance in (self.positive[t], 1 - self.positive[t]):
            left = self.prior * chance
            cost += self.expected_cost(self.by_efficiency(left), left)
        return cost


class PolicySearch:
    """AND/OR search of one trouble. States: repairs made, and answers of tests (1 positive, 2 negative, 0 not made)."""

    def __init__(self, trouble: Trouble, *, bounded: bool) -> None:
        self.t, self.bounded = trouble, bounded
        self.known: dict[tuple[int, tuple[int, ...]], tuple[float, str]] = {}
        self.steps = 0
        self.clairvoyant = cache(self.cheapest_when_known)

    def best(self) -> Policy:
        """Return the best policy."""
        return self.policy(0, (0,) * len(self.t.tests))

    def weights(self, made: int, answers: tuple[int, ...]) -> Floats:
        """Return P(cause, all that happened)."""
        left = self.t.prior
        for a in range(len(self.t.repairs)):
            if made >> a & 1:
                left = left * self.t.fails[a]
        for t, answer in enumerate(answers):
            if answer:
                left = left * (self.t.positive[t] if answer == 1 else 1 - self.t.positive[t])
        return left

    def cost(self, made: int, answers: tuple[int, ...]) -> tuple[float, str]:
        """Return the least expected cost from here, weighted by the chance of being here, and the first step."""
        key = (made, answers)
        if key in self.known:
            return self.known[key]
        self.steps += 1
        left = self.weights(made, answers)
        here = float(left.sum())
        best = (np.inf if self.t.fallback is None else self.t.fallback * here, "fallback")
        if here <= ENDED:
            best = (0.0, "fallback")
        else:
            for least, name, price, branches in self.choices(made, answers, left):
                if self.bounded and least >= best[0] - 1e-12:
                    continue
                cost = price * here
                for branch in branches:
                    cost += self.cost(*branch)[0]
                    if cost >= best[0] - 1e-12:
                        break
                if cost < best[0] - 1e-12:
                    best = (cost, name)
        self.known[key] = best
        return best

    def choices(
        self, made: int, answers: tuple[int, ...], left: Floats
    ) -> list[tuple[float, str, float, tuple[tuple[int, tuple[int, ...]], ...]]]:
        """Return (lower bound, name, price, branches) of each step that may be made; most promising first where
        bounded.
        """
        here = float(left.sum())
        out: list[tuple[float, str, float, tuple[tuple[int, tuple[int, ...]], ...]]] = []
        for a, repair in enumerate(self.t.repairs):
            if not made >> a & 1:
                after = made | 1 << a
                least = repair.cost * here + self.least(left * self.t.fails[a], after) if self.bounded else 0.0
                out.append((least, repair.name, repair.cost, ((after, answers),)))
        for t, test in enumerate(self.t.tests):
            if answers[t] == 0:
                told = tuple((made, (*answers[:t], answer, *answers[t + 1 :])) for answer in (1, 2))
                least = test.cost * here + self.least(left, made) if self.bounded else 0.0
                out.append((least, test.name, test.cost, told))
        return sorted(out, key=lambda choice: choice[0]) if self.bounded else out

    def least(self, left: Floats, made: int) -> float:
        """Return the cost that could not be undercut even if the cause were known."""
        return float(left @ self.clairvoyant(made))

    def cheapest_when_known(self, made: int) -> Floats:
        """Return for each cause the least expected cost of removing it when it is known [causes]."""
        out = np.zeros(len(self.t.causes))
        todo = [a for a in range(len(self.t.repairs)) if not made >> a & 1]
        for i in range(len(out)):
            alone = np.zeros(len(out))
            alone[i] = 1.0
            out[i] = self.t.bound(alone, todo)
        return out

    def policy(self, made: int, answers: tuple[int, ...]) -> Policy:
        """Return the policy from here; its cost is conditional on being here."""
        here = float(self.weights(made, answers).sum())
        cost, name = self.cost(made, answers)
        conditional = cost / here if here > ENDED else 0.0
        if name == "fallback":
            return Policy("fallback", conditional, {})
        for a, repair in enumerate(self.t.repairs):
            if repair.name == name:
                return Policy(name, conditional, {"fails": self.policy(made | 1 << a, answers)})
        t = [test.name for test in self.t.tests].index(name)
        after = {
            word: self.policy(made, (*answers[:t], answer, *answers[t + 1 :]))
            for word, answer in (("positive", 1), ("negative", 2))
        }
        return Policy(name, conditional, after)


def independent_cost(chances: Sequence[float], costs: Sequence[float]) -> float:
    """Return the expected cost of repairs in turn, each with the chance that it succeeds once it is reached.

    >>> round(independent_cost([0.9, 0.8], [1, 1]), 9)  # Ottosen and Jensen (2008): 1 + 0.1 x 1
    1.1
    """
    reached, cost = 1.0, 0.0
    for chance, price in zip(chances, costs, strict=True):
        cost += price * reached
        reached *= 1 - chance
    return cost


def tests_until_failure(order: Sequence[str], cost: Mapping[str, float], p_fail: Mapping[str, float]) -> float:
    """Return the expected cost of independent tests in a row that end at the first failure."""
    return independent_cost([p_fail[name] for name in order], [cost[name] for name in order])


def order_tests(cost: Mapping[str, float], p_fail: Mapping[str, float]) -> tuple[str, ...]:
    """Return the order with the least expected cost: by cost over chance of failure (Mitten 1960, from memory)."""
    return tuple(sorted(cost, key=lambda name: cost[name] / p_fail[name] if p_fail[name] > 0 else float("inf")))
