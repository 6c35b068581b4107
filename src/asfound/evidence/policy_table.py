"""The best policy of repairs and tests by one table over all states: the exact AND/OR recursion, worked out backwards.

A state says which repairs were made (in vain) and what each test answered (not made, positive, negative). There are
2^repairs x 3^tests of them; each is worked out once, from the fullest to the emptiest, all of one fullness together in
arrays. The outcome is that of the recursion (Heckerman, Breese and Rommelse 1995 and Vomlelova and Vomlel 2003 state
the problem); the time hangs on the number of steps alone, so it is known before it begins.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from asfound.evidence.repair import ENDED, Policy

if TYPE_CHECKING:
    from asfound.evidence.repair import Trouble

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_STATES = 250_000
"""More states than these are not put into a table."""
AFTER = ("positive", "negative")


def states(repairs: int, tests: int) -> int:
    """Return how many states so many repairs and tests make."""
    return int(2**repairs * 3**tests)


class PolicyTable:
    """All states of a trouble with what each is expected to cost and the step that is best there."""

    def __init__(self, trouble: Trouble) -> None:
        self.t = trouble
        self.repairs, self.tests = len(trouble.repairs), len(trouble.tests)
        self.left = self._weights()
        """P(cause, all that happened) [states, causes]."""
        self.cost, self.first = self._solve()

    def best(self) -> Policy:
        """Return the best policy from the state in which nothing was done."""
        return self._policy(0)

    def _weights(self) -> Floats:
        left = self.t.prior[None, :]
        for row in self.t.fails:
            left = np.concatenate([left, left * row])  # made: the later half
        for row in self.t.positive:
            left = np.concatenate([left, left * row, left * (1 - row)])
        return np.asarray(left, dtype=float)

    def _solve(self) -> tuple[Floats, Ints]:
        """Return expected cost weighted by the chance of being there [states], and the best step (-1: fallback)."""
        here = self.left.sum(axis=1)
        fallback = np.inf if self.t.fallback is None else self.t.fallback
        cost = np.where(here > ENDED, fallback * np.maximum(here, 1e-300), 0.0)
        first = np.full(len(here), -1)
        prices = [one.cost for one in self.t.repairs] + [one.cost for one in self.t.tests]
        for step, at, after in _layout(
            self.repairs, self.tests
        ).moves:  # the fullest first: each needs fuller ones only
            price = prices[step]
            new = price * here[at] + cost[after[0]]
            if len(after) > 1:
                new += cost[after[1]]
            better = new < cost[at] - 1e-12
            to = at[better]
            cost[to], first[to] = new[better], step
        return cost, first

    def _policy(self, state: int) -> Policy:
        here = float(self.left[state].sum())
        conditional = float(self.cost[state]) / here if here > ENDED else 0.0
        step = int(self.first[state])
        layout = _layout(self.repairs, self.tests)
        if step < 0:
            return Policy("fallback", conditional, {})
        if step < self.repairs:
            then = self._policy(state + int(layout.repair_stride[step]))
            return Policy(self.t.repairs[step].name, conditional, {"fails": then})
        stride = int(layout.test_stride[step - self.repairs])
        after = {word: self._policy(state + (i + 1) * stride) for i, word in enumerate(AFTER)}
        return Policy(self.t.tests[step - self.repairs].name, conditional, after)


class _Layout:
    """Where states lie, for so many repairs and tests, and which step leads from where to where."""

    def __init__(self, repairs: int, tests: int) -> None:
        self.repair_stride = 2 ** np.arange(repairs)
        self.test_stride = 2**repairs * 3 ** np.arange(tests)
        index = np.arange(states(repairs, tests))
        made = index[:, None] // self.repair_stride % 2
        answers = index[:, None] // self.test_stride % 3
        fullness = made.sum(axis=1) + (answers > 0).sum(axis=1)
        order = np.argsort(-fullness, kind="stable")
        edges = np.flatnonzero(np.diff(fullness[order])) + 1
        self.moves: list[tuple[int, Ints, tuple[Ints, ...]]] = []
        """(step, states in which it may be made, states after each answer), the fullest states first."""
        for rows in np.split(order, edges):
            for a in range(repairs):
                at = rows[made[rows, a] == 0]
                self.moves.append((a, at, (at + self.repair_stride[a],)))
            for t in range(tests):
                at = rows[answers[rows, t] == 0]
                stride = self.test_stride[t]
                self.moves.append((repairs + t, at, (at + stride, at + 2 * stride)))
        self.moves = [one for one in self.moves if len(one[1])]


@lru_cache(maxsize=8)
def _layout(repairs: int, tests: int) -> _Layout:
    return _Layout(repairs, tests)
